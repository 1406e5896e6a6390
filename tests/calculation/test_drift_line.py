"""The line through one drum's tests, against certified data and the published example of a calibration."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fleet.calculation.checks import InputError
from fleet.calculation.drift_line import fit_line
from tests.calculation.cases import load

CASES = load("lines_and_charts")


def test_the_line_through_norris_has_nine_digits() -> None:
    # NIST Statistical Reference Datasets, "Norris", certified values.
    case = CASES["norris"]
    line = fit_line(np.array(case["x"]), np.array(case["y"]))
    for name in ("level", "level_standard", "slope", "slope_standard", "residual"):
        assert getattr(line, name) == pytest.approx(case[name], rel=1e-9), name


def test_one_more_value_by_norris_lies_where_scipy_says() -> None:
    # Recomputed with SciPy's own quantile of t and NumPy's own least squares.
    x, y = np.array(CASES["norris"]["x"]), np.array(CASES["norris"]["y"])
    line = fit_line(x, y)
    coefficients, covariance = np.polyfit(x, y, 1, cov=True)
    at = np.array([500.0, 1.0])
    spread = np.sqrt(line.residual**2 + at @ covariance @ at)
    assert line.at(500.0) == pytest.approx(float(np.polyval(coefficients, 500.0)), rel=1e-9)
    assert line.half_width_at(500.0, 0.95) == pytest.approx(stats.t.ppf(0.975, len(x) - 2) * spread, rel=1e-9)


def test_the_thermometer_of_the_guide() -> None:
    # JCGM 100:2008, H.3, to the digits it prints.
    case = CASES["thermometer"]
    line = fit_line(np.array(case["x"]), np.array(case["y"]), origin=case["origin"])
    printed = {"level": 4, "level_standard": 4, "slope": 5, "slope_standard": 5, "correlation": 3, "residual": 4}
    assert {name: round(getattr(line, name), digits) for name, digits in printed.items()} == {
        name: case[name] for name in printed
    }
    assert round(line.at(30.0), 4) == case["at_30"]
    assert round(line.standard_at(30.0), 4) == case["standard_at_30"]


@given(
    st.lists(st.floats(-50, 50), min_size=4, max_size=12, unique_by=lambda value: round(value, 1)),
    st.floats(-3, 3),
    st.floats(0.1, 10),
)
def test_a_shift_and_another_unit_change_nothing_else(y: list[float], shift: float, factor: float) -> None:
    x = np.arange(len(y), dtype=float)
    line = fit_line(x, np.array(y))
    moved = fit_line(x + shift, factor * np.array(y) + 7, origin=shift)
    assert moved.slope == pytest.approx(factor * line.slope, abs=1e-8)
    assert moved.level == pytest.approx(factor * line.level + 7, abs=1e-7)
    assert moved.residual == pytest.approx(factor * line.residual, abs=1e-8)


@pytest.mark.parametrize(
    ("x", "y"), [([1, 2], [1, 2]), ([1, 1, 1], [1, 2, 3]), ([1, 2, 3], [1, 2]), ([1, 2, float("nan")], [1, 2, 3])]
)
def test_what_makes_no_line_is_refused(x: list[float], y: list[float]) -> None:
    with pytest.raises(InputError):
        fit_line(np.array(x), np.array(y))
