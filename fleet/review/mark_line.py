"""The marker distance over a drum's last tests, small enough for a list."""

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.utils.translation import gettext as _

from fleet.core.pictures.numbers import coordinate
from fleet.drift.models import HistoryPoint

MOST = 8
WIDTH, HEIGHT, MARGIN = 120, 24, 4


@dataclass(frozen=True)
class MarkLine:
    """A line through the settings of the last tests, the newest as a dot."""

    path: str
    last_x: str
    last_y: str
    title: str
    width: int = WIDTH
    height: int = HEIGHT


def mark_lines(drums: Iterable[UUID]) -> dict[UUID, MarkLine]:
    """One picture per drum that has two settings of the same kind or more, in one query."""
    found: dict[UUID, list[HistoryPoint]] = {}
    rows = HistoryPoint.objects.filter(drum__in=list(drums), setting_si__isnull=False).order_by("tested_on")
    for row in rows:
        found.setdefault(row.drum_id, []).append(row)
    lines = {drum: _line(points) for drum, points in found.items()}
    return {drum: line for drum, line in lines.items() if line is not None}


def _line(points: list[HistoryPoint]) -> MarkLine | None:
    kind = points[-1].setting_kind
    values = [(row.tested_on, row.setting_si or 0.0) for row in points if row.setting_kind == kind][-MOST:]
    if len(values) < 2:
        return None
    low, high = min(value for _day, value in values), max(value for _day, value in values)
    first, last = values[0][0], values[-1][0]
    days = (last - first).days or 1
    # A line that hardly moves is drawn flat, not stretched to full height.
    span = max(high - low, 0.05 * abs(high)) or 1.0
    middle = (high + low) / 2
    spots = [
        (
            MARGIN + (day - first).days / days * (WIDTH - 2 * MARGIN),
            HEIGHT / 2 - (value - middle) / span * (HEIGHT - 2 * MARGIN),
        )
        for day, value in values
    ]
    path = "M" + "L".join(f"{coordinate(x)} {coordinate(y)}" for x, y in spots)
    title = _("Setting over the last {number} tests, {first} to {last}").format(
        number=len(values), first=first.year, last=last.year
    )
    return MarkLine(path, coordinate(spots[-1][0]), coordinate(spots[-1][1]), title)
