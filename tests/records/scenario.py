"""A good test made through the services, step by step, for tests that need a record at some state."""

from datetime import UTC, date, datetime
from typing import Any

from fleet.records.draft import CHECKS
from fleet.records.drafts import draft_save, drum_test_start, reading_add
from fleet.records.models import DrumTest, Round, Submission
from fleet.records.submissions import drum_test_submit, instruments_confirm, master_release
from tests.cast import Cast
from tests.factories import DrumParticularsFactory, RoundFactory

GOOD_DRAFT = {
    **{check.name: "on" for check in CHECKS},
    "tested_on": "2026-11-20",
    "tested_at": "10:40",
    "brake_state": "dry",
    "lining_1": "10,8",
    "lining_2": "10.7",
    "lining_3": "10.9",
    "lining_unit": "mm",
    "lining_condition": "sound",
    "drum_surface": "smooth",
    "band_rest": "clear",
    "band_rest_clearance": "2",
    "band_rest_clearance_unit": "mm",
    "setting_unit": "mm",
    "old_mark": "53.8",
    "final_mark": "49",
    "mark_fixed": "steel tag welded beside the spindle",
    "outcome": "set_in_band",
}
# phase, mark, gauge, slipped, re-applied
GOOD_READINGS = (
    ("as_found_untouched", "53.8", "157", True, False),
    ("adjusting", "51", "166", True, True),
    ("verification", "49", "172", True, True),
    ("verification", "49", "174", True, True),
)
AT = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)


def round_for(cast: Cast, **fields: Any) -> Round:
    round_: Round = RoundFactory(vessel=cast.vessel, opened_by=cast.officer, **fields)
    return round_


def filled_test(
    cast: Cast,
    *,
    round: Round | None = None,
    draft: dict[str, str] | None = None,
    readings: tuple[tuple[str, str, str, bool, bool], ...] = GOOD_READINGS,
    drum: Any = None,
) -> DrumTest:
    """A test whose draft and readings are complete, confirmed by nobody yet."""
    round_ = round or round_for(cast)
    drum = drum or DrumParticularsFactory(drum__winch__vessel=cast.vessel, author=cast.officer).drum
    test = drum_test_start(drum=drum, round=round_, actor=cast.officer, at=AT)
    test = draft_save(
        test=test, values={**GOOD_DRAFT, **(draft or {})}, revision=test.draft_revision, actor=cast.officer, at=AT
    )
    for phase, mark, gauge, slipped, reapplied in readings:
        reading_add(
            test=test,
            phase=phase,
            mark_text=mark,
            gauge_text=gauge,
            slipped=slipped,
            reapplied=reapplied,
            actor=cast.officer,
            at=AT,
        )
    return DrumTest.objects.whole().get(pk=test.pk)


def confirm_and_submit(cast: Cast, test: DrumTest, at: datetime = AT) -> Submission:
    """The engineer confirms, the master releases, the officer sends."""
    instruments_confirm(test=test, name="Ines Halloran", rank="chief engineer", actor=cast.engineer, at=at)
    master_release(test=test, name="Tomas Brandt", rank="master", actor=cast.master, at=at)
    return drum_test_submit(
        test=test, declared_name="Ada Voss", declared_rank="chief officer", actor=cast.officer, at=at
    )


def submitted(cast: Cast, **fields: Any) -> Submission:
    """A submission of a good test."""
    return confirm_and_submit(cast, filled_test(cast, **fields))


def on(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 12, 0, tzinfo=UTC)
