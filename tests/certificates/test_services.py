"""Issuing, superseding, withdrawing, and the paper that may come later."""

import json
import re
from datetime import UTC, date, datetime
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import IntegrityError, transaction

from fleet.certificates.codes import code_read
from fleet.certificates.failures import failed_records
from fleet.certificates.models import Certificate, CertificateState, NumberSeries
from fleet.certificates.numbers import number_take
from fleet.certificates.paper import certificate_html
from fleet.certificates.pdf_reading import open_pdf
from fleet.certificates.services import (
    certificate_pdf_bytes,
    certificate_pdf_make,
    certificate_pdf_signed,
    certificate_withdraw,
    pdf_is_stored,
)
from fleet.certificates.signature_check import check_signature
from fleet.certificates.signing import SigningUnavailable
from fleet.certificates.signing_keys import known_keys
from fleet.certificates.snapshot import read_snapshot
from fleet.core import pdf
from fleet.core.canonical import canonical, sha256_of
from fleet.core.models import AuditEntry
from fleet.records.canonical import read_content
from fleet.records.models import Submission
from tests.cast import Cast
from tests.certificates.records import Ship, approved, certified, drum_on, failed, submitted
from tests.factories import CompanyFactory

pytestmark = pytest.mark.django_db


def no_pdf(*args: Any, **kwargs: Any) -> bytes:
    raise pdf.PdfUnavailable("Pango is missing")


def test_numbers_count_up_within_a_company_and_year() -> None:
    company, other = CompanyFactory(short_code="KS"), CompanyFactory(short_code="MB")
    taken = [number_take(company=company, year=2026) for _ in range(3)]
    assert taken == ["KS-2026-0001", "KS-2026-0002", "KS-2026-0003"]
    assert number_take(company=company, year=2027) == "KS-2027-0001"
    assert number_take(company=other, year=2026) == "MB-2026-0001"


def test_a_number_taken_in_a_transaction_that_fails_is_given_again() -> None:
    company = CompanyFactory(short_code="KS")
    number_take(company=company, year=2026)
    with transaction.atomic():
        number_take(company=company, year=2026)
        transaction.set_rollback(True)
    assert number_take(company=company, year=2026) == "KS-2026-0002"


def test_a_certificate_fixes_number_code_and_the_whole_record(cast: Cast, ship: Ship, settings: Any) -> None:
    settings.SITE_URL = "https://tests.ship.example"
    submission = submitted(ship)
    decision = approved(submission, cast.superintendent, sentence="Seen.")
    certificate = Certificate.objects.get(submission=submission)
    snapshot = json.loads(bytes(certificate.snapshot))
    assert certificate.number == f"{cast.company.short_code}-2026-0001"
    assert code_read(certificate.code) == certificate.code
    assert snapshot["record"] == read_content(submission)
    assert snapshot["record_sha256"] == submission.sha256
    assert snapshot["decision"]["sentence"] == "Seen."
    assert snapshot["decision"]["at"] == decision.at.isoformat()
    assert snapshot["certificate"] == {
        "number": certificate.number,
        "code": certificate.code,
        "issued_at": certificate.issued_at.isoformat(),
        "verify_address": f"https://tests.ship.example/verify/{certificate.code}/",
    }
    assert certificate.snapshot_sha256 == sha256_of(bytes(certificate.snapshot))
    assert canonical(snapshot) == bytes(certificate.snapshot)


def test_issuing_is_written_in_the_audit_trail(cast: Cast, ship: Ship) -> None:
    certificate = certified(ship, cast.superintendent)
    entry = AuditEntry.objects.get(action="certificate issued")
    assert entry.subject_id == certificate.pk
    assert entry.vessel_id == cast.vessel.pk
    assert entry.actor_name == cast.superintendent.name
    assert entry.after is not None
    assert entry.after["number"] == certificate.number


def test_the_new_certificate_of_a_drum_supersedes_the_old_one(cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    old = certified(ship, cast.superintendent, drum, tested_on=date(2025, 11, 20))
    other = certified(ship, cast.superintendent)
    new = certified(ship, cast.superintendent, drum)
    old.refresh_from_db()
    other.refresh_from_db()
    assert old.state == CertificateState.SUPERSEDED
    assert old.superseded_by == new
    assert old.state_changed_at == new.issued_at
    assert new.state == other.state == CertificateState.ISSUED


def test_an_older_test_approved_late_does_not_push_out_the_newer_one(cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    late = submitted(ship, drum, tested_on=date(2025, 11, 20))
    newer = certified(ship, cast.superintendent, drum)
    approved(late, cast.superintendent, at=datetime(2026, 11, 25, tzinfo=UTC))
    newer.refresh_from_db()
    assert newer.state == CertificateState.ISSUED
    assert Certificate.objects.get(submission=late).superseded_by == newer


def test_a_failed_test_is_approved_without_a_certificate(cast: Cast, ship: Ship) -> None:
    submission = failed(ship)
    approved(submission, cast.superintendent)
    assert not Certificate.objects.exists()
    assert not NumberSeries.objects.exists()
    assert list(failed_records(cast.auditor)) == [submission]


def test_the_failure_and_the_good_test_after_it_both_stay_in_sight(cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    failure = failed(ship, drum, tested_on=date(2026, 11, 18))
    approved(failure, cast.superintendent)
    good = certified(ship, cast.superintendent, drum)
    assert list(failed_records(cast.superintendent)) == [failure]
    assert good.state == CertificateState.ISSUED
    assert good.remarks == ()


def test_withdrawing_keeps_the_paper_and_says_why(cast: Cast, ship: Ship) -> None:
    certificate = certified(ship, cast.superintendent)
    before = bytes(certificate.snapshot)
    at = datetime(2026, 12, 1, tzinfo=UTC)
    certificate_withdraw(certificate=certificate, reason="wrong gauge", actor=cast.superintendent, at=at)
    certificate.refresh_from_db()
    assert (certificate.state, certificate.state_reason) == (CertificateState.WITHDRAWN, "wrong gauge")
    assert certificate.state_changed_at == at
    assert bytes(certificate.snapshot) == before
    assert AuditEntry.objects.get(action="certificate withdrawn").reason == "wrong gauge"


def test_withdrawing_twice_is_withdrawn_once(cast: Cast, ship: Ship) -> None:
    certificate = certified(ship, cast.superintendent)
    for reason in ("first", "second"):
        certificate_withdraw(certificate=certificate, reason=reason, actor=cast.superintendent)
    certificate.refresh_from_db()
    assert certificate.state_reason == "first"
    assert AuditEntry.objects.filter(action="certificate withdrawn").count() == 1


def test_without_the_pdf_library_the_certificate_is_issued_all_the_same(
    cast: Cast, ship: Ship, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    monkeypatch.setattr(pdf, "render_pdf", no_pdf)
    with django_capture_on_commit_callbacks(execute=True) as callbacks:
        certificate = certified(ship, cast.superintendent)
    assert len(callbacks) == 1
    assert certificate.state == CertificateState.ISSUED
    assert not certificate.pdf
    with pytest.raises(pdf.PdfUnavailable):
        certificate_pdf_make(certificate)


@pytest.mark.pdf
def test_the_pdf_is_made_once_after_the_approval_and_kept(
    cast: Cast, ship: Ship, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        certificate = certified(ship, cast.superintendent)
    certificate.refresh_from_db()
    first = certificate.pdf.name
    stored = certificate.pdf.read()
    certificate.pdf.close()
    assert sha256_of(stored) == certificate.pdf_sha256
    certificate_pdf_make(certificate)
    certificate.refresh_from_db()
    assert certificate.pdf.name == first
    assert AuditEntry.objects.filter(action="certificate PDF made").count() == 1


def stored_bytes(certificate: Certificate) -> bytes:
    with certificate.pdf.open("rb") as file:
        content: bytes = file.read()
    return content


@pytest.mark.pdf
def test_a_lost_file_is_signed_anew_over_the_same_paper(cast: Cast, ship: Ship) -> None:
    certificate = certified(ship, cast.superintendent)
    certificate_pdf_make(certificate)
    first, paper = stored_bytes(certificate), certificate_pdf_bytes(certificate)
    certificate.pdf.storage.delete(str(certificate.pdf.name))
    assert not pdf_is_stored(certificate)
    certificate_pdf_make(certificate)
    certificate.refresh_from_db()
    second = stored_bytes(certificate)
    assert first.startswith(paper)
    assert second.startswith(paper)
    assert certificate.pdf_sha256 == sha256_of(second) != sha256_of(first)


@pytest.mark.pdf
def test_what_is_stored_is_signed_and_never_made_again(cast: Cast, ship: Ship) -> None:
    certificate = certified(ship, cast.superintendent)
    certificate_pdf_make(certificate)
    first = stored_bytes(certificate)
    certificate_pdf_make(Certificate.objects.get(pk=certificate.pk))
    assert stored_bytes(Certificate.objects.get(pk=certificate.pk)) == first
    assert b"ETSI.CAdES.detached" in first


@pytest.mark.pdf
def test_without_a_key_the_certificate_is_issued_unsigned_and_says_so(
    cast: Cast, ship: Ship, settings: Any, tmp_path: Path
) -> None:
    settings.SIGNING_MAKES_DEMO_KEYS = False
    settings.SIGNING_FOLDER = tmp_path
    certificate = certified(ship, cast.superintendent)
    snapshot = read_snapshot(certificate)
    assert "signature" not in snapshot
    assert "carries no digital signature" in certificate_html(snapshot)
    assert certificate_pdf_signed(certificate) == certificate_pdf_bytes(certificate)


def test_keys_that_cannot_be_read_do_not_hold_up_an_approval(
    cast: Cast, ship: Ship, settings: Any, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / "broken.pem").write_text("no key at all")
    settings.SIGNING_FOLDER = tmp_path
    certificate = certified(ship, cast.superintendent)
    assert certificate.state == CertificateState.ISSUED
    assert "cannot be read" in caplog.text


@pytest.mark.pdf
def test_a_key_that_is_gone_leaves_the_paper_for_later_and_says_why(
    cast: Cast, ship: Ship, settings: Any, tmp_path: Path
) -> None:
    certificate = certified(ship, cast.superintendent)
    authority = read_snapshot(certificate)["signature"]["authority"]
    here, settings.SIGNING_FOLDER = settings.SIGNING_FOLDER, tmp_path
    with pytest.raises(SigningUnavailable, match=re.escape(authority)):
        certificate_pdf_make(certificate)
    assert not pdf_is_stored(certificate)
    settings.SIGNING_FOLDER = here
    certificate_pdf_make(certificate)
    assert pdf_is_stored(certificate)


@pytest.mark.pdf
def test_after_a_rotation_old_papers_stay_valid_and_an_open_one_is_signed_under_the_authority_it_names(
    cast: Cast, ship: Ship, settings: Any, tmp_path: Path
) -> None:
    settings.SIGNING_FOLDER, settings.SIGNING_MAKES_DEMO_KEYS = tmp_path, False
    new = ("signing_key", "new", "--company", cast.company.name, "--short-code", cast.company.short_code)
    call_command(*new, stdout=StringIO())
    signed, still_open = certified(ship, cast.superintendent), certified(ship, cast.superintendent)
    old_paper = certificate_pdf_signed(signed)
    call_command(*new, "--new-authority", stdout=StringIO())
    late_paper = certificate_pdf_signed(still_open)
    new_paper = certificate_pdf_signed(certified(ship, cast.superintendent))
    known = known_keys().authorities
    found = [check_signature(open_pdf(paper), authorities=known) for paper in (old_paper, late_paper, new_paper)]
    assert [row.good for row in found] == [True, True, True]
    assert len(known) == 2
    assert found[0].authority == found[1].authority != found[2].authority


def test_one_submission_has_one_certificate_at_most(cast: Cast, ship: Ship) -> None:
    certificate = certified(ship, cast.superintendent)
    with pytest.raises(IntegrityError), transaction.atomic():
        Certificate.objects.create(
            number="X-1",
            submission=Submission.objects.get(pk=certificate.submission_id),
            snapshot=b"{}",
            snapshot_sha256="0" * 64,
            code="0000-0000-0000-0000",
            issued_at=certificate.issued_at,
        )
