"""A second factor: set up, asked for, sealed at rest, and required where the company says so."""

import re
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import format_hotp_value, hotp_value, yield_hotp_counters_from_time
from cryptography.fernet import Fernet
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from fleet.accounts.duty_services import SAME_AS_BEFORE, duties_of, second_factor_require
from fleet.accounts.factor_adapter import SealedFactors
from fleet.accounts.models import User
from fleet.core.models import AuditEntry
from tests.cast import Cast

PASSWORD = "nine-brass-cleats-4"


def with_password(user: User) -> User:
    user.set_password(PASSWORD)
    user.save()
    return user


def sign_in(client: Client, user: User) -> str:
    """Type address and password; where that leads."""
    answer = client.post(reverse("account_login"), {"login": user.email, "password": PASSWORD})
    return str(answer.headers.get("Location", ""))


def code_of(secret: str, step: int = 0) -> str:
    """The code an app shows for this key; `step` half minutes from now."""
    now = list(yield_hotp_counters_from_time())
    return format_hotp_value(hotp_value(secret, now[len(now) // 2] + step))


def enrol(client: Client) -> str:
    """Set up an app as the signed-in person; its key."""
    page = client.get(reverse("mfa_activate_totp")).content.decode()
    found = re.search(r'<code class="factor-key">([A-Z2-7]+)</code>', page)
    assert found
    answer = client.post(reverse("mfa_activate_totp"), {"code": code_of(found[1])})
    assert answer.headers["Location"] == reverse("mfa_view_recovery_codes")
    return found[1]


@pytest.fixture(autouse=True)
def a_fresh_count() -> None:
    """How many tries one address had in other tests is not what is tried here."""
    cache.clear()


@pytest.fixture
def officer(cast: Cast) -> User:
    return with_password(cast.officer)


@pytest.fixture
def at_home(client: Client, officer: User) -> Client:
    sign_in(client, officer)
    return client


# RFC 6238, appendix B, the rows for SHA-1: eight digits there, of which six are the last ones.
@pytest.mark.parametrize(
    ("seconds", "digits"),
    [(59, "94287082"), (1111111109, "07081804"), (1234567890, "89005924"), (20000000000, "65353130")],
)
def test_the_codes_are_those_of_the_published_standard(seconds: int, digits: str) -> None:
    key = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"  # the standard's key 12345678901234567890 in base 32
    assert format_hotp_value(hotp_value(key, seconds // 30)) == digits[-6:]


def test_after_setting_up_the_password_alone_no_longer_signs_in(at_home: Client, officer: User) -> None:
    secret = enrol(at_home)
    other = Client()
    assert sign_in(other, officer) == reverse("mfa_authenticate")
    assert other.get(reverse("vessels:me")).status_code == 302
    wrong = other.post(reverse("mfa_authenticate"), {"code": "000000"})
    assert wrong.status_code == 200
    assert other.get(reverse("vessels:me")).status_code == 302
    other.post(reverse("mfa_authenticate"), {"code": code_of(secret, 1)})
    assert other.get(reverse("vessels:me")).status_code == 200


@pytest.mark.asvs("6.5.1")
def test_a_code_works_once(at_home: Client, officer: User) -> None:
    code = code_of(enrol(at_home), 1)
    for signed_in in (200, 302):
        other = Client()
        sign_in(other, officer)
        other.post(reverse("mfa_authenticate"), {"code": code})
        assert other.get(reverse("vessels:me")).status_code == signed_in


@pytest.mark.asvs("6.5.1")
def test_a_recovery_code_signs_in_once(at_home: Client, officer: User) -> None:
    enrol(at_home)
    page = at_home.get(reverse("mfa_view_recovery_codes")).content.decode()
    codes = re.findall(r"<li><code>(\d+)</code>", page)
    assert len(set(codes)) == 10
    for signed_in in (200, 302):
        other = Client()
        sign_in(other, officer)
        other.post(reverse("mfa_authenticate"), {"code": codes[0]})
        assert other.get(reverse("vessels:me")).status_code == signed_in


def test_the_key_is_sealed_at_rest_and_opens_for_its_owner_alone(at_home: Client, officer: User) -> None:
    secret = enrol(at_home)
    for row in Authenticator.objects.filter(user=officer):
        assert secret not in str(row.data)
    kept = Authenticator.objects.get(user=officer, type="totp").data["secret"]
    assert SealedFactors().decrypt(kept) == secret


def test_a_new_key_seals_and_the_old_one_still_opens(settings: object) -> None:
    old, new = Fernet.generate_key().decode(), Fernet.generate_key().decode()
    settings.FACTOR_KEYS = [old]  # type: ignore[attr-defined]
    kept = SealedFactors().encrypt("a secret")
    settings.FACTOR_KEYS = [new, old]  # type: ignore[attr-defined]
    assert SealedFactors().decrypt(kept) == "a secret"
    again = SealedFactors().encrypt("a secret")
    assert Fernet(new).decrypt(again.encode()) == b"a secret"


def test_the_square_is_part_of_the_page_and_no_policy_stands_in_its_way(at_home: Client) -> None:
    answer = at_home.get(reverse("mfa_activate_totp"))
    page = answer.content.decode()
    assert '<svg class="qr"' in page
    assert "data:" not in page
    assert "no-store" in answer.headers["Cache-Control"]


def test_setting_up_and_removing_stand_in_the_audit_without_the_key(
    at_home: Client, officer: User, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        secret = enrol(at_home)
    with django_capture_on_commit_callbacks(execute=True):
        at_home.post(reverse("mfa_deactivate_totp"))
    entries = AuditEntry.objects.filter(subject_id=officer.pk, action__startswith="second factor")
    assert sorted((row.action, row.after["kind"]) for row in entries if row.after) == [
        ("second factor added", "authenticator app"),
        ("second factor added", "recovery codes"),
        ("second factor removed", "authenticator app"),
        ("second factor removed", "recovery codes"),
    ]
    assert secret not in str([row.after for row in entries])


# --- required by the company --------------------------------------------------------------------------------------


@pytest.mark.asvs("6.3.3")
def test_who_must_and_has_none_is_led_to_it_before_anything_else(at_home: Client, cast: Cast) -> None:
    second_factor_require(actor=cast.administrator, company=cast.company, roles=["officer"])
    for name in ("home", "vessels:me", "vessels:vessel_list", "practice:start"):
        assert at_home.get(reverse(name)).headers["Location"] == reverse("mfa_index"), name
    by_htmx = at_home.get(reverse("vessels:me"), headers={"HX-Request": "true"})
    assert by_htmx.headers["HX-Redirect"] == reverse("mfa_index")
    enrol(at_home)
    assert at_home.get(reverse("vessels:me")).status_code == 200


def test_only_the_named_roles_of_that_company_must(client: Client, cast: Cast) -> None:
    second_factor_require(actor=cast.administrator, company=cast.company, roles=["officer"])
    for person in (cast.master, cast.administrator, cast.foreign["officer"]):
        client.force_login(person)
        assert client.get(reverse("vessels:me")).status_code == 200
    client.force_login(cast.sister_officer)  # type: ignore[arg-type]
    assert client.get(reverse("vessels:me")).headers["Location"] == reverse("mfa_index")


def test_a_role_that_has_ended_asks_for_nothing(client: Client, cast: Cast) -> None:
    second_factor_require(actor=cast.administrator, company=cast.company, roles=["officer"])
    role = cast.officer.memberships.get()
    role.until = role.company.memberships.model._meta.get_field("until").to_python("2020-01-01")
    role.save()
    client.force_login(cast.officer)
    assert client.get(reverse("vessels:me")).status_code == 200


def test_what_was_typed_before_waits_until_the_factor_is_set_up(at_home: Client, cast: Cast, officer: User) -> None:
    second_factor_require(actor=cast.administrator, company=cast.company, roles=["officer"])
    page = reverse("records:round_new", args=[cast.vessel.pk])
    at_home.post(page, {"people": "Ada Voss, chief officer"})
    enrol(at_home)
    assert "Ada Voss, chief officer" in at_home.get(page).content.decode()


def test_the_last_factor_cannot_be_removed_by_who_must_have_one(at_home: Client, cast: Cast, officer: User) -> None:
    enrol(at_home)
    second_factor_require(actor=cast.administrator, company=cast.company, roles=["officer"])
    at_home.post(reverse("mfa_deactivate_totp"))
    assert Authenticator.objects.filter(user=officer, type="totp").exists()


def test_recovery_codes_alone_are_no_second_factor(at_home: Client, cast: Cast, officer: User) -> None:
    second_factor_require(actor=cast.administrator, company=cast.company, roles=["officer"])
    at_home.post(reverse("mfa_generate_recovery_codes"))
    assert not Authenticator.objects.filter(user=officer).exists()


def test_the_setting_is_in_the_audit_and_nothing_is_written_for_no_change(cast: Cast) -> None:
    second_factor_require(actor=cast.administrator, company=cast.company, roles=["master", "administrator"])
    assert duties_of(cast.company) == ["administrator", "master"]
    entry = AuditEntry.objects.last()
    assert entry is not None
    assert (entry.before, entry.after) == ({"roles": []}, {"roles": ["administrator", "master"]})
    with pytest.raises(ValidationError) as refused:
        second_factor_require(actor=cast.administrator, company=cast.company, roles=["administrator", "master"])
    assert refused.value.messages == [SAME_AS_BEFORE]


def test_a_passkey_that_is_none_is_refused_in_words(client: Client, db: None) -> None:
    for junk in ("", "null", "[]", '"x"', '{"id": "x"}', '{"response": {}}', "{"):
        cache.clear()
        answer = client.post(reverse("mfa_login_webauthn"), {"credential": junk})
        assert answer.headers["Location"] == reverse("account_login"), junk


@pytest.mark.asvs("7.5.1")
def test_how_long_ago_a_password_was_typed_counts_before_a_change(client: Client, officer: User) -> None:
    client.force_login(officer)  # no password typed in this session
    answer = client.get(reverse("mfa_activate_totp"))
    assert answer.headers["Location"].startswith(reverse("account_reauthenticate"))
    client.post(answer.headers["Location"], {"password": PASSWORD})
    assert client.get(reverse("mfa_activate_totp")).status_code == 200


def test_words_that_no_browser_sends_add_no_passkey(at_home: Client, officer: User) -> None:
    at_home.get(reverse("mfa_add_webauthn"))
    for junk in ("null", "[]", '{"id": "x"}', '{"id": 1, "rawId": 2, "response": {}, "type": "public-key"}'):
        answer = at_home.post(reverse("mfa_add_webauthn"), {"name": "my phone", "credential": junk})
        assert answer.status_code == 200, junk
        assert "my phone" in answer.content.decode()
    assert not Authenticator.objects.filter(user=officer).exists()
