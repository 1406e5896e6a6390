"""Whether a gauge is in date: by its certificate where that gives a last day, else by the operator's interval."""

from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from fleet.calculation.gauge import add_months
from fleet.calculation.gauge_certificate import CertificatePoint, GaugeCertificate
from fleet.gauges.models import Gauge, GaugeCalibration
from fleet.gauges.points import Point
from fleet.vessels.models import Policy

IN_DATE, DUE, OUT_OF_DATE, NEVER = "in_date", "due", "overdue", "never_tested"


@dataclass(frozen=True)
class CalibrationSaid:
    """The state's code (of core.pictures.states), its words, the last day in date, and the newest calibration."""

    code: str
    word: str
    until: date | None
    row: GaugeCalibration | None

    @property
    def in_date(self) -> bool:
        return self.code in {IN_DATE, DUE}


def last_day(row: GaugeCalibration, policy: Policy) -> date:
    """The last day on which this calibration holds."""
    return row.valid_until or add_months(row.calibrated_on, policy.calibration_months)


def calibration_said(gauge: Gauge, policy: Policy, on: date) -> CalibrationSaid:
    """The state of a gauge's calibration on a day; reads prefetched calibrations where there are any."""
    row = gauge.calibration_on(on)
    if row is None:
        return CalibrationSaid(NEVER, _("never calibrated"), None, None)
    until = last_day(row, policy)
    day = date_format(until, "j F Y")
    if on > until:
        return CalibrationSaid(OUT_OF_DATE, _("out of date since %(day)s") % {"day": day}, until, row)
    if (until - on).days <= policy.due_soon_days:
        return CalibrationSaid(DUE, _("due, in date until %(day)s") % {"day": day}, until, row)
    return CalibrationSaid(IN_DATE, _("in date until %(day)s") % {"day": day}, until, row)


def certificate_of(row: GaugeCalibration | None) -> GaugeCertificate | None:
    """The points of a calibration put to use; None where only its dates are known."""
    if row is None or not row.points:
        return None
    points = [Point.from_dict(stored) for stored in row.points]
    return GaugeCertificate(
        points=[
            CertificatePoint(
                reading_pa=point.reading.si,
                reference_pa=point.reference.si,
                # A certificate that prints U = 0 states none.
                expanded_uncertainty_pa=point.U.si if point.U and point.U.si > 0 else None,
                coverage_factor=point.k or 2.0,
                direction=point.direction,
            )
            for point in points
        ]
    )
