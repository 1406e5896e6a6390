"""A drum over the years as a picture: the setting above, as found below, on one axis of time."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, log10

import numpy as np
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.core.pictures.numbers import coordinate, point
from fleet.drift.drum_years import DrumYears, YearRow
from fleet.drift.histories import decimal_year
from fleet.drums.models import BrakeEvent
from fleet.records.models import Phase

WIDTH, LEFT, RIGHT = 400.0, 40.0, 392.0
MARK_TOP, MARK_BOTTOM, FOUND_TOP, FOUND_BOTTOM, HEIGHT = 66.0, 250.0, 296.0, 410.0, 440
LEAST_YEARS, LEVELS, LABEL_ROWS = 2.0, 4, 3
LOW, HIGH = 0.40, 0.90
# A limit farther away than this many times the height of the marks would flatten them.
LIMIT_WITHIN = 1.5


@dataclass(frozen=True)
class Spot:
    """One test's mark; ``shape`` says which of the two series or that it held, ``flagged`` that a flag speaks of it."""

    x: str
    y: str
    outline: str
    shape: str
    flagged: bool
    words: str
    target: str
    whisker: str = ""


@dataclass(frozen=True)
class Level:
    y: str
    text_y: str
    text: str


@dataclass(frozen=True)
class Standing:
    """An upright line at an event, with its words."""

    x: str
    text_x: str
    text_y: str
    anchor: str
    words: str


@dataclass(frozen=True)
class YearsPicture:
    width: str
    height: int
    title: str
    heading: str
    found_heading: str
    marks: tuple[Spot, ...]
    founds: tuple[Spot, ...]
    lines: tuple[str, ...]
    cone: str
    cone_middle: str
    cone_words: str
    found_expected: str
    levels: tuple[Level, ...]
    found_levels: tuple[Level, ...]
    band_y: str
    band_height: str
    limit_y: str
    limit_text_y: str
    limit_words: str
    events: tuple[Standing, ...]
    years: tuple[tuple[str, str], ...]


class _Scale:
    """From years and values to places."""

    def __init__(self, first: float, last: float, low: float, high: float, top: float, bottom: float) -> None:
        self.first, self.span = first, max(last - first, LEAST_YEARS)
        self.low, self.high, self.top, self.bottom = low, high, top, bottom

    def x(self, year: float) -> float:
        return LEFT + 10 + (year - self.first) / self.span * (RIGHT - LEFT - 20)

    def y(self, value: float) -> float:
        held = min(max(value, self.low), self.high)
        return self.bottom - (held - self.low) / (self.high - self.low) * (self.bottom - self.top)


def years_picture(page: DrumYears) -> YearsPicture | None:
    """Lay it out; None where no test can be followed in the years shown."""
    rows = [row for row in page.rows if row.row is not None]
    if not rows:
        return None
    last = max(decimal_year(rows[-1].point.tested_on), *_coming_years(page))
    low, high, limit = _range(page, rows)
    marks = _Scale(page.first_year, last, low, high, MARK_TOP, MARK_BOTTOM)
    founds = _Scale(page.first_year, last, LOW, HIGH, FOUND_TOP, FOUND_BOTTOM)
    tests = page.found.drift.tests
    newest = page.points[-1]
    band_top, band_bottom = founds.y(newest.band_high), founds.y(newest.band_low)
    limit_y = marks.y(limit) if limit is not None else None
    return YearsPicture(
        width=coordinate(WIDTH),
        height=HEIGHT,
        title=_("{drum} over the years").format(drum=page.drum),
        heading=_("{setting} for exactly {share}, {unit}").format(
            setting=page.drum.get_setting_kind_display(),
            share=units.display(newest.target_share, "percent"),
            unit=units.label(page.unit) or _("number"),
        ),
        found_heading=_("as found, % of the base load"),
        marks=tuple(_mark(page, row, marks) for row in rows),
        founds=tuple(_found(row, founds) for row in rows if row.point.as_found_share is not None),
        lines=tuple(
            f"M{point(*_at(page, one, marks))}L{point(*_at(page, two, marks))}"
            for one, two in pairwise(rows)
            if tests.segment[one.row] == tests.segment[two.row]
        ),
        **_cone(page, rows[-1], marks, founds),
        levels=tuple(
            Level(coordinate(marks.y(value)), coordinate(marks.y(value) + 4), _short(value, page.unit))
            for value in _steps(low, high, page.unit)
        ),
        found_levels=tuple(
            Level(coordinate(founds.y(share)), coordinate(founds.y(share) + 4), _short(share, "percent"))
            for share in (LOW, newest.band_low, newest.band_high, 0.80)
        ),
        band_y=coordinate(band_top),
        band_height=coordinate(band_bottom - band_top),
        limit_y=coordinate(limit_y) if limit_y is not None else "",
        limit_text_y=coordinate(limit_y - 6 if limit_y > MARK_TOP + 30 else limit_y + 15)
        if limit_y is not None
        else "",
        limit_words=_("limit {words}").format(words=page.limit_words),
        events=tuple(_events(page.events_shown, marks)),
        years=_years(marks),
    )


def _coming_years(page: DrumYears) -> list[float]:
    coming = page.coming[0]
    return [decimal_year(coming.day)] if coming.day else [decimal_year(page.on)]


def _value(page: DrumYears, row: YearRow) -> float:
    return float(page.found.drift.tests.mark_corrected_si[row.row])


def _at(page: DrumYears, row: YearRow, scale: _Scale) -> tuple[float, float]:
    return scale.x(decimal_year(row.point.tested_on)), scale.y(_value(page, row))


def _range(page: DrumYears, rows: list[YearRow]) -> tuple[float, float, float | None]:
    """From where to where the scale of marks goes, and the limit where it lies on it."""
    tests, ahead = page.found.drift.tests, page.found.drift.forecast
    values = [_value(page, row) for row in rows]
    values += [float(end[row.row]) for row in rows for end in (tests.mark.low, tests.mark.high)]
    values += [float(end[page.place, 0]) for end in (ahead.mark_low_si, ahead.mark_high_si)]
    known = [value for value in values if np.isfinite(value)]
    # However wide an interval is that rests on nothing yet, the tests themselves must stay apart.
    own = [_value(page, row) for row in rows]
    least = 4 * units.to_si(1.0, page.unit) if page.unit != "count" else 4.0
    reach = max(max(own) - min(own), least)
    low, high = max(min(known), min(own) - reach), min(max(known), max(own) + reach)
    limit = float(page.found.drift.histories.mark_limit_si[page.place])
    span = max(high - low, least)
    near = np.isfinite(limit) and low - LIMIT_WITHIN * span <= limit <= high + LIMIT_WITHIN * span
    if near:
        low, high = min(low, limit), max(high, limit)
    room = 0.06 * max(high - low, least)
    return low - room, high + room, limit if near else None


def _mark(page: DrumYears, row: YearRow, scale: _Scale) -> Spot:
    x, y = _at(page, row, scale)
    prediction, whisker = page.found.drift.tests.mark, ""
    low, high = (float(end[row.row or 0]) for end in (prediction.low, prediction.high))
    if np.isfinite(low):
        whisker = f"M{point(x, scale.y(low))}V{coordinate(scale.y(high))}"
    flagged = bool(row.flags)
    return Spot(
        coordinate(x),
        coordinate(y),
        _triangle(x, y, 1),
        "disc",
        flagged,
        row.said,
        f"test-{row.point.test_id}",
        whisker,
    )


def _found(row: YearRow, scale: _Scale) -> Spot:
    share = row.point.as_found_share or 0.0
    x, y = scale.x(decimal_year(row.point.tested_on)), scale.y(share)
    if row.point.as_found_held or not LOW <= share <= HIGH:
        shape, outline = "beyond", _triangle(x, y, 1 if share < LOW else -1)
    elif row.point.as_found_phase == Phase.AS_FOUND_REAPPLIED:
        shape = "reapplied"
        outline = " ".join(point(x + a, y + b) for a, b in ((-5, -5), (5, -5), (5, 5), (-5, 5)))
    else:
        shape = "untouched"
        outline = " ".join(point(x + a, y + b) for a, b in ((0, -7), (7, 0), (0, 7), (-7, 0)))
    flagged = not row.point.as_found_held and not row.point.band_low <= share <= row.point.band_high
    return Spot(coordinate(x), coordinate(y), outline, shape, flagged, row.found_said, f"test-{row.point.test_id}")


def _triangle(x: float, y: float, way: int) -> str:
    """Pointing up with -1, down with 1."""
    return " ".join([point(x, y + way * 7), point(x - 7, y - way * 5), point(x + 7, y - way * 5)])


def _cone(page: DrumYears, last: YearRow, marks: _Scale, founds: _Scale) -> dict[str, str]:
    """The prediction for the next test; empty where it is withheld."""
    ahead, place, coming = page.found.drift.forecast, page.place, page.coming[0]
    if not coming.given or coming.day is None or last.row != page.last_row:
        return {"cone": "", "cone_middle": "", "cone_words": "", "found_expected": ""}
    x, y = _at(page, last, marks)
    end = marks.x(decimal_year(coming.day))
    low, high = marks.y(ahead.mark_low_si[place, 0]), marks.y(ahead.mark_high_si[place, 0])
    shares = founds.y(ahead.as_found_low_share[place, 0]), founds.y(ahead.as_found_high_share[place, 0])
    return {
        "cone": " ".join([point(x, y), point(end, low), point(end, high)]),
        "cone_middle": f"M{point(x, y)}L{point(end, marks.y(ahead.mark_si[place, 0]))}",
        "cone_words": _("by {day}: {mark}, as found {found}").format(
            day=date_format(coming.day, "j M Y"), mark=coming.mark, found=coming.as_found
        ),
        "found_expected": f"M{point(end, shares[0])}V{coordinate(shares[1])}",
    }


def _events(events: Iterable[BrakeEvent], scale: _Scale) -> Iterable[Standing]:
    for place, event in enumerate(events):
        x = scale.x(decimal_year(event.happened_on))
        right = x < (LEFT + RIGHT) * 0.6
        yield Standing(
            x=coordinate(x),
            text_x=coordinate(x + (5 if right else -5)),
            text_y=coordinate(30 + 13 * (place % LABEL_ROWS)),
            anchor="start" if right else "end",
            words=f"{event.get_kind_display()}, {date_format(event.happened_on, 'M Y')}",
        )


def _steps(low: float, high: float, unit: str) -> list[float]:
    """Round figures in the unit, about so many as LEVELS."""
    factor = 1.0 if unit == "count" else units.to_si(1.0, unit)
    rough = (high - low) / factor / LEVELS
    size = 10.0 ** floor(log10(rough))
    step = next(size * times for times in (1, 2, 5, 10) if size * times >= rough)
    return [number * step * factor for number in range(ceil(low / factor / step), floor(high / factor / step) + 1)]


def _short(value_si: float, unit: str) -> str:
    text = units.digits(value_si, unit)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _years(scale: _Scale) -> tuple[tuple[str, str], ...]:
    """Whole years under the axis, not closer than their figures need."""
    first, last = ceil(scale.first - 1e-9), floor(scale.first + scale.span)
    step = max(1, ceil(34 * scale.span / (RIGHT - LEFT)))
    return tuple((coordinate(scale.x(year)), str(year)) for year in range(first, last + 1, step))
