"""The signature on a certificate: made of the same bytes, seen by an independent reader, broken by any tampering.

The independent reader is `pdfsig` of poppler-utils, with the NSS library's own certificate store.
"""

import io
import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pikepdf
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.x509.oid import NameOID

from fleet.certificates.pdf_reading import open_pdf
from fleet.certificates.signature_check import SignatureCheck, check_signature
from fleet.certificates.signing import SigningUnavailable, sign_pdf
from fleet.certificates.signing_files import authority_make, signing_make
from fleet.certificates.signing_keys import Authority, SigningIdentity, known_keys
from tests.certificates.signed import (
    SignedPaper,
    pdfsig,
    record_name,
    rewritten_with_attachment,
    with_added_revision,
    with_changed_byte,
    with_swapped_attachment,
)

pytestmark = [pytest.mark.django_db, pytest.mark.pdf]
NOW = datetime.now(UTC)


def checked(content: bytes, *authorities: Authority) -> SignatureCheck:
    return check_signature(open_pdf(content), authorities=authorities)


def stranger() -> SigningIdentity:
    """Somebody else with keys of their own, who calls himself by the same names."""
    key, authority = authority_make(name="DEMO, not a real company: Company", company_code="C0", at=NOW)
    own, certificate = signing_make(
        name="DEMO, not a real company: Company",
        company_name="DEMO, not a real company: Company",
        company_code="C0",
        key=key,
        authority=authority,
        at=NOW,
    )
    return SigningIdentity(own, certificate, Authority(authority))


def identity_of(paper: SignedPaper) -> SigningIdentity:
    found = known_keys().signer(paper.authority.company_code, at=NOW, authority_sha256=paper.authority.sha256)
    assert found
    return found


def other_data(paper: SignedPaper) -> bytes:
    snapshot = json.loads(paper.snapshot)
    snapshot["record"]["results"]["as_left_share_shown"] = "62.0 %"
    return json.dumps(snapshot).encode()


def test_the_signature_is_appended_to_the_paper_as_it_was(signed_paper: SignedPaper) -> None:
    assert signed_paper.content.startswith(signed_paper.unsigned)
    assert len(signed_paper.content) - len(signed_paper.unsigned) < 12_000


def test_pdfsig_says_valid_whole_and_trusted(signed_paper: SignedPaper, tmp_path: Path) -> None:
    said = pdfsig(signed_paper.content, tmp_path, signed_paper.authority)
    assert "Signature is Valid" in said
    assert "Total document signed" in said
    assert "Not total document signed" not in said
    assert "Certificate is Trusted" in said
    assert "ETSI.CAdES.detached" in said
    assert "SHA-256" in said


def test_pdfsig_does_not_trust_it_before_the_authority_is_trusted(signed_paper: SignedPaper, tmp_path: Path) -> None:
    said = pdfsig(signed_paper.content, tmp_path)
    assert "Signature is Valid" in said
    assert "Certificate is Trusted" not in said


def test_our_own_check_says_the_same(signed_paper: SignedPaper) -> None:
    found = checked(signed_paper.content, signed_paper.authority)
    assert found.good
    assert found.authority == signed_paper.authority
    assert "DEMO, not a real company" in found.signer
    assert not checked(signed_paper.content).good
    assert checked(signed_paper.content).is_unchanged


def test_the_claim_the_tags_and_the_data_survive_the_signature(signed_paper: SignedPaper) -> None:
    with pikepdf.open(io.BytesIO(signed_paper.content)) as document:
        with document.open_metadata() as metadata:
            assert (metadata["pdfaid:part"], metadata["pdfaid:conformance"]) == ("3", "A")
        assert "/MarkInfo" in document.Root
        assert str(document.Root.Lang) == "en"
        assert int(document.Root.Perms.DocMDP.Reference[0].TransformParams.P) == 1  # no changes allowed
        name = record_name(list(document.attachments))
        assert document.attachments[name].get_file().read_bytes() == signed_paper.snapshot
        (field,) = document.Root.AcroForm.Fields
        assert [float(number) for number in field.Rect] == [0, 0, 0, 0]


@pytest.mark.parametrize("part", [0.1, 0.35, 0.6, 0.85])
def test_one_changed_byte_is_seen(signed_paper: SignedPaper, tmp_path: Path, part: float) -> None:
    altered = with_changed_byte(signed_paper.content, int(len(signed_paper.unsigned) * part))
    said = pdfsig(altered, tmp_path, signed_paper.authority)
    assert "Signature is Valid" not in said
    assert not checked(altered, signed_paper.authority).is_unchanged


def test_an_appended_revision_is_seen(signed_paper: SignedPaper, tmp_path: Path) -> None:
    altered = with_added_revision(signed_paper.content)
    said = pdfsig(altered, tmp_path, signed_paper.authority)
    assert "Not total document signed" in said
    found = checked(altered, signed_paper.authority)
    assert found.is_unchanged  # what was signed is still there
    assert not found.is_whole
    assert not found.good


@pytest.mark.parametrize("swap", [with_swapped_attachment, rewritten_with_attachment])
def test_a_swapped_attachment_is_seen(
    signed_paper: SignedPaper, tmp_path: Path, swap: Callable[[bytes, bytes], bytes]
) -> None:
    altered = swap(signed_paper.content, other_data(signed_paper))
    assert open_pdf(altered).attachments()[f"{signed_paper.number}.json"] == other_data(signed_paper)
    said = pdfsig(altered, tmp_path, signed_paper.authority)
    assert "Signature is Valid" not in said or "Not total document signed" in said
    assert not checked(altered, signed_paper.authority).good


def test_bytes_hidden_in_the_room_of_the_signature_are_seen(signed_paper: SignedPaper) -> None:
    padding = signed_paper.content.index(b"0" * 60, len(signed_paper.unsigned))
    altered = signed_paper.content[:padding] + b"41" + signed_paper.content[padding + 2 :]
    assert not checked(altered, signed_paper.authority).good


def test_a_stranger_who_signs_the_same_paper_is_not_taken_for_the_operator(signed_paper: SignedPaper) -> None:
    forged = sign_pdf(signed_paper.unsigned, identity=stranger(), reason="")
    found = checked(forged, signed_paper.authority)
    assert (found.is_unchanged, found.is_whole) == (True, True)
    assert found.authority is None
    assert not found.good


def test_a_paper_without_a_signature_is_called_unsigned(signed_paper: SignedPaper) -> None:
    found = checked(signed_paper.unsigned, signed_paper.authority)
    assert not found.is_signed
    assert not found.good


def test_signed_with_a_key_that_ran_out_since_it_stays_good(signed_paper: SignedPaper) -> None:
    """The signer's certificate is judged at the moment of signing, so a key that expires takes nothing with it."""
    found = checked(signed_paper.content, signed_paper.authority)
    assert found.signed_at
    assert found.signer_valid_until
    assert found.signed_at < found.signer_valid_until


def test_signed_after_the_key_ran_out_it_is_not(signed_paper: SignedPaper) -> None:
    past = datetime(2019, 1, 1, tzinfo=UTC)
    key, authority = authority_make(name="Old authority", company_code="C0", at=past)
    own, certificate = signing_make(
        name="Old", company_name="Old", company_code="C0", key=key, authority=authority, at=past, years=1
    )
    late = SigningIdentity(own, certificate, Authority(authority))
    found = checked(sign_pdf(signed_paper.unsigned, identity=late, reason=""), late.authority)
    assert found.is_unchanged
    assert found.authority is None


# --- timestamps --------------------------------------------------------------------------------------------------


def timestamper() -> object:
    """A timestamp server inside this process; its key is RSA, because the library's own dummy knows nothing else."""
    from asn1crypto import keys
    from asn1crypto import x509 as asn1
    from pyhanko.sign.timestamps import DummyTimeStamper

    key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Timestamps made in a test")])
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(7)
        .not_valid_before(datetime(2020, 1, 1, tzinfo=UTC))
        .not_valid_after(datetime(2050, 1, 1, tzinfo=UTC))
        .add_extension(x509.ExtendedKeyUsage([x509.ExtendedKeyUsageOID.TIME_STAMPING]), critical=True)
        .sign(key, hashes.SHA256())
    )
    der = serialization.Encoding.DER
    private = key.private_bytes(der, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    return DummyTimeStamper(
        tsa_cert=asn1.Certificate.load(certificate.public_bytes(der)), tsa_key=keys.PrivateKeyInfo.load(private)
    )


def test_with_a_timestamp_server_the_signature_carries_its_time(signed_paper: SignedPaper, tmp_path: Path) -> None:
    stamped = sign_pdf(
        signed_paper.unsigned,
        identity=identity_of(signed_paper),
        reason="",
        timestamper=timestamper(),  # type: ignore[arg-type]
    )
    found = checked(stamped, signed_paper.authority)
    assert found.good
    assert found.is_timestamped
    assert "Signature is Valid" in pdfsig(stamped, tmp_path, signed_paper.authority)
    assert not checked(signed_paper.content, signed_paper.authority).is_timestamped


def test_a_timestamp_server_that_does_not_answer_leaves_the_paper_unsigned_and_says_why(
    signed_paper: SignedPaper,
) -> None:
    from pyhanko.sign.timestamps.aiohttp_client import HTTPTimeStamper

    # Port 9 of this machine: nobody listens there.
    with pytest.raises(SigningUnavailable, match="timestamp server did not answer"):
        sign_pdf(
            signed_paper.unsigned,
            identity=identity_of(signed_paper),
            reason="",
            timestamper=HTTPTimeStamper("http://127.0.0.1:9/", timeout=2),
        )
