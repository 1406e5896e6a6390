"""A form as it was sent, turned into moves of the practice test."""

from collections.abc import Mapping

from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.core.fields import NUMBER_WORDS
from fleet.practice import moves
from fleet.practice.deck_checks import DECK_CHECKS
from fleet.practice.moves import Address
from fleet.practice.run import ACTS, Refused, Run, pump

PUMPS = {"stroke": 1, "strokes": 5}


def make_move(address: Address, run: Run, posted: Mapping[str, str]) -> Address:
    """Do what the pressed button asks for; the run goes on, the address tells of it. Raises: Refused."""
    act = posted.get("act", "")
    if address.is_full:
        raise Refused("step", _("This practice has become very long. Begin again with the same brake."))
    if act in PUMPS:
        return pump(address, run, PUMPS[act])
    if act not in MOVES:
        raise Refused("step", _("Press one of the buttons of this step."))
    move = MOVES[act](posted)
    ACTS[move[0]](run, move[1:])
    return address.then(move)


def _choice(posted: Mapping[str, str], name: str, offered: str) -> str:
    value = posted.get(name, "")
    if len(value) != 1 or value not in offered:
        raise Refused(name, _("Choose one."))
    return value


def _tenths(posted: Mapping[str, str], name: str, most: int) -> str:
    """A typed figure in tenths of its unit, as an address holds it."""
    try:
        value = units.parse_number(posted.get(name, ""))
    except units.NumberError as error:
        raise Refused(name, str(NUMBER_WORDS[error.code])) from None
    if not 0 <= value * 10 < most:
        told = _("Type a figure from 0 to {most}.")
        raise Refused(name, told.format(most=units.shown(most / 10 - 1, 0)))
    return str(round(value * 10))


def _side(posted: Mapping[str, str]) -> str:
    return moves.SIDE + _choice(posted, "side", "LR")


def _checks(posted: Mapping[str, str]) -> str:
    ticks = [bool(posted.get(f"check_{check.name}")) << place for place, check in enumerate(DECK_CHECKS)]
    return f"{moves.CHECKS}{sum(ticks)}"


def _lining(posted: Mapping[str, str]) -> str:
    return moves.LINING + _choice(posted, "lining", "YN")


def _reads(posted: Mapping[str, str]) -> str:
    return moves.READS + _tenths(posted, "reads", 100_000)


def _mark(posted: Mapping[str, str]) -> str:
    return moves.MARK + _tenths(posted, "mark", 9_990)


def _written(result: str, posted: Mapping[str, str]) -> str:
    return moves.WRITE + result + _choice(posted, "phase", "fav") + _tenths(posted, "gauge", 100_000)


def _fix(posted: Mapping[str, str]) -> str:
    mark = _tenths(posted, "final_mark", 9_990)
    return moves.FIX + mark + _choice(posted, "fixing", "abc")


MOVES = {
    "side": _side,
    "checks": _checks,
    "lining": _lining,
    "reads": _reads,
    "worksheet": lambda posted: moves.WORKSHEET,
    "release": lambda posted: moves.RELEASE,
    "mark": _mark,
    "slipped": lambda posted: _written("s", posted),
    "held": lambda posted: _written("h", posted),
    "done": lambda posted: moves.DONE,
    "fix": _fix,
}
