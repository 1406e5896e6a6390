"""What is said of a PDF handed to the verification page: of the file by itself, and of what is known of it here."""

import logging
from collections.abc import Iterator
from dataclasses import dataclass

from django.core.exceptions import ImproperlyConfigured
from django.db.models import Q
from django.utils.formats import date_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _

from fleet.certificates.codes import code_read
from fleet.certificates.models import Certificate, CertificateState
from fleet.certificates.recheck import Recheck, recheck
from fleet.certificates.recheck_lines import DATA, FIGURES, PRINTED, TRUST
from fleet.certificates.signing_keys import Authority, known_keys
from fleet.core.canonical import sha256_of

logger = logging.getLogger(__name__)
YES, NO, UNKNOWN = "approved", "withdrawn", "never_tested"
MOST_NAMED = 6


@dataclass(frozen=True)
class Answer:
    """One question, its answer as word and shape, and a sentence."""

    question: str
    shape: str
    word: str | Promise
    sentence: str


@dataclass(frozen=True)
class FileVerdict:
    """The file and, where this installation knows it, its certificate."""

    checked: Recheck
    certificate: Certificate | None
    is_stored_file: bool
    """Byte for byte the file that is kept here."""

    @property
    def is_genuine(self) -> bool:
        """The file is what the operator issued: signed and all in agreement, or the very file that is kept here."""
        return self.checked.all_agree or (self.is_stored_file and not self.checked.signature.is_signed)

    @property
    def stands(self) -> bool:
        """Genuine, and nothing came after that takes it back."""
        found = self.certificate
        return self.is_genuine and bool(found and found.state == CertificateState.ISSUED and not found.remarks)

    @property
    def sentence(self) -> str:
        signature = self.checked.signature
        if self.is_genuine and self.certificate is None:
            return _("The file is signed and unchanged, but no such certificate is known here: ask the operator.")
        if self.is_genuine:
            return _("Genuine: this file is the certificate as the operator issued it, unchanged.")
        if not signature.is_signed:
            return _("Do not rely on this file: it carries no signature, and it is not the file that is kept here.")
        if not (signature.is_unchanged and signature.is_whole):
            return _("Do not rely on this file: it was changed after it was signed.")
        if signature.authority is None:
            return _("Do not rely on this file: nobody known here vouches for whoever signed it.")
        return _("Do not rely on this file: what it says does not agree with itself.")

    @property
    def answers(self) -> list[Answer]:
        return [*self._on_signature(), self._on_record(), *self._on_figures()]

    def _on_signature(self) -> Iterator[Answer]:
        found = self.checked.signature
        question = _("Is the file as it was signed?")
        if not found.is_signed:
            said = _("It carries no signature.")
            if self.is_stored_file:
                said = _("It carries no signature, but is byte for byte the file that is kept here.")
            yield Answer(question, UNKNOWN, _("not signed"), said)
            return
        when = date_format(found.signed_at, "j F Y, H:i") if found.signed_at else "?"
        good = found.is_unchanged and found.is_whole and found.is_certified
        said = _("Signed {when} UTC; the signature is right and covers the whole file.").format(when=when)
        if not found.is_unchanged:
            said = _("The signature does not fit the file: at least one byte is another.")
        elif not good:
            said = _("The signature is right, but does not cover the whole file: something was added after it.")
        yield _answer(question, good, said)
        question = _("Who vouches for the signature?")
        if not found.is_unchanged:
            yield Answer(question, UNKNOWN, _("not known"), _("Who vouched for another file vouches for nothing here."))
            return
        if found.authority is None:
            said = _("Nobody known here. The signer names “{issuer}”.").format(issuer=found.issuer)
        else:
            said = _("“{name}”; SHA-256 {fingerprint}").format(
                name=found.authority.name, fingerprint=found.authority.fingerprint
            )
        yield _answer(question, found.authority is not None, said)

    def _on_record(self) -> Answer:
        question, found = _("What is its state now?"), self.certificate
        if found is None:
            return Answer(question, UNKNOWN, _("not known"), _("This installation holds no certificate with its code."))
        if found.snapshot_sha256 != self.checked.snapshot_sha256:
            said = _("Certificate {number} has this code, but other content than this file.")
            return _answer(question, False, said.format(number=found.number))
        said = _("Certificate {number}: {state}.").format(number=found.number, state=found.state_words)
        if not self.is_genuine:
            said += " " + _("That is said of the certificate, not of this file.")
        stands = found.state == CertificateState.ISSUED and not found.remarks
        shape = (YES if stands else NO) if self.is_genuine else UNKNOWN
        return Answer(question, shape, found.get_state_display(), said)

    def _on_figures(self) -> Iterator[Answer]:
        if self.checked.snapshot is None:
            yield _answer(_("Do its figures agree?"), False, _("It carries no record that can be read."))
            return
        yield self._on_part(
            _("Do its figures agree when worked out again?"), (DATA, FIGURES, TRUST), _("All {number} of them.")
        )
        yield self._on_part(
            _("Do the printed words agree with the record?"),
            (PRINTED,),
            _("All {number} rows and sentences with figures."),
        )

    def _on_part(self, question: str, parts: tuple[str, ...], said: str) -> Answer:
        lines = [line for line in self.checked.lines if line.part in parts]
        wrong = [line.what for line in lines if not line.agrees]
        if wrong:
            more = _(" and {number} more").format(number=len(wrong) - MOST_NAMED) if len(wrong) > MOST_NAMED else ""
            said = _("Not in: {lines}{more}.").format(lines="; ".join(wrong[:MOST_NAMED]), more=more)
        return _answer(question, not wrong, said.format(number=len(lines)) if not wrong else said)


def file_verdict(content: bytes) -> FileVerdict:
    """Look at a file; nothing of it is kept. Raises UnreadablePdf."""
    checked = recheck(content, authorities=trusted_authorities())
    sha256 = sha256_of(content)
    code = code_read(str(checked.snapshot["certificate"].get("code", ""))) if checked.snapshot else None
    known = Certificate.objects.whole().filter(Q(pdf_sha256=sha256) | Q(code=code or "-"))
    certificate = max(known, key=lambda row: row.pdf_sha256 == sha256, default=None)
    return FileVerdict(checked, certificate, bool(certificate and certificate.pdf_sha256 == sha256))


def trusted_authorities() -> tuple[Authority, ...]:
    """The authorities published here; none where their files cannot be read, which is logged."""
    try:
        return known_keys().authorities
    except (ImproperlyConfigured, OSError):
        logger.exception("The signing keys cannot be read: no signature can be checked.")
        return ()


def _answer(question: str, good: bool, sentence: str) -> Answer:
    return Answer(question, YES if good else NO, _("yes") if good else _("no"), sentence)
