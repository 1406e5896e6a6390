"""A drum's history: every test with its versions, the failed beside the good, work and orders between them."""

import re
from datetime import UTC, date, datetime
from html import unescape
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.accounts.models import Role
from fleet.drums.models import Drum
from fleet.records.models import Decision, State
from tests.cast import Cast
from tests.factories import BrakeEventFactory, DrumTestFactory, RetestOrderFactory
from tests.records.sent import send
from tests.records.ship import make_ship

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def drum(cast: Cast) -> Drum:
    return make_ship(cast.vessel).drums[0]


def read(client: Client, drum: Drum, user: Any) -> str:
    client.force_login(user)
    answer = client.get(f"/drums/{drum.pk}/history/")
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


@pytest.mark.parametrize("role", Role.values)
def test_whoever_sees_the_vessel_reads_the_history(client: Client, cast: Cast, drum: Drum, role: str) -> None:
    assert "No test of this drum was ever sent." in read(client, drum, cast.people[role])


def test_an_outsider_finds_nothing(client: Client, cast: Cast, drum: Drum) -> None:
    address = f"/drums/{drum.pk}/history/"
    assert client.get(address).status_code == 302
    for outsider in (cast.sister_officer, cast.nobody, *cast.foreign.values()):
        client.force_login(outsider)
        assert client.get(address).status_code == 404


def test_a_failed_test_stays_beside_the_good_one_after_it(client: Client, cast: Cast, drum: Drum) -> None:
    send(drum, date(2026, 3, 1), outcome="could_not_be_set", as_found_share=0.44)
    send(
        drum,
        date(2026, 3, 9),
        as_found_share=0.71,
        as_found_phase="as_found_reapplied",
        as_left_share=0.603,
        as_left_load_n=384_111.0,
        setting_text="53,5",
        setting_unit="mm",
        setting_si=0.0535,
    )
    text = read(client, drum, cast.auditor)
    assert "2 tests since 2026. The last, 9 March 2026: set in band, rendered at 60.3 %" in text
    for said in (
        "was too tight, now in band",
        "could not be set",
        "as found, re-applied at the old mark",
        "384.1 kN",
        "53,5 mm",
    ):
        assert said in text, said
    assert text.index("9 Mar 2026") < text.index("1 Mar 2026")


def test_a_brake_that_held_at_stop_as_found_is_told_from_one_that_slipped(
    client: Client, cast: Cast, drum: Drum
) -> None:
    send(drum, date(2026, 3, 1), as_found_share=0.649, as_found_held=True, as_found_phase="as_found_untouched")
    assert "more than 64.9" in read(client, drum, cast.officer)


def test_every_version_stands_with_what_shore_said_to_it(client: Client, cast: Cast, drum: Drum) -> None:
    first = send(drum, date(2026, 3, 1), decision="returned")
    Decision.objects.filter(submission=first).update(sentence="Which gauge was used?")
    send(drum, date(2026, 3, 1), test=first.test, reason="gauge PG-3 named", decision="approved")
    text = read(client, drum, cast.superintendent)
    assert text.index("version 2") < text.index("version 1")
    assert "returned : Which gauge was used?" in text.replace("returned:", "returned :")
    assert "gauge PG-3 named" in text
    assert "chief officer Ada Voss" in text


def test_a_strip_stands_in_each_row_that_has_a_share(client: Client, cast: Cast, drum: Drum) -> None:
    send(drum, date(2025, 3, 1))
    send(drum, date(2026, 3, 1), as_found_share=0.5)
    send(drum, date(2026, 3, 2), outcome="stopped")
    client.force_login(cast.officer)
    content = client.get(f"/drums/{drum.pk}/history/").content.decode()
    assert content.count('class="pic strip compact"') == 2


def test_work_and_orders_stand_between_the_tests(client: Client, cast: Cast, drum: Drum) -> None:
    send(drum, date(2025, 3, 1))
    BrakeEventFactory(drum=drum, happened_on=date(2026, 2, 1), note="both halves relined", document="WO 17")
    RetestOrderFactory(
        drum=drum,
        ordered_at=datetime(2026, 2, 5, tzinfo=UTC),
        taken_back_at=datetime(2026, 2, 6, tzinfo=UTC),
        taken_back_reason="the wrong drum",
    )
    send(drum, date(2026, 3, 1))
    text = read(client, drum, cast.officer)
    places = [text.index(said) for said in ("1 Mar 2026", "5 Feb 2026", "both halves relined", "1 Mar 2025")]
    assert places == sorted(places)
    assert "taken back: the wrong drum" in text


def test_a_draft_is_shown_to_those_who_work_with_it_only(client: Client, cast: Cast, drum: Drum) -> None:
    DrumTestFactory(drum=drum, round=drum.winch.vessel.rounds.get())
    assert "not sent yet" in read(client, drum, cast.officer)
    assert "not sent yet" not in read(client, drum, cast.auditor)


@pytest.mark.parametrize("state", [State.WITHDRAWN, State.SUPERSEDED, State.SUBMITTED])
def test_a_record_that_no_longer_or_not_yet_counts_says_so(client: Client, cast: Cast, drum: Drum, state: str) -> None:
    send(drum, date(2026, 3, 1), state=state)
    word = "accepted aboard" if state == State.SUBMITTED else str(State(state).label)
    assert word in read(client, drum, cast.auditor)


def test_a_certificate_is_named_with_the_version_it_was_issued_for(client: Client, cast: Cast, drum: Drum) -> None:
    from fleet.certificates.models import Certificate

    submission = send(drum, date(2026, 3, 1))
    Certificate.objects.create(
        number="KS-2026-0007",
        submission=submission,
        snapshot=b"{}",
        snapshot_sha256="0" * 64,
        code="ABCD-EFGH-JKLM-NPQR",
        issued_at=datetime(2026, 3, 4, tzinfo=UTC),
    )
    assert "KS-2026-0007 , issued" in read(client, drum, cast.auditor).replace("0007,", "0007 ,")


def test_a_long_history_asks_no_more_queries_than_a_short_one(client: Client, cast: Cast, drum: Drum) -> None:
    client.force_login(cast.officer)
    counts = []
    for years in (range(2025, 2026), range(2005, 2025)):
        for year in years:
            first = send(drum, date(year, 3, 1), decision="returned")
            send(drum, date(year, 3, 1), test=first.test)
            BrakeEventFactory(drum=drum, happened_on=date(year, 5, 1))
        with CaptureQueriesContext(connection) as seen:
            assert client.get(f"/drums/{drum.pk}/history/").status_code == 200
        counts.append(len(seen))
    assert counts[0] == counts[1]
