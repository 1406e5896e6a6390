"""What the pages about people show of roles and of the vessels they reach."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Prefetch, QuerySet

from fleet.accounts.models import SHORE_ROLES, Membership, User
from fleet.vessels.forms import EndForm
from fleet.vessels.models import VesselAccess


@dataclass
class AccessRow:
    access: VesselAccess
    now: bool
    end_form: EndForm | None = None


@dataclass
class RoleRow:
    """One role of one person; `end_form` only for whoever may end it."""

    membership: Membership
    now: bool
    ended: bool
    whole_company: bool
    accesses: list[AccessRow]
    end_form: EndForm | None = None

    @property
    def open_vessels(self) -> list[str]:
        return [row.access.vessel.name for row in self.accesses if row.now]


@dataclass
class PersonRow:
    person: User
    roles: list[RoleRow] = field(default_factory=list)

    @property
    def now(self) -> bool:
        return any(role.now for role in self.roles)


def roles_seen_by(user: User) -> QuerySet[Membership]:
    """The roles this person may see, with their people and vessels, in a number of queries that does not grow."""
    accesses = VesselAccess.objects.for_user(user).select_related("vessel").order_by("vessel__name")
    seen = Membership.objects.for_user(user).select_related("user", "company")
    return seen.prefetch_related(Prefetch("vessel_accesses", queryset=accesses)).order_by("user__name", "user", "role")


def role_rows(
    memberships: Iterable[Membership],
    today: date,
    *,
    editable: frozenset[uuid.UUID] = frozenset(),
    bound: dict[Any, EndForm] | None = None,
) -> list[RoleRow]:
    """Rows of roles; in the editable companies with forms to end them, `bound` ones in place of fresh ones."""
    bound = bound or {}

    def end_form(key: uuid.UUID, may_edit: bool) -> EndForm | None:
        return bound.get(key) or (end_form_for(key, None, today) if may_edit else None)

    rows = []
    for membership in memberships:
        ended = not lasts(membership.until, today)
        now = not ended and membership.user.is_active
        may_edit = membership.company_id in editable
        accesses = []
        for access in membership.vessel_accesses.all():
            reaches = now and lasts(access.until, today)
            accesses.append(AccessRow(access, reaches, end_form(access.pk, may_edit and reaches)))
        whole = membership.role in SHORE_ROLES
        may_end = end_form(membership.pk, may_edit and not ended)
        rows.append(RoleRow(membership, now, ended, whole, accesses, may_end))
    return rows


def end_form_for(key: uuid.UUID, data: Any, today: date) -> EndForm:
    """The form that ends one role or access; its inputs have ids of their own on a page with many."""
    return EndForm(data, today=today, auto_id=f"end_{key.hex}_%s")


def person_rows(rows: Iterable[RoleRow]) -> list[PersonRow]:
    """Role rows gathered by person, in the order in which the people come."""
    people: dict[uuid.UUID, PersonRow] = {}
    for row in rows:
        person = row.membership.user
        people.setdefault(person.pk, PersonRow(person)).roles.append(row)
    return list(people.values())


def lasts(until: date | None, today: date) -> bool:
    return until is None or until >= today
