"""What keeps strangers out before any page is reached: settings, headers, cookies, sizes, passwords."""

import json
import os
import secrets
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from fleet.accounts.models import User
from fleet.core.fields import QuantityField
from tests.cast import Cast
from tests.shape import ROOT

SHOWN = (
    "SESSION_COOKIE_SECURE",
    "CSRF_COOKIE_SECURE",
    "SESSION_COOKIE_HTTPONLY",
    "CSRF_COOKIE_HTTPONLY",
    "SESSION_COOKIE_SAMESITE",
    "SESSION_COOKIE_NAME",
    "CSRF_COOKIE_NAME",
    "SECURE_HSTS_SECONDS",
    "SECURE_HSTS_INCLUDE_SUBDOMAINS",
    "SECURE_SSL_REDIRECT",
    "DEBUG",
    "PASSWORD_HASHERS",
    "PROXY_DEPTH",
)


def production(folder: Path, *arguments: str, **changed: str | None) -> subprocess.CompletedProcess[str]:
    """Run Python in the settings of a real site; a variable given as None is left out."""
    told: dict[str, str | None] = {
        "FLEET_ENV": "given",
        "FLEET_MODE": "production",
        "FLEET_VAR": str(folder),
        "FLEET_SECRET_KEY": secrets.token_urlsafe(60),
        "FLEET_ALLOWED_HOSTS": "tests.example",
        "SITE_URL": "https://tests.example",
        "DJANGO_SETTINGS_MODULE": "fleet.settings",
        **changed,
    }
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("FLEET_", "DJANGO_", "DATABASE"))}
    environment = kept | {name: value for name, value in told.items() if value is not None}
    return subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, env=environment, capture_output=True, text=True, timeout=120
    )


@pytest.fixture(scope="module")
def settings_of_production(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    code = (
        "import json, django; django.setup(); from django.conf import settings; "
        f"print(json.dumps({{name: getattr(settings, name) for name in {SHOWN!r}}}))"
    )
    done = production(tmp_path_factory.mktemp("production"), "-c", code, FLEET_BEHIND_PROXY="yes")
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


@pytest.mark.asvs("13.4.2")
def test_the_frameworks_own_check_of_a_real_site_finds_nothing(tmp_path: Path) -> None:
    done = production(tmp_path, "manage.py", "check", "--deploy", "--fail-level", "WARNING")
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout + done.stderr


@pytest.mark.asvs("13.2.3")
def test_a_real_site_does_not_start_without_a_secret_of_its_own(tmp_path: Path) -> None:
    code = "import fleet.wsgi"
    assert production(tmp_path, "-c", code).returncode == 0
    refused = production(tmp_path, "-c", code, FLEET_SECRET_KEY=None)
    assert refused.returncode != 0
    assert "SECRET_KEY" in refused.stderr
    assert not (tmp_path / "secret_key").exists()


def test_a_secret_may_come_from_a_file(tmp_path: Path) -> None:
    kept = tmp_path / "secret"
    kept.write_text(secrets.token_urlsafe(60) + "\n")
    done = production(tmp_path, "-c", "import fleet.wsgi", FLEET_SECRET_KEY=None, FLEET_SECRET_KEY_FILE=str(kept))
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("depth", ["-1", "two"])
def test_a_proxy_depth_that_is_none_is_refused_at_the_start(tmp_path: Path, depth: str) -> None:
    done = production(tmp_path, "-c", "import fleet.wsgi", FLEET_PROXY_DEPTH=depth)
    assert done.returncode != 0
    assert "FLEET_PROXY_DEPTH" in done.stderr


@pytest.mark.asvs("3.3.2", "3.3.4")
def test_cookies_of_a_real_site_go_over_https_only_and_to_no_script(settings_of_production: dict[str, Any]) -> None:
    found = settings_of_production
    assert found["SESSION_COOKIE_SECURE"]
    assert found["CSRF_COOKIE_SECURE"]
    assert found["SESSION_COOKIE_HTTPONLY"]
    assert found["CSRF_COOKIE_HTTPONLY"]
    assert found["SESSION_COOKIE_SAMESITE"] == "Lax"
    assert found["SESSION_COOKIE_NAME"].startswith("__Host-")
    assert found["CSRF_COOKIE_NAME"].startswith("__Host-")


@pytest.mark.asvs("3.4.1")
def test_browsers_are_told_to_come_by_https_for_a_year(settings_of_production: dict[str, Any]) -> None:
    assert settings_of_production["SECURE_HSTS_SECONDS"] >= 365 * 24 * 3600
    assert settings_of_production["SECURE_HSTS_INCLUDE_SUBDOMAINS"]
    assert settings_of_production["SECURE_SSL_REDIRECT"]
    assert not settings_of_production["DEBUG"]
    assert settings_of_production["PROXY_DEPTH"] == 1


def test_passwords_of_a_real_site_are_kept_by_argon2(settings_of_production: dict[str, Any]) -> None:
    assert settings_of_production["PASSWORD_HASHERS"][0].endswith(".Argon2PasswordHasher")


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["account_login", "certificates:verify", "account_reset_password"])
@pytest.mark.asvs("3.4.3", "3.4.4", "3.4.5", "3.4.6")
def test_every_answer_says_what_a_browser_may_do_with_it(client: Client, name: str) -> None:
    answer = client.get(reverse(name))
    policy = {
        words[0]: words[1:] for part in answer.headers["Content-Security-Policy"].split(";") if (words := part.split())
    }
    assert policy["default-src"] == ["'none'"]
    for kind in ("script-src", "style-src", "form-action"):
        assert policy[kind] == ["'self'"], kind
    for kind in ("object-src", "base-uri", "frame-ancestors"):
        assert policy[kind] == ["'none'"], kind
    assert "unsafe" not in answer.headers["Content-Security-Policy"]
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "same-origin"


@pytest.mark.django_db
@pytest.mark.asvs("5.2.1")
def test_a_form_that_is_too_large_is_refused_and_nothing_breaks(client: Client) -> None:
    page = reverse("account_login")
    assert client.post(page, {"login": "x" * 3_000_000}).status_code == 400
    assert client.post(page, {f"field{number}": "" for number in range(1100)}).status_code == 400
    files = {f"file{number}": SimpleUploadedFile("a.txt", b"a") for number in range(110)}
    assert client.post(page, files).status_code == 400


@pytest.mark.asvs("1.3.2")
@pytest.mark.parametrize("unit", ["kN**9**9", "__import__('os')", "kN kN", "1e9*kN", "newton", ""])
def test_a_unit_is_looked_up_in_the_list_and_never_worked_out(unit: str) -> None:
    field = QuantityField("force", offer=("kN", "tf"))
    with pytest.raises(ValidationError):
        field.clean(["5", unit])


# --- passwords ----------------------------------------------------------------------------------------------------


@pytest.fixture
def officer(client: Client, cast: Cast) -> User:
    cast.officer.set_password("nine-brass-cleats-4")
    cast.officer.save()
    client.post(reverse("account_login"), {"login": cast.officer.email, "password": "nine-brass-cleats-4"})
    return cast.officer


def changed(client: Client, officer: User, new: str, old: str = "nine-brass-cleats-4") -> bool:
    told = {"oldpassword": old, "password1": new, "password2": new}
    client.post(reverse("account_change_password"), told)
    officer.refresh_from_db()
    return officer.check_password(new)


@pytest.mark.asvs("6.2.1", "6.2.4")
@pytest.mark.parametrize("poor", ["short-1", "password123", "1234567890", "qwertyuiop"])
def test_a_short_or_common_password_is_refused(client: Client, officer: User, poor: str) -> None:
    assert not changed(client, officer, poor)


@pytest.mark.asvs("6.2.2", "6.2.3", "6.2.5", "6.2.9")
@pytest.mark.parametrize("good", ["onlysmallletterswithoutanydigit", "  spaces kept  too  ", "ü" * 64 + "ß9"])
def test_a_long_password_of_any_kind_is_taken_with_the_old_one(client: Client, officer: User, good: str) -> None:
    assert not changed(client, officer, good, old="wrong")
    assert changed(client, officer, good)


@pytest.mark.asvs("7.2.4")
def test_the_mark_of_a_session_is_a_new_one_after_the_sign_in(client: Client, cast: Cast) -> None:
    cast.officer.set_password("nine-brass-cleats-4")
    cast.officer.save()
    session = client.session
    session["put here by"] = "somebody who knows the mark"
    session.save()
    before = session.session_key
    client.post(reverse("account_login"), {"login": cast.officer.email, "password": "nine-brass-cleats-4"})
    assert client.get(reverse("vessels:me")).status_code == 200
    assert client.session.session_key != before
