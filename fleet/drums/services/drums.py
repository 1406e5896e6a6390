"""Drums: added, changed, taken off."""

import uuid
from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.core.audit import audited
from fleet.core.photos import CleanPhoto
from fleet.core.writing import day_of, save_audited, set_fields, snapshot
from fleet.drums.models import AREA_ORDER, SETTING_UNITS, Area, Drum, DrumParticulars, Winch
from fleet.vessels.models import Vessel

DRUM_NAME_TAKEN = _("Another drum of this vessel already has this name. Use the name painted on the winch.")
NUMBER_TAKEN = _("Another drum of this winch already has this number.")
SIDE_CONFIRMED = _(
    "In the test in hand the jack's side was confirmed with the drawing as it is now. Take that tick away in the test "
    "first, then change this, and confirm the new drawing."
)
WINCH_OF_ANOTHER_VESSEL = _("Choose a winch of this vessel.")
SETTING_IN_FORCE = _(
    "The particulars in force hold limits in the old kind of setting. Record new particulars without those limits "
    "first, then change the kind."
)
ALREADY_REMOVED = _("This drum has already been taken off the register.")
NOT_YET = _("This day lies ahead. Give the day it was done.")
REASON_NEEDED = _("Say why in one sentence.")
DRUM_FIELDS = (
    "winch", "name", "number_on_winch", "area", "side", "order", "kind", "brake_kind", "setting_kind", "tighter_is",
    "mark_from", "mark_to", "line_off", "lead",
)  # fmt: skip


@audited()
def drum_add(
    *,
    winch: Winch,
    actor: User,
    mark_picture: CleanPhoto | None = None,
    at: datetime | None = None,
    **fields: Any,
) -> Drum:
    """Add a drum to a winch; the fields are those of DRUM_FIELDS."""
    drum = Drum(winch=winch)
    _put(drum, fields)
    _save(drum, actor=actor, action="drum added", mark_picture=mark_picture, at=at)
    return drum


@audited()
def drum_change(
    *,
    drum: Drum,
    actor: User,
    mark_picture: CleanPhoto | None = None,
    reason: str = "",
    at: datetime | None = None,
    **fields: Any,
) -> Drum:
    """Change a drum's identity, place, kinds or measuring points; an earlier picture stays in the files."""
    # The vessel first, as whoever adds something holds it: nobody waits crosswise.
    Vessel.objects.select_for_update().get(pk=drum.winch.vessel_id)
    drum = Drum.objects.select_for_update(of=("self",)).select_related("winch__vessel").get(pk=drum.pk)
    before, vessel_id = snapshot(drum), drum.winch.vessel_id
    side = {"line_off": drum.line_off, "lead": drum.lead}
    _put(drum, fields)
    redrawn = [name for name, was in side.items() if getattr(drum, name) != was]
    if redrawn and drum.tests.filter(state__in=("draft", "returned"), draft__pay_out_side="on").exists():
        raise ValidationError({name: ValidationError(SIDE_CONFIRMED, code="confirmed") for name in redrawn})
    if drum.winch.vessel_id != vessel_id:
        raise ValidationError({"winch": ValidationError(WINCH_OF_ANOTHER_VESSEL, code="vessel")})
    in_force = DrumParticulars.objects.in_force(drum, day_of(at))
    limits = [in_force.figure(name) for name in ("mark_least", "mark_most")] if in_force else []
    if any(limit and limit.typed.unit not in SETTING_UNITS[drum.setting_kind] for limit in limits):
        raise ValidationError({"setting_kind": ValidationError(SETTING_IN_FORCE, code="in_force")})
    _save(drum, actor=actor, action="drum changed", before=before, mark_picture=mark_picture, reason=reason, at=at)
    return drum


@audited()
def drum_remove(*, drum: Drum, removed_on: date, reason: str, actor: User, at: datetime | None = None) -> Drum:
    """Take a drum off the list of those aboard; its history stays."""
    # The vessel first, as whoever adds something holds it: nobody waits crosswise.
    Vessel.objects.select_for_update().get(pk=drum.winch.vessel_id)
    drum = Drum.objects.select_for_update(of=("self",)).select_related("winch__vessel").get(pk=drum.pk)
    if drum.removed_on:
        raise ValidationError(ALREADY_REMOVED, code="removed")
    if removed_on > day_of(at):
        raise ValidationError({"removed_on": ValidationError(NOT_YET, code="future")})
    if not reason.strip():
        raise ValidationError({"reason": ValidationError(REASON_NEEDED, code="required")})
    before = snapshot(drum)
    drum.removed_on = removed_on
    _save(drum, actor=actor, action="drum removed", before=before, reason=reason.strip(), at=at)
    return drum


def _put(drum: Drum, fields: dict[str, Any]) -> None:
    set_fields(drum, DRUM_FIELDS, fields)
    drum.name = drum.name.strip()
    drum.area_order = AREA_ORDER.get(Area(drum.area), 0) if drum.area in Area.values else 0


def _save(
    drum: Drum,
    *,
    actor: User,
    action: str,
    at: datetime | None,
    before: dict[str, Any] | None = None,
    mark_picture: CleanPhoto | None = None,
    reason: str = "",
) -> None:
    vessel = Vessel.objects.select_for_update().get(pk=drum.winch.vessel_id)
    fitted = Drum.objects.filter(winch__vessel=vessel, removed_on__isnull=True).exclude(pk=drum.pk)
    problems = {}
    if not drum.removed_on and fitted.filter(name__iexact=drum.name).exists():
        problems["name"] = ValidationError(DRUM_NAME_TAKEN, code="taken")
    if not drum.removed_on and fitted.filter(winch=drum.winch_id, number_on_winch=drum.number_on_winch).exists():
        problems["number_on_winch"] = ValidationError(NUMBER_TAKEN, code="taken")
    if problems:
        raise ValidationError(problems)
    if mark_picture is not None:
        drum.full_clean()
        drum.mark_picture.save(f"{uuid.uuid4().hex}.{mark_picture.extension}", mark_picture.content, save=False)
    save_audited(
        drum,
        actor=actor,
        action=action,
        company_id=vessel.company_id,
        vessel_id=vessel.pk,
        before=before,
        reason=reason,
        at=at,
    )
