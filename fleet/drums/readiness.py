"""What a drum's record still lacks before it can be tested, and which particulars are in force."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.drums.checks import figure_needed, figures_kept
from fleet.drums.figures import Figure, FigureKind
from fleet.drums.models import Drum, DrumParticulars
from fleet.vessels.models import Vessel

NO_PARTICULARS = _("the particulars from which the target is computed")
NO_DRUM_DIAMETER = _("the drum diameter")
NO_LINE_DIAMETER = _("the line diameter")
NO_LINING_LIMIT = _("the least lining thickness")
NO_MARK_LIMITS = _("the limits of the setting")
NO_PICTURE = _("the picture of the measuring points")
LAYER_AGAINST_KIND = _("particulars that fit the drum kind: their layer does not")


@dataclass(frozen=True)
class Lacks:
    """What stops a test, and what a careful record should have besides."""

    needed: tuple[str | Promise, ...] = ()
    better: tuple[str | Promise, ...] = ()


def lacks(drum: Drum, row: DrumParticulars | None) -> Lacks:
    """What is missing on a drum with the particulars in force."""
    if row is None:
        return Lacks((NO_PARTICULARS,), () if drum.mark_picture else (NO_PICTURE,))
    needed: list[str | Promise] = [
        words
        for name, words in (("drum_diameter", NO_DRUM_DIAMETER), ("line_diameter", NO_LINE_DIAMETER))
        if figure_needed(name, row.target_basis) and row.si(name) is None
    ]
    if drum.kind == "split" and row.reference_layer != 1:
        needed.append(LAYER_AGAINST_KIND)
    better: list[str | Promise] = []
    if row.si("lining_minimum") is None:
        better.append(NO_LINING_LIMIT)
    if row.si("mark_least") is None or row.si("mark_most") is None:
        better.append(NO_MARK_LIMITS)
    if not drum.mark_picture:
        better.append(NO_PICTURE)
    return Lacks(tuple(needed), tuple(better))


def rows_in_force(vessel: Vessel, on: date) -> dict[uuid.UUID, DrumParticulars]:
    """The particulars in force of every drum of a vessel, in one query."""
    rows = DrumParticulars.objects.filter(drum__winch__vessel=vessel, valid_from__lte=on)
    return {row.drum_id: row for row in rows.order_by("valid_from", "created_at")}


def figures_said(drum: Drum, row: DrumParticulars) -> list[tuple[FigureKind, Figure | None]]:
    """Every figure kept of a drum in the order of the page, None where it was not given."""
    return [(kind, row.figure(kind.name)) for kind in figures_kept(drum)]


@dataclass(frozen=True)
class RowSaid:
    """One row of particulars made ready for the page."""

    row: DrumParticulars
    figures: list[tuple[FigureKind, Figure | None]]
    table: list[tuple[str, str]]


def rows_said(drum: Drum, rows: Iterable[DrumParticulars]) -> list[RowSaid]:
    """Rows with their figures and the maker's table as typed."""
    return [
        RowSaid(
            row,
            figures_said(drum, row),
            [(_typed(line["pressure"]), _typed(line["load"])) for line in row.maker_table],
        )
        for row in rows
    ]


def _typed(stored: dict[str, str]) -> str:
    return str(stored["text"])
