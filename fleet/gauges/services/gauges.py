"""Gauges and their calibrations."""

import uuid
from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.core.audit import audited
from fleet.core.documents import CleanDocument
from fleet.core.writing import day_of, save_audited, set_fields, snapshot, stamp_created
from fleet.gauges.checks import gauge_problems, points_problem, refuse
from fleet.gauges.models import Gauge, GaugeCalibration
from fleet.gauges.points import Point
from fleet.gauges.services.common import check_unique, hold, keep, retire
from fleet.vessels.models import Vessel

UNIT_STAYS = _(
    "A gauge keeps its unit: readings already copied it. Take this gauge out of use and register another one."
)
CALIBRATED_AHEAD = _("This day lies ahead. Give the date on the certificate.")
VALID_BEFORE = _("The calibration would end before it began. Check both dates.")
CERTIFICATE_TAKEN = _("A calibration of this gauge with this certificate number and date is already recorded.")
GAUGE_FIELDS = ("name", "serial_number", "unit", "full_scale", "smallest_division", "accuracy_class")


@audited()
def gauge_add(*, vessel: Vessel, actor: User, at: datetime | None = None, **fields: Any) -> Gauge:
    """Register a gauge: name, serial_number, unit, full_scale, smallest_division (both Typed), accuracy_class."""
    gauge = Gauge(vessel=vessel)
    set_fields(gauge, GAUGE_FIELDS, fields)
    check_unique(gauge, serial=True)
    refuse(gauge_problems(gauge))
    keep(gauge, actor=actor, action="gauge added", at=at)
    return gauge


@audited()
def gauge_change(*, gauge: Gauge, actor: User, at: datetime | None = None, **fields: Any) -> Gauge:
    """Correct a gauge's entry; its unit stays."""
    gauge = hold(gauge)
    before = snapshot(gauge)
    set_fields(gauge, GAUGE_FIELDS, fields)
    if gauge.unit != before["unit"]:
        raise ValidationError({"unit": ValidationError(UNIT_STAYS, code="unit_stays")})
    check_unique(gauge, serial=True)
    refuse(gauge_problems(gauge))
    keep(gauge, actor=actor, action="gauge changed", before=before, at=at)
    return gauge


@audited()
def gauge_calibration_record(
    *,
    gauge: Gauge,
    calibrated_on: date,
    certificate_number: str,
    laboratory: str,
    actor: User,
    valid_until: date | None = None,
    points: Sequence[Point] = (),
    document: CleanDocument | None = None,
    at: datetime | None = None,
) -> GaugeCalibration:
    """Record one calibration certificate; a row is never changed, only followed."""
    gauge = hold(gauge)
    row = GaugeCalibration(
        gauge=gauge,
        calibrated_on=calibrated_on,
        valid_until=valid_until,
        certificate_number=certificate_number.strip(),
        laboratory=laboratory.strip(),
        points=[point.to_dict() for point in points],
        author=actor,
    )
    _check_calibration(row, points, day_of(at))
    if document is not None:
        row.full_clean()
        row.document.save(f"{uuid.uuid4().hex}.{document.extension}", document.content, save=False)
    save_audited(
        row,
        actor=actor,
        action="gauge calibration recorded",
        company_id=gauge.vessel.company_id,
        vessel_id=gauge.vessel_id,
        at=at,
    )
    stamp_created(row, at)
    return row


def _check_calibration(row: GaugeCalibration, points: Sequence[Point], today: date) -> None:
    problems: dict[str, ValidationError] = {}
    if row.calibrated_on > today:
        problems["calibrated_on"] = ValidationError(CALIBRATED_AHEAD, code="future")
    if row.valid_until and row.valid_until <= row.calibrated_on:
        problems["valid_until"] = ValidationError(VALID_BEFORE, code="order")
    wrong = points_problem(row.gauge, points)
    if wrong:
        problems["points"] = wrong
    same = row.gauge.calibrations.filter(
        certificate_number__iexact=row.certificate_number, calibrated_on=row.calibrated_on
    )
    if same.exists():
        problems["certificate_number"] = ValidationError(CERTIFICATE_TAKEN, code="taken")
    if problems:
        raise ValidationError(problems)


@audited()
def gauge_retire(*, gauge: Gauge, retired_on: date, reason: str, actor: User, at: datetime | None = None) -> Gauge:
    """Take a gauge out of use."""
    return retire(gauge, action="gauge retired", retired_on=retired_on, reason=reason, actor=actor, at=at)
