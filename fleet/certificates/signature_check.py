"""What the signature in a PDF is worth: unchanged, whole, and by which authority. Needs no network and no database."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from asn1crypto import x509 as asn1  # type: ignore[import-untyped]
from cryptography import x509
from pyhanko.sign.fields import MDPPerm
from pyhanko.sign.validation import async_validate_pdf_signature
from pyhanko.sign.validation.status import SignatureCoverageLevel
from pyhanko_certvalidator import ValidationContext

from fleet.certificates.pdf_reading import OpenedPdf, UnreadablePdf
from fleet.certificates.signing import FIELD, run
from fleet.certificates.signing_keys import Authority, certificate_of, common_name


@dataclass(frozen=True, kw_only=True)
class SignatureCheck:
    """The answers, each on its own; `good` only when every one is."""

    is_signed: bool = False
    is_unchanged: bool = False
    """The signed bytes are those that were signed, and the signature over them is right."""
    is_whole: bool = False
    """The signature covers the file to its last byte: nothing was added after."""
    is_certified: bool = False
    """Signed so that every later change breaks it, and signed once."""
    authority: Authority | None = None
    """Which of the given authorities vouches for the signer; None when none does."""
    signer: str = ""
    issuer: str = ""
    signed_at: datetime | None = None
    """As the signer's own clock said, or the timestamp server's where there is one."""
    is_timestamped: bool = False
    signer_valid_until: datetime | None = None

    @property
    def good(self) -> bool:
        return self.is_signed and self.is_unchanged and self.is_whole and self.is_certified and bool(self.authority)


def check_signature(opened: OpenedPdf, *, authorities: Sequence[Authority]) -> SignatureCheck:
    """Look at the operator's signature. A file that breaks while it is looked at counts as changed."""
    try:
        found = opened.reader.embedded_signatures
        if not found:
            return SignatureCheck()
        return run(_check(opened, found, authorities))
    except (Exception, RecursionError):  # whatever a mangled signature makes the library say
        return SignatureCheck(is_signed=True)


async def _check(opened: OpenedPdf, found: Any, authorities: Sequence[Authority]) -> SignatureCheck:
    signature = found[0]
    signed_at = signature.self_reported_timestamp
    signer: x509.Certificate = certificate_of(signature.signer_cert.dump())
    # Trusted at the time of signing: a signing certificate that ran out since was good when it was used.
    trust = ValidationContext(
        trust_roots=[asn1.Certificate.load(row.der) for row in authorities],
        moment=signed_at,
        allow_fetching=False,
        revocation_mode="soft-fail",
    )
    status = await async_validate_pdf_signature(signature, trust, skip_diff=True)
    issuer = next((row for row in authorities if row.issued(signer)), None)
    stamped = status.timestamp_validity
    stamped_well = stamped is not None and stamped.intact and stamped.valid
    stamped_at = stamped.timestamp if stamped is not None and stamped_well else None
    return SignatureCheck(
        is_signed=True,
        is_unchanged=bool(status.intact and status.valid),
        is_whole=_is_whole(opened.content, signature),
        is_certified=len(found) == 1
        and signature.field_name == FIELD
        and signature.docmdp_level == MDPPerm.NO_CHANGES
        and (stamped is None or stamped_well),
        authority=issuer if status.trusted else None,
        signer=common_name(signer.subject),
        issuer=common_name(signer.issuer),
        signed_at=stamped_at or signed_at,
        is_timestamped=stamped_well,
        signer_valid_until=signer.not_valid_after_utc,
    )


def _is_whole(content: bytes, signature: Any) -> bool:
    """From the first byte to the last, but for the signature itself, in whose room nothing else may hide."""
    if signature.evaluate_signature_coverage() != SignatureCoverageLevel.ENTIRE_FILE:
        return False
    start, before, after, rest = (int(number) for number in signature.byte_range)
    room = content[before:after]
    if start != 0 or after + rest != len(content) or room[:1] + room[-1:] != b"<>":
        return False
    try:
        filled = bytes.fromhex(room[1:-1].decode("ascii"))
    except ValueError as error:
        raise UnreadablePdf("The room of the signature holds something else.") from error
    return not filled[_length_of(filled) :].strip(b"\0")


def _length_of(der: bytes) -> int:
    """How many bytes the outermost element of DER takes."""
    if der[1] < 0x80:
        return 2 + der[1]
    count = der[1] & 0x7F
    return 2 + count + int.from_bytes(der[2 : 2 + count], "big")
