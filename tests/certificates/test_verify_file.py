"""Anyone may hand over a PDF: what they are told, what they never see, that nothing is kept, and how often."""

from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from fleet.certificates.models import Certificate
from fleet.certificates.services import certificate_pdf_bytes, certificate_pdf_make, certificate_withdraw
from fleet.certificates.signing_keys import known_keys
from fleet.certificates.verify_views import FILES
from fleet.core.models import AuditEntry
from tests.cast import Cast
from tests.certificates.records import Ship, certified
from tests.certificates.signed import SignedPaper, with_added_revision, with_changed_byte, with_swapped_attachment

pytestmark = [pytest.mark.django_db, pytest.mark.pdf, pytest.mark.usefixtures("empty_cache")]
PAGE = reverse("certificates:verify_file")


def handed_over(client: Client, content: bytes, **more: Any) -> str:
    response = client.post(PAGE, {"file": SimpleUploadedFile("c.pdf", content, "application/pdf")}, **more)
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def stored(certificate: Certificate) -> bytes:
    certificate_pdf_make(certificate)
    with certificate.pdf.open("rb") as file:
        content: bytes = file.read()
    return content


@pytest.fixture
def certificate(cast: Cast, ship: Ship) -> Certificate:
    return certified(ship, cast.superintendent)


def test_an_issued_file_is_genuine_with_its_state_and_result_and_nobodys_name(
    client: Client, certificate: Certificate, cast: Cast, ship: Ship
) -> None:
    said = handed_over(client, stored(certificate))
    assert "Genuine: this file is the certificate as the operator issued it, unchanged." in said
    assert "It is neither superseded nor withdrawn." in said
    assert certificate.number in said
    assert "59.7 %" in said
    assert "covers the whole file" in said
    authority = known_keys().authority(certificate_authority(certificate))
    assert authority
    assert authority.fingerprint in said
    people = [ship.officer.name, ship.engineer.name, ship.master.name, cast.superintendent.name, "Ada Voss"]
    assert [name for name in people if name in said] == []


def certificate_authority(certificate: Certificate) -> str:
    from fleet.certificates.snapshot import read_snapshot, signing_authority_of

    return signing_authority_of(read_snapshot(certificate))


def test_withdrawing_reaches_the_files_at_once(client: Client, certificate: Certificate, cast: Cast) -> None:
    content = stored(certificate)
    certificate_withdraw(certificate=certificate, reason="wrong gauge", actor=cast.superintendent)
    said = handed_over(client, content)
    assert "Genuine" in said
    assert "But it was withdrawn on" in said
    assert "neither superseded nor withdrawn" not in said


def test_each_way_of_tampering_is_told_in_words(client: Client, certificate: Certificate) -> None:
    content = stored(certificate)
    changed = with_changed_byte(content, len(content) // 3)
    added = with_added_revision(content)
    swapped = with_swapped_attachment(content, bytes(certificate.snapshot).replace(b"59.7 %", b"61.7 %"))
    for altered, why in (
        (changed, "at least one byte is another"),
        (added, "something was added after it"),
        (swapped, "something was added after it"),
    ):
        said = handed_over(client, altered)
        assert "Do not rely on this file: it was changed after it was signed." in said
        assert why in said
        assert "Genuine" not in said


def test_a_paper_that_was_never_signed_is_not_taken_for_a_certificate(client: Client, certificate: Certificate) -> None:
    said = handed_over(client, certificate_pdf_bytes(certificate))
    assert "Do not rely on this file: it carries no signature" in said


def test_an_unsigned_certificate_is_known_by_its_bytes(
    client: Client, cast: Cast, ship: Ship, settings: Any, tmp_path: Path
) -> None:
    settings.SIGNING_FOLDER, settings.SIGNING_MAKES_DEMO_KEYS = tmp_path, False
    content = stored(certified(ship, cast.superintendent))
    said = handed_over(client, content)
    assert "Genuine" in said
    assert "byte for byte the file that is kept here" in said
    assert "Do not rely" in handed_over(client, with_changed_byte(content, len(content) // 2))


def test_a_good_file_of_another_installation_is_said_to_be_unknown_here(
    client: Client, signed_paper: SignedPaper
) -> None:
    said = handed_over(client, signed_paper.content)
    assert "no such certificate is known here" in said
    assert "This installation holds no certificate with its code." in said


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"hello", "This is not a PDF file."),
        (b"%PDF-1.7 broken", "damaged and cannot be read"),
        (b"%PDF-" + b"x" * 2_000_001, "larger than 2 MB"),
        (b"", "empty"),
    ],
)
def test_what_cannot_be_looked_at_is_said_beside_the_field(client: Client, content: bytes, words: str) -> None:
    said = handed_over(client, content)
    assert words in said
    assert "By its code" in said


def test_no_file_at_all_is_said_beside_the_field(client: Client) -> None:
    response = client.post(PAGE)
    assert response.status_code == 200
    assert 'id="id_file_error"' in response.content.decode()


def test_nothing_is_kept_of_it(client: Client, certificate: Certificate, media_root: Path) -> None:
    content = stored(certificate)

    def kept() -> list[Path]:
        return sorted(path for path in media_root.rglob("*") if path.is_file())

    files, entries = kept(), AuditEntry.objects.count()
    handed_over(client, content)
    handed_over(client, with_changed_byte(content, 5000))
    assert kept() == files
    assert AuditEntry.objects.count() == entries
    assert not client.session.items()


def test_looked_at_in_the_address_bar_it_leads_to_the_form(client: Client) -> None:
    assert client.get(PAGE).headers["Location"] == reverse("certificates:verify")


def test_it_is_held_against_forged_requests() -> None:
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(PAGE, {"file": SimpleUploadedFile("c.pdf", b"%PDF-")}).status_code == 403


def test_too_many_files_from_one_address_must_wait(client: Client) -> None:
    answers = [client.post(PAGE).status_code for _ in range(FILES + 1)]
    assert answers == [200] * FILES + [429]


def test_the_authorities_are_published_with_their_fingerprints_and_files(
    client: Client, certificate: Certificate
) -> None:
    authority = known_keys().authority(certificate_authority(certificate))
    assert authority
    shown = " ".join(client.get(reverse("certificates:verify")).content.decode().split())
    assert authority.fingerprint in shown
    answer = client.get(reverse("certificates:authority", args=[authority.sha256]))
    assert answer.content == authority.pem
    assert b"PRIVATE" not in answer.content
    assert answer["Content-Disposition"].startswith("attachment")
    assert client.get(reverse("certificates:authority", args=["0" * 64])).status_code == 404


def test_a_small_file_that_unpacks_to_a_large_one_is_refused(client: Client) -> None:
    import zlib

    bomb = zlib.compress(b"\0" * 200_000_000, 9)
    objects = b"%PDF-1.7\n1 0 obj\n<</Type/XRef/Size 9/W[1 2 2]/Root 2 0 R/Filter/FlateDecode/Length "
    content = objects + str(len(bomb)).encode() + b">>\nstream\n" + bomb + b"\nendstream\nendobj\nstartxref\n9\n%%EOF\n"
    assert "damaged and cannot be read" in handed_over(client, content)


def test_larger_files_than_are_looked_at_never_stay_in_memory() -> None:
    assert django_settings.FILE_UPLOAD_MAX_MEMORY_SIZE >= 2_000_000
