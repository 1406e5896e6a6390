"""What came after a certificate's test and speaks against relying on it: a failure, an event, an order to retest."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from fleet.drums.models import BrakeEvent, EventKind, RetestOrder
from fleet.records.due import FAILED_RESULTS
from fleet.records.models import DecisionKind, Outcome, State, Submission


@dataclass(frozen=True)
class Remark:
    """One sentence beside the state, with the shape that goes with it."""

    code: str
    sentence: str


def approved_failures() -> QuerySet[Submission]:
    """Records of failure that shore approved, newest first."""
    return (
        Submission.objects.filter(decisions__kind=DecisionKind.APPROVED)
        .exclude(outcome=Outcome.SET_IN_BAND)
        .exclude(test__state=State.WITHDRAWN)
        .select_related("test__drum__winch", "test__round")
        .order_by("-tested_on", "-submitted_at")
        .defer("content")
    )


def since_columns() -> dict[str, Any]:
    """What a query of certificates adds to know it, so that a list of any length asks no further."""
    same, drum = OuterRef("submission__test"), OuterRef("submission__test__drum")
    tested_on, sent_at = OuterRef("submission__tested_on"), OuterRef("submission__submitted_at")
    later = Q(tested_on__gt=tested_on) | Q(tested_on=tested_on, submitted_at__gt=sent_at)
    amended = Q(test=same, version__gt=OuterRef("submission__version"))
    failures = approved_failures().filter(amended | (~Q(test=same) & later), test__drum=drum)
    events = BrakeEvent.objects.asking_retest().filter(drum=drum, happened_on__gt=tested_on).order_by("happened_on")
    unanswered = Q(ordered_at__date__gt=tested_on) | Q(ordered_at__gt=sent_at)
    orders = RetestOrder.objects.filter(unanswered, drum=drum, taken_back_at__isnull=True)
    return {
        "failed_since_on": Subquery(failures.values("tested_on")[:1]),
        "failed_since_outcome": Subquery(failures.values("outcome")[:1]),
        "event_since_on": Subquery(events.values("happened_on")[:1]),
        "event_since_kind": Subquery(events.values("kind")[:1]),
        "order_since_at": Subquery(orders.order_by("ordered_at").values("ordered_at")[:1]),
    }


def failure_remark(on: date | None, outcome: str | None) -> Iterator[Remark]:
    if on is None or outcome is None:
        return
    if outcome == Outcome.STOPPED:
        words = _("a later test of this drum, on {day}, was stopped before the end").format(day=_day(on))
    else:
        words = _("a later test of this drum failed on {day}: {outcome}").format(
            day=_day(on), outcome=Outcome(outcome).label
        )
    yield Remark(FAILED_RESULTS[outcome], words)


def retest_remark(event_on: date | None, event_kind: str | None, ordered_at: datetime | None) -> Iterator[Remark]:
    """One remark for all that asks for a retest: what happened says more than the order that answers it."""
    if event_on and event_kind:
        words = _("a retest has been asked for since: {what}, {day}").format(
            what=EventKind(event_kind).label, day=_day(event_on)
        )
    elif ordered_at:
        words = _("a retest has been asked for since: ordered {day}").format(day=_day(ordered_at))
    else:
        return
    yield Remark("retest_ordered", words)


def _day(day: date) -> str:
    return date_format(day, "j M Y")
