"""What is said of a fleet from its drums' own lines, against mixed models fitted by statsmodels."""

import warnings

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.calculation.drift_pooling import pooled_wear

DRUMS, TESTS = 24, 8


def balanced(seed: int, spread: float) -> tuple[np.ndarray, np.ndarray]:
    """Marks of drums that all have the same years, each with a level and a wear of its own."""
    rng = np.random.default_rng(seed)
    year = np.arange(TESTS) - (TESTS - 1) / 2
    wear = rng.normal(1.0, spread, DRUMS)
    level = rng.uniform(40, 90, DRUMS)
    return year, level[:, None] + wear[:, None] * year + rng.normal(0, 0.6, (DRUMS, TESTS))


@pytest.mark.parametrize(("seed", "spread"), [(1, 0.4), (2, 0.8)])
def test_mean_and_spread_of_wear_are_those_of_a_mixed_model(seed: int, spread: float) -> None:
    # statsmodels MixedLM by restricted maximum likelihood: a level for each drum, a random wear. On balanced data the
    # levels can be taken off first, which costs one degree of freedom a drum; so the residual variance is ours.
    year, marks = balanced(seed, spread)
    centred = marks - marks.mean(axis=1, keepdims=True)
    sxx = float(year @ year)
    slopes = centred @ year / sxx
    left = centred - slopes[:, None] * year
    variance = float((left**2).sum()) / (DRUMS * (TESTS - 2))
    ours = pooled_wear(slopes, np.full(DRUMS, variance / sxx), np.zeros(DRUMS, dtype=int))
    drum = np.repeat(np.arange(DRUMS), TESTS)
    exog = np.column_stack([np.tile(year, DRUMS), np.eye(DRUMS)[drum]])
    with warnings.catch_warnings():
        # The optimiser of statsmodels warns on its way to the answer; the answer is what is compared.
        warnings.simplefilter("ignore")
        model = sm.MixedLM(marks.ravel(), exog, groups=drum, exog_re=exog[:, :1]).fit(reml=True, method="bfgs")
    assert float(ours.mean[0]) == pytest.approx(float(model.fe_params[0]), rel=1e-6)
    assert float(ours.variance[0]) == pytest.approx(float(np.asarray(model.cov_re)[0, 0]), rel=5e-3)


def test_on_balanced_data_it_is_the_analysis_of_variance() -> None:
    # Any textbook: between drums, the variance of the means less that of one mean.
    slopes = np.array([0.4, 0.9, 1.3, 1.8, 0.6])
    found = pooled_wear(slopes, np.full(5, 0.05), np.zeros(5, dtype=int))
    assert float(found.mean[0]) == pytest.approx(slopes.mean())
    assert float(found.variance[0]) == pytest.approx(slopes.var(ddof=1) - 0.05, rel=1e-6)


def test_slopes_that_differ_by_chance_only_have_no_spread_and_groups_stay_apart() -> None:
    slopes = np.array([1.0, 1.1, 0.9, 5.0, 9.0])
    group = np.array([0, 0, 0, 2, 2])
    found = pooled_wear(slopes, np.full(5, 0.5), group)
    assert found.variance[0] == 0.0
    assert found.mean[0] == pytest.approx(1.0)
    assert found.mean[2] == pytest.approx(7.0)
    assert np.isnan(found.mean[1])


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(-5, 5), min_size=4, max_size=12), st.floats(0.1, 10), st.floats(-3, 3))
def test_another_unit_or_another_zero_changes_nothing_else(slopes: list[float], factor: float, shift: float) -> None:
    values, group = np.array(slopes), np.zeros(len(slopes), dtype=int)
    here = pooled_wear(values, np.full(len(values), 0.3), group)
    there = pooled_wear(factor * values + shift, np.full(len(values), 0.3 * factor**2), group)
    assert float(there.mean[0]) == pytest.approx(factor * float(here.mean[0]) + shift, abs=1e-6)
    assert float(there.variance[0]) == pytest.approx(factor**2 * float(here.variance[0]), rel=1e-4, abs=1e-6)
