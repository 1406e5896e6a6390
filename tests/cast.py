"""A fixed cast: one person per role on one vessel, a sister vessel, and a foreign company."""

from dataclasses import dataclass, field
from datetime import date

import pytest

from fleet.accounts.models import SHORE_ROLES, Company, Role, User
from fleet.vessels.models import Vessel
from tests.factories import CompanyFactory, MembershipFactory, UserFactory, VesselAccessFactory, VesselFactory

FAR_DATE = date(2099, 12, 31)


@dataclass
class Cast:
    """`people["officer"]` holds that role for `vessel` only; `foreign["officer"]` the same in another company."""

    company: Company
    vessel: Vessel
    sister: Vessel
    foreign_company: Company
    foreign_vessel: Vessel
    people: dict[str, User] = field(default_factory=dict)
    foreign: dict[str, User] = field(default_factory=dict)
    sister_officer: User | None = None
    nobody: User | None = None

    def __getattr__(self, name: str) -> User:
        try:
            return self.__dict__["people"][name]
        except KeyError:
            raise AttributeError(name) from None


def person_with_role(company: Company, role: str, vessel: Vessel, until: date | None = None) -> User:
    """A person with one role; ship roles and auditors get access to the one vessel."""
    user: User = UserFactory(name=f"{role.title()} of {vessel.name}")
    membership = MembershipFactory(
        user=user, company=company, role=role, until=until or (FAR_DATE if role == Role.AUDITOR else None)
    )
    if role not in SHORE_ROLES:
        VesselAccessFactory(membership=membership, vessel=vessel)
    return user


def make_cast() -> Cast:
    company, foreign_company = CompanyFactory(), CompanyFactory()
    vessel, sister = VesselFactory(company=company), VesselFactory(company=company)
    foreign_vessel = VesselFactory(company=foreign_company)
    return Cast(
        company=company,
        vessel=vessel,
        sister=sister,
        foreign_company=foreign_company,
        foreign_vessel=foreign_vessel,
        people={role: person_with_role(company, role, vessel) for role in Role.values},
        foreign={role: person_with_role(foreign_company, role, foreign_vessel) for role in Role.values},
        sister_officer=person_with_role(company, Role.OFFICER, sister),
        nobody=UserFactory(name="Person without any role"),
    )


@pytest.fixture
def cast(db: None) -> Cast:
    return make_cast()
