"""Who may do what on which vessel: one table, asked per (person, act, object)."""

from typing import Any

from django.core.exceptions import PermissionDenied
from django.db.models import Q

from fleet.accounts.models import SHORE_ROLES, Company, CompanyQuerySet, Membership, Role
from fleet.vessels.models import Vessel, VesselAccess

OFFICER, ENGINEER, MASTER = Role.OFFICER, Role.ENGINEER, Role.MASTER
SUPERINTENDENT, MANAGER, ADMINISTRATOR = Role.SUPERINTENDENT, Role.MANAGER, Role.ADMINISTRATOR

ALLOWED: dict[str, frozenset[Role]] = {
    "view": frozenset(Role),
    # The ship's working pages; an auditor reads histories and certificates.
    "see_deck": frozenset(Role) - {Role.AUDITOR},
    "test": frozenset({OFFICER, MASTER}),
    "confirm_instruments": frozenset({ENGINEER}),
    "release": frozenset({MASTER}),
    "submit": frozenset({OFFICER, MASTER}),
    "review": frozenset({SUPERINTENDENT}),
    "withdraw": frozenset({SUPERINTENDENT}),
    "order_retest": frozenset({SUPERINTENDENT}),
    "report_event": frozenset({OFFICER, ENGINEER, MASTER, SUPERINTENDENT}),
    "edit_drums": frozenset({OFFICER, MASTER, SUPERINTENDENT, ADMINISTRATOR}),
    "edit_instruments": frozenset({OFFICER, ENGINEER, SUPERINTENDENT, ADMINISTRATOR}),
    "edit_vessel": frozenset({SUPERINTENDENT, ADMINISTRATOR}),
    "edit_policy": frozenset({SUPERINTENDENT, ADMINISTRATOR}),
    "edit_people": frozenset({ADMINISTRATOR}),
    "read_audit": frozenset({SUPERINTENDENT, MANAGER, ADMINISTRATOR, Role.AUDITOR}),
}


def roles_on(user: Any, vessel: Vessel) -> frozenset[str]:
    """The roles this person holds for this vessel today."""
    if not user.is_authenticated:
        return frozenset()
    named = VesselAccess.objects.current().filter(vessel=vessel).values("membership")
    rows = Membership.objects.current(user).filter(Q(role__in=SHORE_ROLES) | Q(pk__in=named), company=vessel.company_id)
    return frozenset(rows.values_list("role", flat=True))


def roles_in(user: Any, company: Company) -> frozenset[str]:
    """The roles this person holds in this company today, on whichever vessels."""
    if not user.is_authenticated:
        return frozenset()
    return frozenset(Membership.objects.current(user).filter(company=company).values_list("role", flat=True))


def companies_where(user: Any, act: str) -> CompanyQuerySet:
    """The companies in which one of this person's roles today allows the act; for acts of shore roles."""
    roles = [role.value for role in ALLOWED[act]]
    return Company.objects.filter(pk__in=Membership.objects.current(user).filter(role__in=roles).values("company"))


def may(user: Any, act: str, thing: Vessel | Company) -> bool:
    roles = roles_on(user, thing) if isinstance(thing, Vessel) else roles_in(user, thing)
    return bool(ALLOWED[act] & roles)


def require(user: Any, act: str, thing: Vessel | Company) -> None:
    """Raise PermissionDenied (403) unless the person may."""
    if not may(user, act, thing):
        raise PermissionDenied(act)
