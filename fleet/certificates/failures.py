"""Approved records of failure: they get no certificate, and stay in sight beside those that do."""

from typing import Any

from django.db.models import QuerySet

from fleet.certificates.since import approved_failures
from fleet.records.models import Submission


def failed_records(user: Any) -> QuerySet[Submission]:
    """The approved records of failure this person may see, newest first."""
    return approved_failures().filter(pk__in=Submission.objects.for_user(user))
