"""Which vessels, accesses and policies a person sees; what has ended opens nothing."""

from datetime import date, timedelta

import pytest
from django.contrib.auth.models import AnonymousUser

from fleet.accounts.models import Membership
from fleet.vessels.models import Policy, Vessel, VesselAccess
from fleet.vessels.permissions import companies_where, roles_on
from tests.cast import Cast
from tests.factories import MembershipFactory, PolicyFactory, VesselAccessFactory

YESTERDAY = date.today() - timedelta(days=1)
SHORE = ["superintendent", "manager", "administrator"]
NAMED = ["officer", "engineer", "master", "auditor"]


@pytest.mark.parametrize("role", SHORE)
def test_shore_people_see_their_companys_vessels(cast: Cast, role: str) -> None:
    assert set(Vessel.objects.for_user(cast.people[role])) == {cast.vessel, cast.sister}


@pytest.mark.parametrize("role", NAMED)
def test_ships_people_and_auditors_see_the_vessels_named_for_them(cast: Cast, role: str) -> None:
    assert set(Vessel.objects.for_user(cast.people[role])) == {cast.vessel}


@pytest.mark.parametrize("role", NAMED)
@pytest.mark.parametrize("what", ["role", "access", "account"])
def test_what_has_ended_opens_nothing(cast: Cast, role: str, what: str) -> None:
    person = cast.people[role]
    if what == "role":
        Membership.objects.filter(user=person).update(until=YESTERDAY)
    elif what == "access":
        VesselAccess.objects.filter(membership__user=person).update(until=YESTERDAY)
    else:
        type(person).objects.filter(pk=person.pk).update(is_active=False)
    assert not Vessel.objects.for_user(person).exists()
    assert roles_on(person, cast.vessel) == frozenset()
    assert not VesselAccess.objects.open().filter(membership__user=person).exists()


def test_the_last_day_still_opens_the_vessel(cast: Cast) -> None:
    VesselAccess.objects.filter(membership__user=cast.officer).update(until=date.today())
    assert list(Vessel.objects.for_user(cast.officer)) == [cast.vessel]


def test_a_vessel_named_for_a_role_that_ended_is_not_opened_by_another_role(cast: Cast) -> None:
    Membership.objects.filter(user=cast.officer).update(until=YESTERDAY)
    other = MembershipFactory(user=cast.officer, company=cast.company, role="master")
    assert not Vessel.objects.for_user(cast.officer).exists()
    VesselAccessFactory(membership=other, vessel=cast.sister)
    assert list(Vessel.objects.for_user(cast.officer)) == [cast.sister]


def test_nobody_and_the_anonymous_see_nothing(cast: Cast) -> None:
    PolicyFactory(company=cast.company)
    for person in (cast.nobody, AnonymousUser()):
        assert not Vessel.objects.for_user(person).exists()
        assert not Policy.objects.for_user(person).exists()
        assert not VesselAccess.objects.for_user(person).exists()


def test_policies_are_read_by_all_of_the_company_and_a_vessels_own_by_who_sees_the_vessel(cast: Cast) -> None:
    general = PolicyFactory(company=cast.company)
    own = PolicyFactory(company=cast.company, vessel=cast.sister)
    PolicyFactory(company=cast.foreign_company)
    assert set(Policy.objects.for_user(cast.superintendent)) == {general, own}
    assert set(Policy.objects.for_user(cast.officer)) == {general}


def test_shore_people_see_all_accesses_of_the_company_and_others_their_own(cast: Cast) -> None:
    seen = VesselAccess.objects.for_user(cast.manager)
    assert set(seen) == set(VesselAccess.objects.filter(vessel__company=cast.company))
    assert {access.membership.user for access in VesselAccess.objects.for_user(cast.officer)} == {cast.officer}


def test_the_companies_of_an_act_are_those_where_a_role_of_today_allows_it(cast: Cast) -> None:
    MembershipFactory(user=cast.administrator, company=cast.foreign_company, role="manager")
    assert list(companies_where(cast.administrator, "edit_people")) == [cast.company]
    Membership.objects.filter(user=cast.administrator, company=cast.company).update(until=YESTERDAY)
    assert not companies_where(cast.administrator, "edit_people").exists()
