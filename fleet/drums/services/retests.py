"""Orders from shore to test a drum before its time."""

from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.core.audit import audited
from fleet.core.writing import day_of, save_audited, snapshot
from fleet.drums.models import Drum, RetestOrder

DUE_IN_PAST = _("This day has passed. Give the day by which the drum is to be tested.")
REASON_NEEDED = _("Say why in one sentence: the ship reads it.")
ALREADY_TAKEN_BACK = _("This order has already been taken back.")
DRUM_REMOVED = _("This drum is no longer aboard; no test can be ordered for it.")


@audited()
def retest_order_give(*, drum: Drum, due_on: date, reason: str, actor: User, at: datetime | None = None) -> RetestOrder:
    """Order a test by a day, with the reason; the same order sent twice is given once."""
    drum = Drum.objects.select_for_update(of=("self",)).select_related("winch__vessel").get(pk=drum.pk)
    problems = {}
    if due_on < day_of(at):
        problems["due_on"] = ValidationError(DUE_IN_PAST, code="past")
    if not reason.strip():
        problems["reason"] = ValidationError(REASON_NEEDED, code="required")
    if problems:
        raise ValidationError(problems)
    if drum.removed_on:
        raise ValidationError(DRUM_REMOVED, code="removed")
    same = RetestOrder.objects.filter(
        drum=drum, due_on=due_on, reason=reason.strip(), ordered_by=actor, taken_back_at__isnull=True
    ).first()
    if same is not None:
        return same
    order = RetestOrder(
        drum=drum, due_on=due_on, reason=reason.strip(), ordered_by=actor, ordered_at=at or timezone.now()
    )
    _save(order, actor=actor, action="retest ordered", reason=order.reason, at=at)
    return order


@audited()
def retest_order_take_back(*, order: RetestOrder, reason: str, actor: User, at: datetime | None = None) -> RetestOrder:
    """Take an order back with the reason; it stays to be read."""
    order = RetestOrder.objects.select_for_update(of=("self",)).select_related("drum__winch__vessel").get(pk=order.pk)
    if order.taken_back_at:
        raise ValidationError(ALREADY_TAKEN_BACK, code="taken_back")
    if not reason.strip():
        raise ValidationError({"reason": ValidationError(REASON_NEEDED, code="required")})
    before = snapshot(order)
    order.taken_back_at = at or timezone.now()
    order.taken_back_reason = reason.strip()
    _save(order, actor=actor, action="retest order taken back", reason=reason.strip(), before=before, at=at)
    return order


def _save(
    order: RetestOrder,
    *,
    actor: User,
    action: str,
    reason: str,
    at: datetime | None,
    before: dict[str, object] | None = None,
) -> None:
    vessel = order.drum.winch.vessel
    save_audited(
        order,
        actor=actor,
        action=action,
        company_id=vessel.company_id,
        vessel_id=vessel.pk,
        before=before,
        reason=reason,
        at=at,
    )
