"""Where each drum stands: the precedence written at the top of fleet/records/due.py, rule by rule."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from fleet.core.pictures.states import DUE_STATES, RESULT_STATES
from fleet.drums.models import Drum
from fleet.records.due import DrumState, drum_states
from fleet.records.models import DrumTest, State
from fleet.vessels.models import policies_for, policy_for
from tests.factories import (
    BrakeEventFactory,
    DrumFactory,
    DrumParticularsFactory,
    DrumTestFactory,
    PolicyFactory,
    RetestOrderFactory,
    RoundFactory,
    VesselFactory,
    figure,
)
from tests.records.sent import send

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 25)


@pytest.fixture
def drum() -> Drum:
    return DrumFactory()


def state_of(drum: Drum, on: date = TODAY) -> DrumState:
    return drum_states([drum], on)[drum.pk]


def order_on(drum: Drum, day: date, **columns: Any) -> Any:
    return RetestOrderFactory(drum=drum, ordered_at=datetime(day.year, day.month, day.day, 9, tzinfo=UTC), **columns)


def test_a_drum_without_any_test_was_never_tested(drum: Drum) -> None:
    found = state_of(drum)
    assert (found.due_state, found.due_on, found.result_state) == ("never_tested", None, "")
    assert found.wants_test


@pytest.mark.parametrize(
    ("tested_on", "expected"),
    [
        (date(2026, 6, 1), "in_date"),
        (date(2026, 1, 10), "in_date"),  # to be tested by 10 January: 46 days away, the policy says 45
        (date(2026, 1, 9), "due"),
        (date(2025, 11, 25), "due"),  # the anniversary itself is still in date
        (date(2025, 11, 24), "overdue"),
    ],
)
def test_a_good_test_lasts_as_long_as_the_policy_says(drum: Drum, tested_on: date, expected: str) -> None:
    send(drum, tested_on)
    found = state_of(drum)
    assert found.due_state == expected
    assert found.due_on == tested_on.replace(year=tested_on.year + 1)


def test_the_vessels_own_interval_counts_before_the_companys(drum: Drum) -> None:
    vessel = drum.winch.vessel
    PolicyFactory(company=vessel.company, interval_months=12, valid_from=date(2024, 1, 1))
    PolicyFactory(company=vessel.company, vessel=vessel, interval_months=6, valid_from=date(2021, 1, 1))
    send(drum, date(2026, 3, 1))
    assert state_of(drum).due_on == date(2026, 9, 1)
    assert state_of(drum).due_state == "overdue"


def test_the_policies_are_those_that_policy_for_gives() -> None:
    vessels = [VesselFactory() for _ in range(4)]
    for vessel in vessels[:3]:
        PolicyFactory(company=vessel.company, interval_months=9, valid_from=date(2022, 1, 1))
        PolicyFactory(company=vessel.company, interval_months=10, valid_from=date(2025, 1, 1))
        PolicyFactory(company=vessel.company, interval_months=3, valid_from=date(2099, 1, 1))
    PolicyFactory(company=vessels[1].company, vessel=vessels[1], interval_months=8, valid_from=date(2021, 1, 1))
    PolicyFactory(company=vessels[2].company, vessel=vessels[2], interval_months=7, valid_from=date(2098, 1, 1))
    found = policies_for({vessel.pk: vessel.company_id for vessel in vessels}, TODAY)
    expected = [policy_for(vessel, TODAY).interval_months for vessel in vessels]
    assert [found[vessel.pk].interval_months for vessel in vessels] == expected == [10, 8, 10, 12]


@pytest.mark.parametrize(("state", "expected"), [(State.DRAFT, "draft_open"), (State.RETURNED, "returned")])
def test_a_test_in_hand_shows_before_everything_else(drum: Drum, state: str, expected: str) -> None:
    send(drum, date(2024, 1, 1))
    order_on(drum, date(2026, 11, 1))
    DrumTestFactory(
        drum=drum, round=RoundFactory(vessel=drum.winch.vessel), state=state, state_reason="Which gauge was used?"
    )
    found = state_of(drum)
    assert found.due_state == expected
    if expected == "returned":
        assert found.reason == "Which gauge was used?"


def test_an_order_stays_open_until_a_test_done_on_its_day_or_later_was_sent(drum: Drum) -> None:
    send(drum, date(2026, 10, 31))
    order = order_on(drum, date(2026, 11, 1), due_on=date(2026, 12, 1))
    found = state_of(drum)
    assert (found.due_state, found.order, found.due_on) == ("retest_ordered", order, date(2026, 12, 1))
    assert found.reason == order.reason
    send(drum, date(2026, 11, 1), state=State.SUBMITTED)
    assert state_of(drum).due_state == "review_pending"
    assert state_of(drum).order is None


def test_a_test_sent_before_the_order_was_given_does_not_answer_it(drum: Drum) -> None:
    # Sent at 15:00; shore looks at it the same evening and wants another.
    send(drum, date(2026, 11, 24), state=State.SUBMITTED)
    order = RetestOrderFactory(drum=drum, ordered_at=datetime(2026, 11, 24, 18, tzinfo=UTC))
    assert (state_of(drum).due_state, state_of(drum).order) == ("retest_ordered", order)


def test_an_order_is_shown_with_its_own_day_though_a_slip_asked_for_a_test_before(drum: Drum) -> None:
    send(drum, date(2026, 10, 1))
    BrakeEventFactory(drum=drum, happened_on=date(2026, 11, 16))
    order_on(drum, date(2026, 11, 20), due_on=date(2026, 12, 7))
    assert state_of(drum).word == "retest ordered, by 7 Dec 2026"


def test_an_order_taken_back_asks_for_nothing(drum: Drum) -> None:
    send(drum, date(2026, 10, 31))
    order_on(drum, date(2026, 11, 1), taken_back_at=datetime(2026, 11, 2, tzinfo=UTC))
    assert state_of(drum).due_state == "in_date"


def test_a_returned_test_does_not_close_an_order(drum: Drum) -> None:
    order_on(drum, date(2026, 11, 1))
    returned = send(drum, date(2026, 11, 5), state=State.RETURNED)
    found = state_of(drum)
    assert (found.due_state, found.last) == ("returned", None)
    assert found.in_hand == returned.test
    assert found.order is not None


def test_a_reopened_test_keeps_the_version_that_shore_approved(drum: Drum) -> None:
    approved = send(drum, date(2026, 10, 1), decision="approved", state=State.RETURNED)
    later = send(drum, date(2026, 10, 1), test=approved.test, as_left_share=0.7)
    found = state_of(drum)
    assert found.due_state == "returned"
    assert found.last == approved != later


def test_only_the_newest_version_of_a_test_counts(drum: Drum) -> None:
    first = send(drum, date(2026, 10, 1), state=State.APPROVED)
    second = send(drum, date(2026, 10, 1), test=first.test, as_left_share=0.64)
    assert state_of(drum).last == second


def test_a_withdrawn_test_counts_for_nothing(drum: Drum) -> None:
    send(drum, date(2026, 10, 1), state=State.WITHDRAWN)
    assert state_of(drum).due_state == "never_tested"


@pytest.mark.parametrize(
    "kind", ["lining_renewed", "brake_overhauled", "spindle_renewed", "piston_renewed", "line_changed"]
)
def test_work_after_the_test_ends_what_it_showed(drum: Drum, kind: str) -> None:
    send(drum, date(2026, 6, 1))
    event = BrakeEventFactory(drum=drum, kind=kind, happened_on=date(2026, 9, 3))
    found = state_of(drum)
    assert (found.due_state, found.event, found.due_on) == ("overdue", event, date(2026, 9, 3))
    assert event.get_kind_display() in found.reason
    assert "3 Sep 2026" in found.reason


@pytest.mark.parametrize("kind", ["unintended_slip", "wrong_mark"])
def test_a_slip_or_a_wrong_mark_asks_for_a_test(drum: Drum, kind: str) -> None:
    send(drum, date(2026, 6, 1))
    BrakeEventFactory(drum=drum, kind=kind, happened_on=TODAY)
    assert state_of(drum).due_state == "overdue"


@pytest.mark.parametrize(("kind", "day"), [("moorings", date(2026, 9, 3)), ("brake_overhauled", date(2026, 6, 1))])
def test_moorings_and_work_on_the_day_of_the_test_ask_for_nothing(drum: Drum, kind: str, day: date) -> None:
    send(drum, date(2026, 6, 1))
    BrakeEventFactory(drum=drum, kind=kind, happened_on=day)
    assert state_of(drum).due_state == "in_date"


@pytest.mark.parametrize(
    ("months", "lining", "due"),
    [
        (6, date(2026, 5, 1), date(2026, 12, 1)),
        (3, date(2026, 6, 1), date(2026, 9, 1)),
        (6, date(2025, 11, 1), date(2027, 6, 1)),  # it had bedded in before the test
        (0, date(2026, 5, 1), date(2027, 6, 1)),
    ],
)
def test_a_new_lining_is_tested_again_early_where_the_policy_says_so(
    drum: Drum, months: int, lining: date, due: date
) -> None:
    PolicyFactory(company=drum.winch.vessel.company, lining_retest_months=months)
    BrakeEventFactory(drum=drum, kind="lining_renewed", happened_on=lining)
    send(drum, date(2026, 6, 1))
    found = state_of(drum)
    assert found.due_on == due
    assert ("beds in" in found.reason) == (due < date(2027, 1, 1))


def test_the_test_after_the_early_one_waits_for_the_whole_interval(drum: Drum) -> None:
    BrakeEventFactory(drum=drum, kind="lining_renewed", happened_on=date(2025, 12, 1))
    send(drum, date(2025, 12, 2))
    send(drum, date(2026, 6, 2))
    assert state_of(drum).due_on == date(2027, 6, 2)


def test_a_test_sent_after_the_work_is_pending_until_shore_decides(drum: Drum) -> None:
    send(drum, date(2025, 12, 1))
    BrakeEventFactory(drum=drum, happened_on=date(2026, 9, 3))
    send(drum, date(2026, 9, 5), state=State.SUBMITTED)
    found = state_of(drum)
    assert found.due_state == "review_pending"
    assert found.review_pending
    BrakeEventFactory(drum=drum, kind="unintended_slip", happened_on=date(2026, 9, 6))
    assert state_of(drum).due_state == "overdue"


def test_a_test_that_waits_for_shore_longer_than_the_interval_is_overdue(drum: Drum) -> None:
    send(drum, date(2025, 11, 1), state=State.SUBMITTED)
    assert state_of(drum).due_state == "overdue"


@pytest.mark.parametrize("outcome", ["could_not_be_set", "stopped", "out_of_use", "restricted"])
def test_a_failed_test_leaves_the_drum_to_be_tested_and_both_stay_known(drum: Drum, outcome: str) -> None:
    good = send(drum, date(2026, 6, 1))
    failed = send(drum, date(2026, 11, 20), outcome=outcome)
    found = state_of(drum)
    assert found.due_state == "overdue"
    assert (found.last, found.proven, found.result_state) == (failed, good, outcome)
    assert found.out_of_use is (outcome == "out_of_use")
    assert found.restricted is (outcome == "restricted")
    send(drum, date(2026, 11, 22))
    assert state_of(drum).due_state == "in_date"
    assert not state_of(drum).out_of_use


@pytest.mark.parametrize(
    ("found", "left", "expected"),
    [
        (None, 0.60, "in_band"),
        (0.58, 0.60, "in_band"),
        (0.66, 0.60, "was_too_tight"),
        (0.54, 0.60, "slipped_early"),
        (0.60, 0.66, "too_tight"),
        (0.60, 0.54, "too_loose"),
        (0.60, None, ""),
    ],
)
def test_the_last_result_says_now_and_then_apart(
    drum: Drum, found: float | None, left: float | None, expected: str
) -> None:
    send(drum, date(2026, 6, 1), as_found_share=found, as_left_share=left)
    assert state_of(drum).result_state == expected


@pytest.mark.parametrize(("held_at", "expected"), [(0.648, "was_too_tight"), (0.60, "in_band"), (0.50, "in_band")])
def test_a_brake_that_held_as_found_did_not_slip_early_and_was_too_tight_only_at_the_top(
    drum: Drum, held_at: float, expected: str
) -> None:
    send(drum, date(2026, 6, 1), as_found_share=held_at, as_found_held=True, as_left_share=0.6)
    assert state_of(drum).result_state == expected


def test_every_code_is_one_that_the_pictures_know(drum: Drum) -> None:
    send(drum, date(2026, 6, 1))
    assert state_of(drum).due_state in DUE_STATES
    for outcome in ("could_not_be_set", "stopped", "out_of_use", "restricted"):
        send(drum, date(2026, 7, 1), outcome=outcome)
        assert state_of(drum).result_state in RESULT_STATES
        DrumTest.objects.all().update(state=State.WITHDRAWN)


def test_what_happens_after_the_day_asked_about_is_not_known_yet(drum: Drum) -> None:
    send(drum, date(2026, 6, 1))
    BrakeEventFactory(drum=drum, happened_on=date(2026, 9, 3))
    send(drum, date(2026, 10, 1))
    assert state_of(drum, date(2026, 8, 1)).due_state == "in_date"
    assert state_of(drum, date(2026, 9, 10)).due_state == "overdue"


def test_the_words_say_the_days(drum: Drum) -> None:
    send(drum, date(2025, 11, 6))
    assert state_of(drum).word == "overdue by 19 days"
    assert state_of(drum, date(2026, 11, 7)).word == "overdue by 1 day"
    assert state_of(drum, date(2026, 11, 1)).word == "due by 6 Nov 2026"


def line(mm: str) -> dict[str, Any]:
    return {"drum_diameter": figure("610", "mm"), "line_diameter": figure(mm, "mm")}


def test_a_line_of_another_diameter_asks_for_a_test_until_there_is_one(drum: Drum) -> None:
    first = DrumParticularsFactory(drum=drum, valid_from=date(2025, 1, 1))
    send(drum, date(2026, 6, 1), particulars=first)
    assert state_of(drum).due_state == "in_date"
    thick = DrumParticularsFactory(drum=drum, valid_from=date(2026, 8, 1), figures=line("44"))
    DrumParticularsFactory(drum=drum, valid_from=date(2026, 9, 1), figures=line("44.2"))
    found = state_of(drum)
    assert (found.due_state, found.due_on) == ("overdue", date(2026, 8, 1))
    assert found.reason == "another line, 44.2 mm instead of 36 mm, 1 Aug 2026"
    assert state_of(drum, date(2026, 7, 31)).due_state == "in_date"
    send(drum, date(2026, 8, 20), particulars=thick)
    assert state_of(drum).due_state == "in_date"


def test_one_line_measured_twice_is_not_another(drum: Drum) -> None:
    # Common practice, no published source: within 2 % it is the same line.
    send(drum, date(2026, 6, 1), particulars=DrumParticularsFactory(drum=drum, valid_from=date(2025, 1, 1)))
    DrumParticularsFactory(drum=drum, valid_from=date(2026, 8, 1), figures=line("36.5"))
    DrumParticularsFactory(drum=drum, valid_from=date(2026, 8, 2), figures={})
    assert state_of(drum).another_line is None
    assert state_of(drum).due_state == "in_date"


def test_the_line_that_was_taken_back_asks_for_nothing(drum: Drum) -> None:
    send(drum, date(2026, 6, 1), particulars=DrumParticularsFactory(drum=drum, valid_from=date(2025, 1, 1)))
    DrumParticularsFactory(drum=drum, valid_from=date(2026, 8, 1), figures=line("44"))
    assert state_of(drum).another_line is not None
    DrumParticularsFactory(drum=drum, valid_from=date(2026, 8, 9), figures=line("36"))
    assert state_of(drum).another_line is None


def test_the_number_of_queries_does_not_grow(django_assert_num_queries: Any) -> None:
    drums = [DrumFactory() for _ in range(12)]
    for drum in drums:
        send(drum, date(2025, 6, 1))
        send(drum, date(2026, 6, 1))
        BrakeEventFactory(drum=drum, happened_on=date(2026, 9, 3))
        order_on(drum, date(2026, 11, 1))
    with django_assert_num_queries(7):
        assert len(drum_states(drums[:1], TODAY)) == 1
    with django_assert_num_queries(7):
        states = drum_states(drums, TODAY)
    with django_assert_num_queries(0):
        assert [state.result_state for state in states.values()] == ["in_band"] * 12
        assert all(state.word and not state.review_pending for state in states.values())
