"""Where signing keys come from, which of them signs, and what is refused in words."""

import os
import stat
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from django.conf import settings as django_settings
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.core.management.base import CommandError

from fleet.certificates.signing_files import authority_make, pem_of, signing_make, write_new
from fleet.certificates.signing_keys import authorities_of, known_keys, signer_for

NOW = datetime.now(UTC)
NEW = ("signing_key", "new", "--company", "Inner Harbour Towage", "--short-code", "IHT")


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    settings.SIGNING_FOLDER = tmp_path
    return tmp_path


def called(*words: str) -> str:
    out = StringIO()
    call_command(*words, stdout=out)
    return out.getvalue()


def test_a_demo_key_calls_itself_one_and_is_made_once(folder: Path) -> None:
    first = signer_for(company_code="LFD", company_name="Lantern Freight")
    second = signer_for(company_code="LFD", company_name="Lantern Freight")
    assert first
    assert second
    assert first.certificate == second.certificate
    assert first.name == "DEMO, not a real company: Lantern Freight"
    assert first.authority.is_demo
    (file,) = folder.glob("*.pem")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_in_production_no_key_is_made_and_a_demo_key_signs_nothing(settings: Any) -> None:
    assert signer_for(company_code="LFD", company_name="Lantern Freight")
    settings.SIGNING_MAKES_DEMO_KEYS = False
    assert signer_for(company_code="LFD", company_name="Lantern Freight") is None
    assert signer_for(company_code="KS", company_name="Other") is None


def test_the_command_makes_an_authority_once_and_a_key_each_time(folder: Path) -> None:
    first, second = called(*NEW), called(*NEW, "--years", "1")
    assert "New authority" in first
    assert "New authority" not in second
    known = known_keys()
    assert len(known.authorities) == 1
    assert len(known.identities) == 2
    assert known.authorities[0].fingerprint in first
    assert known.authorities[0].valid_until - NOW > timedelta(days=29 * 365)
    assert "signs now" in called("signing_key", "list")


def test_a_real_key_goes_before_a_demo_key_and_the_newest_before_those_in_reserve() -> None:
    signer_for(company_code="IHT", company_name="Inner Harbour Towage")
    called(*NEW)
    signer = signer_for(company_code="IHT", company_name="Inner Harbour Towage")
    assert signer
    assert not signer.authority.is_demo
    later = known_keys().signer("IHT", at=NOW + timedelta(days=5 * 365))
    assert later is None  # every key has run out by then


def test_with_the_authoritys_key_kept_elsewhere_it_is_asked_for(folder: Path, tmp_path: Path) -> None:
    called(*NEW)
    (key,) = folder.glob("*.key")
    safe = tmp_path / "safe"
    safe.mkdir()
    moved = key.rename(safe / key.name)
    with pytest.raises(CommandError, match="--authority-key FILE"):
        called(*NEW)
    called(*NEW, "--authority-key", str(moved))
    assert len(known_keys().identities) == 2
    assert len(known_keys().authorities) == 1


def test_keys_locked_by_a_password_need_it(settings: Any) -> None:
    settings.SIGNING_PASSWORD = "a long one of our own"
    called(*NEW)
    assert known_keys().identities
    settings.SIGNING_PASSWORD = ""
    with pytest.raises(ImproperlyConfigured, match="FLEET_SIGNING_PASSWORD"):
        known_keys()


def test_a_key_may_come_through_the_environment_alone(settings: Any) -> None:
    key, authority = authority_make(name="Own authority", company_code="IHT", at=NOW)
    own, certificate = signing_make(
        name="Certificates", company_name="Inner Harbour", company_code="IHT", key=key, authority=authority, at=NOW
    )
    settings.SIGNING_BUNDLE = (pem_of(own) + pem_of(certificate) + pem_of(authority)).decode()
    signer = signer_for(company_code="IHT", company_name="Inner Harbour")
    assert signer
    assert signer.certificate == certificate


def rsa_key() -> bytes:
    key = rsa.generate_private_key(public_exponent=65537, key_size=1024)
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"hello", "neither a certificate nor a key"),
        (b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n", "cannot be read"),
        (rsa_key(), "elliptic curve key on P-256"),
        (b"x" * 1_000_001, "too large"),
    ],
)
def test_what_is_no_use_is_refused_in_words(folder: Path, content: bytes, words: str) -> None:
    (folder / "wrong.pem").write_bytes(content)
    with pytest.raises(ImproperlyConfigured, match=words):
        known_keys()


def test_a_signing_certificate_without_its_authority_is_refused(folder: Path) -> None:
    key, authority = authority_make(name="Own authority", company_code="IHT", at=NOW)
    own, certificate = signing_make(
        name="Certificates", company_name="Inner Harbour", company_code="IHT", key=key, authority=authority, at=NOW
    )
    (folder / "signing.pem").write_bytes(pem_of(own) + pem_of(certificate))
    with pytest.raises(ImproperlyConfigured, match="authority that issued"):
        known_keys()


def test_only_an_authority_can_be_handed_over_as_one() -> None:
    key, authority = authority_make(name="Own authority", company_code="IHT", at=NOW)
    _own, certificate = signing_make(
        name="Certificates", company_name="Inner Harbour", company_code="IHT", key=key, authority=authority, at=NOW
    )
    assert [row.name for row in authorities_of(pem_of(authority))] == ["Own authority"]
    with pytest.raises(ImproperlyConfigured, match="no certificate of an authority"):
        authorities_of(pem_of(certificate))


def test_a_file_is_never_written_over(folder: Path) -> None:
    assert write_new(folder / "a.pem", b"first")
    assert not write_new(folder / "a.pem", b"second")
    assert (folder / "a.pem").read_bytes() == b"first"
    assert list(folder.iterdir()) == [folder / "a.pem"]


@pytest.mark.parametrize("wrong", [("--short-code", "I/T"), ("--years", "0"), ("--years", "99")])
def test_the_command_refuses_what_makes_no_sense(wrong: tuple[str, str]) -> None:
    with pytest.raises(CommandError):
        called(*NEW, *wrong)


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("FLEET_SIGNING_FOLDER", "/nowhere/at/all", "FLEET_SIGNING_FOLDER must name a folder that exists"),
        ("FLEET_SIGNING_BUNDLE_FILE", "/nowhere/key.pem", "No such file"),
        ("FLEET_SIGNING_BUNDLE", "no key", "neither a certificate nor a key"),
        ("FLEET_TIMESTAMP_URL", "tsa.example", "must begin with http"),
    ],
)
def test_the_server_refuses_to_start_on_settings_it_cannot_use(
    tmp_path: Path, name: str, value: str, words: str
) -> None:
    done = subprocess.run(
        [sys.executable, "-c", "import fleet.wsgi"],
        env={**os.environ, "FLEET_VAR": str(tmp_path), name: value},
        cwd=django_settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode != 0
    assert words in done.stderr
