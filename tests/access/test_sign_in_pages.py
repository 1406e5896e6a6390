"""Of the sign-in library's pages only those for signing in and out and for passwords are open; nobody signs up."""

import pytest
from django.test import Client
from django.urls import resolve, reverse

from fleet.accounts.closed import closed
from fleet.accounts.models import User
from tests.access.addresses import all_patterns, is_of_the_sign_in_library
from tests.cast import Cast

# The second step of a sign-in and the passkey's own way in: whoever has begun neither is led back to the first page.
FOR_WHO_HAS_BEGUN = {"mfa_authenticate", "mfa_login_webauthn"}
FOR_ANYONE = {
    "account_login",
    "account_inactive",
    "account_reset_password",
    "account_reset_password_done",
    "account_reset_password_from_key",
    "account_reset_password_from_key_done",
}
FOR_THE_SIGNED_IN = {"account_logout", "account_change_password", "account_set_password", "account_reauthenticate"}
OWN_FACTORS = {
    "mfa_index",
    "mfa_reauthenticate",
    "mfa_activate_totp",
    "mfa_deactivate_totp",
    "mfa_view_recovery_codes",
    "mfa_generate_recovery_codes",
    "mfa_download_recovery_codes",
    "mfa_list_webauthn",
    "mfa_add_webauthn",
    "mfa_reauthenticate_webauthn",
    "mfa_remove_webauthn",
    "mfa_edit_webauthn",
}
CLOSED = {"account_email", "account_email_verification_sent", "account_confirm_email", "account_confirm_login_code"}
CLOSED |= {"usersessions_list"}
SIGN_UP = "account_signup"
PARTS = {"account_confirm_email": {"key": "abc"}, "account_reset_password_from_key": {"uidb36": "1", "key": "a-b"}}
PARTS |= {name: {"pk": "1"} for name in ("mfa_remove_webauthn", "mfa_edit_webauthn")}


def url(name: str) -> str:
    return reverse(name, kwargs=PARTS.get(name))


def test_every_page_of_the_library_is_open_on_purpose_or_shut() -> None:
    names = {name for name, pattern, _parts in all_patterns() if is_of_the_sign_in_library(pattern)}
    assert names == FOR_ANYONE | FOR_WHO_HAS_BEGUN | FOR_THE_SIGNED_IN | OWN_FACTORS | CLOSED | {SIGN_UP}
    assert {name for name in names if resolve(url(name)).func is closed} == CLOSED


@pytest.mark.parametrize("name", sorted(CLOSED))
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_shut_page_is_not_there_for_anyone(client: Client, cast: Cast, name: str, method: str) -> None:
    assert getattr(client, method)(url(name)).status_code == 404
    client.force_login(cast.administrator)
    assert getattr(client, method)(url(name), {"email": "other@ship.example", "action_add": ""}).status_code == 404


@pytest.mark.parametrize("name", sorted(FOR_ANYONE))
def test_the_pages_before_the_sign_in_are_open(client: Client, db: None, name: str) -> None:
    assert client.get(url(name)).status_code == 200


@pytest.mark.parametrize("name", sorted(FOR_THE_SIGNED_IN | OWN_FACTORS | FOR_WHO_HAS_BEGUN))
@pytest.mark.parametrize("method", ["get", "post"])
def test_the_pages_behind_the_sign_in_lead_to_it(client: Client, db: None, name: str, method: str) -> None:
    answer = getattr(client, method)(url(name))
    assert answer.status_code == 302
    assert answer["Location"].startswith(url("account_login"))


def test_nobody_signs_up(client: Client, db: None) -> None:
    page = client.get(url(SIGN_UP)).content.decode()
    assert "<input" not in page.split("<main", 1)[1]
    typed = {"email": "new@ship.example", "password1": "a-long-password-1", "password2": "a-long-password-1"}
    client.post(url(SIGN_UP), typed)
    assert not User.objects.filter(email=typed["email"]).exists()


def test_a_person_cannot_give_themselves_another_address(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    for action in ("action_add", "action_primary"):
        client.post("/accounts/email/", {"email": "other@ship.example", action: ""})
    cast.officer.refresh_from_db()
    assert cast.officer.email != "other@ship.example"
    assert not client.login(email="other@ship.example", password="a-long-password-1")


def test_who_may_not_sign_in_any_more_is_not_let_in(client: Client, cast: Cast) -> None:
    User.objects.filter(pk=cast.officer.pk).update(is_active=False)
    client.post(url("account_login"), {"login": cast.officer.email, "password": "a-long-password-1"})
    assert client.get(reverse("home"))["Location"].startswith(url("account_login"))
