"""Where a drum will be at its next due date and its next dry-docking, and how likely it will have passed its limits."""

import numpy as np
from scipy import special

from fleet.calculation.drift_as_found import AsFound
from fleet.calculation.drift_histories import BoolArray, Histories, IntArray
from fleet.calculation.drift_preparation import Prepared
from fleet.calculation.drift_results import (
    COVERAGE,
    DOCKING,
    DUE,
    LINE_BROKEN,
    NO_DATE,
    NO_HISTORY,
    NO_LIMIT,
    WITHHELD,
    Forecast,
    RowsOfDrums,
)
from fleet.calculation.drift_series import Followed
from fleet.calculation.units import FloatArray

_ONE_SIDED = 0.05
"""The early date of a limit is late enough 19 times in 20."""
_TRADE_CHANGES = 0.25
"""How far the coming years' trade, and with it their wear, may depart from the past ones'. Ours."""
_FRESH = 0.5
"""A newest test with more than this weight of bedding-in was made on a lining that has not bedded in yet."""


def last_tests(histories: Histories) -> IntArray:
    """Row of each drum's newest test, (D,), -1 without tests."""
    last = np.full(histories.drums, -1)
    last[histories.drum] = np.arange(histories.tests)
    return last


def forecast(histories: Histories, prepared: Prepared, mark: Followed, lining: Followed, as_found: AsFound) -> Forecast:
    """Prediction and probabilities for the dates of HORIZONS.

    Args: histories, prepared; mark, lining, as_found: what was found. Returns: Forecast, shape (D, 2).
    """
    last = last_tests(histories)
    has = (last >= 0)[:, None]
    row = np.maximum(last, 0)
    year = np.stack([histories.next_due_year, histories.next_docking_year], axis=1)
    empty = not histories.tests
    newest = histories.year[row] if not empty else np.full(histories.drums, np.nan)
    dated = has & np.isfinite(year) & (year >= newest[:, None])
    dt = np.where(dated, year - newest[:, None], np.nan) * prepared.time_per_year[:, None]
    f, sign = mark.found, histories.tighter_sign[:, None]

    def of_last(values: FloatArray) -> FloatArray:
        return (values[row] if not empty else np.full(histories.drums, np.nan))[:, None]

    slope, noise = of_last(prepared.slope), of_last(mark.series.noise)
    bed_last, since = of_last(prepared.bedding), of_last(prepared.years_since_lining)
    bed = np.where(np.isfinite(since), np.clip(1 - (since + year - newest[:, None]), 0.0, 1.0), 0.0)
    wear = f.now_wear[:, None]
    level = f.level[:, None] + wear * dt + f.gauge_share[:, None] / slope
    line = _line_variance(mark, dt)
    dof = f.now_dof[:, None]
    reach = special.stdtrit(f.now_dof, (1 + COVERAGE) / 2)[:, None]
    half = reach * np.sqrt(line + f.now_variance[:, None] * noise)
    mean = level - mark.hyper.bedding[:, None] * bed
    broken = f.waiting[:, None] & has
    mark_held = _withheld(has, dated, broken)
    ends = sign * (mean - half), sign * (mean + half)
    limit = sign * histories.mark_limit_si[:, None]
    limited = np.where((mark_held == 0) & ~np.isfinite(limit), WITHHELD.index(NO_LIMIT), mark_held)

    lin = lining.found
    measured = lin.seen[:, None]
    lining_row = np.zeros(histories.drums)
    if len(lining.rows):
        # The lining's line stands at its own last measurement, which may be older than the newest test.
        lining_row = (prepared.wear_time[row] if not empty else lining_row) - lin.last_time
    lining_level = lin.level[:, None] + lin.now_wear[:, None] * (dt + lining_row[:, None])
    lining_line = _line_variance(lining, dt + lining_row[:, None])
    # After new lining that nobody has measured yet the thickness on record is the old one's.
    relined = np.zeros(histories.drums, dtype=np.int64)
    np.maximum.at(relined, histories.drum, np.where(prepared.starts == 1, np.arange(histories.tests), 0))
    thickness = np.full(histories.drums, -1)
    thickness[histories.drum[lining.rows]] = lining.rows
    measured = measured & (thickness >= relined)[:, None]
    lining_held = _withheld(measured, dated, lin.waiting[:, None] & measured)
    lowest = histories.lining_minimum_m[:, None]
    lining_held = np.where((lining_held == 0) & ~np.isfinite(lowest), WITHHELD.index(NO_LIMIT), lining_held)

    below = _below(lining_level + lowest, np.sqrt(lining_line), lin.now_dof[:, None])
    now = _below(lin.level[:, None] + lowest, np.sqrt(lin.level_level)[:, None], lin.now_dof[:, None])
    # A lining that was measured and left in service was not taken to be below its minimum then.
    thin = (below - now) / np.maximum(1 - now, 0.05)

    moved = wear * dt + mark.hyper.bedding[:, None] * (bed_last - bed)
    found = of_last(histories.as_left_share) - slope * moved + as_found.offset[as_found.kind][:, None]
    found_variance = (as_found.factor * as_found.variance[as_found.kind])[:, None]
    away = bed_last - bed
    found_variance = found_variance + slope**2 * (
        f.wear_wear[:, None] * dt * dt + mark.hyper.bedding_variance[:, None] * away * away
    )
    found_scale = np.sqrt(found_variance)
    found_reach = special.stdtrit(as_found.now_dof, (1 + COVERAGE) / 2)[:, None] * found_scale
    lower, upper = of_last(histories.lower_share), of_last(histories.upper_share)
    out = _below(lower - found, found_scale, as_found.now_dof[:, None]) + _below(
        found - upper, found_scale, as_found.now_dof[:, None]
    )

    # As the next test will find it: on a day of more or less friction.
    worn_out = _below(level - limit, np.sqrt(line + f.now_variance[:, None] * noise), dof)

    def given(values: FloatArray, withheld: IntArray) -> FloatArray:
        return np.where(withheld == 0, values, np.nan)

    return Forecast(
        year=year,
        mark_si=given(sign * mean, mark_held),
        mark_low_si=given(np.minimum(*ends), mark_held),
        mark_high_si=given(np.maximum(*ends), mark_held),
        as_found_share=given(found, mark_held),
        as_found_low_share=given(found - found_reach, mark_held),
        as_found_high_share=given(found + found_reach, mark_held),
        mark_limit=given(_lasting(worn_out, year), limited),
        lining_minimum=given(_lasting(np.clip(thin, 0.0, 1.0), year), lining_held),
        as_found_out=given(out, mark_held),
        mark_withheld=limited,
        lining_withheld=lining_held,
        as_found_withheld=mark_held,
    )


def rows_of_drums(histories: Histories, prepared: Prepared, mark: Followed, lining: Followed) -> RowsOfDrums:
    """What is known of each drum now.

    Args: histories, prepared; mark, lining: what was found. Returns: RowsOfDrums.
    """
    last = last_tests(histories)
    has = last >= 0
    f = mark.found
    sign, per_year = histories.tighter_sign, prepared.time_per_year
    row = np.maximum(last, 0)
    fresh = prepared.bedding[row] > _FRESH if histories.tests else np.zeros(histories.drums, dtype=bool)
    newest = histories.year[row] if histories.tests else np.full(histories.drums, np.nan)
    to_limit = sign * histories.mark_limit_si - f.level
    if histories.tests:
        to_limit = to_limit - f.gauge_share / prepared.slope[row]
    with np.errstate(invalid="ignore", divide="ignore"):
        middle = np.where(f.now_wear > 0, np.maximum(to_limit, 0.0) / f.now_wear, np.inf)
    known = has & np.isfinite(histories.mark_limit_si) & ~f.waiting
    number = np.bincount(prepared.group)[prepared.group] if histories.drums else np.empty(0, dtype=np.int64)

    def of(values: FloatArray) -> FloatArray:
        return np.where(has, values, np.nan)

    def date(time: FloatArray) -> FloatArray:
        return np.where(known, newest + time / per_year, np.nan)

    return RowsOfDrums(
        last_test=last,
        wear_si_per_year=of(sign * f.now_wear * per_year),
        wear_standard_si_per_year=of(np.sqrt(f.wear_wear) * per_year),
        wear_si_per_mooring=of(sign * f.now_wear / prepared.moorings_per_year),
        scatter_si=of(np.sqrt(f.now_variance)),
        borrowed_wear=of(f.now_borrowed),
        borrowed_scatter=of(f.scatter_borrowed),
        limit_year=date(middle),
        limit_year_early=date(_early(mark, to_limit)),
        lining_m_per_year=np.where(lining.found.seen, lining.found.now_wear * per_year, np.nan),
        comparable=number,
        line_broken=f.waiting & has,
        retest_early=has & fresh,
    )


def _line_variance(followed: Followed, dt: FloatArray) -> FloatArray:
    f = followed.found
    walk = (followed.hyper.walk * f.now_variance)[:, None] * np.abs(dt)
    walk = walk + followed.hyper.wear_part[:, None] * f.now_wear[:, None] ** 2 * np.abs(dt)
    walk = walk + (_TRADE_CHANGES * f.now_wear[:, None] * dt) ** 2
    return f.level_level[:, None] + 2 * dt * f.level_wear[:, None] + dt * dt * f.wear_wear[:, None] + walk


def _below(value: FloatArray, scale: FloatArray, dof: FloatArray) -> FloatArray:
    """Chance of t with this scale lying below value."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return special.stdtr(np.broadcast_to(dof, value.shape), value / scale)


def _lasting(chance: FloatArray, year: FloatArray) -> FloatArray:
    """What has been passed by the earlier date has been passed by the later one."""
    later = year[:, DOCKING] >= year[:, DUE]
    both = np.fmax(chance[:, DUE], chance[:, DOCKING])
    return np.stack([chance[:, DUE], np.where(later, both, chance[:, DOCKING])], axis=1)


def _withheld(known: BoolArray, dated: BoolArray, broken: BoolArray) -> IntArray:
    reason = np.where(dated, 0, WITHHELD.index(NO_DATE))
    reason = np.where(broken, WITHHELD.index(LINE_BROKEN), reason)
    return np.where(known, reason, WITHHELD.index(NO_HISTORY))


def _early(mark: Followed, to_limit: FloatArray) -> FloatArray:
    """Wear time at which the line has passed the limit one time in twenty: the first root of a quadratic equation."""
    f = mark.found
    k2 = special.stdtrit(f.now_dof, 1 - _ONE_SIDED) ** 2
    walk = mark.hyper.walk * f.now_variance + mark.hyper.wear_part * f.now_wear**2
    a = f.now_wear**2 - k2 * (f.wear_wear + (_TRADE_CHANGES * f.now_wear) ** 2)
    b = -2 * to_limit * f.now_wear - k2 * (2 * f.level_wear + walk)
    c = to_limit**2 - k2 * f.level_level
    with np.errstate(invalid="ignore", divide="ignore"):
        root = np.sqrt(b * b - 4 * a * c)
        # In the form that stays good where a is near zero.
        first = 2 * c / (-b + root)
    never = ~np.isfinite(first) | (first < 0)
    time = np.where(never, np.inf, first)
    return np.where((to_limit <= 0) | (c <= 0), 0.0, time)
