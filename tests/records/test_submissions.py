import pytest

from fleet.core.canonical import canonical, sha256_of
from fleet.core.models import AuditEntry
from fleet.records.assess import assess
from fleet.records.canonical import read_content
from fleet.records.drafts import NotInHand, draft_save, drum_test_start
from fleet.records.due import result_state_of
from fleet.records.models import DrumTest, DrumTestQuerySet, State, Submission
from fleet.records.submissions import (
    NotPossible,
    NotReady,
    drum_test_reopen,
    drum_test_submit,
    instruments_confirm,
    master_release,
    standing_confirmations,
    what_is_missing,
)
from tests.cast import Cast
from tests.records.scenario import GOOD_READINGS, confirm_and_submit, filled_test, submitted


def test_a_good_test_is_submitted_with_what_was_typed_and_what_it_came_to(cast: Cast) -> None:
    submission = submitted(cast)
    content = read_content(submission)
    assert content["draft"]["lining_1"] == "10,8"
    assert [row["share_shown"] for row in content["readings"]] == ["54.4", "57.5", "59.6", "60.3"]
    assert content["results"]["as_left_share_shown"] == "59.9 %"
    assert content["results"]["setting"]["shown"] == "49 mm"
    assert [row["kind"] for row in content["confirmations"]] == ["instruments", "release"]
    assert content["declared"] == {"name": "Ada Voss", "rank": "chief officer"}
    assert submission.sha256 == sha256_of(bytes(submission.content)) == sha256_of(canonical(content))
    assert AuditEntry.objects.filter(action="drum test submitted", subject_id=submission.test_id).count() == 1


def test_a_record_holds_what_the_jacks_side_and_the_gauges_date_follow_from(cast: Cast) -> None:
    content = read_content(submitted(cast))
    side = (content["drum"]["line_off"], content["drum"]["lead"], content["kit"]["jacks"][0]["acts"])
    assert side == ("top", "left", "push")
    assert content["policy"]["calibration_months"] == 12


def test_a_good_test_raises_no_finding_above_note(cast: Cast) -> None:
    submission = submitted(cast)
    assert [row.code for row in submission.findings.exclude(level="note")] == []


def test_sent_twice_it_is_recorded_once(cast: Cast) -> None:
    first = submitted(cast)
    again = drum_test_submit(
        test=first.test, declared_name="Ada Voss", declared_rank="chief officer", actor=cast.officer
    )
    assert again == first
    assert Submission.objects.count() == 1


def test_a_test_dated_ahead_is_not_sent(cast: Cast) -> None:
    # One day ahead of UTC is a ship's own morning; a year ahead is a slip of the pen that no interval may start from.
    with pytest.raises(NotReady, match="has not come yet"):
        confirm_and_submit(cast, filled_test(cast, draft={"tested_on": "2027-05-20"}))
    assert confirm_and_submit(cast, filled_test(cast, draft={"tested_on": "2026-11-21"})).version == 1


def test_without_release_it_is_not_sent_and_the_reason_is_said(cast: Cast) -> None:
    test = filled_test(cast)
    instruments_confirm(test=test, name="Ines Halloran", rank="chief engineer", actor=cast.engineer)
    with pytest.raises(NotReady) as caught:
        drum_test_submit(test=test, declared_name="A", declared_rank="B", actor=cast.officer)
    assert [item.field for item in caught.value.missing] == ["release"]


def test_a_release_lapses_when_the_figures_change(cast: Cast) -> None:
    test = filled_test(cast)
    instruments_confirm(test=test, name="Ines Halloran", rank="chief engineer", actor=cast.engineer)
    master_release(test=test, name="Tomas Brandt", rank="master", actor=cast.master)
    test = DrumTest.objects.whole().get(pk=test.pk)
    assert set(standing_confirmations(assess(test))) == {"instruments", "release"}
    draft_save(test=test, values={"final_mark": "48"}, revision=test.draft_revision, actor=cast.officer)
    assert standing_confirmations(assess(DrumTest.objects.whole().get(pk=test.pk))) == {}


def test_a_sister_drum_sent_meanwhile_does_not_undo_a_release(cast: Cast) -> None:
    test = filled_test(cast)
    instruments_confirm(test=test, name="Ines Halloran", rank="chief engineer", actor=cast.engineer)
    master_release(test=test, name="Tomas Brandt", rank="master", actor=cast.master)
    for _ in range(4):
        confirm_and_submit(cast, filled_test(cast, round=test.round))
    assert what_is_missing(assess(DrumTest.objects.whole().get(pk=test.pk))) == []


def test_too_few_verification_slips_are_missing(cast: Cast) -> None:
    test = filled_test(cast, readings=(("verification", "49", "173", True, True),))
    assert [item.field for item in what_is_missing(assess(test), confirmations=False)] == ["readings"]


def test_a_brake_out_of_use_is_recorded_without_readings_but_with_its_defect(cast: Cast) -> None:
    failed = {"outcome": "out_of_use", "final_mark": "", "who_was_told": "superintendent, by telephone"}
    test = filled_test(cast, draft=failed, readings=())
    assert [item.field for item in what_is_missing(assess(test), confirmations=False)] == ["defect_reference"]
    test = draft_save(
        test=test, values={"defect_reference": "D-26-031"}, revision=test.draft_revision, actor=cast.officer
    )
    submission = confirm_and_submit(cast, test)
    assert (submission.outcome, submission.as_left_share) == ("out_of_use", None)


def test_a_submitted_test_cannot_be_written_to(cast: Cast) -> None:
    submission = submitted(cast)
    with pytest.raises(NotInHand):
        draft_save(test=submission.test, values={"remarks": "x"}, revision=99, actor=cast.officer)


def test_an_amendment_is_the_next_version_with_its_reason_and_keeps_the_first(cast: Cast) -> None:
    first = submitted(cast)
    kept = bytes(first.content)
    test = drum_test_reopen(test=first.test, reason="the mark was read from the wrong edge", actor=cast.superintendent)
    assert test.state == State.RETURNED
    values = {"final_mark": "48.5", "answer_to_shore": "Measured again from the right edge."}
    draft_save(test=test, values=values, revision=test.draft_revision, actor=cast.officer)
    second = confirm_and_submit(cast, test)
    first.refresh_from_db()
    assert (second.version, second.reason) == (2, "the mark was read from the wrong edge")
    assert bytes(first.content) == kept
    assert "answer_to_shore" not in read_content(first)
    assert read_content(second)["answer_to_shore"] == "Measured again from the right edge."


def test_what_shore_sent_back_is_not_sent_again_without_an_answer(cast: Cast) -> None:
    first = submitted(cast)
    for number in (1, 2):
        test = drum_test_reopen(test=first.test, reason=f"question {number}", actor=cast.superintendent)
        test = DrumTest.objects.whole().get(pk=test.pk)
        # The answer to the first question is none to the second.
        missing = what_is_missing(assess(test), confirmations=False)
        assert [item.field for item in missing] == ["answer_to_shore"]
        with pytest.raises(NotReady, match="Shore sent it back"):
            confirm_and_submit(cast, test)
        values = {"answer_to_shore": f"answer {number}"}
        draft_save(test=test, values=values, revision=test.draft_revision, actor=cast.officer)
        sent = confirm_and_submit(cast, DrumTest.objects.whole().get(pk=test.pk))
        assert (sent.reason, read_content(sent)["answer_to_shore"]) == (f"question {number}", f"answer {number}")


def test_a_test_that_was_never_sent_is_asked_for_no_answer(cast: Cast) -> None:
    assert what_is_missing(assess(filled_test(cast)), confirmations=False) == []


def test_opening_again_needs_a_reason(cast: Cast) -> None:
    with pytest.raises(NotPossible, match="Say in one sentence"):
        drum_test_reopen(test=submitted(cast).test, reason="  ", actor=cast.superintendent)


def test_a_brake_that_only_held_at_stop_was_found_to_hold_more_than_that(cast: Cast) -> None:
    readings = (("as_found_untouched", "46", "187", False, False), *GOOD_READINGS[1:])
    submission = submitted(cast, readings=readings)
    assert submission.as_found_held
    assert read_content(submission)["results"]["as_found_share_shown"] == "more than 64.8 %"
    assert result_state_of(submission) == "was_too_tight"


def test_a_record_is_not_opened_while_another_test_of_the_drum_is_in_hand(cast: Cast) -> None:
    sent = submitted(cast).test
    drum_test_start(drum=sent.drum, round=sent.round, actor=cast.officer)
    with pytest.raises(NotPossible, match="in hand"):
        drum_test_reopen(test=sent, reason="wrong edge", actor=cast.superintendent)


def test_a_test_begun_at_the_same_moment_is_told_not_a_failure(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    sent = submitted(cast).test
    drum_test_start(drum=sent.drum, round=sent.round, actor=cast.officer)
    # The look came a moment before the other test was begun.
    monkeypatch.setattr(DrumTestQuerySet, "in_hand", lambda rows: rows.none())
    with pytest.raises(NotPossible, match="in hand"):
        drum_test_reopen(test=sent, reason="wrong edge", actor=cast.superintendent)
