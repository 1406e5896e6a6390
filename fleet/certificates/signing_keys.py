"""The keys that sign certificates: where they lie, which one signs today, and whom a reader has to trust.

Everything is PEM, in one folder and, if wanted, in one environment variable. Each company has an *authority* of its own
(a certificate that may issue others) and, one after the other, *signing certificates* issued by it. A signing
certificate names its company by the short code in its subject, so files need no particular names. Old certificates of
authorities stay in the folder: what they vouched for stays verifiable. No private key is ever in the database.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

from fleet.certificates.signing_files import DEMO, demo_keys_make

_BLOCK = re.compile(rb"-----BEGIN ([A-Z0-9 ]+)-----.+?-----END \1-----", re.DOTALL)
MOST_BYTES = 1_000_000


@dataclass(frozen=True)
class Authority:
    """A company's own certificate authority: what a reader trusts, once its fingerprint was compared."""

    certificate: x509.Certificate

    @property
    def name(self) -> str:
        return common_name(self.certificate.subject)

    @property
    def company_code(self) -> str:
        return _first(self.certificate.subject, NameOID.ORGANIZATIONAL_UNIT_NAME)

    @property
    def is_demo(self) -> bool:
        """True for one that was made by itself, and vouches for nobody."""
        return self.name.startswith(DEMO)

    @property
    def sha256(self) -> str:
        """SHA-256 of the certificate, in small hexadecimal digits."""
        return self.certificate.fingerprint(hashes.SHA256()).hex()

    @property
    def fingerprint(self) -> str:
        return fingerprint_words(self.sha256)

    @property
    def pem(self) -> bytes:
        return self.certificate.public_bytes(serialization.Encoding.PEM)

    @property
    def der(self) -> bytes:
        return self.certificate.public_bytes(serialization.Encoding.DER)

    @property
    def valid_until(self) -> datetime:
        return self.certificate.not_valid_after_utc

    def issued(self, certificate: x509.Certificate) -> bool:
        """Whether this authority's key signed that certificate."""
        try:
            certificate.verify_directly_issued_by(self.certificate)
        except Exception:  # each way of not having issued it has its own error
            return False
        return True


@dataclass(frozen=True)
class SigningIdentity:
    """A private key with its certificate and the authority that issued it."""

    key: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate
    authority: Authority

    @property
    def name(self) -> str:
        return common_name(self.certificate.subject)

    @property
    def company_code(self) -> str:
        return _first(self.certificate.subject, NameOID.ORGANIZATIONAL_UNIT_NAME)

    def is_valid_at(self, moment: datetime) -> bool:
        return all(
            row.not_valid_before_utc <= moment <= row.not_valid_after_utc
            for row in (self.certificate, self.authority.certificate)
        )


@dataclass(frozen=True)
class KnownKeys:
    """All that was found: every authority, and every identity that can sign or once could."""

    authorities: tuple[Authority, ...]
    identities: tuple[SigningIdentity, ...]

    def authority(self, sha256: str) -> Authority | None:
        return next((row for row in self.authorities if row.sha256 == sha256), None)

    def signer(self, company_code: str, *, at: datetime, authority_sha256: str = "") -> SigningIdentity | None:
        """The newest identity of a company that is valid at a moment, under one authority where that is fixed."""
        fit = [
            row
            for row in self.identities
            if row.company_code == company_code
            and row.is_valid_at(at)
            and authority_sha256 in ("", row.authority.sha256)
            and (settings.SIGNING_MAKES_DEMO_KEYS or not row.authority.is_demo)
        ]
        return max(fit, key=_rank, default=None)


def _rank(row: SigningIdentity) -> tuple[bool, datetime, int]:
    """A real key goes before one made for the demo; the newest before those in reserve."""
    certificate = row.certificate
    return not row.authority.is_demo, certificate.not_valid_before_utc, certificate.serial_number


def known_keys() -> KnownKeys:
    """What lies in the folder and in the environment now. Raises ImproperlyConfigured for what cannot be used."""
    folder = Path(settings.SIGNING_FOLDER)
    files = sorted(path for path in folder.glob("*.pem") if path.is_file()) if folder.is_dir() else []
    seen = tuple((str(path), path.stat().st_mtime_ns, path.stat().st_size) for path in files)
    return _read_all(seen, settings.SIGNING_BUNDLE, settings.SIGNING_PASSWORD)


def signer_for(
    *, company_code: str, company_name: str, at: datetime | None = None, authority_sha256: str = ""
) -> SigningIdentity | None:
    """Who signs for a company now; outside production a key that calls itself DEMO is made where there is none."""
    at = at or datetime.now(UTC)
    found = known_keys().signer(company_code, at=at, authority_sha256=authority_sha256)
    if found is None and settings.SIGNING_MAKES_DEMO_KEYS and not authority_sha256:
        demo_keys_make(Path(settings.SIGNING_FOLDER), company_name=company_name, company_code=company_code)
        found = known_keys().signer(company_code, at=at)
    return found


def authorities_of(pem: bytes) -> tuple[Authority, ...]:
    """The authorities in a file that somebody hands over. Raises ImproperlyConfigured when there is none."""
    _keys, certificates = _parts(pem, source="the file", password="")
    found = tuple(Authority(row) for row in certificates if _is_authority(row))
    if not found:
        raise ImproperlyConfigured("This file holds no certificate of an authority.")
    return found


def certificate_of(der: bytes) -> x509.Certificate:
    return x509.load_der_x509_certificate(der)


def common_name(name: x509.Name) -> str:
    return _first(name, NameOID.COMMON_NAME)


def fingerprint_words(sha256: str) -> str:
    """A fingerprint in groups of eight, as people compare it."""
    text = sha256.upper()
    return " ".join(text[start : start + 8] for start in range(0, len(text), 8))


@lru_cache(maxsize=4)
def _read_all(files: tuple[tuple[str, int, int], ...], bundle: str, password: str) -> KnownKeys:
    keys: list[ec.EllipticCurvePrivateKey] = []
    certificates: list[x509.Certificate] = []
    sources = [(name, Path(name).read_bytes()) for name, _changed, _size in files]
    if bundle:
        sources.append(("FLEET_SIGNING_BUNDLE", bundle.encode()))
    for source, content in sources:
        more_keys, more_certificates = _parts(content, source=source, password=password)
        keys += more_keys
        certificates += more_certificates
    return _put_together(keys, certificates)


def _parts(
    content: bytes, *, source: str, password: str
) -> tuple[list[ec.EllipticCurvePrivateKey], list[x509.Certificate]]:
    """Private keys and certificates of one PEM text; anything else in it is an error, not passed over."""
    if len(content) > MOST_BYTES:
        raise ImproperlyConfigured(f"{source} is too large for a key or a certificate.")
    keys, certificates = [], []
    blocks = list(_BLOCK.finditer(content))
    if not blocks:
        raise ImproperlyConfigured(f"{source} holds neither a certificate nor a key in PEM form.")
    for block in blocks:
        try:
            if block[1] == b"CERTIFICATE":
                certificates.append(x509.load_pem_x509_certificate(block[0]))
            else:
                keys.append(_key(block[0], source, password))
        except (ValueError, TypeError) as error:
            raise ImproperlyConfigured(f"{source} cannot be read: {error}") from error
    return keys, certificates


def _key(pem: bytes, source: str, password: str) -> ec.EllipticCurvePrivateKey:
    secret = password.encode() if b"ENCRYPTED" in pem else None
    if secret == b"":
        raise ImproperlyConfigured(f"{source} is locked by a password: set FLEET_SIGNING_PASSWORD.")
    key = serialization.load_pem_private_key(pem, password=secret)
    if not isinstance(key, ec.EllipticCurvePrivateKey) or not isinstance(key.curve, ec.SECP256R1):
        raise ImproperlyConfigured(f"{source}: a signing key must be an elliptic curve key on P-256.")
    return key


def _put_together(keys: Iterable[ec.EllipticCurvePrivateKey], certificates: Iterable[x509.Certificate]) -> KnownKeys:
    by_sha256 = {row.fingerprint(hashes.SHA256()): row for row in certificates}
    authorities = sorted(
        (Authority(row) for row in by_sha256.values() if _is_authority(row)),
        key=lambda row: (row.company_code, row.certificate.not_valid_before_utc, row.sha256),
    )
    by_public_key = {_public(key.public_key()): key for key in keys}
    identities = []
    for certificate in by_sha256.values():
        key = by_public_key.get(_public(certificate.public_key()))
        if _is_authority(certificate) or key is None:
            continue
        issuer = next((row for row in authorities if row.issued(certificate)), None)
        if issuer is None:
            name = common_name(certificate.subject)
            raise ImproperlyConfigured(f"The authority that issued the signing certificate of {name} is not there.")
        identities.append(SigningIdentity(key, certificate, issuer))
    return KnownKeys(tuple(authorities), tuple(identities))


def _is_authority(certificate: x509.Certificate) -> bool:
    try:
        return certificate.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    except x509.ExtensionNotFound:
        return False


def _public(key: object) -> bytes:
    der: bytes = key.public_bytes(  # type: ignore[attr-defined]
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    return der


def _first(name: x509.Name, oid: x509.ObjectIdentifier) -> str:
    found = name.get_attributes_for_oid(oid)
    return str(found[0].value) if found else ""
