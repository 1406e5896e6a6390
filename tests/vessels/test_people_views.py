"""The pages about people: who is listed, who is added, and how roles and access are given and ended."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from fleet.accounts.models import Membership, User
from fleet.accounts.services import LAST_ADMINISTRATOR
from fleet.vessels.models import Vessel, VesselAccess
from tests.cast import Cast
from tests.factories import MembershipFactory, UserFactory, VesselAccessFactory

LIST = reverse("vessels:people_list")
NEW = reverse("vessels:person_new")
YESTERDAY = date.today() - timedelta(days=1)


def page_of(person: User) -> str:
    return reverse("vessels:person", args=[person.pk])


def words(response: Any) -> str:
    return response.content.decode()


def new_person(cast: Cast, **changes: Any) -> dict[str, Any]:
    return {
        "name": "Gus Ray",
        "rank": "second officer",
        "email": "gus@ship.example",
        "company": cast.company.pk,
        "role": "officer",
        "vessels": [cast.vessel.pk],
        **changes,
    }


@pytest.fixture
def admin_client(client: Client, cast: Cast) -> Client:
    client.force_login(cast.administrator)
    return client


def test_shore_people_see_the_companys_people_and_no_others(client: Client, cast: Cast) -> None:
    client.force_login(cast.manager)
    text = words(client.get(LIST))
    assert all(page_of(person) in text for person in cast.people.values())
    assert all(page_of(person) not in text for person in cast.foreign.values())
    assert NEW not in text


def test_ships_people_see_themselves(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    text = words(client.get(LIST))
    assert page_of(cast.officer) in text
    assert page_of(cast.master) not in text
    assert client.get(page_of(cast.master)).status_code == 404


def test_a_person_is_added_with_role_vessel_and_a_link_by_mail(admin_client: Client, cast: Cast) -> None:
    response = admin_client.post(NEW, new_person(cast))
    person = User.objects.get(email="gus@ship.example")
    assert response["Location"] == page_of(person)
    assert not person.has_usable_password()
    assert list(Vessel.objects.for_user(person)) == [cast.vessel]
    assert [message.to for message in mail.outbox] == [["gus@ship.example"]]
    shown = words(admin_client.get(page_of(person)))
    assert "on its way to gus@ship.example" in shown
    # The link signs in as that person: it is for their eyes alone.
    assert "/accounts/password/reset/key/" not in shown


def test_a_mail_that_fails_is_said_and_the_account_stands(admin_client: Client, cast: Cast, settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_PORT = 1  # nothing listens there
    response = admin_client.post(NEW, new_person(cast), follow=True)
    assert "could not be sent" in words(response)
    assert User.objects.filter(email="gus@ship.example").exists()


def test_the_link_can_be_sent_again_until_a_password_is_chosen(admin_client: Client, cast: Cast) -> None:
    admin_client.post(NEW, new_person(cast))
    person = User.objects.get(email="gus@ship.example")
    send = reverse("vessels:password_link", args=[person.pk])
    assert send in words(admin_client.get(page_of(person)))
    admin_client.post(send)
    assert len(mail.outbox) == 2
    person.set_password("a-long-password-1")
    person.save()
    assert send not in words(admin_client.get(page_of(person)))
    admin_client.post(send)
    assert len(mail.outbox) == 2


def test_somebody_of_another_company_gets_the_role_and_no_link(admin_client: Client, cast: Cast) -> None:
    other = cast.foreign["officer"]
    response = admin_client.post(NEW, new_person(cast, email=other.email), follow=True)
    assert "had an account already" in words(response)
    assert mail.outbox == []
    shown = response.context["roles"]
    assert [(role.membership.company, role.open_vessels) for role in shown] == [(cast.company, [cast.vessel.name])]


def test_a_refused_person_comes_back_with_the_words_and_everything_typed(admin_client: Client, cast: Cast) -> None:
    response = admin_client.post(NEW, new_person(cast, email="gus", role="auditor", until=""))
    text = words(response)
    assert not User.objects.filter(name="Gus Ray").exists()
    assert "An auditor&#x27;s access ends on a date" in text
    assert all(f'value="{typed}"' in text for typed in ("Gus Ray", "second officer", "gus"))
    assert 'value="auditor" selected' in text
    assert "checked" in text
    assert mail.outbox == []


def test_a_vessel_of_another_company_is_not_on_offer(admin_client: Client, cast: Cast) -> None:
    response = admin_client.post(NEW, new_person(cast, vessels=[cast.foreign_vessel.pk]))
    assert "vessels" in response.context["form"].errors
    assert cast.foreign_vessel.name not in words(admin_client.get(NEW))


def test_a_role_is_given_from_the_persons_page(admin_client: Client, cast: Cast) -> None:
    address = reverse("vessels:membership_give", args=[cast.officer.pk])
    values = {"company": cast.company.pk, "role": "master", "vessels": [cast.sister.pk], "until": "2099-01-01"}
    assert admin_client.post(address, values)["Location"] == page_of(cast.officer)
    assert set(Vessel.objects.for_user(cast.officer)) == {cast.vessel, cast.sister}


def test_a_refused_role_comes_back_on_the_persons_page(admin_client: Client, cast: Cast) -> None:
    address = reverse("vessels:membership_give", args=[cast.officer.pk])
    response = admin_client.post(address, {"company": cast.company.pk, "role": "master", "until": "2099-13-01"})
    text = words(response)
    assert response.status_code == 200
    assert 'href="#role_until"' in text
    assert 'value="2099-13-01"' in text
    assert not cast.officer.memberships.filter(role="master").exists()


def test_a_role_ends_with_yesterday_and_its_vessels_with_it(admin_client: Client, cast: Cast) -> None:
    membership = cast.officer.memberships.get()
    address = reverse("vessels:membership_end", args=[membership.pk])
    assert admin_client.post(address, {"until": YESTERDAY.isoformat()})["Location"] == page_of(cast.officer)
    membership.refresh_from_db()
    assert membership.until == YESTERDAY
    assert VesselAccess.objects.get(membership=membership).until == YESTERDAY
    assert "Ended on" in words(admin_client.get(page_of(cast.officer)))


def test_the_last_administrator_stays_and_is_told_why(admin_client: Client, cast: Cast) -> None:
    membership = cast.administrator.memberships.get()
    address = reverse("vessels:membership_end", args=[membership.pk])
    response = admin_client.post(address, {"until": YESTERDAY.isoformat()})
    assert escape(str(LAST_ADMINISTRATOR)) in words(response)
    membership.refresh_from_db()
    assert membership.until is None


def test_access_is_given_and_ended_from_the_persons_page(admin_client: Client, cast: Cast) -> None:
    membership = cast.officer.memberships.get()
    give = reverse("vessels:access_give", args=[cast.officer.pk])
    admin_client.post(give, {"membership": membership.pk, "vessel": cast.sister.pk})
    access = VesselAccess.objects.get(membership=membership, vessel=cast.sister)
    end = reverse("vessels:access_end", args=[access.pk])
    assert admin_client.post(end, {"until": YESTERDAY.isoformat()})["Location"] == page_of(cast.officer)
    assert list(Vessel.objects.for_user(cast.officer)) == [cast.vessel]


@pytest.mark.parametrize("foreign", ["vessel", "membership"])
def test_access_to_or_for_what_is_foreign_is_not_on_offer(admin_client: Client, cast: Cast, foreign: str) -> None:
    values = {"membership": cast.officer.memberships.get().pk, "vessel": cast.sister.pk}
    abroad = {"membership": cast.foreign["officer"].memberships.get().pk, "vessel": cast.foreign_vessel.pk}
    values[foreign] = abroad[foreign]
    count = VesselAccess.objects.count()
    response = admin_client.post(reverse("vessels:access_give", args=[cast.officer.pk]), values)
    assert foreign in response.context["access_form"].errors
    assert VesselAccess.objects.count() == count


def test_each_end_on_a_page_of_many_keeps_its_own_error(admin_client: Client, cast: Cast) -> None:
    membership = cast.officer.memberships.get()
    other = VesselAccessFactory(membership=membership, vessel=cast.sister)
    response = admin_client.post(reverse("vessels:access_end", args=[other.pk]), {"until": "2001-01-01"})
    text = words(response)
    assert text.count("Access can end yesterday at the earliest") == 2  # in the summary and beside the one field
    assert f'href="#end_{other.pk.hex}_until"' in text
    assert 'value="2001-01-01"' in text
    ids = [part.split('"')[0] for part in text.split(' id="')[1:]]
    assert len(ids) == len(set(ids))


def test_a_form_looked_at_by_its_own_address_shows_the_person_and_no_errors(admin_client: Client, cast: Cast) -> None:
    access = cast.officer.memberships.get().vessel_accesses.get()
    for name, key in (
        ("membership_give", cast.officer.pk),
        ("access_give", cast.officer.pk),
        ("access_end", access.pk),
    ):
        response = admin_client.get(reverse(f"vessels:{name}", args=[key]))
        assert response.status_code == 200
        assert "data-error-summary" not in words(response)


def test_roles_of_another_company_stay_out_of_sight_and_out_of_reach(admin_client: Client, cast: Cast) -> None:
    abroad = MembershipFactory(user=cast.officer, company=cast.foreign_company, role="master")
    assert cast.foreign_company.name not in words(admin_client.get(page_of(cast.officer)))
    address = reverse("vessels:membership_end", args=[abroad.pk])
    assert admin_client.post(address, {"until": YESTERDAY.isoformat()}).status_code == 404


def test_ones_own_page_shows_roles_vessels_and_the_way_to_a_new_password(client: Client, cast: Cast) -> None:
    MembershipFactory(user=cast.officer, company=cast.foreign_company, role="auditor", until=date(2099, 1, 1))
    client.force_login(cast.officer)
    text = words(client.get(reverse("vessels:me")))
    assert reverse("account_change_password") in text
    assert cast.vessel.name in text
    assert cast.foreign_company.name in text
    assert "until 1 January 2099" in text
    assert 'action="/people' not in text


def test_ones_own_page_without_a_role_says_whom_to_ask(client: Client, cast: Cast) -> None:
    client.force_login(cast.nobody)
    assert "administrator for a role" in words(client.get(reverse("vessels:me")))


@pytest.mark.parametrize("page", ["list", "person", "me"])
def test_pages_ask_no_more_of_the_database_for_twenty_rows_than_for_one(
    client: Client, cast: Cast, django_assert_max_num_queries: Callable[..., Any], page: str
) -> None:
    person = cast.officer
    client.force_login(person if page == "me" else cast.administrator)
    address = {"list": LIST, "person": page_of(person), "me": reverse("vessels:me")}[page]
    with django_assert_max_num_queries(60) as before:
        client.get(address)
    membership = person.memberships.get()
    for _ in range(20):
        VesselAccessFactory(membership=MembershipFactory(company=cast.company), vessel=cast.vessel)
        VesselAccessFactory(membership=membership, vessel__company=cast.company)
    with django_assert_max_num_queries(len(before.captured_queries)):
        client.get(address)


def test_a_person_whose_role_has_ended_is_listed_apart(admin_client: Client, cast: Cast) -> None:
    gone = MembershipFactory(company=cast.company, until=YESTERDAY, user=UserFactory(name="Long Gone"))
    response = admin_client.get(LIST)
    assert [row.person for row in response.context["without_role"]] == [gone.user]
    assert Membership.objects.filter(pk=gone.pk).exists()


def test_a_role_typed_before_the_sign_in_ran_out_is_still_in_the_form_and_not_given(client: Client, cast: Cast) -> None:
    client.force_login(cast.administrator)
    page = page_of(cast.officer)
    client.get(page)
    del client.cookies["sessionid"]
    values = {"company": cast.company.pk, "role": "master", "until": "2099-01-01", "vessels": [cast.sister.pk]}
    address = reverse("vessels:membership_give", args=[cast.officer.pk])
    away = client.post(address, values, headers={"referer": f"http://testserver{page}"})
    assert away["Location"].startswith(reverse("account_login"))
    client.force_login(cast.administrator)
    text = words(client.get(page))
    assert 'value="master" selected' in text
    assert 'value="2099-01-01"' in text
    assert not cast.officer.memberships.filter(role="master").exists()
