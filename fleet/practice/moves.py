"""A practice test as a line of text in the page's own address: which brake, and everything done to it since.

Nothing is stored anywhere: whoever has the address has the test, another tab has its own, and Back is simply an
earlier address.
"""

import re
from dataclasses import dataclass, replace

from fleet.practice.brakes import BY_NUMBER, HIGHEST_SEED

SIDE, CHECKS, LINING, READS, WORKSHEET = "s", "c", "l", "g", "w"
RELEASE, MARK, STROKES, WRITE, DONE, FIX = "o", "m", "k", "r", "d", "e"
SHAPES = {
    SIDE: "[LR]",
    CHECKS: r"\d{1,3}",
    LINING: "[YN]",
    READS: r"\d{1,6}",
    WORKSHEET: "",
    RELEASE: "",
    MARK: r"\d{1,4}",
    STROKES: r"\d{1,3}",
    WRITE: r"[sh][fav]\d{1,6}",
    DONE: "",
    FIX: r"\d{1,4}[abc]",
}
_MOVE = re.compile("|".join(f"{kind}(?:{shape})" for kind, shape in SHAPES.items()))
_HEAD = re.compile(r"([1-3])-(\d{1,6})-(\d{1,3})")
MOST_CHARACTERS = 1500


class Unreadable(ValueError):
    """The address does not describe a practice test."""


@dataclass(frozen=True)
class Address:
    """Which brake, whose attempt on it, and the moves so far."""

    level: int
    seed: int
    attempt: int = 0
    moves: tuple[str, ...] = ()

    def then(self, move: str) -> "Address":
        """With one more move; strokes that follow each other are counted together."""
        last = self.moves[-1] if self.moves else ""
        if move[0] == STROKES and last[:1] == STROKES and int(last[1:]) + int(move[1:]) < 1000:
            return replace(self, moves=(*self.moves[:-1], f"{STROKES}{int(last[1:]) + int(move[1:])}"))
        return replace(self, moves=(*self.moves, move))

    def again(self) -> "Address":
        """The same brake from the beginning; small chances fall anew."""
        return Address(self.level, self.seed, (self.attempt + 1) % 1000)

    @property
    def text(self) -> str:
        return ".".join([f"{self.level}-{self.seed}-{self.attempt}", *self.moves])

    @property
    def is_full(self) -> bool:
        """True where not one more move would fit."""
        return len(self.text) > MOST_CHARACTERS - 12


def read(text: str) -> Address:
    """The address out of its text. Raises: Unreadable."""
    if len(text) > MOST_CHARACTERS:
        raise Unreadable
    head, *moves = text.split(".")
    found = _HEAD.fullmatch(head)
    # Digits of other scripts would pass for digits.
    if found is None or not text.isascii() or not all(_MOVE.fullmatch(move) for move in moves):
        raise Unreadable
    level, seed, attempt = (int(part) for part in found.groups())
    if level not in BY_NUMBER or not 0 <= seed <= HIGHEST_SEED:
        raise Unreadable
    return Address(level, seed, attempt, tuple(moves))
