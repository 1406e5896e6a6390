"""From the database to what the analysis is given: all drums of one company, in a fixed number of queries."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Any
from uuid import UUID

import numpy as np

from fleet.accounts.models import Company
from fleet.calculation.drift_histories import (
    BRAKE_WORK,
    LINE_CHANGED,
    LINING_RENEWED,
    MARK_RESTORED,
    NO_AS_FOUND,
    RE_APPLIED,
    SETTING_KINDS,
    UNKNOWN,
    UNTOUCHED,
    Histories,
    IntArray,
)
from fleet.calculation.gauge import add_months
from fleet.calculation.units import FloatArray
from fleet.drift.models import HistoryPoint
from fleet.drums.models import BrakeEvent, Drum, DrumParticulars, EventKind, LiningHeld
from fleet.records.due import beds_in
from fleet.records.models import Phase
from fleet.vessels.models import policies_for

NEW_MEANING = {
    EventKind.LINING_RENEWED: LINING_RENEWED,
    EventKind.BRAKE_OVERHAULED: BRAKE_WORK,
    EventKind.SPINDLE_RENEWED: BRAKE_WORK,
    EventKind.PISTON_RENEWED: BRAKE_WORK,
    EventKind.LINE_CHANGED: LINE_CHANGED,
    EventKind.WRONG_MARK: MARK_RESTORED,
}
"""What starts the meaning of a mark anew. A slip and moorings made leave the mark what it was."""
AS_FOUND_KINDS = {Phase.AS_FOUND_UNTOUCHED: UNTOUCHED, Phase.AS_FOUND_REAPPLIED: RE_APPLIED}
POINT_COLUMNS = (
    "test_id",
    "drum_id",
    "round_id",
    "gauge_id",
    "tested_on",
    "set_in_band",
    "setting_kind",
    "setting_si",
    "as_left_share",
    "slope_share_per_si",
    "gauge_share",
    "lining_m",
    "as_found_phase",
    "as_found_share",
    "as_found_held",
    "target_share",
    "band_low",
    "band_high",
)
FLOATS = (
    "setting_si",
    "as_left_share",
    "slope_share_per_si",
    "gauge_share",
    "lining_m",
    "as_found_share",
    "target_share",
    "band_low",
    "band_high",
)


@dataclass(frozen=True)
class CompanyHistories:
    """The company's histories; ``drums`` and ``tests`` lead from keys to rows."""

    histories: Histories
    drums: dict[UUID, int]
    tests: dict[UUID, int]


@lru_cache(maxsize=20_000)
def decimal_year(day: date) -> float:
    """2024.5 for the middle of 2024."""
    start = date(day.year, 1, 1)
    return day.year + (day - start).days / (date(day.year + 1, 1, 1) - start).days


def day_of(year: float) -> date:
    """The day of a decimal year; within what a date can hold."""
    whole = int(year)
    start = date(whole, 1, 1)
    return start + timedelta(days=round((year - whole) * (date(whole + 1, 1, 1) - start).days))


def company_histories(company: Company, *, on: date, with_point: HistoryPoint | None = None) -> CompanyHistories:
    """Every drum of the company with its tests and events; ``with_point`` stands for its test whether approved or not.

    Drums are compared within the company only, whichever vessels the person who asks may see: what they see is
    decided before, here nothing but the statistics of the other drums is used.
    """
    drums = list(
        Drum.objects.filter(winch__vessel__company=company)
        .order_by("pk")
        .values_list(
            "pk",
            "winch__vessel_id",
            "kind",
            "brake_kind",
            "setting_kind",
            "tighter_is",
            "winch__vessel__next_dry_docking",
        )
    )
    index = {row[0]: place for place, row in enumerate(drums)}
    figures = _figures(company, on)
    points = _points(company, index, drums, with_point)
    drum, year = points["drum"], points["year"]
    vessel = _codes(row[1] for row in drums)
    events = _Events(company, index)
    histories = Histories(
        vessel=vessel,
        winch_type=_codes((row[2], row[3], figures.get(row[0], _NOTHING).diameter_m) for row in drums),
        lining_kind=_codes((figures.get(row[0], _NOTHING).lining_held for row in drums), unknown=LiningHeld.UNKNOWN),
        duty=np.full(len(drums), UNKNOWN),
        setting_kind=np.array([SETTING_KINDS.index(row[4]) for row in drums], dtype=np.int64),
        tighter_sign=np.array([1.0 if row[5] == "longer" else -1.0 for row in drums]),
        mark_limit_si=_floats(figures.get(row[0], _NOTHING).limit_si(row[5]) for row in drums),
        lining_minimum_m=_floats(figures.get(row[0], _NOTHING).lining_minimum_m for row in drums),
        next_due_year=_next_due(company, drums, points, events.linings, on),
        next_docking_year=_floats(decimal_year(row[6]) if row[6] and row[6] >= on else None for row in drums),
        drum=drum,
        year=year,
        round_id=_codes(points["round_id"]),
        mark_si=points["setting_si"],
        as_left_share=points["as_left_share"],
        slope_share_per_si=points["slope_share_per_si"],
        hand_si=np.full(len(drum), np.nan),
        gauge_share=points["gauge_share"],
        as_found_share=np.where(points["as_found"] != NO_AS_FOUND, points["as_found_share"], np.nan),
        as_found_kind=points["as_found"],
        as_found_held=points["as_found_held"].astype(bool),
        lining_m=points["lining_m"],
        gauge=_codes(points["gauge_id"]),
        moorings_since=events.moorings(drum, year),
        target_share=points["target_share"],
        lower_share=points["band_low"],
        upper_share=points["band_high"],
        event_drum=events.drum,
        event_year=events.year,
        event_kind=events.kind,
    )
    return CompanyHistories(histories, index, {test: place for place, test in enumerate(points["test_id"])})


def can_be_followed(point: Any, setting_kind: str) -> bool:
    """Whether a test says at which setting the brake was left, and with which load, in the drum's present setting."""
    return (
        point.setting_si is not None
        and bool(point.as_left_share)
        and point.setting_kind in {"", setting_kind}
        and point.band_low < point.target_share < point.band_high
    )


@dataclass(frozen=True)
class _Figures:
    lining_held: str = LiningHeld.UNKNOWN
    diameter_m: float | None = None
    lining_minimum_m: float | None = None
    least_si: float | None = None
    most_si: float | None = None

    def limit_si(self, tighter_is: str) -> float | None:
        return self.most_si if tighter_is == "longer" else self.least_si


_NOTHING = _Figures()


def _figures(company: Company, on: date) -> dict[UUID, _Figures]:
    rows = DrumParticulars.objects.filter(drum__winch__vessel__company=company, valid_from__lte=on)
    newest = {}
    for drum_id, held, figures in rows.order_by("valid_from", "created_at").values_list(
        "drum_id", "lining_held", "figures"
    ):
        newest[drum_id] = _Figures(
            held,
            *(
                float(figures[name]["si"]) if figures.get(name) else None
                for name in ("drum_diameter", "lining_minimum", "mark_least", "mark_most")
            ),
        )
    return newest


def _points(
    company: Company, index: dict[UUID, int], drums: Sequence[Any], with_point: HistoryPoint | None
) -> dict[str, Any]:
    """The columns of all points that can be followed, sorted; by whole columns, because a fleet has many rows."""
    kept = HistoryPoint.objects.filter(drum__in=Drum.objects.filter(winch__vessel__company=company).values("pk"))
    if with_point is not None:
        kept = kept.exclude(test=with_point.test_id)
    rows = list(kept.values_list(*POINT_COLUMNS))
    if with_point is not None:
        rows.append(tuple(getattr(with_point, name) for name in POINT_COLUMNS))
    written = (
        dict(zip(POINT_COLUMNS, zip(*rows, strict=True), strict=True)) if rows else dict.fromkeys(POINT_COLUMNS, ())
    )
    columns: dict[str, Any] = {name: _floats(written[name]) for name in FLOATS}
    for name in ("test_id", "round_id", "gauge_id"):
        columns[name] = np.fromiter(written[name], dtype=object, count=len(rows))
    columns["drum"] = np.array([index[one] for one in written["drum_id"]], dtype=np.int64)
    columns["year"] = np.array([decimal_year(day) for day in written["tested_on"]], dtype=float)
    columns["tested_on"] = np.fromiter(written["tested_on"], dtype=object, count=len(rows))
    columns["set_in_band"] = np.array(written["set_in_band"], dtype=bool)
    columns["as_found_held"] = np.array(written["as_found_held"], dtype=bool)
    found = np.array([AS_FOUND_KINDS.get(phase, NO_AS_FOUND) for phase in written["as_found_phase"]], dtype=np.int64)
    columns["as_found"] = np.where(columns["as_found_share"] > 0, found, NO_AS_FOUND)
    kinds = np.array([row[4] for row in drums])
    kind = np.array(written["setting_kind"], dtype=str)
    fits = (kind == "") | (kind == kinds[columns["drum"]]) if rows else np.zeros(0, dtype=bool)
    low, aim, high = (columns[name] for name in ("band_low", "target_share", "band_high"))
    fits &= np.isfinite(columns["setting_si"]) & (columns["as_left_share"] > 0) & (low < aim) & (aim < high)
    order = np.lexsort((columns["year"], columns["drum"]))
    order = order[fits[order]]
    return {name: column[order] for name, column in columns.items()}


def _next_due(
    company: Company, drums: Sequence[Any], points: dict[str, Any], linings: dict[UUID, date], on: date
) -> FloatArray:
    """When the interval of the last good test ends, sooner for a lining that beds in; where that is past, today."""
    policies = policies_for({row[1]: company.pk for row in drums}, on)
    good = points["set_in_band"]
    # Sorted by time within a drum: the newest comes last.
    last = dict(zip(points["drum"][good].tolist(), points["tested_on"][good], strict=True))
    today, due = decimal_year(on), np.full(len(drums), np.nan)
    for place, tested_on in last.items():
        policy = policies[drums[place][1]]
        months, lining = policy.interval_months, linings.get(drums[place][0])
        if lining and lining <= tested_on and beds_in(policy, lining_on=lining, tested_on=tested_on):
            months = min(months, policy.lining_retest_months)
        due[place] = max(decimal_year(add_months(tested_on, months)), today)
    return due


class _Events:
    """What happened to the brakes between the tests."""

    def __init__(self, company: Company, index: dict[UUID, int]) -> None:
        rows = list(
            BrakeEvent.objects.filter(drum__winch__vessel__company=company, kind__in=[*NEW_MEANING, EventKind.MOORINGS])
            .order_by("happened_on")
            .values_list("drum_id", "happened_on", "kind", "moorings_made")
        )
        starts = [row for row in rows if row[2] in NEW_MEANING]
        self.linings: dict[UUID, date] = {row[0]: row[1] for row in rows if row[2] == EventKind.LINING_RENEWED}
        self.drum = np.array([index[row[0]] for row in starts], dtype=np.int64)
        self.year = np.array([decimal_year(row[1]) for row in starts])
        self.kind = np.array([NEW_MEANING[EventKind(row[2])] for row in starts], dtype=np.int64)
        self.counts = [
            (index[row[0]], decimal_year(row[1]), row[3])
            for row in rows
            if row[2] == EventKind.MOORINGS and row[3] is not None
        ]

    def moorings(self, drum: IntArray, year: FloatArray) -> FloatArray:
        """Moorings counted since the drum's test before; NaN where nobody counted."""
        made = np.full(len(drum), np.nan)
        for of_drum, at, number in self.counts:
            first, last = np.searchsorted(drum, [of_drum, of_drum + 1])
            place = first + int(np.searchsorted(year[first:last], at))
            # Before the first test there is none to count from.
            if first < place < last:
                made[place] = number + (0 if np.isnan(made[place]) else made[place])
        return made


def _codes(values: Iterable[Any], unknown: Any = None) -> IntArray:
    seen: dict[Any, int] = {}
    return np.array([UNKNOWN if one == unknown else seen.setdefault(one, len(seen)) for one in values], dtype=np.int64)


def _floats(values: Iterable[float | None]) -> FloatArray:
    """None becomes NaN."""
    return np.array(list(values), dtype=float)
