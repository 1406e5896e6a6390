"""The superintendent's queue: what is in it, in which order, for whom."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.drums.models import Drum
from fleet.review.queue import queue_for
from fleet.review.today import VesselRow, rows_of
from fleet.vessels.models import Vessel
from tests.cast import Cast
from tests.certificates.records import READINGS, Ship, approved, certified, drum_on, failed, ship_of, submitted
from tests.factories import BrakeEventFactory, PolicyFactory, RetestOrderFactory

pytestmark = pytest.mark.django_db
TODAY = reverse("review:today")


def found_at(gauge: str) -> Any:
    """The same readings with another one as found: 174 bar is about 60 %, 1 bar about 0.35 points."""
    return ((*READINGS[0][:2], gauge, *READINGS[0][3:]), *READINGS[1:])


def queue(cast: Cast, on: date | None = None) -> Any:
    return queue_for(Vessel.objects.filter(company=cast.company), on=on or timezone.localdate())


def words(response: Any) -> str:
    return " ".join(response.content.decode().split())


def test_an_empty_fleet_needs_nobody(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    assert "No drum is registered in your fleet yet" in words(client.get(TODAY))


@pytest.mark.parametrize(
    ("role", "status"),
    [
        ("superintendent", 200),
        ("manager", 200),
        ("officer", 403),
        ("engineer", 403),
        ("master", 403),
        ("auditor", 403),
        ("administrator", 403),
    ],
)
def test_the_queue_is_for_those_who_watch_the_fleet(client: Client, cast: Cast, role: str, status: int) -> None:
    client.force_login(cast.people[role])
    assert client.get(TODAY).status_code == status


def test_another_companys_queue_is_not_seen(client: Client, cast: Cast, ship: Ship) -> None:
    submitted(ship)
    client.force_login(cast.foreign["superintendent"])
    assert cast.vessel.name not in words(client.get(TODAY))


def test_too_tight_comes_before_as_much_too_loose(cast: Cast, ship: Ship) -> None:
    # 12 bar above and below the band's edges (65 % is 187.7 bar, 55 % is 158.8 bar): the same distance.
    loose = submitted(ship, readings=found_at("147"))
    tight = submitted(ship, readings=found_at("199"))
    shown = [item.shown for item in queue(cast).items]
    assert shown == [tight, loose]


def test_the_operators_weight_decides_what_is_worse(cast: Cast, ship: Ship) -> None:
    loose = submitted(ship, readings=found_at("140"))
    tight = submitted(ship, readings=found_at("199"))
    assert [item.shown for item in queue(cast).items] == [tight, loose]
    PolicyFactory(company=cast.company, tight_weight="1.00")
    assert [item.shown for item in queue(cast).items] == [loose, tight]
    PolicyFactory(company=cast.company, vessel=cast.vessel, tight_weight="3.00")
    assert [item.shown for item in queue(cast).items] == [tight, loose]


def test_a_failed_brake_comes_first_and_a_clean_record_last(cast: Cast, ship: Ship) -> None:
    clean = submitted(ship, readings=found_at("172"))
    tight = submitted(ship, readings=found_at("199"))
    broken = failed(ship, outcome="out_of_use")
    assert [item.shown for item in queue(cast).items] == [broken, tight, clean]


def test_each_row_says_why_in_a_sentence(cast: Cast, ship: Ship) -> None:
    submitted(ship, readings=found_at("199"), findings=(("a", "ask", "Was the line worked since?"),))
    (item,) = queue(cast).items
    assert item.sentence == "As found 68.9 %, above the band 55–65 %: until this test the brake held too much."
    assert "Was the line worked since?" in item.more or "2 findings" in item.more
    assert item.state == "was_too_tight"


def test_an_approved_failure_stays_until_a_good_test(cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    approved(failed(ship, drum, outcome="restricted"), cast.superintendent)
    (item,) = queue(cast).items
    assert (item.reason, item.state) == ("failed", "restricted")
    certified(ship, cast.superintendent, drum, tested_on=date(2026, 11, 22))
    assert queue(cast, on=date(2026, 11, 25)).items == []


def test_overdue_and_never_tested_drums_and_open_orders_are_in_it(cast: Cast, ship: Ship) -> None:
    new = drum_on(cast.vessel)
    old = drum_on(cast.vessel)
    certified(ship, cast.superintendent, old, tested_on=date(2025, 9, 1))
    ordered = drum_on(cast.vessel)
    certified(ship, cast.superintendent, ordered, tested_on=date(2026, 9, 1))
    RetestOrderFactory(drum=ordered, due_on=date(2026, 11, 20))
    items = {item.drum: item for item in queue(cast, on=date(2026, 11, 25)).items}
    assert {drum.pk: item.reason for drum, item in items.items()} == {
        new.pk: "overdue",
        old.pk: "overdue",
        ordered.pk: "retest",
    }
    assert items[old].word == "overdue by 85 days"
    assert items[ordered].word == "retest late"
    assert [item.drum for item in queue(cast, on=date(2026, 11, 25)).items] == [ordered, old, new]


def overdue_since(cast: Cast, ship: Ship, *days: date) -> list[Drum]:
    drums = [drum_on(ship.vessel, drum__name=f"Spring {n}") for n in range(1, len(days) + 1)]
    for drum, day in zip(drums, days, strict=True):
        certified(ship, cast.superintendent, drum, tested_on=day)
    return drums


def test_several_overdue_drums_of_a_vessel_are_one_row_that_leads_to_them(
    client: Client, cast: Cast, ship: Ship, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(timezone, "localdate", lambda: date(2026, 11, 25))
    drums = overdue_since(cast, ship, date(2025, 10, 26), date(2025, 11, 1), date(2025, 11, 10))
    sister = ship_of(cast.sister)
    (alone,) = overdue_since(cast, sister, date(2025, 10, 1))
    failure = failed(ship)
    approved(failure, cast.superintendent)
    client.force_login(cast.superintendent)
    response = client.get(TODAY)
    broken, single, row = response.context["page"]
    assert (broken.drum, single.drum, row.count) == (failure.test.drum, alone, 3)
    assert row.sentence == f"3 drums of {cast.vessel.name} are overdue, the first by 30 days."
    assert row.sentence in words(response)
    assert "3 things need you, among 5 drums." in words(response)
    assert [item.drum for item in client.get(row.url).context["page"]] == drums
    for query in ({"vessel": cast.vessel.pk}, {"reason": "overdue"}):
        shown = [getattr(item, "count", 1) for item in client.get(TODAY, query).context["page"]]
        assert sorted(shown) == [1, 3], query


def test_drums_never_tested_are_counted_in_the_same_row(cast: Cast, ship: Ship) -> None:
    def sentences() -> list[str]:
        return [row.sentence for row in rows_of(queue(cast, on=date(2026, 11, 25)).items)]

    for _ in range(2):
        drum_on(cast.vessel)
    name = cast.vessel.name
    assert sentences() == [f"2 drums of {name} were never tested."]
    assert [row.state for row in rows_of(queue(cast).items)] == ["never_tested"]
    overdue_since(cast, ship, date(2025, 11, 24))
    assert sentences() == [f"1 drum of {name} is overdue by 1 day; 2 were never tested."]
    assert [row.state for row in rows_of(queue(cast, on=date(2026, 11, 25)).items)] == ["overdue"]


def test_an_event_keeps_its_drum_named_in_the_vessels_row(cast: Cast, ship: Ship) -> None:
    drums = overdue_since(cast, ship, *[date(2026, 6, 1)] * 5)
    BrakeEventFactory(drum=drums[0], kind="unintended_slip", happened_on=date(2026, 11, 3))
    BrakeEventFactory(drum=drums[1], kind="lining_renewed", happened_on=date(2026, 11, 4))
    (row,) = rows_of(queue(cast, on=date(2026, 11, 25)).items)
    assert isinstance(row, VesselRow)
    assert row.sentence == f"2 drums of {cast.vessel.name} are overdue, the first by 22 days."
    assert row.more == (
        "Among them after an event: Spring 1 (brake slipped unintended, 3 Nov 2026); Spring 2 (new lining, 4 Nov 2026)."
    )
    for drum in drums[2:]:
        BrakeEventFactory(drum=drum, kind="line_changed", happened_on=date(2026, 11, 20))
    (row,) = rows_of(queue(cast, on=date(2026, 11, 25)).items)
    assert row.more.endswith("; and 2 more.")


def test_a_drum_in_date_is_not_in_it(cast: Cast, ship: Ship) -> None:
    certified(ship, cast.superintendent)
    assert queue(cast, on=date(2026, 11, 25)).items == []
    assert queue(cast, on=date(2026, 11, 25)).drums == 1


def test_an_older_version_waits_no_more(cast: Cast, ship: Ship) -> None:
    from fleet.records.models import DrumTest
    from fleet.records.submissions import drum_test_reopen
    from tests.certificates.records import SENT, send

    first = submitted(ship)
    drum_test_reopen(test=first.test, reason="wrong weather", actor=ship.officer)
    second = send(DrumTest.objects.get(pk=first.test_id), ship, at=SENT + timedelta(days=1))
    assert [item.shown for item in queue(cast).items] == [second]


def test_it_is_filtered_by_vessel_and_reason(client: Client, cast: Cast, ship: Ship) -> None:
    submitted(ship)
    drum_on(cast.sister, drum__name="Untested breast")
    client.force_login(cast.superintendent)

    def names(**query: Any) -> list[str]:
        return [item.vessel.name for item in client.get(TODAY, query).context["page"]]

    assert sorted(names()) == sorted([cast.vessel.name, cast.sister.name])
    assert names(vessel=cast.sister.pk) == [cast.sister.name]
    assert names(reason="review") == [cast.vessel.name]
    assert names(vessel=cast.sister.pk, reason="review") == []
    assert len(names(vessel="nonsense", reason="nonsense")) == 2


def test_twenty_rows_ask_no_more_questions_than_one(
    client: Client, cast: Cast, ship: Ship, django_assert_num_queries: Any
) -> None:
    submitted(ship)
    client.force_login(cast.superintendent)
    client.get(TODAY)
    with CaptureQueriesContext(connection) as one:
        client.get(TODAY)
    sister = ship_of(cast.sister)
    for _ in range(10):
        submitted(ship, findings=(("a", "ask", "Was it so?"),))
        drum_on(sister.vessel)
    assert Drum.objects.count() == 21
    with django_assert_num_queries(len(one)):
        client.get(TODAY)


def test_a_record_with_a_question_comes_before_what_is_only_late(cast: Cast, ship: Ship) -> None:
    old = drum_on(cast.vessel)
    certified(ship, cast.superintendent, old, tested_on=date(2024, 9, 1))
    asked = submitted(ship, readings=found_at("172"), findings=(("a", "ask", "Was it so?"),))
    clean = submitted(ship, readings=found_at("171"))
    items = queue(cast, on=date(2026, 11, 25)).items
    assert [(item.drum, item.reason) for item in items] == [
        (asked.test.drum, "review"),
        (old, "overdue"),
        (clean.test.drum, "review"),
    ]


def test_tests_that_come_due_are_listed_when_asked_for(client: Client, cast: Cast, ship: Ship) -> None:
    day = timezone.localdate() - timedelta(days=300)
    certified(ship, cast.superintendent, tested_on=day)
    client.force_login(cast.superintendent)
    assert "The next test is due by" not in words(client.get(TODAY))
    assert "The next test is due by" in words(client.get(TODAY, {"window": "90"}))
    assert "The next test is due by" not in words(client.get(TODAY, {"window": "30"}))


def test_too_tight_says_to_look_at_the_line_and_both_expectations_are_shown(
    client: Client, cast: Cast, ship: Ship
) -> None:
    submitted(ship, readings=found_at("205"))
    client.force_login(cast.superintendent)
    shown = words(client.get(TODAY))
    assert "Look at the line too: it could be loaded to" in shown
    assert "points too tight (counted 2 times)" in shown


def test_too_loose_asks_whether_the_brake_slipped(client: Client, cast: Cast, ship: Ship) -> None:
    submitted(ship, readings=found_at("140"))
    client.force_login(cast.superintendent)
    assert "Ask the ship whether the brake slipped at a berth" in words(client.get(TODAY))


def test_a_row_shows_the_setting_over_the_years_and_leads_to_an_order(client: Client, cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    certified(ship, cast.superintendent, drum, tested_on=date(2024, 11, 20))
    certified(ship, cast.superintendent, drum, tested_on=date(2025, 11, 20))
    submitted(ship, drum)
    client.force_login(cast.superintendent)
    shown = words(client.get(TODAY))
    assert "Setting over the last 2 tests, 2024 to 2025" in shown
    assert reverse("drums:retest_order_new", args=[drum.pk]) in shown
