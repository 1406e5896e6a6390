import io
import uuid
from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from fleet.core.models import AuditEntry
from fleet.drums.services import drum_change
from fleet.records.draft import parse_draft
from fleet.records.drafts import (
    DraftConflict,
    RevisionConflict,
    draft_save,
    drum_test_discard,
    drum_test_start,
    photo_add,
    photo_remove,
    reading_add,
    reading_change,
    reading_remove,
)
from fleet.records.models import DrumTest, Photo, Reading
from fleet.records.submissions import drum_test_reopen
from tests.cast import Cast
from tests.factories import BrakeEventFactory, DrumParticularsFactory, DrumTestFactory
from tests.records.scenario import GOOD_DRAFT, GOOD_READINGS, filled_test, round_for, submitted
from tests.records.sent import send


@pytest.fixture
def started(cast: Cast) -> DrumTest:
    return filled_test(cast, readings=())


def add(test: DrumTest, cast: Cast, **fields: object) -> Reading:
    sent = {"phase": "adjusting", "mark_text": "51", "gauge_text": "166", "slipped": True, "reapplied": True}
    return reading_add(test=test, actor=cast.officer, **{**sent, **fields})  # type: ignore[arg-type]


def test_the_same_id_sent_twice_starts_one_test(cast: Cast) -> None:
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    round_, test_id = round_for(cast), uuid.uuid4()
    first = drum_test_start(test_id=test_id, drum=drum, round=round_, actor=cast.officer)
    assert drum_test_start(test_id=test_id, drum=drum, round=round_, actor=cast.officer) == first
    assert DrumTest.objects.count() == 1


def test_an_id_of_another_test_is_a_conflict(cast: Cast, started: DrumTest) -> None:
    other = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    with pytest.raises(DraftConflict):
        drum_test_start(test_id=started.pk, drum=other, round=started.round, actor=cast.officer)


def test_a_drum_has_one_test_in_hand(cast: Cast, started: DrumTest) -> None:
    again = drum_test_start(test_id=uuid.uuid4(), drum=started.drum, round=started.round, actor=cast.officer)
    assert again == started


def test_a_drum_of_another_vessel_is_refused(cast: Cast, started: DrumTest) -> None:
    foreign = DrumParticularsFactory(drum__winch__vessel=cast.foreign_vessel).drum
    with pytest.raises(DraftConflict):
        drum_test_start(drum=foreign, round=started.round, actor=cast.officer)


def test_no_test_begins_in_a_closed_round_nor_on_a_drum_taken_off(cast: Cast) -> None:
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    with pytest.raises(DraftConflict):
        drum_test_start(drum=drum, round=round_for(cast, closed_on=date(2026, 11, 21)), actor=cast.officer)
    drum.removed_on = date(2026, 11, 1)
    with pytest.raises(DraftConflict):
        drum_test_start(drum=drum, round=round_for(cast), actor=cast.officer)
    assert not DrumTest.objects.exists()


def test_what_was_typed_survives_even_when_it_cannot_be_read(cast: Cast, started: DrumTest) -> None:
    saved = draft_save(
        test=started, values={"final_mark": "18,2,3"}, revision=started.draft_revision, actor=cast.officer
    )
    assert saved.draft["final_mark"] == "18,2,3"
    assert "one decimal comma" in parse_draft(saved).errors["final_mark"]


def test_a_second_tab_cannot_overwrite_unseen(cast: Cast, started: DrumTest) -> None:
    old = started.draft_revision
    draft_save(test=started, values={"remarks": "first tab"}, revision=old, actor=cast.officer)
    with pytest.raises(RevisionConflict) as caught:
        draft_save(test=started, values={"remarks": "second tab"}, revision=old, actor=cast.master)
    assert caught.value.current.draft["remarks"] == "first tab"


def test_saving_the_same_again_is_no_conflict_and_no_entry(cast: Cast, started: DrumTest) -> None:
    draft_save(test=started, values={"remarks": "x"}, revision=started.draft_revision, actor=cast.officer)
    entries = AuditEntry.objects.count()
    draft_save(test=started, values={"remarks": "x"}, revision=0, actor=cast.officer)
    assert AuditEntry.objects.count() == entries


def test_fields_that_are_not_the_drafts_own_are_left_out(cast: Cast, started: DrumTest) -> None:
    saved = draft_save(
        test=started, values={"state": "approved", "remarks": "x"}, revision=started.draft_revision, actor=cast.officer
    )
    assert "state" not in saved.draft


@pytest.mark.parametrize("check", ["pay_out_side", "sister_clear", "line_slack", "clutched_out", "area_clear"])
def test_no_reading_before_every_guarding_check_is_confirmed(cast: Cast, started: DrumTest, check: str) -> None:
    draft_save(test=started, values={check: ""}, revision=started.draft_revision, actor=cast.officer)
    with pytest.raises(ValidationError, match="Confirm the checks above first"):
        add(started, cast)


@pytest.mark.parametrize("change", [{"line_off": "bottom"}, {"lead": "right"}])
def test_the_jacks_side_is_not_redrawn_under_a_tick_that_confirmed_it(
    cast: Cast, started: DrumTest, change: dict[str, str]
) -> None:
    with pytest.raises(ValidationError, match="Take that tick away"):
        drum_change(drum=started.drum, reason="drawn the wrong way", actor=cast.officer, **change)
    draft_save(test=started, values={"pay_out_side": ""}, revision=started.draft_revision, actor=cast.officer)
    drum_change(drum=started.drum, reason="drawn the wrong way", actor=cast.officer, **change)
    with pytest.raises(ValidationError, match="Confirm the checks above first"):
        add(started, cast)


def test_a_reading_keeps_what_was_typed_and_the_gauges_unit(cast: Cast, started: DrumTest) -> None:
    reading = add(started, cast, mark_text="51,5", gauge_text="166,5")
    assert (reading.mark_text, reading.mark_si) == ("51,5", 0.0515)
    assert (reading.gauge_text, reading.gauge_unit, reading.gauge_si) == ("166,5", "bar", 16_650_000.0)


def test_the_same_reading_sent_twice_is_one_row_and_other_content_a_conflict(cast: Cast, started: DrumTest) -> None:
    one = uuid.uuid4()
    assert add(started, cast, reading_id=one) == add(started, cast, reading_id=one)
    with pytest.raises(DraftConflict):
        add(started, cast, reading_id=one, gauge_text="167")
    assert Reading.objects.count() == 1


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"gauge_text": "16,6,5"}, "gauge_text"),
        ({"gauge_text": ""}, "gauge_text"),
        ({"gauge_text": "0"}, "gauge_text"),
        ({"gauge_text": "2520"}, "gauge_text"),
        ({"mark_text": "about 50"}, "mark_text"),
        ({"mark_text": "-3"}, "mark_text"),
        ({"phase": "guess"}, "phase"),
    ],
)
def test_a_bad_reading_is_refused_beside_its_field(
    cast: Cast, started: DrumTest, fields: dict[str, str], field: str
) -> None:
    with pytest.raises(ValidationError) as caught:
        add(started, cast, **fields)
    assert field in caught.value.message_dict


def test_no_as_found_reading_after_work_on_the_brake(cast: Cast, started: DrumTest) -> None:
    BrakeEventFactory(drum=started.drum, happened_on=date(2026, 10, 1), kind="lining_renewed")
    with pytest.raises(ValidationError, match="work on this brake"):
        add(started, cast, phase="as_found_reapplied")
    assert add(started, cast, phase="verification").order == 1


def test_work_before_the_last_test_does_not_forbid_as_found(cast: Cast) -> None:
    first = submitted(cast)
    BrakeEventFactory(drum=first.test.drum, happened_on=date(2026, 10, 1), kind="lining_renewed")
    test = drum_test_start(drum=first.test.drum, round=first.test.round, actor=cast.officer)
    draft_save(test=test, values=GOOD_DRAFT, revision=0, actor=cast.officer)
    assert add(test, cast, phase="as_found_untouched").phase == "as_found_untouched"


def test_a_test_that_set_nothing_does_not_allow_as_found_after_work_on_the_brake(cast: Cast) -> None:
    # Relined, then a test stopped before anything was set: the mark may still hold far above 80 %.
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    BrakeEventFactory(drum=drum, happened_on=date(2026, 10, 1), kind="lining_renewed")
    send(drum, date(2026, 11, 19), outcome="stopped")
    test = drum_test_start(drum=drum, round=round_for(cast), actor=cast.officer)
    draft_save(test=test, values=GOOD_DRAFT, revision=0, actor=cast.officer)
    with pytest.raises(ValidationError, match="work on this brake"):
        add(test, cast, phase="as_found_untouched")


def test_a_returned_test_after_work_on_the_brake_takes_no_as_found_reading_either(cast: Cast) -> None:
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    BrakeEventFactory(drum=drum, happened_on=date(2026, 10, 1), kind="lining_renewed")
    test = submitted(cast, drum=drum, readings=GOOD_READINGS[1:]).test
    test = drum_test_reopen(test=test, reason="wrong edge", actor=cast.superintendent)
    with pytest.raises(ValidationError, match="work on this brake"):
        add(test, cast, phase="as_found_untouched")


def test_a_changed_or_removed_reading_stays_in_the_audit(cast: Cast, started: DrumTest) -> None:
    reading = add(started, cast)
    reading_change(
        reading=reading, phase="adjusting", mark_text="50", gauge_text="170", slipped=False, actor=cast.officer
    )
    reading_remove(reading=reading, actor=cast.officer)
    kept = list(AuditEntry.objects.filter(action__startswith="reading ").values_list("action", "before"))
    assert [row[0] for row in kept] == ["reading added", "reading changed", "reading removed"]
    assert kept[1][1]["gauge"] == "166 bar"
    assert kept[2][1]["gauge"] == "170 bar"


def test_a_removed_photo_keeps_its_row(cast: Cast, started: DrumTest, picture: bytes) -> None:
    photo = photo_add(
        test=started,
        kind="mark",
        caption="rule beside the mark",
        upload=SimpleUploadedFile("mark.png", picture, "image/png"),
        actor=cast.officer,
    )
    photo_remove(photo=photo, actor=cast.officer)
    assert Photo.objects.get().removed_at is not None


@pytest.fixture
def picture() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "white").save(out, "PNG")
    return out.getvalue()


def test_outsiders_do_not_see_the_test(cast: Cast) -> None:
    test = DrumTestFactory(round=round_for(cast))
    seen = [role for role, person in cast.people.items() if DrumTest.objects.for_user(person).filter(pk=test.pk)]
    assert sorted(seen) == sorted(cast.people)
    outsiders = [*cast.foreign.values(), cast.sister_officer, cast.nobody]
    assert not any(DrumTest.objects.for_user(person).exists() for person in outsiders)


def test_a_draft_begun_by_mistake_is_set_aside_with_a_reason_and_stays_on_record(cast: Cast, started: DrumTest) -> None:
    drum_test_discard(test=started, reason="begun on the wrong drum", actor=cast.officer)
    kept = DrumTest.objects.get(pk=started.pk)
    assert (kept.state, kept.state_reason) == ("withdrawn", "begun on the wrong drum")
    assert drum_test_start(drum=started.drum, round=started.round, actor=cast.officer).pk != started.pk


def test_setting_aside_needs_a_reason(cast: Cast, started: DrumTest) -> None:
    with pytest.raises(ValidationError, match="Say in one sentence"):
        drum_test_discard(test=started, reason=" ", actor=cast.officer)


def test_a_test_that_was_sent_is_not_set_aside(cast: Cast) -> None:
    test = drum_test_reopen(test=submitted(cast).test, reason="wrong edge", actor=cast.superintendent)
    with pytest.raises(ValidationError, match="was sent before"):
        drum_test_discard(test=test, reason="x", actor=cast.officer)
