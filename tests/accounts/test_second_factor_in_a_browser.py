"""Setting up an app and a passkey, and signing in with each, in a browser under the content policy."""

from typing import Any

import pytest
from django.core.cache import cache
from playwright.sync_api import Page, expect

from fleet.accounts.models import User
from tests.accounts.test_second_factor import PASSWORD, code_of
from tests.factories import UserFactory

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def person(db: None) -> User:
    cache.clear()
    user: User = UserFactory(name="Ada Voss")
    user.set_password(PASSWORD)
    user.save()
    return user


def sign_in(page: Page, site: str, user: User) -> None:
    page.goto(f"{site}/accounts/login/")
    page.locator("input[name=login]").fill(user.email)
    page.locator("input[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()


def test_an_app_is_set_up_and_then_asked_for(page: Page, live_server: Any, person: User) -> None:
    site = str(live_server.url)
    sign_in(page, site, person)
    page.goto(f"{site}/accounts/2fa/totp/activate/")
    square = page.locator("svg.qr").bounding_box()
    assert square is not None
    assert square["width"] > 100
    secret = page.locator(".factor-key").inner_text()
    page.get_by_label("Code that the app shows").fill(code_of(secret))
    page.get_by_role("button", name="Set up").click()
    expect(page.locator(".recovery-codes li")).to_have_count(10)
    page.get_by_role("button", name="Sign out").click()
    sign_in(page, site, person)
    expect(page.get_by_role("heading", name="Second step")).to_be_visible()
    page.get_by_label("Code", exact=True).fill(code_of(secret, 1))
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.goto(f"{site}/me/")
    expect(page.get_by_role("heading", name="Ada Voss")).to_be_visible()


@pytest.mark.parametrize("alone", [True, False])
def test_a_passkey_signs_in(page: Page, live_server: Any, person: User, alone: bool) -> None:
    site = str(live_server.url)
    assert "//localhost:" in site  # a passkey belongs to a name, and cannot belong to a bare address
    devices = page.context.new_cdp_session(page)
    devices.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2",
        "transport": "internal",
        "hasResidentKey": True,
        "hasUserVerification": True,
        "isUserVerified": True,
        "automaticPresenceSimulation": True,
    }
    devices.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    sign_in(page, site, person)
    page.goto(f"{site}/accounts/2fa/webauthn/add/")
    page.get_by_label("What you call it").fill("my phone")
    if alone:
        page.get_by_label("Sign in with it alone, without the password").check()
    page.get_by_role("button", name="Add the passkey").click()
    expect(page.locator(".recovery-codes li")).to_have_count(10)
    page.get_by_role("button", name="Sign out").click()
    if alone:
        page.goto(f"{site}/accounts/login/")
        page.get_by_role("button", name="Sign in with a passkey").click()
    else:
        sign_in(page, site, person)
        page.get_by_role("button", name="Use a passkey").click()
    page.wait_for_url(f"{site}/")
    page.goto(f"{site}/accounts/2fa/webauthn/")
    expect(page.get_by_role("rowheader", name="my phone")).to_be_visible()
