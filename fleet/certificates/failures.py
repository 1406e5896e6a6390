"""Approved records of failure: they get no certificate, and stay in sight beside those that do."""

from typing import Any

from django.db.models import Q, QuerySet

from fleet.certificates.models import Certificate
from fleet.records.models import DecisionKind, Outcome, State, Submission


def failed_records(user: Any) -> QuerySet[Submission]:
    """The approved records of failure this person may see, newest first."""
    return _approved_failures().filter(pk__in=Submission.objects.for_user(user))


def failed_later(certificate: Certificate) -> Submission | None:
    """The newest failure of the same drum since the certificate's own test: the paper no longer describes the brake."""
    own = certificate.submission
    later = Q(tested_on__gt=own.tested_on) | Q(tested_on=own.tested_on, submitted_at__gt=own.submitted_at)
    return _approved_failures().filter(later, test__drum=own.test.drum_id).first()


def _approved_failures() -> QuerySet[Submission]:
    return (
        Submission.objects.filter(decisions__kind=DecisionKind.APPROVED)
        .exclude(outcome=Outcome.SET_IN_BAND)
        .exclude(test__state=State.WITHDRAWN)
        .select_related("test__drum__winch", "test__round")
        .order_by("-tested_on", "-submitted_at")
        .defer("content")
    )
