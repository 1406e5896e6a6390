"""Gauge classes, the usable part of a scale, division marks and calibration."""

from datetime import date, timedelta
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation import gauge
from fleet.calculation.checks import InputError
from fleet.calculation.tables import OutsideTable

POINTS = [
    gauge.CalibrationPoint(reading_pa=0.0, reference_pa=0.05e6),
    gauge.CalibrationPoint(reading_pa=20e6, reference_pa=20.3e6),
    gauge.CalibrationPoint(reading_pa=10e6, reference_pa=10.1e6),
]
divisions = st.sampled_from([0.1, 0.2, 0.25, 0.4, 0.5, 1.0, 2.0, 2.5, 5.0, 10.0, 50.0])


def test_the_classes_are_those_of_en_837_1() -> None:
    assert gauge.ACCURACY_CLASSES == (0.1, 0.25, 0.6, 1.0, 1.6, 2.5, 4.0)  # EN 837-1


@pytest.mark.parametrize(
    ("accuracy_class", "span_bar", "error_bar"), [(1.6, 400, 6.4), (1.0, 250, 2.5), (0.25, 700, 1.75), (4, 100, 4)]
)
def test_the_permissible_error_is_a_share_of_the_span(accuracy_class: float, span_bar: float, error_bar: float) -> None:
    error_pa = gauge.permissible_error(accuracy_class=accuracy_class, span_pa=span_bar * 1e5)
    assert error_pa == pytest.approx(error_bar * 1e5, rel=1e-14)


def test_the_gauge_decides_the_verdict() -> None:
    # Computed: at 173 bar for 60 %, class 1.6 over 700 bar is 3.9 points of SDMBL, class 1.0 over 250 bar is 0.9.
    for accuracy_class, span_bar, points in ((1.6, 700, 3.9), (1.0, 250, 0.9)):
        error_bar = gauge.permissible_error(accuracy_class=accuracy_class, span_pa=span_bar * 1e5) / 1e5
        assert error_bar / 173 * 60 == pytest.approx(points, abs=0.05)


@pytest.mark.parametrize("accuracy_class", [0, 1.5, -1, 3, float("nan")])
def test_a_class_that_the_standard_does_not_know_is_refused(accuracy_class: float) -> None:
    with pytest.raises(InputError, match="accuracy_class"):
        gauge.permissible_error(accuracy_class=accuracy_class, span_pa=40e6)


@pytest.mark.parametrize(
    ("reading_bar", "place"),
    [
        (0, gauge.TOO_LOW_ON_SCALE),
        (99.9, gauge.TOO_LOW_ON_SCALE),
        (100, gauge.USABLE),
        (300, gauge.USABLE),
        (300.1, gauge.TOO_HIGH_ON_SCALE),
        (400, gauge.TOO_HIGH_ON_SCALE),
        (400.1, gauge.OFF_SCALE),
    ],
)
def test_a_reading_has_its_place_on_a_scale_of_400_bar(reading_bar: float, place: str) -> None:
    assert gauge.scale_place(reading_pa=reading_bar * 1e5, full_scale_pa=400e5).place == place


@pytest.mark.parametrize(
    ("target", "division", "mark"),
    [(173.24, 5, 175), (172.4, 5, 170), (172.5, 5, 170), (17.32, 0.2, 17.4), (17.3, 0.2, 17.2), (0.3, 0.1, 0.3)],
)
def test_the_nearest_mark_and_the_lower_one_half_way(target: float, division: float, mark: float) -> None:
    assert gauge.nearest_division(target, division) == mark


@given(st.floats(min_value=1, max_value=1000), divisions)
def test_the_mark_is_a_whole_division_within_half_of_one(target: float, division: float) -> None:
    mark = gauge.nearest_division(target, division)
    step = Fraction(str(division))
    count = round(Fraction(mark) / step)
    assert mark == float(count * step)
    assert abs(mark - target) <= division / 2 * (1 + 1e-9)
    below = gauge.division_at_or_below(target, division)
    assert below <= target * (1 + 1e-11) < below + division * (1 + 1e-9)


@given(st.integers(1, 2000), divisions)
def test_a_reading_on_a_mark_is_that_mark(count: int, division: float) -> None:
    mark = float(count * Fraction(str(division)))
    assert gauge.nearest_division(mark, division) == mark == gauge.division_at_or_below(mark, division)


def test_marks_take_arrays() -> None:
    targets = np.array([172.5, 173.24, 187.68])
    for rule in (gauge.nearest_division, gauge.division_at_or_below):
        assert np.asarray(rule(targets, 5)).tolist() == [rule(target, 5) for target in targets.tolist()]


@pytest.mark.parametrize(("target", "division"), [(0, 5), (-1, 5), (100, 0), (100, -5), (float("nan"), 5)])
def test_a_mark_needs_a_reading_and_a_division(target: float, division: float) -> None:
    with pytest.raises(InputError):
        gauge.nearest_division(target, division)


@pytest.mark.parametrize(
    ("calibrated_on", "on", "state", "days_left"),
    [
        (date(2025, 3, 10), date(2026, 3, 9), gauge.IN_DATE, 1),
        (date(2025, 3, 10), date(2026, 3, 10), gauge.IN_DATE, 0),
        (date(2025, 3, 10), date(2026, 3, 11), gauge.OVERDUE, -1),
        (date(2025, 3, 10), date(2025, 3, 10), gauge.IN_DATE, 365),
        (date(2025, 3, 10), date(2025, 3, 9), gauge.NOT_YET_CALIBRATED, 366),
        (date(2024, 2, 29), date(2025, 2, 28), gauge.IN_DATE, 0),
        (date(2024, 2, 29), date(2025, 3, 1), gauge.OVERDUE, -1),
    ],
)
def test_a_yearly_calibration(calibrated_on: date, on: date, state: str, days_left: int) -> None:
    got = gauge.calibration_state(calibrated_on, on, interval_months=12)
    assert (got.state, got.days_left, got.in_date) == (state, days_left, state == gauge.IN_DATE)


def test_no_calibration_is_never_in_date() -> None:
    got = gauge.calibration_state(None, date(2026, 1, 1), interval_days=365)
    assert (got.state, got.valid_until, got.in_date) == (gauge.NEVER_CALIBRATED, None, False)


@given(st.dates(date(2000, 1, 1), date(2090, 1, 1)), st.integers(1, 900))
def test_an_interval_in_days_ends_on_its_day(calibrated_on: date, days: int) -> None:
    got = gauge.calibration_state(calibrated_on, calibrated_on + timedelta(days=days), interval_days=days)
    assert (got.days_left, got.in_date) == (0, True)


@given(st.dates(date(2000, 1, 1), date(2090, 1, 1)), st.integers(1, 60))
def test_months_keep_the_day_or_the_last_one(day: date, months: int) -> None:
    later = gauge.add_months(day, months)
    assert (later.year * 12 + later.month) - (day.year * 12 + day.month) == months
    assert later.day == day.day or (later.day < day.day and (later + timedelta(days=1)).day == 1)


@pytest.mark.parametrize("interval", [{}, {"interval_months": 12, "interval_days": 365}, {"interval_days": 0}])
def test_an_interval_is_given_once_and_positive(interval: dict) -> None:
    with pytest.raises(InputError, match="interval"):
        gauge.calibration_state(date(2025, 1, 1), date(2025, 1, 2), **interval)


def test_the_correction_interpolates_between_points_in_any_order() -> None:
    assert gauge.corrected_pressure(reading_pa=15e6, points=POINTS) == pytest.approx(15.2e6)
    assert gauge.corrected_pressure(reading_pa=10e6, points=POINTS) == 10.1e6
    several = gauge.corrected_pressure(reading_pa=np.array([0.0, 15e6]), points=POINTS)
    assert several.tolist() == [0.05e6, gauge.corrected_pressure(reading_pa=15e6, points=POINTS)]


@given(st.floats(min_value=0, max_value=20e6))
def test_the_correction_can_be_undone(reading_pa: float) -> None:
    true_pa = gauge.corrected_pressure(reading_pa=reading_pa, points=POINTS)
    assert gauge.reading_for(reference_pa=true_pa, points=POINTS) == pytest.approx(reading_pa, rel=1e-9, abs=1e-3)


def test_the_correction_is_never_extrapolated() -> None:
    with pytest.raises(OutsideTable):
        gauge.corrected_pressure(reading_pa=20.1e6, points=POINTS)
    with pytest.raises(OutsideTable):
        gauge.reading_for(reference_pa=0.04e6, points=POINTS)
    with pytest.raises(InputError):
        gauge.corrected_pressure(reading_pa=1e6, points=POINTS[:1])
