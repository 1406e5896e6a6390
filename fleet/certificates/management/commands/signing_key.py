"""``python manage.py signing_key new|list``: the company's own authority and the keys that sign its certificates."""

from argparse import ArgumentParser
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.management.base import BaseCommand, CommandError

from fleet.certificates.signing_files import (
    AUTHORITY_YEARS,
    SIGNING_YEARS,
    authority_make,
    pem_of,
    signing_make,
    write_new,
)
from fleet.certificates.signing_keys import Authority, KnownKeys, known_keys


class Command(BaseCommand):
    help = (
        "Makes a signing key for a company's certificates, and the company's own authority where it has none yet. "
        "Needs no database. Read docs/signing.md first."
    )
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        acts = parser.add_subparsers(dest="act", required=True)
        acts.add_parser("list", help="show every authority and signing certificate at hand")
        new = acts.add_parser("new", help="make a signing key and its certificate")
        new.add_argument("--company", required=True, help="the company's name, as on its certificates")
        new.add_argument("--short-code", required=True, help="the company's short code in the product")
        new.add_argument("--years", type=int, default=SIGNING_YEARS, help=f"how long it may sign ({SIGNING_YEARS})")
        new.add_argument("--new-authority", action="store_true", help="make another authority; the old one stays")
        new.add_argument("--authority-key", type=Path, help="the key of the authority, where it is kept elsewhere")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            known = known_keys()
        except ImproperlyConfigured as error:
            raise CommandError(str(error)) from error
        if options["act"] == "list":
            self.show(known)
        else:
            self.make(known, options)

    def show(self, known: KnownKeys) -> None:
        if not known.authorities:
            self.stdout.write(
                f"No authority in {settings.SIGNING_FOLDER}: certificates are issued without a signature."
            )
        now = datetime.now(UTC)
        for authority in known.authorities:
            self.stdout.write(
                f"{authority.company_code}  authority “{authority.name}”, until {authority.valid_until:%d %b %Y}"
            )
            self.stdout.write(f"      SHA-256 {authority.fingerprint}")
            signer = known.signer(authority.company_code, at=now)
            for row in known.identities:
                if row.authority == authority:
                    word = "signs now" if row == signer else "in reserve" if row.is_valid_at(now) else "has run out"
                    until = row.certificate.not_valid_after_utc
                    self.stdout.write(f"      key “{row.name}”, until {until:%d %b %Y}: {word}")

    def make(self, known: KnownKeys, options: dict[str, Any]) -> None:
        folder = Path(settings.SIGNING_FOLDER)
        folder.mkdir(parents=True, exist_ok=True)
        company, code, now = options["company"], options["short_code"], datetime.now(UTC)
        if not code.isalnum():
            raise CommandError("The short code is made of letters and digits only.")
        if not 1 <= options["years"] <= AUTHORITY_YEARS:
            raise CommandError(f"--years must be between 1 and {AUTHORITY_YEARS}.")
        key, authority = (None, None) if options["new_authority"] else self.authority_at_hand(known, code, options)
        if key is None or authority is None:
            key, authority = self.authority_new(folder, company, code, now)
        signing_key, certificate = signing_make(
            name=f"{company}: brake test certificates"[:64],
            company_name=company,
            company_code=code,
            key=key,
            authority=authority,
            at=now,
            years=options["years"],
        )
        path = folder / f"{code}-signing-{now:%Y%m%d-%H%M%S}-{certificate.serial_number % 0x10000:04x}.pem"
        if not write_new(path, pem_of(signing_key, settings.SIGNING_PASSWORD) + pem_of(certificate)):
            raise CommandError(f"{path} is there already; nothing was changed.")
        self.stdout.write(f"Signing key and certificate: {path}, until {certificate.not_valid_after_utc:%d %b %Y}.")
        self.stdout.write(f"They sign from now on. SHA-256 of the authority: {Authority(authority).fingerprint}")

    def authority_new(
        self, folder: Path, company: str, code: str, now: datetime
    ) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate]:
        key, certificate = authority_make(name=f"{company}: own authority"[:64], company_code=code, at=now)
        stem = folder / f"{code}-authority-{now:%Y%m%d-%H%M%S}-{certificate.serial_number % 0x10000:04x}"
        if not write_new(stem.with_suffix(".key"), pem_of(key, settings.SIGNING_PASSWORD)):
            raise CommandError(f"{stem}.key is there already; nothing was changed.")
        write_new(stem.with_suffix(".pem"), pem_of(certificate))
        self.stdout.write(f"New authority of {company}: {stem}.pem, to be kept for good and published.")
        self.stdout.write(
            f"Its key: {stem}.key. Move it to a safe place off this machine; only `signing_key new` needs it."
        )
        return key, certificate

    def authority_at_hand(
        self, known: KnownKeys, code: str, options: dict[str, Any]
    ) -> tuple[ec.EllipticCurvePrivateKey | None, x509.Certificate | None]:
        """The company's newest authority with its key; nothing where it has none yet."""
        own = [row.certificate for row in known.authorities if row.company_code == code and not row.is_demo]
        if not own:
            return None, None
        authority = max(own, key=lambda row: row.not_valid_before_utc)
        paths = [options["authority_key"]] if options["authority_key"] else []
        paths = paths or sorted(Path(settings.SIGNING_FOLDER).glob(f"{code}-authority-*.key"))
        for path in paths:
            key = self.read_key(path)
            if key.public_key() == authority.public_key():
                return key, authority
        raise CommandError(
            "The key of this company's authority is not in the folder. Name it with --authority-key FILE, or make "
            "another authority with --new-authority; what the old one vouched for stays valid."
        )

    def read_key(self, path: Path) -> ec.EllipticCurvePrivateKey:
        try:
            content = path.read_bytes()
            secret = settings.SIGNING_PASSWORD.encode() if b"ENCRYPTED" in content else None
            key = serialization.load_pem_private_key(content, password=secret)
        except (OSError, ValueError, TypeError) as error:
            raise CommandError(f"{path} cannot be read: {error}") from error
        if not isinstance(key, ec.EllipticCurvePrivateKey):
            raise CommandError(f"{path} holds another kind of key.")
        return key
