"""The deck: every drum in its place with its state, and a first sentence that says what to do."""

import re
from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.accounts.models import Role
from fleet.records.deck import deck_of
from fleet.records.models import Round, State
from tests.cast import Cast
from tests.factories import BrakeEventFactory, DrumFactory, DrumTestFactory, RetestOrderFactory, WinchFactory
from tests.records.sent import send
from tests.records.ship import Ship, make_ship

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]
READERS = sorted(set(Role.values) - {Role.AUDITOR})


@pytest.fixture
def ship(cast: Cast) -> Ship:
    return make_ship(cast.vessel, drums=3)


def page(client: Client, ship: Ship, user: Any) -> str:
    client.force_login(user)
    answer = client.get(f"/vessels/{ship.vessel.pk}/deck/")
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode())


def lead(text: str) -> str:
    found = re.search(r'<div class="lead.*?</div>', text)
    assert found
    return re.sub(r"<[^>]+>", "", found[0])


@pytest.mark.parametrize("role", READERS)
def test_whoever_works_with_the_vessel_sees_its_deck(client: Client, cast: Cast, ship: Ship, role: str) -> None:
    assert "F1" in page(client, ship, cast.people[role])


def test_an_auditor_is_refused_and_an_outsider_finds_nothing(client: Client, cast: Cast, ship: Ship) -> None:
    address = f"/vessels/{ship.vessel.pk}/deck/"
    assert client.get(address).status_code == 302
    client.force_login(cast.auditor)
    assert client.get(address).status_code == 403
    for outsider in (cast.sister_officer, cast.nobody, *cast.foreign.values()):
        client.force_login(outsider)
        assert client.get(address).status_code == 404


def test_without_an_open_round_the_first_thing_is_to_open_one(client: Client, cast: Cast, ship: Ship) -> None:
    Round.objects.update(closed_on=date(2026, 11, 21))
    for drum in ship.drums[:2]:
        send(drum, date(2025, 12, 1))
    send(ship.drums[2], date(2026, 9, 1))
    said = lead(page(client, ship, cast.officer))
    assert "2 of 3 drums are due by 1 December 2026." in said
    assert "Open this year" in said
    assert "Open this year" not in lead(page(client, ship, cast.superintendent))


def test_with_an_open_round_the_most_pressing_drum_comes_next(client: Client, cast: Cast, ship: Ship) -> None:
    send(ship.drums[0], date(2025, 12, 1))
    send(ship.drums[1], date(2025, 10, 1))
    said = lead(page(client, ship, cast.officer))
    assert "3 of 3 drums are to be tested: 1 overdue, 1 never tested, 1 due by 1 December 2026." in said
    assert "Prepare F2" in said


def test_a_returned_test_comes_before_everything(client: Client, cast: Cast, ship: Ship) -> None:
    returned = send(ship.drums[2], date(2026, 11, 20), state=State.RETURNED, round=ship.round)
    returned.test.state_reason = "Which gauge was used?"
    returned.test.save()
    text = page(client, ship, cast.officer)
    assert lead(text).strip().startswith("Shore sent back: F3.")
    assert "Which gauge was used?" in text


def test_a_deck_all_in_date_says_until_when(client: Client, cast: Cast, ship: Ship) -> None:
    for day, drum in enumerate(ship.drums, start=1):
        send(drum, date(2026, 9, day))
    text = page(client, ship, cast.officer)
    assert "All 3 drums are in date; the first is to be tested again by 1 September 2027." in lead(text)
    assert 'class="lead warn"' not in text


def test_a_vessel_without_drums_says_what_to_do(client: Client, cast: Cast) -> None:
    assert "register its winches and drums" in lead(page(client, make_ship(cast.vessel, drums=0), cast.officer))


def test_every_state_stands_on_the_page_as_word_and_shape(client: Client, cast: Cast) -> None:
    ship = make_ship(cast.vessel, drums=8)
    drums = ship.drums
    send(drums[0], date(2026, 9, 1))
    send(drums[1], date(2025, 12, 1))
    send(drums[2], date(2025, 10, 1), as_found_share=0.7)
    DrumTestFactory(round=ship.round, drum=drums[4])
    RetestOrderFactory(drum=drums[5], ordered_at=datetime(2026, 11, 1, tzinfo=UTC))
    send(drums[6], date(2026, 11, 20), state=State.SUBMITTED, as_found_share=0.5)
    send(drums[7], date(2026, 11, 20), state=State.RETURNED, round=ship.round)
    text = page(client, ship, cast.officer)
    words = (
        "in date until 1 Sep 2027",
        "due by 1 Dec 2026",
        "overdue by 55 days",
        "never tested",
        "draft open",
        "retest ordered, by 1 Dec 2026",
        "review pending",
        "returned",
        "was too tight, now in band",
        "slipped early, now in band",
        "accepted aboard, shore review pending",
    )
    for word in words:
        assert word in text, word
    assert text.count('class="deck-drum"') == 8


def test_a_drum_on_the_aft_deck_stands_in_the_pictures_aft_deck(client: Client, cast: Cast, ship: Ship) -> None:
    DrumFactory(winch=ship.drums[0].winch, name="Stern", area="aft", area_order=3)
    assert "Aft deck" in page(client, ship, cast.officer)
    assert ">aft<" not in page(client, ship, cast.officer)


def test_a_drum_taken_off_the_ship_is_not_shown(client: Client, cast: Cast, ship: Ship) -> None:
    DrumFactory(winch=ship.drums[0].winch, name="Old one", removed_on=date(2026, 1, 1))
    assert "Old one" not in page(client, ship, cast.officer)


def test_work_on_a_brake_and_a_drum_out_of_use_are_said(client: Client, cast: Cast, ship: Ship) -> None:
    send(ship.drums[0], date(2026, 6, 1))
    BrakeEventFactory(drum=ship.drums[0], happened_on=date(2026, 9, 3))
    send(ship.drums[1], date(2026, 9, 3), outcome="out_of_use")
    text = page(client, ship, cast.engineer)
    assert "new lining, 3 Sep 2026" in text
    assert "The drum is out of use." in text


def test_the_open_round_shows_permit_kit_and_weather(client: Client, cast: Cast, ship: Ship) -> None:
    text = page(client, ship, cast.superintendent)
    for words in ("permit 26-114", "Kit A", "PG-3", "dry, wind force 2", "at anchor, inner roads"):
        assert words in text
    assert "/edit/" not in text
    assert f"/rounds/{ship.round.pk}/edit/" in page(client, ship, cast.officer)


def test_each_drum_leads_to_its_next_step(ship: Ship) -> None:
    DrumTestFactory(round=ship.round, drum=ship.drums[0])
    send(ship.drums[1], date(2026, 11, 20), state=State.SUBMITTED)
    found = deck_of(vessel=ship.vessel, on=date(2026, 11, 25), may_test=True)
    assert [row.steps[0].page for row in found.rows] == ["records:test", "records:record", "records:prepare"]
    reader = deck_of(vessel=ship.vessel, on=date(2026, 11, 25), may_test=False)
    assert [row.steps[0].page for row in reader.rows] == ["records:check", "records:record", "records:prepare"]
    assert all("records:test_start" not in [step.page for step in row.steps] for row in reader.rows)
    assert "records:test_start" in [step.page for step in found.rows[2].steps]


def test_the_links_of_the_steps_lead_to_their_pages(client: Client, cast: Cast, ship: Ship) -> None:
    test = DrumTestFactory(round=ship.round, drum=ship.drums[0])
    sent = send(ship.drums[1], date(2026, 11, 20), state=State.SUBMITTED)
    text = page(client, ship, cast.officer)
    for address in (
        f"/tests/{test.pk}/",
        f"/tests/{test.pk}/check/",
        f"/tests/{sent.test.pk}/record/",
        f"/drums/{ship.drums[2].pk}/test/",
        f"/drums/{ship.drums[2].pk}/history/",
        f"/vessels/{ship.vessel.pk}/",
    ):
        assert f'href="{address}"' in text, address


def test_a_deck_of_16_drums_asks_no_more_than_a_deck_of_one(client: Client, cast: Cast) -> None:
    make_ship(cast.vessel, drums=0)
    client.force_login(cast.officer)
    counts = []
    for more in (1, 15):
        for _ in range(more):
            drum = DrumFactory(winch=WinchFactory(vessel=cast.vessel))
            send(drum, date(2026, 6, 1), as_found_share=0.7)
            BrakeEventFactory(drum=drum, happened_on=date(2026, 9, 3))
        with CaptureQueriesContext(connection) as seen:
            assert client.get(f"/vessels/{cast.vessel.pk}/deck/").status_code == 200
        counts.append(len(seen))
    assert counts[0] == counts[1]
