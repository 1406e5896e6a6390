"""What a brake was expected to be found at: as it was left, less what wear has taken since.

Two series that are never mixed: the brake untouched, and the brake re-applied at its old mark. A brake that held says
"at least so much".
"""

from dataclasses import dataclass

import numpy as np
from scipy import special

from fleet.calculation.drift_histories import (
    NO_AS_FOUND,
    RE_APPLIED,
    UNKNOWN,
    UNTOUCHED,
    BoolArray,
    Histories,
    IntArray,
)
from fleet.calculation.drift_model import FIRST
from fleet.calculation.drift_moderation import moderated
from fleet.calculation.drift_preparation import Prepared
from fleet.calculation.drift_series import Followed
from fleet.calculation.drift_student import normal_score
from fleet.calculation.units import FloatArray

KINDS = (UNTOUCHED, RE_APPLIED)
PRIOR_SCATTER = {UNTOUCHED: 0.025, RE_APPLIED: 0.018}
"""Standard deviation in share where the fleet is too small to tell. Common practice, no published source."""
PRIOR_TESTS = 12.0
_ONE_SIGMA_BELOW = 0.158655
"""Part of a normal distribution that lies more than one standard deviation below its middle."""


@dataclass(frozen=True, kw_only=True)
class AsFound:
    """Per test (N), NaN where there is nothing to expect: ``mean``, ``scale``, ``dof``; ``off``: found less mean, over
    scale. Per kind of as-found (index as in Histories): ``offset`` and ``variance`` in share. Per drum (D): ``factor``
    on that variance, its ``now_dof``, and ``kind``, its newest kind.
    """

    mean: FloatArray
    scale: FloatArray
    dof: FloatArray
    off: FloatArray
    offset: FloatArray
    variance: FloatArray
    factor: FloatArray
    now_dof: FloatArray
    kind: IntArray


def expect_as_found(histories: Histories, prepared: Prepared, mark: Followed) -> AsFound:
    """Each as-found share beside what the tests before it led one to expect.

    Args: histories, prepared; mark: what the marks did. Returns: AsFound. Source: as for ``run_filter``; middle and
    lower spread of each kind by quantiles, which values known only as "at least" do not move.
    """
    tests, drum, before = histories.tests, histories.drum, prepared.before
    kind = histories.as_found_kind
    rows = np.flatnonzero((kind != NO_AS_FOUND) & (before != UNKNOWN) & (prepared.starts == 0))
    # After a test that broke the line its wear is not known well, its load as left is.
    rows = rows[mark.found.became[rows] != FIRST]
    d, last = drum[rows], before[rows]
    dt = prepared.wear_time[rows] - prepared.wear_time[last]
    slope = prepared.slope[last]
    moved = mark.found.wear[rows] * dt + mark.hyper.bedding[d] * (prepared.bedding[last] - prepared.bedding[rows])
    bare = histories.as_left_share[last] - slope * moved
    of_wear = (slope * mark.found.wear_standard[rows] * dt) ** 2
    bed = prepared.bedding[last] - prepared.bedding[rows]
    of_wear = of_wear + slope**2 * mark.hyper.bedding_variance[d] * bed * bed
    off = histories.as_found_share[rows] - bare
    held = histories.as_found_held[rows]
    offset, variance = np.zeros(3), np.array([np.nan, *(PRIOR_SCATTER[one] ** 2 for one in KINDS)])
    for one in KINDS:
        use = kind[rows] == one
        if use.any():
            offset[one], variance[one] = _middle_and_variance(off[use], held[use], of_wear[use], variance[one])
    k = kind[rows]
    left = off - offset[k]
    assumed = np.sqrt(variance[k] + of_wear)
    hyper = mark.hyper
    scatter = moderated(
        left / assumed,
        ~held,
        drum=d,
        vessel=histories.vessel,
        step=prepared.step[rows],
        vessel_dof=hyper.vessel_dof,
        drum_dof=hyper.drum_dof,
    )
    scale = np.sqrt(scatter.factor) * assumed

    def over_tests(values: FloatArray) -> FloatArray:
        full = np.full(tests, np.nan)
        full[rows] = values
        return full

    newest = np.full(histories.drums, RE_APPLIED)
    newest[drum[kind != NO_AS_FOUND]] = kind[kind != NO_AS_FOUND]
    return AsFound(
        mean=over_tests(bare + offset[k]),
        scale=over_tests(scale),
        dof=over_tests(scatter.dof),
        off=over_tests(left / scale),
        offset=offset,
        variance=variance,
        factor=scatter.now_factor,
        now_dof=scatter.now_dof,
        kind=newest,
    )


def chance_so_far(off: FloatArray, dof: FloatArray, held: BoolArray) -> FloatArray:
    """Chance of a value so far off, or, for a brake that held, of one above what it held.

    Args: off: in standard deviations; dof; held: bool; all of one shape, NaN where nothing was expected.
    """
    score = normal_score(off, dof)
    return np.where(held, special.ndtr(-score), 2 * special.ndtr(-np.abs(score)))


def _middle_and_variance(off: FloatArray, held: BoolArray, of_wear: FloatArray, prior: float) -> tuple[float, float]:
    """Middle and variance from the middle and the lower side; "at least" counts as far above."""
    values = np.sort(np.where(held, np.inf, off))
    n = len(values)
    middle, low = values[n // 2], values[int(_ONE_SIGMA_BELOW * n)]
    if not (np.isfinite(middle) and n >= 8):
        return 0.0, prior
    found = max(float(middle - low) ** 2 - float(np.median(of_wear)), 0.5 * prior)
    weight = n + PRIOR_TESTS
    return float(middle) * n / weight, (found * n + prior * PRIOR_TESTS) / weight
