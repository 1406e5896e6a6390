"""Issuing, printing and withdrawing certificates."""

import logging
from collections.abc import Iterator
from datetime import datetime

from django.core.exceptions import ImproperlyConfigured
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
from fleet.certificates.signing import SigningUnavailable, sign_pdf, timestamper_set_up
from fleet.certificates.signing_keys import Authority, signer_for
from fleet.certificates.snapshot import certificate_content, read_snapshot, signing_authority_of
from fleet.core import pdf
from fleet.core.audit import audit_write, audited
from fleet.core.canonical import canonical, sha256_of
from fleet.drums.models import Drum
from fleet.records.models import Decision, Submission
from fleet.vessels.models import Vessel

logger = logging.getLogger(__name__)


def certificate_issue(
    *, submission: Submission, decision: Decision, actor: User, at: datetime | None = None
) -> Certificate:
    """Fix number, code and content of a certificate; call inside the transaction of the approval."""
    at = at or timezone.now()
    drum = submission.test.drum
    vessel = drum.vessel
    number = number_take(company=vessel.company, year=at.year)
    code = code_make()
    authority = _signing_authority(vessel)
    content = canonical(
        certificate_content(
            submission=submission,
            decision=decision,
            number=number,
            code=code,
            issued_at=at,
            authority=authority,
        )
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


def _signing_authority(vessel: Vessel) -> Authority | None:
    """Under whose authority the paper will be signed; keys that cannot be read never hold up an approval."""
    try:
        signer = signer_for(company_code=vessel.company.short_code, company_name=vessel.company.name)
    except (ImproperlyConfigured, OSError):
        logger.exception("The signing keys cannot be read: a certificate is issued without a signature.")
        return None
    return signer.authority if signer else None


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
    """The paper before it is signed, made from the snapshot alone: the same bytes on every run.

    Raises PdfUnavailable.
    """
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


def certificate_pdf_signed(certificate: Certificate) -> bytes:
    """The paper as it is handed out: signed under the authority that it names, or as it is where it names none.

    Raises PdfUnavailable; SigningUnavailable where only the signature is wanting.
    """
    snapshot = read_snapshot(certificate)
    content = certificate_pdf_bytes(certificate)
    authority_sha256 = signing_authority_of(snapshot)
    if not authority_sha256:
        return content
    company = certificate.submission.test.drum.vessel.company
    try:
        identity = signer_for(
            company_code=company.short_code, company_name=company.name, authority_sha256=authority_sha256
        )
    except (ImproperlyConfigured, OSError):
        logger.exception("The signing keys cannot be read: the PDF of %s has to wait.", certificate.number)
        identity = None
    if identity is None:
        raise SigningUnavailable(
            _(
                "This certificate is issued, but the key that signs its PDF is not at hand or has run out. Ask whoever "
                "keeps the server to put back a signing key of “{authority}”, and download it then."
            ).format(authority=snapshot["signature"]["authority"])
        )
    with translation.override(snapshot["language"]):
        reason = _("Brake rendering test certificate {number}").format(number=certificate.number)
    return sign_pdf(content, identity=identity, reason=reason, timestamper=timestamper_set_up())


def certificate_pdf_make(certificate: Certificate) -> Certificate:
    """Make, sign and store the PDF unless it is there already. Raises PdfUnavailable, and changes nothing then."""
    if pdf_is_stored(certificate):
        return certificate
    content = certificate_pdf_signed(certificate)
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
