"""Histories turned for the kernel: one sense for all drums, segments, years of wear, rounds in order of time."""

from dataclasses import dataclass

import numpy as np

from fleet.calculation.drift_histories import (
    LINING_RENEWED,
    SETTING_KINDS,
    UNKNOWN,
    BoolArray,
    Histories,
    IntArray,
)
from fleet.calculation.drift_moderation import earlier
from fleet.calculation.units import FloatArray

LENGTHS = ("marker_distance", "spring_length")
SHARE_PER_M = 20.0
"""Where no test of the fleet tells: 2 % of the base load per mm of setting. Common practice, no published source."""
SHARE_PER_SHIM = 0.05
"""Where no test of the fleet tells: 5 % of the base load per shim. Common practice, no published source."""
BEDDING_YEARS = 1.0
"""A new lining counts as bedding in for its first year, less from month to month."""
MOORINGS_WEIGHT = 0.5
"""Part of wear that follows moorings made, the rest the calendar, where the fleet is too small to tell. Ours."""
_FAR_SLOPE = 0.4
_FEW = 30


@dataclass(frozen=True, kw_only=True)
class Prepared:
    """Per test (N) and per drum (D). ``tight``: mark for exactly the target, turned so that it grows with wear;
    ``own_slope``: share per SI unit, filled where a test does not tell it (``slope_borrowed``); ``slope``: the mean of
    the drum's so far, this test's among them, since one test alone tells its slope to 10 or 25 % only; ``wear_time``:
    years of comparable wear since the drum's first test, by moorings made where known; ``segment``: number through the
    fleet; ``starts``: 0 within a segment, 1 first test after new lining, 2 after another event, 3 first of the drum;
    ``bedding``: 1 for a lining just fitted, falling to 0 in a year; ``before``: row of the drum's test before, -1;
    ``round``: number of the round, ``step``: its place in the vessel's time; ``group`` (D): comparable drums;
    ``unit`` (D): what prior scales are counted in; ``moorings_per_year`` (D): of the duty, NaN where not known;
    ``time_per_year`` (D): wear_time in a coming year.
    """

    tight: FloatArray
    own_slope: FloatArray
    slope: FloatArray
    slope_borrowed: BoolArray
    wear_time: FloatArray
    segment: IntArray
    starts: IntArray
    bedding: FloatArray
    years_since_lining: FloatArray
    before: IntArray
    round: IntArray
    step: IntArray
    group: IntArray
    unit: FloatArray
    moorings_per_year: FloatArray
    time_per_year: FloatArray


def prepare(histories: Histories) -> Prepared:
    """Everything about histories that needs no statistics.

    Args: histories: the fleet. Returns: Prepared, see there.
    """
    drum = histories.drum
    before = _before(drum)
    own, borrowed = _slopes(histories)
    slope = _steadied(histories, own, borrowed)
    sign = histories.tighter_sign[drum]
    tight = sign * histories.mark_si + (histories.target_share - histories.as_left_share) / slope
    segment, starts, since = _segments(histories, before)
    wear_time, per_year, time_per_year = _wear_time(histories, before, tight, starts)
    rounds, step = _rounds(histories, before)
    bedding = np.where(np.isfinite(since), np.clip(1 - since / BEDDING_YEARS, 0.0, 1.0), 0.0)
    return Prepared(
        tight=tight,
        own_slope=own,
        slope=slope,
        slope_borrowed=borrowed,
        wear_time=wear_time,
        segment=segment,
        starts=starts,
        bedding=bedding,
        years_since_lining=since,
        before=before,
        round=rounds,
        step=step,
        group=_groups(histories),
        unit=_units(histories),
        moorings_per_year=per_year,
        time_per_year=time_per_year,
    )


def by_kind(values: FloatArray, kinds: IntArray) -> FloatArray:
    """Median of the known values of each kind of setting, NaN where there are none; shape (kinds,)."""
    found = np.full(len(SETTING_KINDS), np.nan)
    for kind in range(len(SETTING_KINDS)):
        some = values[(kinds == kind) & np.isfinite(values)]
        if len(some):
            found[kind] = np.median(some)
    return found


def _before(drum: IntArray) -> IntArray:
    row = np.arange(len(drum))
    return np.where(np.r_[False, drum[1:] == drum[:-1]][: len(drum)], row - 1, UNKNOWN)


def _slopes(histories: Histories) -> tuple[FloatArray, BoolArray]:
    own, drum = histories.slope_share_per_si, histories.drum
    missing = ~np.isfinite(own)
    if not missing.any():
        return own, missing
    known = ~missing
    logs = np.where(known, np.log(np.where(known, own, 1.0)), 0.0)
    number = np.bincount(drum[known], minlength=histories.drums)
    of_drum = np.exp(np.bincount(drum, logs, histories.drums) / np.maximum(number, 1))
    kind = histories.setting_kind
    of_kind = by_kind(own, kind[drum])
    mark = np.maximum(np.abs(histories.mark_si), 1e-12)
    guess = histories.as_left_share / mark
    is_length = np.isin(kind, [SETTING_KINDS.index(name) for name in LENGTHS])[drum]
    guess = np.where(
        is_length, SHARE_PER_M, np.where(kind[drum] == SETTING_KINDS.index("shims"), SHARE_PER_SHIM, guess)
    )
    pooled = np.where(np.isfinite(of_kind[kind[drum]]), of_kind[kind[drum]], guess)
    return np.where(known, own, np.where(number[drum] > 0, of_drum[drum], pooled)), missing


def _steadied(histories: Histories, own: FloatArray, borrowed: BoolArray) -> FloatArray:
    """Geometric mean of a drum's slopes up to and with each test; one slope far from the others counts less."""
    drum, place = histories.drum, np.arange(histories.tests)
    logs, told = np.log(own), (~borrowed).astype(float)
    number = earlier(drum, place, told)
    mean = earlier(drum, place, logs * told) / np.maximum(number, 1.0)
    near = np.where(number > 0, np.clip(logs, mean - _FAR_SLOPE, mean + _FAR_SLOPE), logs)
    number, total = earlier(drum, place, told), earlier(drum, place, near * told)
    steady = np.exp((total + near * told) / np.maximum(number + told, 1.0))
    return np.where(number + told > 0, steady, own)


def _segments(histories: Histories, before: IntArray) -> tuple[IntArray, IntArray, FloatArray]:
    drum, year = histories.drum, histories.year
    all_years = np.r_[year, histories.event_year]
    origin = all_years.min() if len(all_years) else 0.0
    stride = (np.ptp(all_years) if len(all_years) else 0.0) + 1.0

    def passed(keep: BoolArray) -> tuple[IntArray, FloatArray]:
        """How many of these events each test has behind it, fleet-wide count, and the year of the last (own drum)."""
        order = np.lexsort((histories.event_year[keep], histories.event_drum[keep]))
        of_drum, of_year = histories.event_drum[keep][order], histories.event_year[keep][order]
        keys = of_drum * stride + (of_year - origin)
        count = np.searchsorted(keys, drum * stride + (year - origin), side="right")
        last = np.maximum(count - 1, 0)
        own = (count > 0) & (of_drum[last] == drum) if len(keys) else np.zeros(len(drum), dtype=bool)
        return count, np.where(own, of_year[last] if len(keys) else np.nan, np.nan)

    every, _ = passed(np.ones(len(histories.event_drum), dtype=bool))
    linings, lining_year = passed(histories.event_kind == LINING_RENEWED)
    first = before == UNKNOWN
    new_lining = ~first & (linings != linings[before])
    new_segment = ~first & (every != every[before])
    starts = np.where(first, 3, np.where(new_lining, 1, np.where(new_segment, 2, 0)))
    return np.cumsum(starts > 0) - 1, starts, year - lining_year


def _wear_time(
    histories: Histories, before: IntArray, tight: FloatArray, starts: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Years of comparable wear: partly the calendar, partly moorings made over those usual in the drum's duty."""
    drum = histories.drum
    years = np.where(before == UNKNOWN, 0.0, histories.year - histories.year[before])
    moorings = histories.moorings_since
    known = np.isfinite(moorings) & (before != UNKNOWN) & (years > 0.1)
    duty = histories.duty - histories.duty.min(initial=0)
    number = int(duty.max(initial=0)) + 1
    made = np.bincount(duty[drum[known]], moorings[known], number)
    lasted = np.bincount(duty[drum[known]], years[known], number)
    usual = np.where(made > 0, made / np.maximum(lasted, 1e-9), np.nan)[duty]
    relative = np.where(known, moorings / usual[drum], years)
    weight = _moorings_weight(histories, before, tight, starts, known, years, relative)
    step = np.where(known, weight * relative + (1 - weight) * years, years)
    total = np.cumsum(step)
    start = total[before == UNKNOWN]
    wear_time = total - (start[np.cumsum(before == UNKNOWN) - 1] if len(total) else 0.0)
    # The coming years are taken to be as this drum's years have been so far.
    own_step = np.bincount(drum, np.where(years > 0, step, 0.0), histories.drums)
    own_years = np.bincount(drum, years, histories.drums)
    return wear_time, usual, (own_step + 1.0) / (own_years + 1.0)


def _moorings_weight(
    histories: Histories,
    before: IntArray,
    tight: FloatArray,
    starts: IntArray,
    known: BoolArray,
    years: FloatArray,
    relative: FloatArray,
) -> float:
    """Part of wear that goes with moorings: least squares on clipped changes of the marks within segments."""
    use = known & (starts == 0) & (histories.setting_kind[histories.drum] == 0)
    if use.sum() < _FEW:
        return MOORINGS_WEIGHT
    change = tight[use] - tight[before[use]]
    middle = np.median(change)
    reach = 4 * np.median(np.abs(change - middle)) + 1e-12
    change = np.clip(change, middle - reach, middle + reach)
    columns = np.stack([years[use], relative[use]], axis=1)
    (calendar, moorings), *_ = np.linalg.lstsq(columns, change, rcond=None)
    calendar, moorings = max(float(calendar), 0.0), max(float(moorings), 0.0)
    return moorings / (calendar + moorings) if calendar + moorings > 0 else MOORINGS_WEIGHT


def _rounds(histories: Histories, before: IntArray) -> tuple[IntArray, IntArray]:
    """Number of each test's round, and the round's place in its vessel's time; no drum twice at one place."""
    drum, year = histories.drum, histories.year
    tests = len(drum)
    if not tests:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    vessel = histories.vessel[drum]
    alone = histories.round_id == UNKNOWN
    again = (before != UNKNOWN) & (histories.round_id == histories.round_id[before])
    key = np.where(alone | again, -2 - np.arange(tests), histories.round_id)
    rounds, step = _placed(key, vessel, year)
    # Rounds that overlap in time would put a drum's tests out of order: such a vessel's tests stand alone.
    wrong = (before != UNKNOWN) & (step <= step[before])
    if wrong.any():
        apart = np.isin(vessel, np.unique(vessel[wrong]))
        rounds, step = _placed(np.where(apart, -2 - np.arange(tests), key), vessel, year)
    return rounds, step


def _placed(key: IntArray, vessel: IntArray, year: FloatArray) -> tuple[IntArray, IntArray]:
    _, first, rounds = np.unique(np.stack([vessel, key], axis=1), axis=0, return_index=True, return_inverse=True)
    rounds = rounds.ravel()
    begun = np.full(len(first), np.inf)
    np.minimum.at(begun, rounds, year)
    # Tests alone on the same day keep their order of rows.
    order = np.lexsort((first, begun, vessel[first]))
    place = np.empty(len(first), dtype=np.int64)
    new = np.r_[True, np.diff(vessel[first][order]) != 0]
    start = np.flatnonzero(new)
    place[order] = np.arange(len(first)) - start[np.cumsum(new) - 1]
    return rounds, place[rounds]


def _groups(histories: Histories) -> IntArray:
    if not histories.drums:
        return np.empty(0, dtype=np.int64)
    columns = [histories.setting_kind, histories.winch_type, histories.lining_kind, histories.duty]
    _, group = np.unique(np.stack(columns, axis=1), axis=0, return_inverse=True)
    return group.ravel()


def _units(histories: Histories) -> FloatArray:
    """1 mm for lengths; for all else one hundredth of the kind's middle setting."""
    unit = np.full(histories.drums, 1e-3)
    middle = by_kind(np.abs(histories.mark_si), histories.setting_kind[histories.drum])
    for kind, name in enumerate(SETTING_KINDS):
        if name not in LENGTHS and np.isfinite(middle[kind]) and middle[kind] > 0:
            unit[histories.setting_kind == kind] = middle[kind] / 100
    return unit
