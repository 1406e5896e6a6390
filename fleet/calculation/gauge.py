"""What a pressure gauge can be trusted with: class, usable part of the scale, marks, calibration.

Pressures in Pa, but for the division marks, which belong to the scale and stay in the gauge's own unit.
"""

from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import sqrt
from typing import overload

import numpy as np

from fleet.calculation.checks import InputError, require_not_negative, require_positive
from fleet.calculation.tables import RisingTable
from fleet.calculation.units import N, Number

ACCURACY_CLASSES = (0.1, 0.25, 0.6, 1.0, 1.6, 2.5, 4.0)
USABLE_FROM = 0.25
USABLE_TO = 0.75

TOO_LOW_ON_SCALE = "too_low_on_scale"
USABLE = "usable"
TOO_HIGH_ON_SCALE = "too_high_on_scale"
OFF_SCALE = "off_scale"

IN_DATE = "in_date"
OVERDUE = "overdue"
NOT_YET_CALIBRATED = "not_yet_calibrated"
NEVER_CALIBRATED = "never_calibrated"


def permissible_error(*, accuracy_class: float, span_pa: N) -> N:
    """Largest error in Pa that the class permits: so many per cent of the span, at any reading.

    Args: accuracy_class: one of ACCURACY_CLASSES; span_pa: upper less lower end of the scale, Pa (float or array).
    Raises: InputError. Source: EN 837-1, accuracy classes.

    >>> permissible_error(accuracy_class=1.6, span_pa=40e6)
    640000.0
    """
    if accuracy_class not in ACCURACY_CLASSES:
        raise InputError("accuracy_class", f"must be one of {', '.join(f'{c:g}' for c in ACCURACY_CLASSES)}")
    require_positive(span_pa=span_pa)
    return accuracy_class * span_pa / 100


def common_share_of_class(*, accuracy_class: float, span_pa: N, reading_pa: N, share: N) -> N:
    """Standard uncertainty, as a share of the base load, that all tests with one gauge have in common by its class.

    Args: accuracy_class in percent of span; span_pa and reading_pa: span and the reading that stands for ``share``,
    above 0, both in one unit; floats or arrays. Source: limit by EN 837-1; rectangular by JCGM 100:2008, 4.3.7.

    >>> round(common_share_of_class(accuracy_class=1.0, span_pa=250e5, reading_pa=173e5, share=0.60), 6)
    0.005006
    """
    return share * permissible_error(accuracy_class=accuracy_class, span_pa=span_pa) / reading_pa / sqrt(3)


@dataclass(frozen=True, kw_only=True)
class UsablePart:
    """The part of a scale to work in, Pa."""

    full_scale_pa: float
    low_pa: float
    high_pa: float


def usable_part(*, full_scale_pa: float) -> UsablePart:
    """A quarter to three quarters of full scale.

    Args: full_scale_pa: end of the scale, Pa. Raises: InputError.
    Source: upper end EN 837-2, steady pressure (from memory); lower end common practice, no published source.

    >>> usable_part(full_scale_pa=40e6)
    UsablePart(full_scale_pa=40000000.0, low_pa=10000000.0, high_pa=30000000.0)
    """
    require_positive(full_scale_pa=full_scale_pa)
    return UsablePart(
        full_scale_pa=full_scale_pa, low_pa=USABLE_FROM * full_scale_pa, high_pa=USABLE_TO * full_scale_pa
    )


@dataclass(frozen=True, kw_only=True)
class ScalePlace:
    """Where a reading lies on the scale: its fraction of full scale, and one of the four words."""

    fraction: float
    place: str


def scale_place(*, reading_pa: float, full_scale_pa: float) -> ScalePlace:
    """Say whether a reading lies in the usable part of the scale. Both in Pa. Raises: InputError. Source: usable_part.

    >>> scale_place(reading_pa=17.3e6, full_scale_pa=70e6)
    ScalePlace(fraction=0.24714285714285714, place='too_low_on_scale')
    """
    require_not_negative(reading_pa=reading_pa)
    part = usable_part(full_scale_pa=full_scale_pa)
    if reading_pa > full_scale_pa:
        place = OFF_SCALE
    elif reading_pa > part.high_pa:
        place = TOO_HIGH_ON_SCALE
    else:
        place = USABLE if reading_pa >= part.low_pa else TOO_LOW_ON_SCALE
    return ScalePlace(fraction=reading_pa / full_scale_pa, place=place)


@overload
def nearest_division(target: float, division: float) -> float: ...
@overload
def nearest_division(target: Number, division: float) -> Number: ...
def nearest_division(target: Number, division: float) -> Number:
    """The division mark nearest to the target, both in the gauge's own unit; half way, the lower mark.

    The load and share at the mark come from the target basis (``load_at``). Float or array target.
    Raises: InputError.

    >>> nearest_division(173.24, 5), nearest_division(172.5, 5), nearest_division(17.32, 0.2)
    (175.0, 170.0, 17.4)
    """
    require_positive(target=target, division=division)
    return _mark(np.ceil(_in_divisions(target, division) - 0.5), division)


@overload
def division_at_or_below(reading: float, division: float) -> float: ...
@overload
def division_at_or_below(reading: Number, division: float) -> Number: ...
def division_at_or_below(reading: Number, division: float) -> Number:
    """The highest division mark that is not above a reading, both in the gauge's own unit; for STOP.

    Raises: InputError.

    >>> division_at_or_below(187.68, 5), division_at_or_below(0.6, 0.2)
    (185.0, 0.6)
    """
    require_positive(reading=reading, division=division)
    return _mark(np.floor(_in_divisions(reading, division)), division)


def _in_divisions(reading: Number, division: float) -> Number:
    # 0.6 / 0.2 is 2.9999999999999996 in floats; by the decimal that was meant it is 3.
    exact = Fraction(repr(float(division)))
    counted = reading * exact.denominator / exact.numerator
    whole = np.round(counted)
    return np.where(np.isclose(counted, whole, rtol=1e-12, atol=0), whole, counted)


def _mark(count: Number, division: float) -> Number:
    exact = Fraction(repr(float(division)))
    mark = count * exact.numerator / exact.denominator
    return float(mark) if np.ndim(mark) == 0 else mark


@dataclass(frozen=True, kw_only=True)
class CalibrationState:
    """Whether an instrument was in date on a day. ``valid_until`` is the last day in date; None if never calibrated."""

    state: str
    calibrated_on: date | None
    valid_until: date | None
    days_left: int | None

    @property
    def in_date(self) -> bool:
        """True only for a calibration that covers the day."""
        return self.state == IN_DATE


def calibration_state(
    calibrated_on: date | None,
    on: date,
    *,
    interval_months: int | None = None,
    interval_days: int | None = None,
) -> CalibrationState:
    """State of a calibration on the day ``on``; the anniversary itself is still in date.

    Args: calibrated_on: the certificate's date, None if there is none; interval: months or days, one of them.
    Raises: InputError. Source: a 12-month interval is common practice, no published source; the operator sets it.

    >>> calibration_state(date(2025, 1, 31), date(2026, 2, 1), interval_months=12).state
    'overdue'
    >>> calibration_state(date(2025, 1, 31), date(2025, 2, 1), interval_months=1).valid_until
    datetime.date(2025, 2, 28)
    """
    if (interval_months is None) == (interval_days is None):
        raise InputError("interval", "is given either in months or in days")
    if (interval_months or interval_days or 0) < 1:
        raise InputError("interval", "must be 1 or more")
    if calibrated_on is None:
        return CalibrationState(state=NEVER_CALIBRATED, calibrated_on=None, valid_until=None, days_left=None)
    until = (
        add_months(calibrated_on, interval_months)
        if interval_months is not None
        else calibrated_on + timedelta(days=interval_days or 0)
    )
    state = NOT_YET_CALIBRATED if on < calibrated_on else IN_DATE if on <= until else OVERDUE
    return CalibrationState(state=state, calibrated_on=calibrated_on, valid_until=until, days_left=(until - on).days)


def add_months(day: date, months: int) -> date:
    """The same day of the month so many months later, or that month's last day.

    >>> add_months(date(2024, 2, 29), 12)
    datetime.date(2025, 2, 28)
    """
    month = day.month - 1 + months
    year, month = day.year + month // 12, month % 12 + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


@dataclass(frozen=True, kw_only=True)
class CalibrationPoint:
    """One line of a calibration certificate: what the gauge showed and what the reference showed, Pa."""

    reading_pa: float
    reference_pa: float


def corrected_pressure(*, reading_pa: N, points: Sequence[CalibrationPoint]) -> N:
    """True pressure in Pa for a reading, by linear interpolation between calibration points; never extrapolated.

    Args: reading_pa: Pa, float or array; points: at least two, in any order.
    Raises: OutsideTable beyond the points; InputError for points that do not rise.
    Source: the calibration certificate; linear interpolation.

    >>> points = [CalibrationPoint(reading_pa=10e6, reference_pa=10.1e6),
    ...           CalibrationPoint(reading_pa=20e6, reference_pa=20.3e6)]
    >>> corrected_pressure(reading_pa=15e6, points=points), reading_for(reference_pa=15.2e6, points=points)
    (15200000.0, 15000000.0)
    """
    return _calibration(points).y_at(reading_pa)


def reading_for(*, reference_pa: N, points: Sequence[CalibrationPoint]) -> N:
    """What the gauge will show at a true pressure in Pa; the inverse of ``corrected_pressure``, same errors."""
    return _calibration(points).x_at(reference_pa)


def _calibration(points: Sequence[CalibrationPoint]) -> RisingTable:
    rising = sorted(points, key=lambda point: point.reading_pa)
    return RisingTable(
        xs=[point.reading_pa for point in rising],
        ys=[point.reference_pa for point in rising],
        x_name="gauge reading",
        y_name="reference pressure",
    )
