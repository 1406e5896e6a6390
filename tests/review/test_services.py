"""Approve, return, withdraw: who may, what must be answered, and what becomes of the test."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from fleet.accounts.models import User
from fleet.certificates.models import Certificate, CertificateState
from fleet.core.models import AuditEntry
from fleet.records.models import Decision, DecisionKind, DrumTest, State, Submission
from fleet.records.submissions import drum_test_reopen
from fleet.review.services import (
    AlreadyDecided,
    DecisionRefused,
    OwnWork,
    drum_test_withdraw,
    submission_approve,
    submission_return,
)
from tests.cast import Cast, person_with_role
from tests.certificates.records import SENT, Ship, answers_to, approved, certified, drum_on, failed, send, submitted
from tests.factories import DrumTestFactory, ReadingFactory, UserFactory

pytestmark = pytest.mark.django_db
ASKED = (("equal_readings", "ask", "Two readings are equal to every digit. Was each read anew?"),)


def test_approving_a_good_test_issues_its_certificate(cast: Cast, ship: Ship) -> None:
    submission = submitted(ship)
    at = datetime(2026, 11, 21, 9, tzinfo=UTC)
    decision = submission_approve(submission=submission, sentence=" Well done. ", actor=cast.superintendent, at=at)
    submission.test.refresh_from_db()
    assert submission.test.state == State.APPROVED
    assert (decision.kind, decision.sentence, decision.at) == (DecisionKind.APPROVED, "Well done.", at)
    assert (decision.name, decision.rank) == (cast.superintendent.name, cast.superintendent.rank)
    assert Certificate.objects.get().submission == submission


def test_approving_leaves_an_audit_entry_with_sentence_and_answers(cast: Cast, ship: Ship) -> None:
    submission = submitted(ship, findings=ASKED)
    submission_approve(
        submission=submission, finding_answers={"equal_readings": "Yes, see photo."}, actor=cast.superintendent
    )
    entry = AuditEntry.objects.get(action="submission approved")
    assert (entry.subject_id, entry.vessel_id) == (submission.test_id, cast.vessel.pk)
    assert entry.before == {"state": "submitted"}
    assert entry.after is not None
    assert entry.after["finding_answers"] == {"equal_readings": "Yes, see photo."}


@pytest.mark.parametrize("who", ["submitter", "engineer", "master", "reader"])
def test_nobody_judges_a_test_they_took_part_in(cast: Cast, ship: Ship, who: str) -> None:
    submission = submitted(ship)
    people = {"submitter": ship.officer, "engineer": ship.engineer, "master": ship.master, "reader": UserFactory()}
    if who == "reader":
        ReadingFactory(test=submission.test, order=99, author=people[who])
    for act in (submission_approve, submission_return):
        with pytest.raises(OwnWork):
            act(submission=submission, sentence="x", actor=people[who])
    submission.test.refresh_from_db()
    assert submission.test.state == State.SUBMITTED
    assert not Decision.objects.exists()


def test_a_superintendent_who_also_sails_as_officer_cannot_approve_their_own(cast: Cast, ship: Ship) -> None:
    both: User = person_with_role(cast.company, "superintendent", cast.vessel)
    ship.officer = both
    with pytest.raises(OwnWork):
        submission_approve(submission=submitted(ship), actor=both)


@pytest.mark.parametrize("answers", [{}, {"equal_readings": ""}, {"equal_readings": "  "}, {"other": "yes"}])
def test_every_finding_that_asks_must_be_answered_first(cast: Cast, ship: Ship, answers: dict[str, str]) -> None:
    submission = submitted(ship, findings=ASKED)
    with pytest.raises(ValidationError) as caught:
        submission_approve(submission=submission, finding_answers=answers, actor=cast.superintendent)
    assert list(caught.value.message_dict) == ["answer_equal_readings"]
    assert not Certificate.objects.exists()


def test_a_note_needs_no_answer(cast: Cast, ship: Ship) -> None:
    submission = submitted(ship, findings=(("worth_knowing", "note", "The gauge was changed."),))
    submission_approve(submission=submission, actor=cast.superintendent)
    assert Certificate.objects.exists()


def test_returning_needs_a_sentence_and_shows_it_to_the_ship(cast: Cast, ship: Ship) -> None:
    submission = submitted(ship)
    with pytest.raises(ValidationError):
        submission_return(submission=submission, sentence="  ", actor=cast.superintendent)
    submission_return(submission=submission, sentence="Photograph the mark again.", actor=cast.superintendent)
    submission.test.refresh_from_db()
    assert (submission.test.state, submission.test.state_reason) == (State.RETURNED, "Photograph the mark again.")
    assert not Certificate.objects.exists()
    assert AuditEntry.objects.get(action="submission returned").reason == "Photograph the mark again."


def test_a_returned_test_comes_back_as_the_next_version_and_can_be_approved(cast: Cast, ship: Ship) -> None:
    first = submitted(ship)
    submission_return(submission=first, sentence="Which lining?", actor=cast.superintendent)
    test = first.test
    test.refresh_from_db()
    test.draft["remarks"] = "lining of March"
    test.save()
    second = send(test, ship, at=SENT.replace(day=22))
    assert second.version == 2
    approved(second, cast.superintendent)
    assert Certificate.objects.get().submission == second
    assert first.decisions.get().kind == DecisionKind.RETURNED


def test_only_the_newest_version_is_decided_on(cast: Cast, ship: Ship) -> None:
    first = submitted(ship)
    drum_test_reopen(test=first.test, reason="wrong weather", actor=ship.officer)
    test = DrumTest.objects.get(pk=first.test_id)
    send(test, ship, at=SENT.replace(day=22))
    with pytest.raises(AlreadyDecided, match="newer version"):
        submission_approve(submission=first, actor=cast.superintendent)


def test_the_second_reviewer_is_told_who_decided_and_when(cast: Cast, ship: Ship) -> None:
    submission = submitted(ship)
    approved(submission, cast.superintendent, at=datetime(2026, 11, 21, 9, 5, tzinfo=UTC))
    other = person_with_role(cast.company, "superintendent", cast.vessel)
    for act in (submission_approve, submission_return):
        with pytest.raises(AlreadyDecided, match=rf"{cast.superintendent.name} decided .* 21 Nov 2026, 09:05"):
            act(submission=submission, sentence="Too late.", actor=other)
    assert Decision.objects.count() == 1
    assert Certificate.objects.count() == 1


def test_a_test_opened_again_is_not_decided_on(cast: Cast, ship: Ship) -> None:
    submission = submitted(ship)
    drum_test_reopen(test=submission.test, reason="wrong weather", actor=ship.officer)
    with pytest.raises(AlreadyDecided, match="returned to the ship"):
        submission_approve(submission=submission, actor=cast.superintendent)


def test_it_is_not_returned_while_the_ship_has_another_test_of_the_drum_in_hand(cast: Cast, ship: Ship) -> None:
    submission = submitted(ship)
    DrumTestFactory(drum=submission.test.drum, round=submission.test.round)
    with pytest.raises(DecisionRefused, match="another test of this drum"):
        submission_return(submission=submission, sentence="Again.", actor=cast.superintendent)


def test_figures_that_contradict_the_outcome_get_no_certificate(cast: Cast, ship: Ship) -> None:
    submission = submitted(ship)
    Submission.objects.filter(pk=submission.pk).update(as_left_share=0.66)
    with pytest.raises(DecisionRefused, match="do not show a brake set in band"):
        submission_approve(submission=submission, actor=cast.superintendent)
    submission.test.refresh_from_db()
    assert submission.test.state == State.SUBMITTED


def test_an_older_approved_test_is_superseded_by_the_good_one(cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    old = certified(ship, cast.superintendent, drum, tested_on=date(2025, 11, 20)).submission.test
    other = certified(ship, cast.superintendent).submission.test
    new = certified(ship, cast.superintendent, drum).submission.test
    states = dict(DrumTest.objects.values_list("pk", "state"))
    assert states == {old.pk: State.SUPERSEDED, other.pk: State.APPROVED, new.pk: State.APPROVED}


def test_a_failure_supersedes_nothing(cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    old = certified(ship, cast.superintendent, drum, tested_on=date(2025, 11, 20))
    approved(failed(ship, drum), cast.superintendent)
    old.refresh_from_db()
    assert old.state == CertificateState.ISSUED
    assert DrumTest.objects.get(pk=old.submission.test_id).state == State.APPROVED


def test_a_failure_is_superseded_by_the_good_test_and_stays_on_record(cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    failure = failed(ship, drum, tested_on=date(2026, 11, 18))
    approved(failure, cast.superintendent)
    certified(ship, cast.superintendent, drum)
    failure.test.refresh_from_db()
    assert failure.test.state == State.SUPERSEDED
    assert Submission.objects.filter(pk=failure.pk).exists()


def test_an_older_test_approved_late_is_superseded_at_once(cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    late = submitted(ship, drum, tested_on=date(2025, 11, 20))
    newer = certified(ship, cast.superintendent, drum).submission.test
    approved(late, cast.superintendent, at=datetime(2026, 11, 25, tzinfo=UTC))
    states = dict(DrumTest.objects.values_list("pk", "state"))
    assert states == {late.test_id: State.SUPERSEDED, newer.pk: State.APPROVED}


def test_an_amended_approval_supersedes_the_certificate_of_the_version_before(cast: Cast, ship: Ship) -> None:
    first = certified(ship, cast.superintendent)
    test = DrumTest.objects.get(pk=first.submission.test_id)
    drum_test_reopen(test=test, reason="name misspelt", actor=ship.officer)
    second = send(DrumTest.objects.get(pk=test.pk), ship, at=SENT.replace(day=23))
    approved(second, cast.superintendent, at=datetime(2026, 11, 24, tzinfo=UTC))
    first.refresh_from_db()
    assert first.state == CertificateState.SUPERSEDED
    assert first.superseded_by == Certificate.objects.get(submission=second)


def test_withdrawing_takes_test_and_certificate_back_with_the_reason(cast: Cast, ship: Ship) -> None:
    certificate = certified(ship, cast.superintendent)
    test = certificate.submission.test
    decision = drum_test_withdraw(test=test, reason="gauge failed its calibration", actor=cast.superintendent)
    test.refresh_from_db()
    certificate.refresh_from_db()
    assert (test.state, certificate.state) == (State.WITHDRAWN, CertificateState.WITHDRAWN)
    assert decision.kind == DecisionKind.WITHDRAWN
    assert certificate.state_reason == test.state_reason == "gauge failed its calibration"
    assert AuditEntry.objects.get(action="drum test withdrawn").reason == "gauge failed its calibration"


def test_a_withdrawal_needs_a_reason_and_an_approved_test(cast: Cast, ship: Ship) -> None:
    submission = submitted(ship)
    with pytest.raises(ValidationError):
        drum_test_withdraw(test=submission.test, reason=" ", actor=cast.superintendent)
    with pytest.raises(DecisionRefused, match="Only an approved test"):
        drum_test_withdraw(test=submission.test, reason="x", actor=cast.superintendent)


def test_too_long_an_answer_is_refused_in_words(cast: Cast, ship: Ship) -> None:
    submission = submitted(ship, findings=ASKED)
    with pytest.raises(ValidationError, match="400 characters"):
        submission_approve(
            submission=submission, finding_answers={"equal_readings": "x" * 401}, actor=cast.superintendent
        )


def test_approval_that_fails_midway_leaves_nothing_behind(
    cast: Cast, ship: Ship, monkeypatch: pytest.MonkeyPatch
) -> None:
    import fleet.review.services as services

    def breaks(**kwargs: Any) -> None:
        raise RuntimeError("disk full")

    submission = submitted(ship)
    monkeypatch.setattr(services, "certificate_issue", breaks)
    with pytest.raises(RuntimeError):
        submission_approve(submission=submission, finding_answers=answers_to(submission), actor=cast.superintendent)
    submission.test.refresh_from_db()
    assert submission.test.state == State.SUBMITTED
    assert not Decision.objects.exists()
    assert not AuditEntry.objects.filter(action="submission approved").exists()
