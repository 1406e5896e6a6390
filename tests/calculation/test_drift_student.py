"""Student's t in bulk, against SciPy value by value."""

import numpy as np
import pytest
from scipy import stats

from fleet.calculation.drift_student import chance, normal_score, reach

DOF = np.array([1.0, 2.0, 3.5, 7.0, 20.0, 150.0])


@pytest.mark.parametrize("inside", [0.5, 0.7, 0.95, 0.998])
def test_reach_is_the_quantile_of_scipy(inside: float) -> None:
    assert reach(DOF[1:], inside) == pytest.approx(stats.t.ppf((1 + inside) / 2, DOF[1:]), rel=2e-3)


def test_scores_are_those_of_scipy_where_flags_are_decided() -> None:
    for dof in DOF[2:]:
        for off in (-6.0, -3.4, -1.0, 0.0, 0.5, 2.0, 4.5):
            exact = float(stats.norm.ppf(stats.t.cdf(off, dof)))
            assert float(normal_score(np.array(off), np.array(dof))) == pytest.approx(exact, abs=0.05)


def test_chance_is_two_sided_and_what_is_not_known_stays_unknown() -> None:
    assert float(chance(np.array(2.0), np.array(12.0))) == pytest.approx(2 * stats.t.sf(2.0, 12.0), rel=0.02)
    assert np.isnan(normal_score(np.array(np.nan), np.array(5.0)))
    assert reach(np.array(np.nan), 0.95) == reach(np.array(1.0), 0.95)
