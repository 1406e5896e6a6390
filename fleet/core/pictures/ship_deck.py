"""The ship from above, bow up: each drum in its place by area, side and order."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.core.pictures.numbers import coordinate
from fleet.core.pictures.states import RESULT_STATES, STATES, State

AREAS: dict[str, str | Promise] = {
    "forecastle": _("Forecastle"),
    "main_forward": _("Main deck, forward"),
    "main_aft": _("Main deck, aft"),
    "aft_deck": _("Aft deck"),
}
SIDES = ("port", "centre", "starboard")

WIDTH = 360
CELL_WIDTH, CELL_HEIGHT, GAP = 102, 62, 8
COLUMN_X = {"port": 19, "centre": 129, "starboard": 239}
BOW, AREA_HEAD, STERN = 84, 26, 30
NAME_LINE = 13


@dataclass(frozen=True)
class DeckDrum:
    """What the deck shows of one drum; due and result states are codes of pictures.states."""

    name: str
    area: str
    side: str
    order: int
    due_state: str
    url: str
    result_state: str = ""
    short_name: str = ""


@dataclass(frozen=True)
class Line:
    text: str
    y: int


@dataclass(frozen=True)
class Cell:
    drum: DeckDrum
    x: str
    y: str
    lines: tuple[Line, ...]
    due: State
    result: State | None

    @property
    def title(self) -> str:
        said = f"{self.drum.name}: {self.due.word}"
        return f"{said}; {self.result.word}" if self.result else said


@dataclass(frozen=True)
class DeckArea:
    label: str | Promise
    label_y: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class ShipDeck:
    width: int
    height: int
    cell_width: int
    cell_height: int
    hull: str
    areas: tuple[DeckArea, ...]


def name_lines(name: str) -> tuple[Line, ...]:
    """At most two lines that fit a cell; what does not fit ends in an ellipsis."""
    words = name.split()
    lines: list[str] = []
    for word in words:
        if lines and len(lines[-1]) + 1 + len(word) <= NAME_LINE:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    cut = len(lines) > 2
    lines = lines[:2]
    fitted = [line if len(line) <= NAME_LINE else line[: NAME_LINE - 1] + "…" for line in lines]
    if cut and not fitted[-1].endswith("…"):
        fitted[-1] = fitted[-1][: NAME_LINE - 1] + "…"
    return tuple(Line(text, 41 + 14 * index) for index, text in enumerate(fitted))


def _hull(height: float) -> str:
    left, right, middle = 5, WIDTH - 5, WIDTH / 2
    shoulder, quarter = 112, height - 34
    return (
        f"M{left},{shoulder}C{left},62 {coordinate(middle - 70)},18 {coordinate(middle)},6"
        f"C{coordinate(middle + 70)},18 {right},62 {right},{shoulder}V{coordinate(quarter)}"
        f"Q{right},{coordinate(height - 5)} {right - 32},{coordinate(height - 5)}"
        f"H{left + 32}Q{left},{coordinate(height - 5)} {left},{coordinate(quarter)}z"
    )


def ship_deck(drums: Iterable[DeckDrum | Mapping[str, object]]) -> ShipDeck:
    """Lay the drums out; an area the list does not know stands furthest aft under its own name."""
    given = [drum if isinstance(drum, DeckDrum) else DeckDrum(**drum) for drum in drums]  # type: ignore[arg-type]
    known = list(AREAS)
    others = sorted({drum.area for drum in given} - set(known))
    areas: list[DeckArea] = []
    y = float(BOW)
    for area in [*known, *others]:
        here = sorted((drum for drum in given if drum.area == area), key=lambda drum: (drum.order, drum.name))
        if not here:
            continue
        label_y = coordinate(y + 6)
        y += AREA_HEAD - 10
        cells: list[Cell] = []
        filled = dict.fromkeys(SIDES, 0)
        for drum in here:
            side = drum.side if drum.side in COLUMN_X else "centre"
            cell_y = y + filled[side] * (CELL_HEIGHT + GAP)
            filled[side] += 1
            cells.append(
                Cell(
                    drum=drum,
                    x=coordinate(COLUMN_X[side]),
                    y=coordinate(cell_y),
                    lines=name_lines(drum.short_name or drum.name),
                    due=STATES[drum.due_state],
                    result=RESULT_STATES[drum.result_state] if drum.result_state else None,
                )
            )
        y += max(filled.values()) * (CELL_HEIGHT + GAP) + 16
        areas.append(DeckArea(AREAS.get(area, area), label_y, tuple(cells)))
    height = int(y + STERN)
    return ShipDeck(WIDTH, height, CELL_WIDTH, CELL_HEIGHT, _hull(height), tuple(areas))
