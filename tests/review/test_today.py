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
from fleet.vessels.models import Vessel
from tests.cast import Cast
from tests.certificates.records import READINGS, Ship, approved, certified, drum_on, failed, ship_of, submitted
from tests.factories import PolicyFactory, RetestOrderFactory

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
    assert "Was the line worked since?" in item.more or item.more.startswith("2 findings")
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
