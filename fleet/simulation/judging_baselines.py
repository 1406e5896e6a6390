"""The two ways of looking that any analysis must beat: a tenth from last year, and the individuals chart."""

import numpy as np

from fleet.calculation.charts import individuals_limits
from fleet.calculation.drift_histories import NO_AS_FOUND, BoolArray, Histories, IntArray
from fleet.calculation.units import FloatArray

A_TENTH = 0.10
SIGMAS = 3.0
EARLIER_POINTS = 3
LAST_DIGIT = 1e-12


def parts_off_last_year(histories: Histories) -> FloatArray:
    """How far each test is off the drum's test before, as a part of it: the most of mark, share as left, as found.

    Returns: shape (N,); 0 for the first test after recorded work, which has nothing to be compared with.
    """
    going_on = ~first_of_segment(histories)
    most = np.zeros(histories.tests)
    for series in _series(histories):
        before = np.roll(series, 1)
        with np.errstate(invalid="ignore", divide="ignore"):
            off = np.abs(series - before) / np.abs(before)
        most = np.maximum(most, np.where(going_on & np.isfinite(off), off, 0.0))
    return most


def ten_percent(histories: Histories) -> BoolArray:
    """Tests more than a tenth off last year's, shape (N,). Common practice, no published source."""
    return parts_off_last_year(histories) > A_TENTH


def sigmas_off_chart(histories: Histories) -> FloatArray:
    """How many sigmas each test is off the individuals chart of the earlier tests of its segment, at least three.

    One chart each for the mark, the share as left and the share as found; the most of them counts. A sigma is the mean
    moving range over 1.128. Returns: shape (N,); 0 with fewer earlier tests, and off a chart whose values never varied,
    which has no width.
    Source: NIST/SEMATECH e-Handbook 6.3.2.2.
    """
    first = first_of_segment(histories)
    segment = np.cumsum(first) - 1
    place = np.arange(histories.tests) - np.flatnonzero(first)[segment]
    most = np.zeros(histories.tests)
    if not histories.tests:
        return most
    for series in _series(histories):
        table = np.full((int(segment[-1]) + 1, int(place.max()) + 1), np.nan)
        table[segment, place] = series
        off = np.zeros(table.shape)
        for column in range(EARLIER_POINTS, table.shape[1]):
            earlier, point = table[:, :column], table[:, column]
            limits = individuals_limits(earlier, sigmas=1.0)
            known = (np.isfinite(earlier).sum(axis=1) >= EARLIER_POINTS) & np.isfinite(point)
            with np.errstate(invalid="ignore", divide="ignore"):
                # The range of equal values may be off nought by a last digit.
                known &= limits.moving_range > LAST_DIGIT * np.abs(limits.mean)
                sigmas = np.abs(point - limits.mean) / (limits.upper - limits.mean)
            off[:, column] = np.where(known, sigmas, 0.0)
        most = np.maximum(most, off[segment, place])
    return most


def individuals_chart(histories: Histories) -> BoolArray:
    """Tests outside the limits of three sigmas, shape (N,). Source: NIST/SEMATECH e-Handbook 6.3.2.2."""
    return sigmas_off_chart(histories) > SIGMAS


def with_as_few_false_flags(off: FloatArray, good: BoolArray, part: float) -> BoolArray:
    """The tests furthest off, with the limit so that at most this part of the good ones is flagged; shape (N,)."""
    allowed = int(np.floor(part * good.sum()))
    if allowed >= good.sum():
        return np.ones(len(off), dtype=bool)
    limit = np.sort(off[good])[::-1][allowed]
    return off > limit


def first_of_segment(histories: Histories) -> BoolArray:
    """Tests that are a drum's first, or its first after recorded work; shape (N,)."""
    first = np.diff(histories.drum, prepend=-1) != 0
    first[_test_after(histories)] = True
    return np.asarray(first)


def _test_after(histories: Histories) -> IntArray:
    """Row of the first test not earlier than each event, for the events that have one."""
    order = np.lexsort((histories.year, histories.drum))
    span = float(np.ptp(histories.year)) + 1 if histories.tests else 1.0
    start = float(histories.year.min()) if histories.tests else 0.0
    key = histories.drum * 2 * span + np.clip(histories.year - start, 0, span)
    event_key = histories.event_drum * 2 * span + np.clip(histories.event_year - start, 0, span)
    place = np.searchsorted(key[order], event_key)
    kept = place < histories.tests
    kept[kept] &= histories.drum[order[place[kept]]] == histories.event_drum[kept]
    return np.asarray(order[place[kept]])


def _series(histories: Histories) -> list[FloatArray]:
    told = (histories.as_found_kind != NO_AS_FOUND) & ~histories.as_found_held
    return [histories.mark_si, histories.as_left_share, np.where(told, histories.as_found_share, np.nan)]
