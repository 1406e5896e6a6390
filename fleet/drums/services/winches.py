"""Winches: added and changed."""

from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.core.audit import audited
from fleet.core.writing import save_audited, set_fields, snapshot
from fleet.drums.models import Winch
from fleet.vessels.models import Vessel

WINCH_NAME_TAKEN = _("Another winch of this vessel already has this name. Give this one a name of its own.")
WINCH_FIELDS = ("name", "shared_shaft", "note")


@audited()
def winch_add(*, vessel: Vessel, actor: User, at: datetime | None = None, **fields: Any) -> Winch:
    """Add a winch: name, shared_shaft, note."""
    winch = Winch(vessel=vessel)
    set_fields(winch, WINCH_FIELDS, fields)
    _check_name(winch)
    save_audited(winch, actor=actor, action="winch added", company_id=vessel.company_id, vessel_id=vessel.pk, at=at)
    return winch


@audited()
def winch_change(*, winch: Winch, actor: User, at: datetime | None = None, **fields: Any) -> Winch:
    """Change a winch's name, shared shaft or note."""
    # The vessel first, as whoever adds something holds it: nobody waits crosswise.
    Vessel.objects.select_for_update().get(pk=winch.vessel_id)
    winch = Winch.objects.select_for_update(of=("self",)).select_related("vessel").get(pk=winch.pk)
    before = snapshot(winch)
    set_fields(winch, WINCH_FIELDS, fields)
    _check_name(winch)
    save_audited(
        winch,
        actor=actor,
        action="winch changed",
        company_id=winch.vessel.company_id,
        vessel_id=winch.vessel_id,
        before=before,
        at=at,
    )
    return winch


def _check_name(winch: Winch) -> None:
    # The vessel's row is held, so that two people cannot take one name at the same moment.
    Vessel.objects.select_for_update().get(pk=winch.vessel_id)
    winch.name = winch.name.strip()
    if Winch.objects.filter(vessel=winch.vessel_id, name__iexact=winch.name).exclude(pk=winch.pk).exists():
        raise ValidationError({"name": ValidationError(WINCH_NAME_TAKEN, code="taken")})
