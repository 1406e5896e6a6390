"""Issuing, printing and withdrawing certificates."""

from collections.abc import Iterator
from datetime import datetime

from django.core.files.base import ContentFile
from django.db import models
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from fleet.accounts.models import User
from fleet.certificates.audit_proof import FILE_NAME, proof_keep
from fleet.certificates.codes import code_make
from fleet.certificates.models import Certificate, CertificateState
from fleet.certificates.numbers import number_take
from fleet.certificates.paper import certificate_html
from fleet.certificates.snapshot import certificate_content, read_snapshot
from fleet.core import pdf
from fleet.core.audit import audit_write, audited
from fleet.core.canonical import canonical, sha256_of
from fleet.drums.models import Drum
from fleet.records.models import Decision, Submission
from fleet.vessels.models import Vessel


def certificate_issue(
    *, submission: Submission, decision: Decision, actor: User, at: datetime | None = None
) -> Certificate:
    """Fix number, code and content of a certificate; call inside the transaction of the approval."""
    at = at or timezone.now()
    drum = submission.test.drum
    vessel = drum.vessel
    number = number_take(company=vessel.company, year=at.year)
    code = code_make()
    content = canonical(
        certificate_content(submission=submission, decision=decision, number=number, code=code, issued_at=at)
    )
    certificate = Certificate(
        number=number,
        submission=submission,
        snapshot=content,
        snapshot_sha256=sha256_of(content),
        code=code,
        issued_at=at,
    )
    certificate.full_clean(exclude=["pdf", "pdf_sha256", "snapshot", "audit_proof"])
    certificate.save()
    audit_write(
        actor=actor,
        action="certificate issued",
        subject=certificate,
        company_id=vessel.company_id,
        vessel_id=vessel.pk,
        after={"number": number, "snapshot_sha256": certificate.snapshot_sha256, "submission_id": str(submission.pk)},
        at=at,
        then=lambda entry, place: proof_keep(certificate, entry, place),
    )
    _supersede_by_newest(drum, actor=actor, at=at)
    certificate.refresh_from_db(fields=["state", "state_changed_at", "superseded_by", "state_reason"])
    return certificate


def _supersede_by_newest(drum: Drum, *, actor: User, at: datetime) -> None:
    """Leave one certificate of a drum unsuperseded: that of the newest test, whichever was approved first."""
    standing = list(
        Certificate.objects.select_for_update(of=("self",))
        .filter(submission__test__drum=drum, state=CertificateState.ISSUED)
        .order_by("-submission__tested_on", "-submission__submitted_at", "-issued_at")
        .defer("snapshot")
    )
    for older in standing[1:]:
        older.state = CertificateState.SUPERSEDED
        older.superseded_by = standing[0]
        older.state_changed_at = at
        older.save(update_fields=["state", "superseded_by", "state_changed_at"])
        audit_write(
            actor=actor,
            action="certificate superseded",
            subject=older,
            company_id=drum.vessel.company_id,
            vessel_id=drum.vessel.pk,
            before={"state": CertificateState.ISSUED},
            after={"state": CertificateState.SUPERSEDED, "superseded_by": standing[0].number},
            at=at,
        )


def certificate_withdraw(
    *, certificate: Certificate, reason: str, actor: User, at: datetime | None = None
) -> Certificate:
    """Take a certificate back for good, with the reason; its paper and its content stay."""
    at = at or timezone.now()
    with audited():
        row = Certificate.objects.select_for_update(of=("self",)).get(pk=certificate.pk)
        if row.state == CertificateState.WITHDRAWN:
            return row
        before = row.state
        row.state = CertificateState.WITHDRAWN
        row.state_changed_at = at
        row.state_reason = reason
        row.save(update_fields=["state", "state_changed_at", "state_reason"])
        vessel = row.submission.test.drum.vessel
        audit_write(
            actor=actor,
            action="certificate withdrawn",
            subject=row,
            company_id=vessel.company_id,
            vessel_id=vessel.pk,
            before={"state": before},
            after={"state": row.state},
            reason=reason,
            at=at,
        )
    return row


def certificate_pdf_bytes(certificate: Certificate) -> bytes:
    """The paper made from the snapshot alone: the same bytes on every run. Raises PdfUnavailable."""
    snapshot = read_snapshot(certificate)
    # The reader's language must not change a stored paper.
    with translation.override(snapshot["language"]):
        return pdf.render_pdf(
            certificate_html(snapshot),
            title=_("Brake rendering test certificate {number}").format(number=certificate.number),
            variant="pdf/a-3a",
            created=datetime.fromisoformat(snapshot["certificate"]["issued_at"]),
            attachments=list(_attachments(certificate)),
        )


def _attachments(certificate: Certificate) -> Iterator[pdf.PdfAttachment]:
    yield pdf.PdfAttachment(
        name=f"{certificate.number}.json",
        content=bytes(certificate.snapshot),
        description=_("The record this certificate was made from"),
        mime_type="application/json",
        relationship="Data",
    )
    if certificate.audit_proof:
        yield pdf.PdfAttachment(
            name=FILE_NAME,
            content=bytes(certificate.audit_proof),
            description=_("The audit entry of the issue, with the proof of its place"),
            mime_type="application/json",
            relationship="Supplement",
        )


def certificate_pdf_make(certificate: Certificate) -> Certificate:
    """Make and store the PDF unless it is there already. Raises PdfUnavailable, and changes nothing then."""
    if pdf_is_stored(certificate):
        return certificate
    content = certificate_pdf_bytes(certificate)
    with audited():
        row = Certificate.objects.select_for_update(of=("self",)).get(pk=certificate.pk)
        if not pdf_is_stored(row):
            before = row.pdf_sha256
            row.pdf_sha256 = sha256_of(content)
            row.pdf.save(f"{row.pk}.pdf", ContentFile(content), save=False)
            row.save(update_fields=["pdf", "pdf_sha256"])
            vessel = row.submission.test.drum.vessel
            audit_write(
                actor=None,
                action="certificate PDF made",
                subject=row,
                company_id=vessel.company_id,
                vessel_id=vessel.pk,
                before={"pdf_sha256": before} if before else None,
                after={"pdf_sha256": row.pdf_sha256},
            )
    certificate.pdf, certificate.pdf_sha256 = row.pdf, row.pdf_sha256
    return certificate


def pdf_is_stored(certificate: Certificate) -> bool:
    return bool(certificate.pdf) and certificate.pdf.storage.exists(str(certificate.pdf.name))


def download_note(*, what: str, subject: models.Model, vessel: Vessel, actor: User) -> None:
    """Write down who took which paper away."""
    audit_write(
        actor=actor, action=f"{what} downloaded", subject=subject, company_id=vessel.company_id, vessel_id=vessel.pk
    )
