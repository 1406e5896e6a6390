"""What the services of all instruments share."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.core.writing import day_of, save_audited, snapshot
from fleet.gauges.models import Footing, Gauge, Jack, Kit, Lever
from fleet.vessels.models import Vessel

SERIAL_TAKEN = _("This vessel already has one with this serial number. Look it up in the list of instruments.")
NAME_TAKEN = _("This vessel already has one with this name in use. Give it a name of its own.")
ALREADY_RETIRED = _("This is already out of use.")
NOT_YET = _("This day lies ahead. Give the day it was taken out of use.")
REASON_NEEDED = _("Say why in one sentence.")
IN_A_KIT = _("It belongs to the kit %(kits)s. Change that kit or take it out of use first.")

Instrument = TypeVar("Instrument", Gauge, Jack, Lever, Footing, Kit)


def hold(row: Instrument) -> Instrument:
    """The row as it now stands, held until the transaction ends."""
    # The vessel first, as whoever adds something holds it: nobody waits crosswise.
    Vessel.objects.select_for_update().get(pk=row.vessel_id)
    rows = type(row)._default_manager.select_for_update(of=("self",)).select_related("vessel")
    return rows.get(pk=row.pk)


def check_unique(row: Instrument, *, serial: bool = False) -> None:
    """Names are unique among what is in use, serial numbers among all; the vessel's row is held meanwhile."""
    Vessel.objects.select_for_update().get(pk=row.vessel_id)
    row.name = row.name.strip()
    others = type(row)._default_manager.filter(vessel=row.vessel_id).exclude(pk=row.pk)
    problems: dict[str, ValidationError] = {}
    names = others if isinstance(row, Kit) else others.filter(retired_on__isnull=True)
    if row.retired_on is None and names.filter(name__iexact=row.name).exists():
        problems["name"] = ValidationError(NAME_TAKEN, code="taken")
    if serial and isinstance(row, Gauge | Jack):
        row.serial_number = row.serial_number.strip()
        if others.filter(serial_number__iexact=row.serial_number).exists():
            problems["serial_number"] = ValidationError(SERIAL_TAKEN, code="taken")
    if problems:
        raise ValidationError(problems)


def keep(
    row: Instrument,
    *,
    actor: User,
    action: str,
    before: dict[str, Any] | None = None,
    more: Mapping[str, Any] | None = None,
    reason: str = "",
    at: datetime | None = None,
) -> None:
    """Save and audit one instrument."""
    save_audited(
        row,
        actor=actor,
        action=action,
        company_id=row.vessel.company_id,
        vessel_id=row.vessel_id,
        before=before,
        more=more,
        reason=reason,
        at=at,
    )


def retire(
    row: Instrument, *, action: str, retired_on: date, reason: str, actor: User, at: datetime | None
) -> Instrument:
    """Take an instrument out of use; it stays to be read."""
    row = hold(row)
    if row.retired_on:
        raise ValidationError(ALREADY_RETIRED, code="retired")
    problems = {}
    if retired_on > day_of(at):
        problems["retired_on"] = ValidationError(NOT_YET, code="future")
    if not reason.strip():
        problems["reason"] = ValidationError(REASON_NEEDED, code="required")
    if problems:
        raise ValidationError(problems)
    kits = _kits_with(row)
    if kits:
        raise ValidationError(IN_A_KIT, code="in_a_kit", params={"kits": ", ".join(kits)})
    before = snapshot(row)
    row.retired_on = retired_on
    keep(row, actor=actor, action=action, before=before, reason=reason.strip(), at=at)
    return row


def _kits_with(row: Gauge | Jack | Lever | Footing | Kit) -> list[str]:
    if isinstance(row, Kit):
        return []
    if isinstance(row, Jack):
        kits = Kit.objects.filter(kit_jacks__jack=row)
    else:
        kits = Kit.objects.filter(**{type(row).__name__.lower(): row})
    return list(kits.filter(retired_on__isnull=True).order_by("name").values_list("name", flat=True))
