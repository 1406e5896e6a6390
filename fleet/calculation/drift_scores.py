"""How far each test is off in each of its figures, as standard normal scores, and what they say together."""

from dataclasses import dataclass

import numpy as np

from fleet.calculation.drift_as_found import AsFound
from fleet.calculation.drift_histories import UNKNOWN, Histories, IntArray
from fleet.calculation.drift_preparation import Prepared
from fleet.calculation.drift_series import Followed
from fleet.calculation.drift_slopes import Slopes
from fleet.calculation.drift_student import normal_score
from fleet.calculation.units import FloatArray

DRIFT_SLACK, DRIFT_LIMIT = 0.75, 5.6
"""Cumulative sum of what marks are off on the tight side: what is let pass of each, and where it signals."""


@dataclass(frozen=True, kw_only=True)
class Scores:
    """Per test (N), NaN where nothing is known: ``mark`` above zero where tighter than expected, ``as_found`` where
    stronger, ``slope`` where steeper, ``lining`` where thinner. ``answer``: mark and slope taken together, above zero
    where the brake answers as if it were weaker, below where as if it were stronger. ``relined``: mark and lining taken
    together, above zero where both say that the lining is new. ``drifting``: cumulative sum of ``mark``, tight side.
    """

    mark: FloatArray
    as_found: FloatArray
    slope: FloatArray
    lining: FloatArray
    answer: FloatArray
    relined: FloatArray
    drifting: FloatArray


def scores(
    histories: Histories, prepared: Prepared, mark: Followed, lining: Followed, as_found: AsFound, slopes: Slopes
) -> Scores:
    """All scores. Args: histories, prepared; mark, lining, as_found, slopes: what was found. Returns: Scores."""
    f, lin = mark.found, lining.found
    of_mark = normal_score(f.off, f.dof)
    found = normal_score(as_found.off, as_found.dof)
    # A brake that held is at least so strong; that it was pumped no further says nothing else.
    found = np.where(histories.as_found_held & (found < 0), 0.0, found)
    slope = normal_score(slopes.off, slopes.dof)
    thin = lining.spread(normal_score(lin.off, lin.dof), histories.tests)
    # A lining just fitted says little of the mark; how the load answers says more.
    weight = np.where(prepared.starts == 1, 0.5, 0.9)
    answer = weight * of_mark - np.sqrt(1 - weight**2) * slope
    return Scores(
        mark=of_mark,
        as_found=found,
        slope=slope,
        lining=thin,
        answer=answer,
        relined=-(of_mark + thin) / np.sqrt(2),
        drifting=_drifting(of_mark, prepared.before, prepared.starts),
    )


def _drifting(score: FloatArray, before: IntArray, starts: IntArray) -> FloatArray:
    """Tabular cumulative sum along each drum, begun anew by new lining and after each signal."""
    total = np.zeros(len(score))
    if not len(score):
        return total
    row = np.arange(len(score))
    first = np.maximum.accumulate(np.where(before == UNKNOWN, row, 0))
    place = row - first
    order = np.argsort(place, kind="stable")
    edges = np.flatnonzero(np.diff(place[order])) + 1
    more = np.where(np.isfinite(score), np.minimum(score, 4.0), 0.0)
    for rows in np.split(order, edges):
        last = np.where(before[rows] == UNKNOWN, 0.0, total[before[rows]])
        last = np.where((last > DRIFT_LIMIT) | (starts[rows] == 1), 0.0, last)
        total[rows] = np.maximum(0.0, last + more[rows] - DRIFT_SLACK)
    return total
