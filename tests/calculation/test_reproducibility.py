"""How well a hand finds the mark again, against printed tables, against SciPy's own interval, and against chance."""

from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fleet.calculation.checks import InputError
from fleet.calculation.reproducibility import LEAST_TESTS, Reproducibility, reproducibility

DIFFERENCES = st.lists(st.floats(-0.2, 0.2), min_size=LEAST_TESTS, max_size=40)


def said(differences: list[float], **options: float) -> Reproducibility:
    found = reproducibility(differences, **options)
    assert found is not None
    return found


# JCGM 100:2008, table G.2, Student's t for 95 % (printed figures recalled; SciPy gives the same).
@pytest.mark.parametrize(("tests", "factor"), [(3, 3.18), (4, 2.78), (5, 2.57), (10, 2.23), (20, 2.09), (40, 2.02)])
def test_the_half_width_is_students_t_times_the_spread(tests: int, factor: float) -> None:
    found = said([0.01, -0.01] * (tests // 2) + [0.01] * (tests % 2))
    assert found.standard_deviation == pytest.approx(0.01)
    assert found.half_width / found.standard_deviation == pytest.approx(factor, abs=0.005)


def test_the_interval_of_the_spread_is_that_of_the_chi_square_table() -> None:
    # NIST/SEMATECH e-Handbook, table 1.3.6.7.4: 3.247 and 20.483 for 10 degrees of freedom (recalled; SciPy agrees).
    found = said([0.02, -0.02] * 5)
    assert found.spread_from == pytest.approx(0.02 * sqrt(10 / 20.483), rel=1e-4)
    assert found.spread_to == pytest.approx(0.02 * sqrt(10 / 3.247), rel=1e-4)


def test_it_agrees_with_scipys_interval_of_student() -> None:
    found = said([0.013, -0.008, 0.021, 0.002], coverage=0.9)
    low, high = stats.t.interval(0.9, 4, loc=0, scale=found.standard_deviation)
    assert (-found.half_width, found.half_width) == pytest.approx((low, high))


@pytest.mark.parametrize("tests", [3, 5, 12])
def test_the_next_one_lies_within_it_as_often_as_it_says(tests: int) -> None:
    chance = np.random.default_rng(20_261_127)
    drawn = chance.normal(0.0, 0.012, size=(4_000, tests + 1))
    held = [abs(row[-1]) <= said(list(row[:-1])).half_width for row in drawn]
    # 4,000 draws at 95 %: one standard error is 0.34 points.
    assert np.mean(held) == pytest.approx(0.95, abs=0.012)


@pytest.mark.parametrize("differences", [[], [0.01], [0.01, -0.02]])
def test_too_few_tests_say_nothing(differences: list[float]) -> None:
    assert reproducibility(differences) is None


@given(DIFFERENCES)
def test_a_shift_to_one_side_is_never_taken_out(differences: list[float]) -> None:
    found = said(differences)
    assert found.half_width >= abs(found.mean)
    assert found.spread_from <= found.standard_deviation <= found.spread_to
    assert found.half_width == pytest.approx(said([-one for one in differences]).half_width)


@pytest.mark.parametrize("differences", [[0.01, float("nan"), 0.0], [0.01, float("inf"), 0.0]])
def test_what_is_no_number_is_refused(differences: list[float]) -> None:
    with pytest.raises(InputError, match="finite"):
        reproducibility(differences)


@pytest.mark.parametrize("coverage", [0.0, 1.0, 95.0])
def test_a_coverage_is_a_fraction(coverage: float) -> None:
    with pytest.raises(InputError, match="coverage"):
        reproducibility([0.01, 0.02, 0.03], coverage=coverage)
