"""Sign-ins are listed and ended; accounts are closed, opened and put right, each with its entry."""

import pytest
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.accounts.account_services import (
    ANOTHER_COMPANY,
    LAST_ADMINISTRATOR,
    NO_REASON,
    NOT_ONESELF,
    account_close,
    account_open,
    person_correct,
    second_factor_forget,
)
from fleet.accounts.models import Role, User
from fleet.core.models import AuditEntry
from tests.cast import Cast
from tests.factories import MembershipFactory

PASSWORD = "nine-brass-cleats-4"
PAGE = "vessels:sign_ins"


@pytest.fixture
def officer(cast: Cast) -> User:
    cache.clear()
    cast.officer.set_password(PASSWORD)
    cast.officer.save()
    return cast.officer


def browser(user: User, name: str) -> Client:
    client = Client(headers={"User-Agent": name})
    client.post(reverse("account_login"), {"login": user.email, "password": PASSWORD})
    return client


def signed_in(client: Client) -> bool:
    return client.get(reverse("vessels:me")).status_code == 200


def last_entry() -> AuditEntry:
    entry = AuditEntry.objects.last()
    assert entry is not None
    return entry


def test_every_browser_is_listed_and_this_one_is_named(officer: User) -> None:
    bridge, phone = browser(officer, "Bridge computer"), browser(officer, "Phone")
    page = bridge.get(reverse(PAGE)).content.decode()
    assert "Bridge computer" in page
    assert "Phone" in page
    assert page.count("this one") == 1
    assert signed_in(phone)


@pytest.mark.asvs("7.5.2")
def test_one_sign_in_is_ended_from_another(officer: User) -> None:
    bridge, phone, cabin = (browser(officer, name) for name in ("Bridge", "Phone", "Cabin"))
    row = UserSession.objects.get(user_agent="Phone")
    bridge.post(reverse(PAGE), {"sign_in": row.pk})
    assert [signed_in(client) for client in (bridge, phone, cabin)] == [True, False, True]
    assert (last_entry().action, last_entry().after) == ("sign-ins ended", {"number": 1})


def test_all_others_are_ended_at_once(officer: User) -> None:
    bridge, phone, cabin = (browser(officer, name) for name in ("Bridge", "Phone", "Cabin"))
    bridge.post(reverse(PAGE))
    assert [signed_in(client) for client in (bridge, phone, cabin)] == [True, False, False]


@pytest.mark.parametrize("sign_in", ["0", "-1", "x", "²", "9" * 40])
def test_nobody_ends_another_persons_sign_in_or_something_that_is_none(cast: Cast, officer: User, sign_in: str) -> None:
    own = browser(officer, "Bridge")
    stranger = Client()
    stranger.force_login(cast.master)
    stranger.post(reverse(PAGE), {"sign_in": UserSession.objects.get().pk})
    assert stranger.post(reverse(PAGE), {"sign_in": sign_in}).status_code == 302
    assert signed_in(own)


@pytest.mark.asvs("7.4.3")
def test_a_new_password_ends_the_others_and_takes_them_off_the_list(officer: User) -> None:
    bridge, phone = browser(officer, "Bridge"), browser(officer, "Phone")
    new = "eight-steel-shackles-3"
    bridge.post(reverse("account_change_password"), {"oldpassword": PASSWORD, "password1": new, "password2": new})
    assert not signed_in(phone)
    assert "Phone" not in bridge.get(reverse(PAGE)).content.decode()


def test_when_it_was_last_seen_is_noted_now_and_then(officer: User) -> None:
    bridge = browser(officer, "Bridge")
    UserSession.objects.update(last_seen_at="2026-01-01T00:00:00Z", ip="192.0.2.1")
    session = bridge.session
    session["seen"] = 0
    session.save()
    bridge.get(reverse("vessels:me"))
    row = UserSession.objects.get()
    assert (timezone.now() - row.last_seen_at).total_seconds() < 60
    assert row.ip == "127.0.0.1"


# --- the administrator's acts -------------------------------------------------------------------------------------


@pytest.mark.asvs("7.4.2")
def test_a_closed_account_is_out_at_once_and_in_again_when_opened(cast: Cast, officer: User) -> None:
    phone = browser(officer, "Phone")
    companies = [cast.company]
    account_close(actor=cast.administrator, user=officer, companies=companies, reason="left the company")
    assert not signed_in(phone)
    assert not signed_in(browser(officer, "Phone"))
    entry = AuditEntry.objects.get(action="account closed")
    assert (entry.before, entry.after, entry.reason) == (
        {"may_sign_in": True},
        {"may_sign_in": False},
        "left the company",
    )
    account_open(actor=cast.administrator, user=officer, companies=companies, reason="is back")
    assert signed_in(browser(officer, "Phone"))
    assert not signed_in(phone)


def test_nobody_closes_the_own_account_or_the_last_administrators(cast: Cast) -> None:
    told = {"companies": [cast.company], "reason": "a reason"}
    with pytest.raises(ValidationError) as refused:
        account_close(actor=cast.administrator, user=cast.administrator, **told)
    assert refused.value.messages == [NOT_ONESELF]
    with pytest.raises(ValidationError) as refused:
        account_close(actor=cast.superintendent, user=cast.administrator, **told)
    assert refused.value.messages == [LAST_ADMINISTRATOR]


def test_a_person_of_two_companies_is_changed_by_neither_alone(cast: Cast) -> None:
    MembershipFactory(user=cast.officer, company=cast.foreign_company, role=Role.MANAGER)
    for service in (account_close, second_factor_forget):
        with pytest.raises(ValidationError) as refused:
            service(actor=cast.administrator, user=cast.officer, companies=[cast.company], reason="a reason")
        assert refused.value.messages == [ANOTHER_COMPANY]
    cast.officer.refresh_from_db()
    assert cast.officer.is_active


def test_a_name_is_put_right_with_what_stood_before(client: Client, cast: Cast) -> None:
    client.force_login(cast.administrator)
    page = reverse("vessels:person_correct", args=[cast.officer.pk])
    before = {"name": cast.officer.name, "rank": cast.officer.rank}
    client.post(page, {"name": "Ada Voss", "rank": "chief officer", "reason": "misspelt"})
    cast.officer.refresh_from_db()
    assert (cast.officer.name, cast.officer.rank) == ("Ada Voss", "chief officer")
    assert (last_entry().action, last_entry().before) == ("person corrected", before)
    assert last_entry().after == {"name": "Ada Voss", "rank": "chief officer"}


def test_without_a_reason_what_was_typed_comes_back(client: Client, cast: Cast) -> None:
    client.force_login(cast.administrator)
    page = reverse("vessels:person_correct", args=[cast.officer.pk])
    answer = client.post(page, {"name": "Ada Voss", "rank": "", "reason": ""})
    assert "Ada Voss" in answer.content.decode()
    with pytest.raises(ValidationError) as refused:
        person_correct(
            actor=cast.administrator, user=cast.officer, companies=[cast.company], name="x", rank="", reason=" "
        )
    assert refused.value.message_dict == {"reason": [NO_REASON]}


@pytest.mark.asvs("6.4.4")
def test_a_lost_factor_is_forgotten_with_an_entry_and_sign_ins_end(cast: Cast, officer: User) -> None:
    phone = browser(officer, "Phone")
    Authenticator.objects.create(user=officer, type="totp", data={"secret": "sealed"})
    client = Client()
    client.force_login(cast.administrator)
    client.post(reverse("vessels:factor_forget", args=[officer.pk]), {"reason": "phone went overboard; called back"})
    assert not Authenticator.objects.filter(user=officer).exists()
    assert not signed_in(phone)
    entry = AuditEntry.objects.get(action="second factor forgotten")
    assert (entry.before, entry.reason) == ({"kinds": ["totp"]}, "phone went overboard; called back")
