"""Guessing is slow, and whoever guesses shuts out nobody but themselves."""

from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from fleet.accounts import sign_in_limits
from fleet.accounts.models import User
from fleet.accounts.sign_in_limits import ACCOUNT_FROM_ADDRESS, ACCOUNT_FROM_ANYWHERE, ADDRESS, COOKIE, KNOWN_DEVICE
from tests.cast import Cast

PASSWORD = "nine-brass-cleats-4"
HOME, STRANGER = "192.0.2.10", "198.51.100.66"


@pytest.fixture(autouse=True)
def beyond_the_library(settings: Any) -> None:
    """What the library counts by itself per minute is not what is tried here."""
    cache.clear()
    settings.ACCOUNT_RATE_LIMITS = False


@pytest.fixture
def officer(cast: Cast) -> User:
    return with_password(cast.officer)


def with_password(user: User) -> User:
    user.set_password(PASSWORD)
    user.save()
    return user


def gets_in(user: User, password: str = PASSWORD, address: str = HOME, client: Client | None = None) -> bool:
    client = client or Client()
    told = {"login": user.email, "password": password}
    return client.post(reverse("account_login"), told, REMOTE_ADDR=address).status_code == 302


@pytest.mark.asvs("6.3.1")
def test_after_five_wrong_tries_from_one_address_the_right_one_is_not_heard(officer: User) -> None:
    for _ in range(ACCOUNT_FROM_ADDRESS.number):
        assert not gets_in(officer, "wrong", STRANGER)
    assert not gets_in(officer, PASSWORD, STRANGER)


@pytest.mark.asvs("6.3.1")
def test_the_owner_still_gets_in_from_elsewhere(officer: User) -> None:
    for _ in range(ACCOUNT_FROM_ADDRESS.number + 3):
        gets_in(officer, "wrong", STRANGER)
    assert gets_in(officer, address=HOME)


def test_right_tries_use_nothing_up(officer: User) -> None:
    assert all(gets_in(officer) for _ in range(ACCOUNT_FROM_ADDRESS.number + 3))


def test_a_right_password_in_between_does_not_start_the_count_afresh(cast: Cast, officer: User) -> None:
    """Who holds one account may not buy tries at another with it."""
    own = with_password(cast.master)
    for number in range(ACCOUNT_FROM_ADDRESS.number):
        assert not gets_in(officer, f"wrong {number}", STRANGER)
        assert gets_in(own, address=STRANGER)
    assert not gets_in(officer, PASSWORD, STRANGER)


def test_many_addresses_together_reach_the_ceiling_of_the_account(
    officer: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sign_in_limits, "ACCOUNT_FROM_ANYWHERE", sign_in_limits.Limit("few", 6, 3600))
    for number in range(6):
        gets_in(officer, "wrong", f"198.51.100.{number}")
    assert not gets_in(officer, PASSWORD, "198.51.100.200")


def test_one_address_alone_cannot_fill_the_count_of_an_account(officer: User, monkeypatch: pytest.MonkeyPatch) -> None:
    ceiling = ACCOUNT_FROM_ADDRESS.number + 1
    monkeypatch.setattr(sign_in_limits, "ACCOUNT_FROM_ANYWHERE", sign_in_limits.Limit("few", ceiling, 3600))
    for _ in range(2 * ceiling):
        gets_in(officer, "wrong", STRANGER)
    assert gets_in(officer, address=HOME)


def test_a_device_that_signed_in_before_is_beyond_that_ceiling_and_the_addresss(
    officer: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    known = Client()
    assert gets_in(officer, client=known)
    known.post(reverse("account_logout"))
    monkeypatch.setattr(sign_in_limits, "ACCOUNT_FROM_ANYWHERE", sign_in_limits.Limit("few", 2, 3600))
    for number in range(ADDRESS.number + 2):
        gets_in(officer, "wrong", HOME if number % 2 else f"198.51.100.{number}")
    assert not gets_in(officer, address="203.0.113.5")
    assert gets_in(officer, address=HOME, client=known)


def test_a_known_device_guesses_no_faster(officer: User) -> None:
    known = Client()
    gets_in(officer, client=known)
    known.post(reverse("account_logout"))
    for _ in range(KNOWN_DEVICE.number):
        assert not gets_in(officer, "wrong", client=known)
    assert not gets_in(officer, client=known)


def test_the_mark_of_a_device_counts_for_its_own_person_only(cast: Cast, officer: User) -> None:
    known, master = Client(), with_password(cast.master)
    gets_in(officer, client=known)
    known.post(reverse("account_logout"))
    for _ in range(ACCOUNT_FROM_ADDRESS.number):
        gets_in(master, "wrong", STRANGER, known)
    assert not gets_in(master, PASSWORD, STRANGER, known)


def test_a_forged_mark_is_none(officer: User) -> None:
    real = Client()
    gets_in(officer, client=real)
    forged = Client()
    forged.cookies[COOKIE] = real.cookies[COOKIE].value[:-3] + "abc"
    for _ in range(ACCOUNT_FROM_ADDRESS.number):
        gets_in(officer, "wrong", STRANGER, forged)
    assert not gets_in(officer, PASSWORD, STRANGER, forged)


def test_one_address_cannot_try_one_password_on_everyone(cast: Cast) -> None:
    everyone = [*cast.people.values(), *cast.foreign.values()]
    tries = 0
    while tries < ADDRESS.number:
        for person in everyone:
            gets_in(person, "summer-2026", STRANGER)
            tries += 1
    assert not gets_in(with_password(cast.people["manager"]), PASSWORD, STRANGER)


def test_a_forwarding_header_that_the_visitor_wrote_gives_no_further_tries(officer: User) -> None:
    client, told = Client(), {"login": officer.email, "password": "wrong"}
    for number in range(ACCOUNT_FROM_ADDRESS.number):
        forged = {"X-Forwarded-For": f"203.0.113.{number}"}
        client.post(reverse("account_login"), told, REMOTE_ADDR=STRANGER, headers=forged)
    told["password"] = PASSWORD
    answer = client.post(
        reverse("account_login"), told, REMOTE_ADDR=STRANGER, headers={"X-Forwarded-For": "203.0.113.99"}
    )
    assert answer.status_code == 200
    assert "Too many wrong tries" in answer.content.decode()


def test_the_ceiling_of_an_account_is_higher_than_that_of_one_address() -> None:
    per_hour = ACCOUNT_FROM_ADDRESS.number * 3600 / ACCOUNT_FROM_ADDRESS.seconds
    assert ACCOUNT_FROM_ANYWHERE.number * 3600 / ACCOUNT_FROM_ANYWHERE.seconds >= 5 * per_hour
