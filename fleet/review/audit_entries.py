"""Which audit entries a person may read: a company's for its shore people, a named vessel's for its auditors."""

from typing import Any

from django.db.models import Q, QuerySet

from fleet.accounts.models import SHORE_ROLES, Company, Membership, Role
from fleet.core.models import AuditEntry
from fleet.vessels.models import Vessel, VesselAccess
from fleet.vessels.permissions import ALLOWED

READERS = ALLOWED["read_audit"]


def may_read_any(user: Any) -> bool:
    return Membership.objects.current(user).filter(role__in=[role.value for role in READERS]).exists()


def entries_for(user: Any) -> QuerySet[AuditEntry]:
    """Newest first. An auditor sees what happened to the vessels named for that role, and nothing of the company."""
    current = Membership.objects.current(user)
    companies = current.filter(role__in=[role.value for role in READERS & SHORE_ROLES]).values("company")
    return AuditEntry.objects.filter(
        Q(company_id__in=companies) | Q(vessel_id__in=_audited(user).values("vessel"))
    ).order_by("-at", "-pk")


def companies_read(user: Any) -> QuerySet[Company]:
    """The companies whose whole chain this person may read; an auditor sees single vessels of it only."""
    current = Membership.objects.current(user)
    return Company.objects.filter(
        pk__in=current.filter(role__in=[role.value for role in READERS & SHORE_ROLES]).values("company")
    )


def vessels_read(user: Any) -> QuerySet[Vessel]:
    """The vessels whose entries this person may read."""
    current = Membership.objects.current(user)
    companies = current.filter(role__in=[role.value for role in READERS & SHORE_ROLES]).values("company")
    return Vessel.objects.filter(Q(company__in=companies) | Q(pk__in=_audited(user).values("vessel")))


def _audited(user: Any) -> QuerySet[VesselAccess]:
    auditing = Membership.objects.current(user).filter(role=Role.AUDITOR)
    return VesselAccess.objects.current().filter(membership__in=auditing)
