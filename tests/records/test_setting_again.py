"""How well a hand finds the mark again: which tests are set against each other, and whose are enough to say it."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.drums.models import Drum, EventKind
from fleet.records.models import Outcome, State
from fleet.records.setting_again import FoundAgain, Setting, SettingHistory, found_again_content
from fleet.vessels.models import Vessel
from tests.factories import BrakeEventFactory, DrumParticularsFactory, VesselFactory
from tests.records.sent import send

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 20)


@pytest.fixture
def vessel() -> Vessel:
    found: Vessel = VesselFactory()
    return found


def drum_on(vessel: Vessel) -> Drum:
    drum: Drum = DrumParticularsFactory(drum__winch__vessel=vessel).drum
    return drum


def told(drum: Drum, reapplied: list[float | None], *, left: float = 0.60, **columns: Any) -> None:
    """A test a year, the last one a year before today, each found re-applied at a share and left at another."""
    for years_ago, share in zip(range(len(reapplied), 0, -1), reapplied, strict=True):
        on = TODAY - timedelta(days=365 * years_ago)
        send(drum, on, reapplied_share=share, as_left_share=left, **columns)


def own(drum: Drum, reapplied: float | None = None, base_load_n: float = 637_000.0) -> Setting:
    return Setting(drum.pk, TODAY, reapplied, None, base_load_n)


def found_for(drum: Drum, reapplied: float | None = None, **own_fields: Any) -> FoundAgain:
    return SettingHistory(drum.vessel).found_again(own(drum, reapplied, **own_fields))


def test_each_test_is_set_against_the_one_before_it(vessel: Vessel) -> None:
    drum = drum_on(vessel)
    told(drum, [None, 0.61, 0.58, 0.60])
    row = found_for(drum, 0.62)
    # 0.61, 0.58, 0.60 and this test's 0.62, each against the 0.60 it had been left at.
    assert (row.of, row.tests) == ("drum", 4)
    assert row.found is not None
    assert row.found.mean == pytest.approx((0.01 - 0.02 + 0.0 + 0.02) / 4)
    assert row.found.standard_deviation == pytest.approx(((1 + 4 + 0 + 4) / 4) ** 0.5 / 100)


def test_a_drum_with_too_few_borrows_from_its_vessel_and_then_from_its_company(vessel: Vessel) -> None:
    drum, sister = drum_on(vessel), drum_on(vessel)
    far = drum_on(VesselFactory(company=vessel.company))
    foreign = drum_on(VesselFactory())
    told(foreign, [None, 0.70, 0.50, 0.70, 0.50])
    told(drum, [None, 0.61])
    assert (found_for(drum).of, found_for(drum).tests, found_for(drum).found) == ("company", 1, None)
    told(far, [None, 0.61, 0.59])
    assert (found_for(drum).of, found_for(drum).tests) == ("company", 3)
    told(sister, [None, 0.59, 0.62])
    assert (found_for(drum).of, found_for(drum).tests) == ("vessel", 3)
    assert (found_for(drum, 0.6).of, found_for(drum, 0.6).tests) == ("vessel", 4)


def test_where_all_are_too_few_it_says_so(vessel: Vessel) -> None:
    drum = drum_on(vessel)
    told(drum, [None, 0.61])
    row = found_for(drum)
    assert row.sentence.startswith("Too few to say: 1 test in the whole company")
    content = found_again_content(row)
    assert (content["half_width_share"], content["half_width_points_shown"]) == (None, "")


def test_the_sentence_says_how_far_of_how_many_and_what_is_in_it(vessel: Vessel) -> None:
    drum = drum_on(vessel)
    told(drum, [None, 0.61, 0.58, 0.60])
    row = found_for(drum)
    assert row.found is not None
    assert f"within ± {100 * row.found.half_width:.1f} points" in row.sentence
    assert "3 tests of this drum" in row.sentence
    assert "it is not in the whisker" in row.sentence
    assert found_again_content(row)["sentence"] == row.sentence


@pytest.mark.parametrize("kind", [EventKind.LINING_RENEWED, EventKind.UNINTENDED_SLIP, EventKind.WRONG_MARK])
@pytest.mark.parametrize(
    ("days_before", "differences"),
    [
        (4 * 365 + 1, [1, -2, 0, 2]),
        (4 * 365, [1, -2, 0, 2]),  # on the day of the first test, and so before it
        (365, [1, -2, 2]),  # on the day of last year's, which was then of another brake than the one before
        (200, [1, -2, 0]),
        (0, [1, -2, 0]),
    ],
)
def test_nothing_may_have_happened_to_the_brake_in_between(
    vessel: Vessel, kind: str, days_before: int, differences: list[int]
) -> None:
    drum = drum_on(vessel)
    told(drum, [None, 0.61, 0.58, 0.60])
    BrakeEventFactory(drum=drum, kind=kind, happened_on=TODAY - timedelta(days=days_before))
    row = found_for(drum, 0.62)
    assert row.tests == len(differences)
    assert row.found is not None
    assert row.found.mean == pytest.approx(sum(differences) / len(differences) / 100)


def test_moorings_made_are_no_reason_to_leave_a_test_out(vessel: Vessel) -> None:
    drum = drum_on(vessel)
    told(drum, [None, 0.61, 0.58])
    BrakeEventFactory(drum=drum, kind=EventKind.MOORINGS, happened_on=TODAY - timedelta(days=30))
    assert found_for(drum, 0.62).tests == 3


@pytest.mark.parametrize(
    ("columns", "tests"),
    [
        ({"state": State.SUBMITTED}, 3),
        ({"state": State.WITHDRAWN, "decision": "approved"}, 3),
        # These stand in between: found like the others, but nothing to set this test against.
        ({"outcome": Outcome.COULD_NOT_BE_SET}, 3),
        ({"base_load_n": 700_000.0}, 2),
    ],
)
def test_only_what_was_set_and_approved_with_the_same_base_load_is_looked_at(
    vessel: Vessel, columns: dict[str, Any], tests: int
) -> None:
    drum = drum_on(vessel)
    told(drum, [None, 0.61, 0.58])
    send(drum, TODAY - timedelta(days=30), reapplied_share=0.59, **columns)
    assert found_for(drum, 0.62).tests == tests


def test_an_amended_test_counts_once_by_its_newest_approved_version(vessel: Vessel) -> None:
    drum = drum_on(vessel)
    told(drum, [None, 0.61, 0.58])
    first = send(drum, TODAY - timedelta(days=30), reapplied_share=0.50)
    send(drum, TODAY - timedelta(days=31), reapplied_share=0.60, test=first.test)
    row = found_for(drum)
    assert row.tests == 3
    assert row.found is not None
    assert row.found.mean == pytest.approx((0.01 - 0.02 + 0.0) / 3)


def test_older_records_say_it_by_what_was_found_first(vessel: Vessel) -> None:
    drum = drum_on(vessel)
    phase = "as_found_reapplied"
    told(drum, [None, None, None, None], as_found_phase=phase, as_found_share=0.62)
    assert found_for(drum).tests == 3
    other = drum_on(vessel)
    told(other, [None, None, None, None], as_found_phase="as_found_untouched", as_found_share=0.62)
    assert found_for(other).of == "vessel"


def test_it_asks_the_database_no_more_often_for_many(vessel: Vessel) -> None:
    drums = [drum_on(vessel) for _ in range(3)]
    told(drums[0], [None, 0.61])
    with CaptureQueriesContext(connection) as few:
        found_for(drums[0])
    for drum in drums:
        told(drum, [0.6, 0.61, 0.59, 0.6, 0.62])
    with CaptureQueriesContext(connection) as many:
        history = SettingHistory(vessel)
        for drum in drums:
            history.found_again(own(drum))
    assert len(many) <= len(few) == 4
