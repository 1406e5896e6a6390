"""What happened to a brake."""

from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.core.audit import audited
from fleet.core.writing import day_of, save_audited, stamp_created
from fleet.drums.models import BRAKE_WORK, BrakeEvent, Drum, EventKind

IN_FUTURE = _("This day lies ahead. Give the day it happened.")
BERTH_NEEDED = _("Say where it happened: the berth tells what load the lines were under.")
WIND_NEEDED = _("Say what wind and sea there were when the brake slipped.")
NOTE_NEEDED = _("Say in a few words what was done or seen.")
MOORINGS_NEEDED = _("Type how many moorings were made since the last entry.")
MOORINGS_ONLY = _("The number of moorings belongs to the entry “moorings made” only. Leave it empty.")

TELLS_WHAT = BRAKE_WORK | {EventKind.WRONG_MARK}


@audited()
def brake_event_report(
    *,
    drum: Drum,
    happened_on: date,
    kind: str,
    actor: User,
    note: str = "",
    berth: str = "",
    wind: str = "",
    moorings_made: int | None = None,
    document: str = "",
    at: datetime | None = None,
) -> BrakeEvent:
    """Report an event; the same report sent twice is recorded once."""
    drum = Drum.objects.select_for_update(of=("self",)).select_related("winch__vessel").get(pk=drum.pk)
    event = BrakeEvent(
        drum=drum,
        happened_on=happened_on,
        kind=kind,
        note=note.strip(),
        berth=berth.strip(),
        wind=wind.strip(),
        moorings_made=moorings_made,
        document=document.strip(),
        author=actor,
    )
    _check(event, day_of(at))
    same = BrakeEvent.objects.filter(
        drum=drum,
        happened_on=event.happened_on,
        kind=event.kind,
        note=event.note,
        berth=event.berth,
        wind=event.wind,
        moorings_made=event.moorings_made,
        document=event.document,
        author=actor,
    ).first()
    if same is not None:
        return same
    vessel = drum.winch.vessel
    save_audited(
        event,
        actor=actor,
        action="brake event reported",
        company_id=vessel.company_id,
        vessel_id=vessel.pk,
        reason=event.note,
        at=at,
    )
    stamp_created(event, at)
    return event


def _check(event: BrakeEvent, today: date) -> None:
    problems = {}
    if event.happened_on > today:
        problems["happened_on"] = ValidationError(IN_FUTURE, code="future")
    if event.kind == EventKind.UNINTENDED_SLIP and not event.berth:
        problems["berth"] = ValidationError(BERTH_NEEDED, code="required")
    if event.kind == EventKind.UNINTENDED_SLIP and not event.wind:
        problems["wind"] = ValidationError(WIND_NEEDED, code="required")
    if event.kind in TELLS_WHAT and not event.note:
        problems["note"] = ValidationError(NOTE_NEEDED, code="required")
    if event.kind == EventKind.MOORINGS and not event.moorings_made:
        problems["moorings_made"] = ValidationError(MOORINGS_NEEDED, code="required")
    if event.kind != EventKind.MOORINGS and event.moorings_made is not None:
        problems["moorings_made"] = ValidationError(MOORINGS_ONLY, code="not_here")
    if problems:
        raise ValidationError(problems)
