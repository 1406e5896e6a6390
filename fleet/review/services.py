"""What shore decides on a submission: approve, return, withdraw. One decision at a time, by somebody else's eyes."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from fleet.accounts.models import User
from fleet.certificates.models import Certificate
from fleet.certificates.services import certificate_issue, certificate_pdf_make, certificate_withdraw
from fleet.core.audit import audited
from fleet.core.pdf import PdfUnavailable
from fleet.drift.services import history_point_forget, history_point_keep
from fleet.drums.models import Drum
from fleet.records.audit import audit_drum_test
from fleet.records.models import Confirmation, Decision, DecisionKind, DrumTest, Finding, Outcome, State, Submission

SENTENCE_LIMIT = 400
OWN_WORK = lazy("You took part in this test yourself; another superintendent must decide on it.")
NOT_NEWEST = lazy("The ship has sent a newer version since. Look at that one.")
SENTENCE_NEEDED = lazy("Write one sentence: the ship sees it and acts on it.")
REASON_NEEDED = lazy("Say why this is withdrawn; the ship and the auditors see it.")
ANSWER_NEEDED = lazy("Answer this finding before you approve.")
TOO_LONG = lazy("Keep it to 400 characters.")
NOT_IN_BAND = lazy("The figures do not show a brake set in band, although the outcome says so. Return it to the ship.")
OTHER_IN_HAND = lazy("The ship has another test of this drum in hand; it can work on one at a time. Decide that first.")
NOT_APPROVED = lazy("Only an approved test can be withdrawn.")


class DecisionRefused(Exception):
    """This decision cannot be taken, or not any more; the message is for the person who tried."""


class AlreadyDecided(DecisionRefused):
    """Somebody else was quicker, or the record has moved on."""


class OwnWork(DecisionRefused):
    """Nobody judges a test they took part in."""


def submission_approve(
    *,
    submission: Submission,
    sentence: str = "",
    finding_answers: Mapping[str, str] | None = None,
    actor: User,
    paper_at_once: bool = True,
    at: datetime | None = None,
) -> Decision:
    """Approve; a test set in band gets its certificate, any other stays as an approved record of failure.

    Without `paper_at_once` the PDF is made at the first download.
    """
    at = at or timezone.now()
    with audited():
        test, submission = _locked(submission)
        _refuse_own_work(submission, actor)
        answers = _answers(submission, finding_answers or {})
        good = submission.outcome == Outcome.SET_IN_BAND
        if good and not _in_band(submission):
            raise DecisionRefused(NOT_IN_BAND)
        decision = _decide(submission, DecisionKind.APPROVED, sentence, answers, actor, at)
        _move(test, State.APPROVED, "", actor, "submission approved", at, decision)
        history_point_keep(submission=submission)
        if good:
            _supersede_older(test, submission, actor=actor, at=at)
            certificate = certificate_issue(submission=submission, decision=decision, actor=actor, at=at)
            # Only once the approval is safe: no paper of what was rolled back, no lock held while it is drawn.
            if paper_at_once:
                transaction.on_commit(lambda: _pdf_if_possible(certificate), robust=True)
    return decision


def submission_return(*, submission: Submission, sentence: str, actor: User, at: datetime | None = None) -> Decision:
    """Send it back to the ship with one sentence that says what to do."""
    at = at or timezone.now()
    if not sentence.strip():
        raise ValidationError({"sentence": SENTENCE_NEEDED})
    with audited():
        test, submission = _locked(submission)
        _refuse_own_work(submission, actor)
        if DrumTest.objects.in_hand().filter(drum=test.drum_id).exclude(pk=test.pk).exists():
            raise DecisionRefused(OTHER_IN_HAND)
        decision = _decide(submission, DecisionKind.RETURNED, sentence, {}, actor, at)
        _move(test, State.RETURNED, decision.sentence, actor, "submission returned", at, decision)
    return decision


def drum_test_withdraw(*, test: DrumTest, reason: str, actor: User, at: datetime | None = None) -> Decision:
    """Take an approved test back for good, and every certificate that stands on it."""
    at = at or timezone.now()
    if not reason.strip():
        raise ValidationError({"reason": REASON_NEEDED})
    with audited():
        locked = _lock_test(test)
        if locked.state not in {State.APPROVED, State.SUPERSEDED}:
            raise DecisionRefused(NOT_APPROVED)
        approved = locked.submissions.filter(decisions__kind=DecisionKind.APPROVED).order_by("-version").first()
        if approved is None:
            raise DecisionRefused(NOT_APPROVED)
        decision = _decide(approved, DecisionKind.WITHDRAWN, reason, {}, actor, at)
        _move(locked, State.WITHDRAWN, decision.sentence, actor, "drum test withdrawn", at, decision)
        history_point_forget(test=locked)
        for certificate in Certificate.objects.filter(submission__test=locked).defer("snapshot"):
            certificate_withdraw(certificate=certificate, reason=decision.sentence, actor=actor, at=at)
    return decision


def _lock_test(test: DrumTest) -> DrumTest:
    # The drum first, always in this order: two tests of one drum must not supersede each other at once.
    Drum.objects.select_for_update().get(pk=test.drum_id)
    return DrumTest.objects.select_for_update().get(pk=test.pk)


def _locked(submission: Submission) -> tuple[DrumTest, Submission]:
    """The test under lock and the submission afresh; AlreadyDecided when there is nothing left to decide."""
    test = _lock_test(submission.test)
    fresh = Submission.objects.select_related("test__drum__winch__vessel__company").get(pk=submission.pk)
    decided = fresh.decisions.filter(kind__in=[DecisionKind.APPROVED, DecisionKind.RETURNED]).first()
    if decided:
        raise AlreadyDecided(
            _("{name} decided on this already on {when} UTC: {what}.").format(
                name=decided.name, when=date_format(decided.at, "j M Y, H:i"), what=decided.get_kind_display()
            )
        )
    if test.submissions.filter(version__gt=fresh.version).exists():
        raise AlreadyDecided(NOT_NEWEST)
    if test.state != State.SUBMITTED:
        raise AlreadyDecided(
            _("There is nothing to decide any more: this test is now “{state}”.").format(state=test.get_state_display())
        )
    return test, fresh


def took_part(submission: Submission, person: User) -> bool:
    """Whether this person made, confirmed, released or sent what is to be judged."""
    return (
        submission.submitted_by_id == person.pk
        or Confirmation.objects.filter(test=submission.test_id, person=person).exists()
        or submission.test.readings.filter(author=person).exists()
    )


def _refuse_own_work(submission: Submission, actor: User) -> None:
    if took_part(submission, actor):
        raise OwnWork(OWN_WORK)


def findings_to_answer(submission: Submission) -> list[Finding]:
    """Those a person must answer before approval."""
    return [row for row in submission.findings.all() if row.level in {"ask", "stop"}]


def _answers(submission: Submission, given: Mapping[str, str]) -> dict[str, str]:
    errors: dict[str, ValidationError] = {}
    answers: dict[str, str] = {}
    for finding in findings_to_answer(submission):
        text = given.get(finding.code, "").strip()
        if not text:
            errors[f"answer_{finding.code}"] = ValidationError(ANSWER_NEEDED, code="required")
        elif len(text) > SENTENCE_LIMIT:
            errors[f"answer_{finding.code}"] = ValidationError(TOO_LONG, code="max_length")
        answers[finding.code] = text
    if errors:
        raise ValidationError(errors)
    return answers


def _in_band(submission: Submission) -> bool:
    left = submission.as_left_share
    return left is not None and submission.band_low <= left <= submission.band_high


def _decide(
    submission: Submission, kind: str, sentence: str, answers: dict[str, str], actor: User, at: datetime
) -> Decision:
    decision = Decision(
        submission=submission,
        kind=kind,
        sentence=sentence.strip(),
        finding_answers=answers,
        person=actor,
        name=actor.name,
        rank=actor.rank,
        at=at,
    )
    decision.full_clean()
    decision.save()
    return decision


def _move(
    test: DrumTest, state: State, reason: str, actor: User, action: str, at: datetime, decision: Decision | None = None
) -> None:
    """The test's new state, with its audit entry."""
    before = test.state
    test.state, test.state_reason = state, reason
    test.save(update_fields=["state", "state_reason"])
    after: dict[str, Any] = {"state": state.value}
    if decision:
        after |= {
            "submission_id": str(decision.submission_id),
            "version": decision.submission.version,
            "sentence": decision.sentence,
            "finding_answers": decision.finding_answers,
        }
    audit_drum_test(test, actor, action, before={"state": before}, after=after, reason=reason, at=at)


def _supersede_older(test: DrumTest, submission: Submission, *, actor: User, at: datetime) -> None:
    """The newest good test of a drum stands; approved ones before it are superseded, and stay in sight."""
    others = DrumTest.objects.filter(drum=test.drum_id, state=State.APPROVED).exclude(pk=test.pk)
    newer = False
    for other in others.select_related("drum__winch__vessel").prefetch_related("submissions"):
        latest = max(other.submissions.all(), key=lambda row: row.version)
        if (latest.tested_on, latest.submitted_at) < (submission.tested_on, submission.submitted_at):
            _move(other, State.SUPERSEDED, "", actor, "drum test superseded", at)
        elif latest.outcome == Outcome.SET_IN_BAND:
            newer = True
    if newer:
        _move(test, State.SUPERSEDED, "", actor, "drum test superseded", at)


def _pdf_if_possible(certificate: Certificate) -> None:
    """The approval stands whether or not this machine can make its paper; the first download tries again."""
    try:
        certificate_pdf_make(certificate)
    except PdfUnavailable:
        return
