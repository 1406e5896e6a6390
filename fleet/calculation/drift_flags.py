"""Flags: which tests do not go with the history, and how unlikely that is in a good test.

The limits were chosen on simulated fleets so that all flags together strike no more than five of a thousand good
tests; how well that holds is measured on other fleets, see docs/detection.md.
"""

import numpy as np
from scipy import special

from fleet.calculation.drift_as_found import AsFound
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
    SLOPE_UNEXPECTED,
    STEP,
    TOO_GOOD,
    WEAR_TOO_FAST,
    WRONG_UNIT,
    Flags,
)
from fleet.calculation.drift_rounds import Seen, drums_exchanged, equal_marks, figures_repeated, seen, written_odds
from fleet.calculation.drift_scores import DRIFT_LIMIT, Scores, scores
from fleet.calculation.drift_series import Followed
from fleet.calculation.drift_slopes import Slopes
from fleet.calculation.units import FloatArray

OUTSIDE_DEVIATIONS, OUTSIDE_EARLY, OUTSIDE_AFTER_BREAK = 3.45, 3.85, 8.0
EARLY_TESTS = 3
LINING_DEVIATIONS = 3.9
RELINED_DEVIATIONS, RELINED_EACH = 3.9, 1.3
SLOPE_DEVIATIONS = 3.7
ANSWER_DEVIATIONS, ANSWER_EACH, ANSWER_WHEN_RELINED = 4.0, 1.3, 2.8
WEAR_TIMES, WEAR_DEVIATIONS = 3.0, 4.0
AS_FOUND_DEVIATIONS = 3.8
TOO_GOOD_CHANCE = 2e-4
TOO_GOOD_ROUND_CHANCE = 5e-5
TOO_GOOD_VALUES = 4
TOO_GOOD_DRUMS = 6
HAND_FLOOR = 0.25
"""No drum's tests scatter by less than this part of what its fleet's do. Ours."""
WRITTEN_ODDS = 6.5

UNIT_FACTORS = (0.0980665, 0.1, 10.0, 10.19716, 14.50377, 0.06894757, 14.22334, 0.07030696)
"""Ratios between the gauge's units kgf/cm², bar, MPa and psi (NIST SP 811), but those near one."""
NEAR_ONE = (0.980665, 1.019716)
"""kgf/cm² and bar taken for each other."""
_UNIT_SPREAD = 0.12
_LENGTH_FACTORS = (0.1, 10.0, 25.4, 1 / 25.4)


def find_flags(
    histories: Histories, prepared: Prepared, mark: Followed, lining: Followed, as_found: AsFound, slopes: Slopes
) -> Flags:
    """All flags of all tests.

    Args: histories, prepared; mark, lining, as_found, slopes: what was found. Returns: Flags, sorted by test.
    """
    score = scores(histories, prepared, mark, lining, as_found, slopes)
    gauge, together = _together(mark)
    parts: list[tuple[str, Seen]] = [
        *_off_the_line(prepared, mark, score),
        *_lining(lining, score),
        (SLOPE_UNEXPECTED, _answer(prepared, slopes, score)),
        (WEAR_TOO_FAST, _wear(prepared, mark, score)),
        (TOO_GOOD, _too_good(histories, prepared, mark)),
        (FIGURES_REPEATED, figures_repeated(histories, prepared)),
        (EQUAL_MARKS, equal_marks(histories, prepared, mark)),
        (DRUMS_EXCHANGED, drums_exchanged(histories, prepared, mark, lining)),
        (GAUGE_STEP, gauge),
        (MOVED_TOGETHER, together),
        *_as_found(histories, as_found, score),
        (WRONG_UNIT, _wrong_unit(histories, prepared, mark)),
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


def _chance(score: FloatArray) -> FloatArray:
    return np.asarray(2 * special.ndtr(-np.abs(score)))


def _off_the_line(prepared: Prepared, mark: Followed, score: Scores) -> list[tuple[str, Seen]]:
    """Tests off their line; those which the next test of the drum confirms are steps."""
    f = mark.found
    # A test after one that broke the line has no line of its own to be held against yet.
    limit = np.where(f.number <= EARLY_TESTS, OUTSIDE_EARLY, OUTSIDE_DEVIATIONS)
    limit = np.where(f.after_break, OUTSIDE_AFTER_BREAK, limit)
    far = np.abs(np.nan_to_num(score.mark)) > limit
    broken = (f.became == BROKEN) & far
    following = np.r_[prepared.before[1:] == np.arange(len(broken) - 1), False][: len(broken)]
    confirmed = broken & following & (np.r_[f.became[1:], 0][: len(broken)] == MOVED)
    found = []
    for code, use in ((OUTSIDE_PREDICTION, broken & ~confirmed), (STEP, confirmed)):
        rows = np.flatnonzero(use)
        found.append((code, seen(rows, _chance(score.mark[rows]), f.off[rows] * f.scale[rows])))
    return found


def _lining(lining: Followed, score: Scores) -> list[tuple[str, Seen]]:
    """Linings thicker, or thinner, than they were to be; thicker also where mark and lining say so together."""
    thick = score.relined > RELINED_DEVIATIONS
    thick &= (score.lining < -RELINED_EACH) & (score.mark < -RELINED_EACH)
    thick |= score.lining < -LINING_DEVIATIONS
    found = []
    off = lining.spread(lining.found.off * lining.found.scale, len(thick))
    for code, use in ((LINING_GREW, thick), (LINING_UNEXPECTED, score.lining > LINING_DEVIATIONS)):
        rows = np.flatnonzero(use)
        found.append((code, seen(rows, _chance(score.lining[rows]), -off[rows])))
    return found


def _answer(prepared: Prepared, slopes: Slopes, score: Scores) -> Seen:
    """Tests in which the load answers to the setting otherwise than before, by itself or together with the mark."""
    together = (np.abs(score.answer) > ANSWER_DEVIATIONS) & (np.abs(score.slope) > ANSWER_EACH)
    fresh = (prepared.starts == 1) & (score.answer > ANSWER_WHEN_RELINED) & (score.slope < -ANSWER_EACH)
    rows = np.flatnonzero(together | fresh | (np.abs(score.slope) > SLOPE_DEVIATIONS))
    chance = np.fmin(_chance(score.slope[rows]), _chance(score.answer[rows]))
    return seen(rows, chance, prepared.own_slope[rows] / slopes.expected[rows])


def _wear(prepared: Prepared, mark: Followed, score: Scores) -> Seen:
    """Drums whose marks keep falling on the tight side, or that wear several times as fast as comparable drums."""
    f, d = mark.found, mark.series.drum
    usual = mark.hyper.wear[d]
    with np.errstate(invalid="ignore"):
        above = (f.wear_after - WEAR_TIMES * usual) / f.wear_standard_after
    faster = (above > WEAR_DEVIATIONS) & (usual > 0) & (f.wear_standard_after**2 < mark.hyper.wear_variance[d] / 2)
    keeps = score.drifting > DRIFT_LIMIT
    rows = np.flatnonzero((faster | keeps) & (f.became != BROKEN))
    return seen(rows, np.exp(-score.drifting[rows]), f.wear_after[rows])


def _too_good(histories: Histories, prepared: Prepared, mark: Followed) -> Seen:
    """Scatter far below what gauge and hand allow: over a drum's tests, over a round's, or targets written down."""
    f, d = mark.found, histories.drum
    number = np.maximum(np.nan_to_num(f.number), 1.0)
    of_drum = special.chdtr(number, np.nan_to_num(f.squares) / HAND_FLOOR**2)
    chance = np.where(np.nan_to_num(f.number) >= TOO_GOOD_VALUES, of_drum, 1.0)
    chance = np.where(chance < TOO_GOOD_CHANCE, chance, 1.0)
    use = np.isfinite(f.mean) & np.isfinite(f.off)
    rounds = int(prepared.round.max(initial=-1)) + 1
    count = np.bincount(prepared.round[use], minlength=rounds)
    squares = np.bincount(prepared.round[use], f.off[use] ** 2, rounds)
    of_round = np.where(count >= TOO_GOOD_DRUMS, special.chdtr(np.maximum(count, 1), squares), 1.0)[prepared.round]
    chance = np.where(use & (of_round < TOO_GOOD_ROUND_CHANCE), np.minimum(chance, of_round), chance)
    odds = written_odds(histories, prepared)
    chance = np.where(odds > WRITTEN_ODDS, np.minimum(chance, np.exp(-odds)), chance)
    rows = np.flatnonzero(chance < 1.0)
    return seen(
        rows, chance[rows], np.sqrt(np.nan_to_num(f.squares[rows]) / number[rows] * mark.hyper.variance[d[rows]])
    )


def _together(mark: Followed) -> tuple[Seen, Seen]:
    f = mark.found
    strange = f.shift_share != 0
    found = []
    for use in (strange & f.gauge_changed, strange & ~f.gauge_changed):
        rows = np.flatnonzero(use)
        found.append(seen(rows, 2 * special.ndtr(-np.abs(f.together[rows])), f.shift_share[rows]))
    return found[0], found[1]


def _as_found(histories: Histories, as_found: AsFound, score: Scores) -> list[tuple[str, Seen]]:
    found, held = histories.as_found_share, histories.as_found_held
    rows = np.flatnonzero(np.abs(score.as_found) > AS_FOUND_DEVIATIONS)
    unexpected = seen(rows, _chance(score.as_found[rows]), found[rows] - as_found.mean[rows])
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
