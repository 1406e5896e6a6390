"""The individuals chart and the cumulative sum against the cases of the NIST/SEMATECH e-Handbook."""

import numpy as np
import pytest

from fleet.calculation.charts import cusum, individuals_limits
from fleet.calculation.checks import InputError
from tests.calculation.cases import load

CASES = load("lines_and_charts")


def test_individuals_chart_of_the_handbook() -> None:
    # NIST/SEMATECH e-Handbook, 6.3.2.2.
    case = CASES["individuals"]
    limits = individuals_limits(np.array(case["values"]))
    for name in ("mean", "moving_range", "lower", "upper"):
        assert float(getattr(limits, name)) == pytest.approx(case[name], abs=5e-5), name


def test_cumulative_sum_of_the_handbook() -> None:
    # NIST/SEMATECH e-Handbook, 6.3.2.3.
    case = CASES["cusum"]
    found = cusum(np.array(case["values"]), target=case["target"], slack=case["slack"], limit=case["limit"])
    first = int(np.argmax(found.signal))
    assert first + 1 == case["first_signal"]
    assert found.high[first] == pytest.approx(case["high_there"], abs=0.005)
    assert not found.signal[:first].any()


def test_many_series_at_once_are_as_each_alone_and_gaps_are_left_out() -> None:
    values = np.array([[1.0, 2.0, 4.0, 3.0], [5.0, np.nan, 5.5, 4.5]])
    limits = individuals_limits(values)
    assert limits.mean == pytest.approx([2.5, 5.0])
    assert limits.moving_range == pytest.approx([4 / 3, 1.0])
    both = cusum(values, target=2.0, slack=0.5, limit=2.0)
    for row in (0, 1):
        alone = cusum(values[row], target=2.0, slack=0.5, limit=2.0)
        assert both.high[row] == pytest.approx(alone.high)
        assert both.low[row] == pytest.approx(alone.low)
    assert both.high[1, 1] == both.high[1, 0]


def test_a_fall_signals_as_a_rise_does() -> None:
    rise = cusum(np.array([0.0, 2.0, 2.0, 2.0]), target=0.0, slack=0.5, limit=2.5)
    fall = cusum(np.array([0.0, -2.0, -2.0, -2.0]), target=0.0, slack=0.5, limit=2.5)
    assert rise.signal.tolist() == fall.signal.tolist() == [False, False, True, True]
    assert fall.low == pytest.approx(rise.high)


def test_what_makes_no_chart_is_refused() -> None:
    with pytest.raises(InputError):
        individuals_limits(np.array([1.0]))
    with pytest.raises(InputError):
        cusum(np.array([1.0, 2.0]), target=0.0, slack=-1.0, limit=1.0)
