"""What only shows when a round's tests are laid beside each other, or beside the last round's: figures that were
written and not read, one mark for many drums, two drums exchanged.
"""

from dataclasses import dataclass

import numpy as np
from scipy import special

from fleet.calculation.drift_histories import UNKNOWN, BoolArray, Histories, IntArray
from fleet.calculation.drift_preparation import Prepared
from fleet.calculation.drift_series import Followed
from fleet.calculation.units import FloatArray


@dataclass(frozen=True, kw_only=True)
class Seen:
    """Tests that something is said of: rows, the other test's row (-1 without), chance in a good test, and size."""

    test: IntArray
    other: IntArray
    chance: FloatArray
    size: FloatArray


def seen(test: IntArray, chance: FloatArray, size: FloatArray, other: IntArray | None = None) -> Seen:
    """Put together what is said of some tests. Args: each (n,); other: -1 where not given."""
    rows = np.asarray(test, dtype=np.int64)
    return Seen(
        test=rows,
        other=np.full(len(rows), UNKNOWN) if other is None else np.asarray(other, dtype=np.int64),
        chance=np.asarray(chance, dtype=float),
        size=np.asarray(size, dtype=float),
    )


ALIKE = 4
"""So many drums with one mark are no chance if their earlier marks differed."""
EQUAL_MARKS_CHANCE = 1e-4
COPIED_ODDS = 6.0
COPIED_ROUND_ODDS = 9.0
"""Logarithm of how much likelier repeated figures are copied than read: of one test, of a whole round."""
_COPIED_EQUAL = 0.97
_VESSEL_WEIGHT = 25.0
_NEAR = 1e-9
EXCHANGED_ODDS = 8.0
LEAST_HABIT = 0.003
EXACT = 1e-5
"""A load so near its target, as a part of it, is the target itself."""
_MANY = 10
_MAY_BE_EXCHANGED = 1.5
_FITS = 2.6
_MOST_DRUMS = 24


def figures_repeated(histories: Histories, prepared: Prepared) -> Seen:
    """Tests whose figures repeat those of the drum's test before more than reading them again would.

    How often each figure repeats by chance is taken from the fleet and from the vessel's own habits of rounding; a
    figure that is missing again counts by how often it is missing.
    """
    rows = np.flatnonzero((prepared.before != UNKNOWN) & (prepared.starts == 0))
    last = prepared.before[rows]
    drum = histories.drum[rows]
    odds, equal = np.zeros(len(rows)), np.zeros(len(rows))
    differ = np.zeros(len(rows), dtype=bool)
    for figures in (histories.mark_si, histories.as_left_share, histories.as_found_share, histories.lining_m):
        now, then = figures[rows], figures[last]
        known, known_then = np.isfinite(now), np.isfinite(then)
        both = known & known_then
        same = both & (np.abs(now - then) <= _NEAR * np.abs(np.where(both, now, 1.0)))
        chance = _habit(same, both, drum, histories)
        missing = _habit(~known, ~known_then, drum, histories)
        odds += np.where(same, np.log(_COPIED_EQUAL / chance), 0.0)
        odds += np.where(both & ~same, np.log((1 - _COPIED_EQUAL) / (1 - chance)), 0.0)
        odds += np.where(~known & ~known_then, np.log(_COPIED_EQUAL / missing), 0.0)
        odds += np.where(known != known_then, np.log(1 - _COPIED_EQUAL), 0.0)
        equal += same
        differ |= (both & ~same) | (known != known_then)
    of_round = np.bincount(prepared.round[rows], odds)[prepared.round[rows]] if len(rows) else odds
    use = ~differ & (equal >= 2) & (odds > COPIED_ODDS)
    use |= (of_round > COPIED_ROUND_ODDS) & (odds > 0) & (equal >= 2)
    return seen(rows[use], np.exp(-odds[use]), equal[use], last[use])


def written_odds(histories: Histories, prepared: Prepared) -> FloatArray:
    """Logarithm of how much likelier it is that the target was written down than that it was read, over a drum's tests
    in a row, (N,); 0 for a test that is not exactly at its target.
    """
    exact = np.abs(histories.as_left_share - histories.target_share) <= EXACT * histories.target_share
    every = np.ones(histories.tests, dtype=bool)
    odds = np.where(exact, np.log(_COPIED_EQUAL / _habit(exact, every, histories.drum, histories)), 0.0)
    inside = (prepared.before != UNKNOWN) & (prepared.starts == 0)
    last = np.where(inside, prepared.before, 0)
    still = inside & (histories.mark_si == histories.mark_si[last]) if histories.tests else inside
    odds += np.where(exact & still, np.log(_COPIED_EQUAL / _habit(still, inside, histories.drum, histories)), 0.0)
    # Tests in a row add up: what is exact now and was exact before.
    row = np.arange(histories.tests)
    total = np.cumsum(odds)
    broken = ~(exact & inside & exact[last]) if histories.tests else exact
    start = np.maximum.accumulate(np.where(broken, row, 0)) if histories.tests else row
    return np.where(exact, total - (total[start] - odds[start]), 0.0)


def _habit(hit: BoolArray, counted: BoolArray, drum: IntArray, histories: Histories) -> FloatArray:
    """How often this happens on a vessel by habit, per row: from its other drums, drawn towards the usual vessel."""
    vessel = histories.vessel[drum]
    vessels = int(histories.vessel.max(initial=-1)) + 1
    hits, number = np.bincount(vessel, hit & counted, vessels), np.bincount(vessel, counted, vessels)
    mine, my_number = np.bincount(drum, hit & counted), np.bincount(drum, counted)
    enough = number >= _MANY
    # The usual vessel, not the mean one: a few vessels that copy everything do not make copying usual.
    usual = (
        float(np.median(hits[enough] / number[enough])) if enough.any() else float(hits.sum() / max(number.sum(), 1))
    )
    others = hits[vessel] - mine[drum] + _VESSEL_WEIGHT * max(usual, LEAST_HABIT)
    return np.clip(others / (number[vessel] - my_number[drum] + _VESSEL_WEIGHT), LEAST_HABIT, 0.95)


def equal_marks(histories: Histories, prepared: Prepared, mark: Followed) -> Seen:
    """Tests of a round that left four or more drums at one mark although they were to be expected apart."""
    tests = histories.tests
    if not tests:
        return seen(np.empty(0, dtype=np.int64), np.empty(0), np.empty(0))
    kind = histories.setting_kind[histories.drum]
    rounded = np.round(histories.mark_si / (1e-7 * prepared.unit[histories.drum] / 1e-3))
    order = np.lexsort((rounded, kind, prepared.round))
    same = (
        (prepared.round[order][1:] == prepared.round[order][:-1])
        & (kind[order][1:] == kind[order][:-1])
        & (rounded[order][1:] == rounded[order][:-1])
    )
    cluster = np.empty(tests, dtype=np.int64)
    cluster[order] = np.cumsum(np.r_[True, ~same]) - 1
    expected, scale = mark.found.mean, mark.found.scale
    sense = histories.tighter_sign[histories.drum]
    as_read = np.where(np.isfinite(expected), sense * expected, np.nan)
    # What the drum was left at before stands in where its line is not known.
    before = np.where(prepared.before != UNKNOWN, histories.mark_si[prepared.before], np.nan)
    as_read = np.where(np.isfinite(as_read), as_read, before)
    scale = np.where(np.isfinite(scale), scale, np.sqrt(mark.hyper.variance)[histories.drum] * 1.5)
    known = np.isfinite(as_read)
    number = np.bincount(cluster)
    known_number = np.bincount(cluster, known)
    off = np.where(known, (histories.mark_si - as_read) / scale, 0.0)
    far = np.bincount(cluster, np.abs(off) > 2.0)
    squares = np.bincount(cluster, np.minimum(off**2, 25.0))
    chance = np.ones(len(number))
    many = np.flatnonzero((number >= ALIKE) & (known_number >= ALIKE))
    chance[many] = special.chdtrc(known_number[many], squares[many])
    strange = np.zeros(len(number), dtype=bool)
    strange[many] = (far[many] >= known_number[many] / 2) | (chance[many] < EQUAL_MARKS_CHANCE)
    rows = np.flatnonzero(strange[cluster])
    return seen(rows, chance[cluster[rows]], number[cluster[rows]].astype(float))


def drums_exchanged(histories: Histories, prepared: Prepared, mark: Followed, lining: Followed) -> Seen:
    """Pairs of tests of a round of which each fits the other drum's history better than its own."""
    f = mark.found
    tests = histories.tests
    mean, scale, dof = f.mean, f.scale, f.dof
    off = (prepared.tight - mean) / scale
    rows = np.flatnonzero(np.isfinite(mean) & (np.abs(off) > _MAY_BE_EXCHANGED))
    rows = rows[np.argsort(prepared.round[rows], kind="stable")]
    lining_mean = lining.spread(lining.found.mean, tests)
    lining_scale = lining.spread(lining.found.scale, tests)
    found: list[tuple[IntArray, IntArray, FloatArray]] = []
    for apart in range(1, _MOST_DRUMS):
        if apart >= len(rows):
            break
        i, j = rows[:-apart], rows[apart:]
        together = prepared.round[i] == prepared.round[j]
        if not together.any():
            break
        i, j = i[together], j[together]
        di, dj = histories.drum[i], histories.drum[j]
        alike = (
            (histories.setting_kind[di] == histories.setting_kind[dj])
            & (histories.tighter_sign[di] == histories.tighter_sign[dj])
            & (off[i] * off[j] < 0)
        )
        i, j = i[alike], j[alike]
        i_there = (prepared.tight[i] - mean[j]) / scale[j]
        j_there = (prepared.tight[j] - mean[i]) / scale[i]
        odds = _density(i_there, dof[j]) + _density(j_there, dof[i])
        odds -= _density(off[i], dof[i]) + _density(off[j], dof[j])
        odds += _lining_odds(histories, lining_mean, lining_scale, i, j)
        fits = (np.abs(i_there) < _FITS) & (np.abs(j_there) < _FITS) & (odds > EXCHANGED_ODDS)
        found.append((i[fits], j[fits], odds[fits]))
    if not found:
        return seen(np.empty(0, dtype=np.int64), np.empty(0), np.empty(0))
    first, second, odds = (np.concatenate(part) for part in zip(*found, strict=True))
    # Each test goes with its best partner only.
    best = np.full(tests, -np.inf)
    np.maximum.at(best, first, odds)
    np.maximum.at(best, second, odds)
    keep = (odds >= best[first]) & (odds >= best[second])
    first, second, odds = first[keep], second[keep], odds[keep]
    size = np.abs(prepared.tight[first] - prepared.tight[second])
    return seen(np.r_[first, second], np.exp(-np.r_[odds, odds]), np.r_[size, size], np.r_[second, first])


def _density(off: FloatArray, dof: FloatArray) -> FloatArray:
    return -0.5 * (dof + 1) * np.log1p(off * off / dof)


def _lining_odds(histories: Histories, mean: FloatArray, scale: FloatArray, i: IntArray, j: IntArray) -> FloatArray:
    """What the thickness of both linings adds for an exchange; nothing where one is not known."""
    value = -histories.lining_m
    known: BoolArray = np.isfinite(mean[i]) & np.isfinite(mean[j]) & np.isfinite(value[i]) & np.isfinite(value[j])
    i, j = i[known], j[known]

    def fit(test: IntArray, drum_of: IntArray) -> FloatArray:
        return -0.5 * np.minimum(((value[test] - mean[drum_of]) / scale[drum_of]) ** 2, 16.0)

    odds = np.zeros(len(known))
    odds[known] = np.clip(fit(i, j) + fit(j, i) - fit(i, i) - fit(j, j), -6.0, 6.0)
    return odds
