"""How the load answers to the setting, beside what it did in the drum's earlier tests."""

from dataclasses import dataclass

import numpy as np

from fleet.calculation.drift_histories import Histories
from fleet.calculation.drift_model import Hyper
from fleet.calculation.drift_moderation import earlier, moderated
from fleet.calculation.drift_preparation import Prepared
from fleet.calculation.units import FloatArray

PRIOR_SCATTER = 0.2
"""Standard deviation of the logarithm of a slope from one test where the fleet is too small to tell. Ours."""
LEAST_SCATTER = 0.03
"""No hand and gauge tell a slope closer than this. Ours."""
_FEW = 50
_MAD = 1.4826


@dataclass(frozen=True, kw_only=True)
class Slopes:
    """Per test (N), NaN where the test or the tests before tell no slope: ``expected`` (share per SI unit), ``off``,
    the logarithm of the slope less that expected, in standard deviations, with ``dof``.
    """

    expected: FloatArray
    off: FloatArray
    dof: FloatArray


def expect_slopes(histories: Histories, prepared: Prepared, hyper: Hyper) -> Slopes:
    """Each test's slope beside the mean of the drum's earlier ones.

    Args: histories, prepared; hyper: of the marks, for how alike vessels and drums are. Returns: Slopes.
    """
    tests = histories.tests
    rows = np.flatnonzero(~prepared.slope_borrowed)
    drum, step = histories.drum[rows], prepared.step[rows]
    logs = np.log(prepared.own_slope[rows])
    before = earlier(drum, step, np.ones(len(rows)))
    mean = earlier(drum, step, logs) / np.maximum(before, 1.0)
    use = before > 0
    rows, drum, step, before = rows[use], drum[use], step[use], before[use]
    left = logs[use] - mean[use]
    apart = np.sqrt(1 + 1 / before)
    scatter = PRIOR_SCATTER
    if len(rows) >= _FEW:
        scatter = max(_MAD * float(np.median(np.abs(left / apart))), LEAST_SCATTER)
    found = moderated(
        left / (scatter * apart),
        np.ones(len(rows), dtype=bool),
        drum=drum,
        vessel=histories.vessel,
        step=step,
        vessel_dof=hyper.vessel_dof,
        drum_dof=hyper.drum_dof,
    )

    def over_tests(values: FloatArray) -> FloatArray:
        full = np.full(tests, np.nan)
        full[rows] = values
        return full

    off = left / (scatter * apart * np.sqrt(found.factor))
    return Slopes(expected=over_tests(np.exp(mean[use])), off=over_tests(off), dof=over_tests(found.dof))
