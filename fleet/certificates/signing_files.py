"""Making authorities and signing certificates, as PEM files in a folder."""

import os
import secrets
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

DEMO = "DEMO, not a real company"
# Ours: long enough that an authority outlives the papers it stands for, short enough that a signing key is renewed.
AUTHORITY_YEARS = 30
SIGNING_YEARS = 3
MOST_CHARACTERS = 64  # X.520 allows no more in a name


def demo_keys_make(folder: Path, *, company_name: str, company_code: str) -> None:
    """An authority and a signing certificate that say of themselves that they vouch for nobody; made once."""
    folder.mkdir(parents=True, exist_ok=True)
    name, now = f"{DEMO}: {company_name}", datetime.now(UTC)
    key, authority = authority_make(name=f"{DEMO}: authority of {company_name}", company_code=company_code, at=now)
    signing_key, certificate = signing_make(
        name=name, company_name=name, company_code=company_code, key=key, authority=authority, at=now
    )
    # One file, so that who comes second finds all of the first's or nothing; the authority's own key is thrown away.
    write_new(
        folder / f"demo-{_plain(company_code)}.pem", pem_of(authority) + pem_of(signing_key) + pem_of(certificate)
    )


def authority_make(
    *, name: str, company_code: str, at: datetime, years: int = AUTHORITY_YEARS
) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate]:
    """A company's own authority: an elliptic curve key on P-256 and a certificate that it issues to itself."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = _name(name, name, company_code)
    builder = (
        _builder(subject, subject, key.public_key(), at, years)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=False), critical=True)
    )
    return key, builder.sign(key, hashes.SHA256())


def signing_make(
    *,
    name: str,
    company_name: str,
    company_code: str,
    key: ec.EllipticCurvePrivateKey,
    authority: x509.Certificate,
    at: datetime,
    years: int = SIGNING_YEARS,
) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate]:
    """A signing key and its certificate, issued by an authority whose `key` is at hand."""
    own = ec.generate_private_key(ec.SECP256R1())
    issuer_id = x509.AuthorityKeyIdentifier.from_issuer_public_key(key.public_key())
    builder = (
        _builder(_name(name, company_name, company_code), authority.subject, own.public_key(), at, years)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(issuer_id, critical=False)
    )
    return own, builder.sign(key, hashes.SHA256())


def pem_of(part: x509.Certificate | ec.EllipticCurvePrivateKey, password: str = "") -> bytes:
    """PEM text; a private key is locked when a password is given."""
    if isinstance(part, x509.Certificate):
        return part.public_bytes(serialization.Encoding.PEM)
    lock: serialization.KeySerializationEncryption = serialization.NoEncryption()
    if password:
        lock = serialization.BestAvailableEncryption(password.encode())
    return part.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, lock)


def write_new(path: Path, content: bytes) -> bool:
    """Write a file that only its owner may read; False, and nothing done, where it is there already.

    It gets its name only when it is whole: another process never reads half a key.
    """
    draft = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        out.write(content)
    try:
        os.link(draft, path)
    except FileExistsError:
        return False
    finally:
        draft.unlink()
    return True


def _plain(text: str) -> str:
    return "".join(sign if sign.isalnum() else "-" for sign in text)


def _name(common: str, organization: str, code: str) -> x509.Name:
    return x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATION_NAME, organization[:MOST_CHARACTERS]),
            x509.NameAttribute(NameOID.ORGANIZATIONAL_UNIT_NAME, code[:MOST_CHARACTERS]),
            x509.NameAttribute(NameOID.COMMON_NAME, common[:MOST_CHARACTERS]),
        ]
    )


def _builder(
    subject: x509.Name, issuer: x509.Name, public: ec.EllipticCurvePublicKey, at: datetime, years: int
) -> x509.CertificateBuilder:
    # A clock a little behind must not find the certificate "not yet valid".
    start = at.astimezone(UTC).replace(microsecond=0) - timedelta(hours=1)
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(start)
        .not_valid_after(start + timedelta(days=round(365.25 * years)))
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
    )


def _usage(*, signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=signs,
        content_commitment=signs,
        key_cert_sign=not signs,
        crl_sign=not signs,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )
