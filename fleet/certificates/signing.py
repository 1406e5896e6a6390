"""Signing a finished paper: PAdES baseline, certified, with no change allowed after."""

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from typing import TYPE_CHECKING, Any, TypeVar

from cryptography.hazmat.primitives import serialization
from django.conf import settings
from django.utils.translation import gettext as _

from fleet.certificates.signing_keys import SigningIdentity
from fleet.core.pdf import PdfUnavailable

if TYPE_CHECKING:
    from pyhanko.sign.timestamps import TimeStamper

FIELD = "OperatorsSignature"
TIMESTAMP_SECONDS = 10
T = TypeVar("T")


class SigningUnavailable(PdfUnavailable):
    """The paper was made but cannot be signed now; nothing is stored, and the next download tries again."""


def sign_pdf(
    content: bytes, *, identity: SigningIdentity, reason: str, timestamper: "TimeStamper | None" = None
) -> bytes:
    """The same file with a signature appended; everything before it stays byte for byte.

    Raises SigningUnavailable when the timestamp server does not answer.
    """
    from asn1crypto import keys, x509  # type: ignore[import-untyped]
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import signers
    from pyhanko.sign.fields import MDPPerm, SigSeedSubFilter
    from pyhanko.sign.timestamps import TimestampRequestError
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    def read(certificate: Any) -> Any:
        return x509.Certificate.load(certificate.public_bytes(serialization.Encoding.DER))

    store = SimpleCertificateStore()
    store.register(read(identity.authority.certificate))
    key = identity.key.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    signer = signers.SimpleSigner(
        signing_cert=read(identity.certificate), signing_key=keys.PrivateKeyInfo.load(key), cert_registry=store
    )
    wanted = signers.PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        subfilter=SigSeedSubFilter.PADES,
        certify=True,
        docmdp_permissions=MDPPerm.NO_CHANGES,
        name=identity.name,
        reason=reason,
    )
    writer = signers.PdfSigner(wanted, signer=signer, timestamper=timestamper)
    try:
        signed = run(writer.async_sign_pdf(IncrementalPdfFileWriter(BytesIO(content))))
    except (TimestampRequestError, OSError, TimeoutError) as error:
        raise SigningUnavailable(
            _("The timestamp server did not answer, so the paper could not be signed. Ask again later.")
        ) from error
    return bytes(signed.getvalue())


def timestamper_set_up() -> "TimeStamper | None":
    """The timestamp server of the settings, if there is one."""
    if not settings.TIMESTAMP_URL:
        return None
    from pyhanko.sign.timestamps.aiohttp_client import HTTPTimeStamper

    return HTTPTimeStamper(settings.TIMESTAMP_URL, timeout=TIMESTAMP_SECONDS)


def run(work: Coroutine[Any, Any, T]) -> T:
    """Wait for asynchronous work in a thread of its own: the caller's may have an event loop already."""
    with ThreadPoolExecutor(max_workers=1) as thread:
        return thread.submit(asyncio.run, work).result()
