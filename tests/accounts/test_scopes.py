"""Who sees which company, role and person; what has ended shows nothing."""

from datetime import date, timedelta

import pytest
from django.contrib.auth.models import AnonymousUser

from fleet.accounts.models import Company, Membership, User
from tests.cast import Cast
from tests.factories import MembershipFactory, UserFactory

SHORE = ["superintendent", "manager", "administrator"]
SHIP_AND_AUDITOR = ["officer", "engineer", "master", "auditor"]
YESTERDAY = date.today() - timedelta(days=1)


@pytest.mark.parametrize("role", SHORE)
def test_shore_people_see_the_roles_of_their_company_alone(cast: Cast, role: str) -> None:
    seen = Membership.objects.for_user(cast.people[role])
    assert set(seen) == set(Membership.objects.filter(company=cast.company))
    assert not seen.filter(company=cast.foreign_company).exists()


@pytest.mark.parametrize("role", SHIP_AND_AUDITOR)
def test_everyone_else_sees_only_their_own_roles(cast: Cast, role: str) -> None:
    person = cast.people[role]
    assert set(Membership.objects.for_user(person)) == set(person.memberships.all())
    assert set(User.objects.for_user(person)) == {person}


def test_a_person_of_two_companies_is_seen_by_each_with_that_companys_roles_only(cast: Cast) -> None:
    abroad = MembershipFactory(user=cast.officer, company=cast.foreign_company, role="master")
    assert abroad not in Membership.objects.for_user(cast.administrator)
    assert list(Membership.objects.for_user(cast.foreign["administrator"]).filter(user=cast.officer)) == [abroad]
    assert cast.officer in User.objects.for_user(cast.foreign["administrator"])
    assert set(Company.objects.for_user(cast.officer)) == {cast.company, cast.foreign_company}


@pytest.mark.parametrize("how", ["role ended", "may not sign in", "no role", "anonymous"])
def test_whoever_has_no_role_today_sees_no_company(cast: Cast, how: str) -> None:
    person: object = cast.superintendent
    if how == "role ended":
        cast.superintendent.memberships.update(until=YESTERDAY)
    elif how == "may not sign in":
        User.objects.filter(pk=cast.superintendent.pk).update(is_active=False)
    else:
        person = AnonymousUser() if how == "anonymous" else cast.nobody
    assert not Company.objects.for_user(person).exists()
    assert cast.officer not in User.objects.for_user(person)
    assert not Membership.objects.for_user(person).exclude(user=cast.superintendent).exists()


def test_a_role_holds_on_its_last_day(cast: Cast) -> None:
    person = UserFactory()
    MembershipFactory(user=person, company=cast.company, role="manager", until=date.today())
    assert list(Company.objects.for_user(person)) == [cast.company]
