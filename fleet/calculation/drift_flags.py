"""Flags: which tests do not go with the history, and how unlikely that is in a good test.

The limits were chosen on simulated fleets so that all flags together strike no more than five of a thousand good
tests; how well that holds is measured on other fleets, see docs/detection.md.
"""

import numpy as np
from scipy import special

from fleet.calculation.drift_as_found import AsFound, chance_so_far
from fleet.calculation.drift_histories import NO_AS_FOUND, UNKNOWN, BoolArray, Histories
from fleet.calculation.drift_model import BROKEN, MOVED
from fleet.calculation.drift_preparation import Prepared
from fleet.calculation.drift_results import (
    AS_FOUND_OUTSIDE,
    AS_FOUND_UNEXPECTED,
    CODES,
    DRUMS_EXCHANGED,
    EQUAL_MARKS,
    FIGURES_REPEATED,
    GAUGE_STEP,
    LINING_GREW,
    LINING_UNEXPECTED,
    MOVED_TOGETHER,
    OUTSIDE_PREDICTION,
    STEP,
    TOO_GOOD,
    WEAR_TOO_FAST,
    WRONG_UNIT,
    Flags,
)
from fleet.calculation.drift_rounds import Seen, drums_exchanged, equal_marks, figures_repeated, seen
from fleet.calculation.drift_series import Followed
from fleet.calculation.units import FloatArray

WEAR_DEVIATIONS = 3.3
AS_FOUND_CHANCE = 4e-4
TOO_GOOD_CHANCE = 2e-4
TOO_GOOD_ROUND_CHANCE = 5e-5
TOO_GOOD_VALUES = 4
TOO_GOOD_DRUMS = 6
HAND_FLOOR = 0.25
"""Where the hand's spread is not known: no drum has less than this part of its fleet's scatter. Ours."""
EXACT_SHARE = 0.0003
"""A test so near its target reads as the target written down."""
EXACT_CHANCE = 1e-5

UNIT_FACTORS = (0.0980665, 0.1, 10.0, 10.19716, 14.50377, 0.06894757, 14.22334, 0.07030696)
"""Ratios between the gauge's units kgf/cm², bar, MPa and psi (NIST SP 811), but those near one."""
NEAR_ONE = (0.980665, 1.019716)
"""kgf/cm² and bar taken for each other."""
_UNIT_SPREAD = 0.12
_LENGTH_FACTORS = (0.1, 10.0, 25.4, 1 / 25.4)


def find_flags(histories: Histories, prepared: Prepared, mark: Followed, lining: Followed, as_found: AsFound) -> Flags:
    """All flags of all tests.

    Args: histories, prepared; mark, lining, as_found: what was found. Returns: Flags, sorted by test.
    """
    unit = _wrong_unit(histories, prepared, mark)
    gauge, together = _together(mark)
    parts: list[tuple[str, Seen]] = [
        *_off_the_line(prepared, mark),
        *_lining(lining),
        (WEAR_TOO_FAST, _wear(histories, prepared, mark, lining)),
        (TOO_GOOD, _too_good(histories, prepared, mark)),
        (FIGURES_REPEATED, figures_repeated(histories, prepared)),
        (EQUAL_MARKS, equal_marks(histories, prepared, mark)),
        (DRUMS_EXCHANGED, drums_exchanged(histories, prepared, mark, lining)),
        (GAUGE_STEP, gauge),
        (MOVED_TOGETHER, together),
        *_as_found(histories, as_found),
        (WRONG_UNIT, unit),
    ]
    test = np.concatenate([part.test for _, part in parts])
    code = np.concatenate([np.full(len(part.test), CODES.index(name)) for name, part in parts])
    order = np.lexsort((code, test))
    return Flags(
        test=test[order],
        code=code[order],
        other=np.concatenate([part.other for _, part in parts])[order],
        chance=np.concatenate([part.chance for _, part in parts])[order],
        size=np.concatenate([part.size for _, part in parts])[order],
    )


def _chance(off: FloatArray, dof: FloatArray) -> FloatArray:
    return 2 * special.stdtr(dof, -np.abs(off))


def _off_the_line(prepared: Prepared, mark: Followed) -> list[tuple[str, Seen]]:
    """Tests off their line; those which the next test of the drum confirms are steps."""
    f = mark.found
    broken = f.became == BROKEN
    following = np.r_[prepared.before[1:] == np.arange(len(broken) - 1), False][: len(broken)]
    confirmed = broken & following & (np.r_[f.became[1:], 0][: len(broken)] == MOVED)
    found = []
    for code, use in ((OUTSIDE_PREDICTION, broken & ~confirmed), (STEP, confirmed)):
        rows = np.flatnonzero(use)
        found.append((code, seen(rows, _chance(f.off[rows], f.dof[rows]), f.off[rows] * f.scale[rows])))
    return found


def _lining(lining: Followed) -> list[tuple[str, Seen]]:
    f = lining.found
    broken = f.became == BROKEN
    found = []
    # The series grows with wear: below its line the lining is thicker than it was to be.
    for code, use in ((LINING_GREW, broken & (f.off < 0)), (LINING_UNEXPECTED, broken & (f.off > 0))):
        rows = np.flatnonzero(use)
        size = -f.off[rows] * f.scale[rows]
        found.append((code, seen(lining.rows[rows], _chance(f.off[rows], f.dof[rows]), size)))
    return found


def _wear(histories: Histories, prepared: Prepared, mark: Followed, lining: Followed) -> Seen:
    """Drums whose own tests say that they wear faster than comparable drums do."""
    off = _wear_off(mark, histories)
    rows = np.flatnonzero(off > WEAR_DEVIATIONS)
    rows = rows[mark.found.became[rows] != BROKEN]
    per_year = mark.found.wear_after[rows]
    return seen(rows, special.ndtr(-off[rows]), per_year)


def _wear_off(followed: Followed, histories: Histories) -> FloatArray:
    """Wear of a drum's own tests against its group, in standard deviations, (n,); 0 where they say nothing yet."""
    f, hyper = followed.found, followed.hyper
    d = followed.series.drum
    prior = hyper.wear_variance[d]
    told = prior - f.wear_standard_after**2
    with np.errstate(invalid="ignore", divide="ignore"):
        off = (f.wear_after - hyper.wear[d]) / np.sqrt(told)
    return np.where(told > 0.05 * prior, off, 0.0)


def _too_good(histories: Histories, prepared: Prepared, mark: Followed) -> Seen:
    """Scatter far below what gauge and hand allow: over a drum's tests, over a round's, or targets written down."""
    f, d = mark.found, histories.drum
    variance = mark.hyper.variance[d]
    floor = np.where(np.isfinite(histories.hand_si), histories.hand_si**2 / variance, HAND_FLOOR**2)
    number = np.maximum(np.nan_to_num(f.number), 1.0)
    of_drum = special.chdtr(number, np.nan_to_num(f.squares) / np.maximum(floor, 1e-6))
    chance = np.where(np.nan_to_num(f.number) >= TOO_GOOD_VALUES, of_drum, 1.0)
    chance = np.where(chance < TOO_GOOD_CHANCE, chance, 1.0)
    use = np.isfinite(f.mean) & np.isfinite(f.off)
    rounds = int(prepared.round.max(initial=-1)) + 1
    count = np.bincount(prepared.round[use], minlength=rounds)
    squares = np.bincount(prepared.round[use], f.off[use] ** 2, rounds)
    of_round = np.where(count >= TOO_GOOD_DRUMS, special.chdtr(np.maximum(count, 1), squares), 1.0)[prepared.round]
    chance = np.where(use & (of_round < TOO_GOOD_ROUND_CHANCE), np.minimum(chance, of_round), chance)
    exact = np.abs(histories.as_left_share - histories.target_share) < EXACT_SHARE
    usual = (exact.sum() + 0.5) / (len(exact) + 20.0) if len(exact) else 0.5
    number_of = np.bincount(prepared.round, minlength=rounds)
    exact_of = np.bincount(prepared.round, exact, rounds)
    tail = np.where(exact_of > 0, special.bdtrc(np.maximum(exact_of - 1, 0), np.maximum(number_of, 1), usual), 1.0)
    written = exact & (tail[prepared.round] < EXACT_CHANCE) & (exact_of[prepared.round] >= 3)
    chance = np.where(written, np.minimum(chance, tail[prepared.round]), chance)
    rows = np.flatnonzero(chance < 1.0)
    return seen(rows, chance[rows], np.sqrt(np.nan_to_num(f.squares[rows]) / number[rows] * variance[rows]))


def _together(mark: Followed) -> tuple[Seen, Seen]:
    f = mark.found
    strange = f.shift_share != 0
    found = []
    for use in (strange & f.gauge_changed, strange & ~f.gauge_changed):
        rows = np.flatnonzero(use)
        found.append(seen(rows, 2 * special.ndtr(-np.abs(f.together[rows])), f.shift_share[rows]))
    return found[0], found[1]


def _as_found(histories: Histories, as_found: AsFound) -> list[tuple[str, Seen]]:
    found, held = histories.as_found_share, histories.as_found_held
    chance = chance_so_far(as_found.off, as_found.dof, held)
    rows = np.flatnonzero(chance < AS_FOUND_CHANCE)
    unexpected = seen(rows, chance[rows], found[rows] - as_found.mean[rows])
    tested = histories.as_found_kind != NO_AS_FOUND
    low = tested & ~held & (found < histories.lower_share - 1e-9)
    high = tested & (found > histories.upper_share + 1e-9)
    rows = np.flatnonzero(low | high)
    size = np.where(high[rows], found[rows] - histories.upper_share[rows], found[rows] - histories.lower_share[rows])
    return [(AS_FOUND_UNEXPECTED, unexpected), (AS_FOUND_OUTSIDE, seen(rows, np.ones(len(rows)), size))]


def _near(ratio: FloatArray, factors: tuple[float, ...], spread: float) -> BoolArray:
    logs = np.log(np.maximum(ratio, 1e-9))
    return np.any([np.abs(logs - np.log(factor)) < spread for factor in factors], axis=0)


def _wrong_unit(histories: Histories, prepared: Prepared, mark: Followed) -> Seen:
    """Loads or marks that are another unit's figures; and rounds off by the 2 % between bar and kgf/cm²."""
    ratio = histories.as_left_share / histories.target_share
    load = _near(ratio, UNIT_FACTORS, _UNIT_SPREAD)
    last = prepared.before
    has = last != UNKNOWN
    with np.errstate(invalid="ignore", divide="ignore"):
        marks = np.where(has, histories.mark_si / histories.mark_si[last], 1.0)
    length = has & _near(np.where(marks > 0, marks, 1.0), _LENGTH_FACTORS, _UNIT_SPREAD) & (mark.found.became == BROKEN)
    f = mark.found
    moved = 1 + f.shift_share / histories.target_share
    error = np.abs(f.shift_share / np.where(f.together == 0, 1.0, f.together)) / histories.target_share
    two = (f.shift_share != 0) & np.any([np.abs(moved - one) < 2 * error for one in NEAR_ONE], axis=0)
    rows = np.flatnonzero(load | length | two)
    size = np.where(load[rows], ratio[rows], np.where(length[rows], marks[rows], moved[rows]))
    return seen(rows, np.where(two[rows], 2 * special.ndtr(-np.abs(f.together[rows])), 0.0), size)
