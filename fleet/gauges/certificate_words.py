"""What a calibration's points say, in words: how far the gauge reads off, and whether it hangs on the way down."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.calculation.gauge_certificate import FALLING, RISING, GaugeCertificate
from fleet.gauges.calibration import certificate_of, last_day
from fleet.gauges.models import GaugeCalibration
from fleet.gauges.points import Point
from fleet.vessels.models import Policy


@dataclass(frozen=True)
class CalibrationShown:
    """One calibration as the gauge's page shows it."""

    row: GaugeCalibration
    until: date
    rising: list[Point]
    falling: list[Point]
    sentences: list[str]


def calibrations_shown(rows: Iterable[GaugeCalibration], policy: Policy, unit: str) -> list[CalibrationShown]:
    return [_shown(row, policy, unit) for row in rows]


def _shown(row: GaugeCalibration, policy: Policy, unit: str) -> CalibrationShown:
    points = [Point.from_dict(stored) for stored in row.points]
    certificate = certificate_of(row)
    return CalibrationShown(
        row=row,
        until=last_day(row, policy),
        rising=[point for point in points if point.direction == RISING],
        falling=[point for point in points if point.direction == FALLING],
        sentences=[*_farthest_off(certificate, unit), *_hysteresis(certificate, unit)] if certificate else [],
    )


def _farthest_off(certificate: GaugeCertificate, unit: str) -> list[str]:
    worst = max(
        (certificate.correction_at(point.reading_pa) for point in certificate.rising),
        key=lambda correction: abs(correction.error_pa),
    )
    low, high = certificate.rising[0].reading_pa, certificate.rising[-1].reading_pa
    words = {
        "difference": units.display(abs(worst.error_pa), unit),
        "reading": units.display(worst.reading_pa, unit),
        "low": units.digits(low, unit),
        "high": units.display(high, unit),
    }
    if words["difference"] == units.display(0.0, unit):
        return [_("The gauge reads true from {low} to {high}. Beyond that nothing is known of it.").format(**words)]
    template = (
        _("Farthest off, the gauge reads {difference} high, at {reading}.")
        if worst.error_pa > 0
        else _("Farthest off, the gauge reads {difference} low, at {reading}.")
    )
    return [
        template.format(**words),
        _("Readings from {low} to {high} are corrected by these points; beyond them nothing is known of it.").format(
            **words
        ),
    ]


def _hysteresis(certificate: GaugeCertificate, unit: str) -> list[str]:
    if not certificate.hysteresis:
        return []
    noticed = max(
        (part for part in certificate.hysteresis if part.noticed),
        key=lambda part: abs(part.difference_pa),
        default=None,
    )
    if noticed is None:
        return [_("Rising and falling it shows the same, as far as the certificate's own uncertainty can tell.")]
    return [
        _(
            "Rising and falling differ by {difference} at {reading}, more than the certificate's own uncertainty: the "
            "gauge hangs. Read it only while the pressure rises slowly, as the rising points are the ones that count, "
            "and ask the workshop whether it can stay in use."
        ).format(
            difference=units.display(abs(noticed.difference_pa), unit), reading=units.display(noticed.reading_pa, unit)
        )
    ]
