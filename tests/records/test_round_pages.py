"""The pages of a round: who may open, change and close it, what is said back, and who gets the report."""

import io
from datetime import date
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.accounts.models import Role
from fleet.records.models import Outcome, Round, State
from fleet.records.rounds import round_open
from tests.cast import Cast
from tests.factories import DrumFactory, DrumTestFactory, KitFactory, WinchFactory
from tests.records.sent import send
from tests.records.ship import Ship, make_ship
from tests.records.test_rounds import NOW, PDF, given

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]
MAY_TEST = {Role.OFFICER, Role.MASTER}


@pytest.fixture
def ship(cast: Cast) -> Ship:
    return make_ship(cast.vessel, drums=2)


def form_data(ship: Ship, **changes: Any) -> dict[str, Any]:
    return {
        "kind": "retest",
        "started_on": "2026-11-20",
        "utc_offset_minutes": "-210",
        "kit": str(ship.kit.pk),
        "place": "at anchor",
        "permit": "permit 26-200",
        "people": "Ada Voss, chief officer\n\nBo Lind, bosun",
        "weather": "dry, calm",
        "done_by": "crew",
        "done_by_name": "",
        **changes,
    }


def addresses(ship: Ship) -> dict[str, str]:
    return {
        "new": f"/vessels/{ship.vessel.pk}/rounds/new/",
        "page": f"/rounds/{ship.round.pk}/",
        "edit": f"/rounds/{ship.round.pk}/edit/",
        "close": f"/rounds/{ship.round.pk}/close/",
    }


@pytest.mark.parametrize("role", Role.values)
def test_only_the_officer_and_the_master_open_change_and_close(
    client: Client, cast: Cast, ship: Ship, role: str
) -> None:
    client.force_login(cast.people[role])
    at = addresses(ship)
    writes = 200 if role in MAY_TEST else 403
    assert client.get(at["new"]).status_code == writes
    assert client.get(at["edit"]).status_code == writes
    assert client.get(at["page"]).status_code == (403 if role == Role.AUDITOR else 200)
    assert client.post(at["new"], {}).status_code == writes
    assert client.post(at["close"]).status_code == (302 if role in MAY_TEST else 403)
    assert (Round.objects.get().closed_on is not None) == (role in MAY_TEST)


def test_an_outsider_finds_no_page_of_a_round(client: Client, cast: Cast, ship: Ship) -> None:
    at = addresses(ship)
    assert client.get(at["page"]).status_code == 302
    for outsider in (cast.sister_officer, cast.nobody, *cast.foreign.values()):
        client.force_login(outsider)
        assert [client.get(at[name]).status_code for name in ("new", "page", "edit")] == [404] * 3
        assert client.post(at["close"]).status_code == 404
        assert client.get(f"/rounds/{ship.round.pk}/report/").status_code == 404


def test_a_round_is_opened_with_what_was_typed(client: Client, cast: Cast, ship: Ship) -> None:
    client.force_login(cast.officer)
    answer = client.post(addresses(ship)["new"], form_data(ship))
    assert answer.status_code == 302
    assert answer["Location"] == f"/vessels/{ship.vessel.pk}/deck/"
    row = Round.objects.get(kind="retest")
    assert row.people == [{"name": "Ada Voss", "rank": "chief officer"}, {"name": "Bo Lind", "rank": "bosun"}]
    assert (row.utc_offset_minutes, row.kit, row.opened_by) == (-210, ship.kit, cast.officer)


def test_bad_input_is_said_beside_its_field_and_nothing_typed_is_lost(client: Client, cast: Cast, ship: Ship) -> None:
    client.force_login(cast.officer)
    answer = client.post(
        addresses(ship)["new"],
        form_data(ship, people="Ada Voss\nBo Lind, bosun", started_on="20.11.2026", kit="", done_by="yard"),
    )
    assert answer.status_code == 200
    text = answer.content.decode()
    assert "data-error-summary" in text
    assert "Line 1: write the name, a comma, and the rank" in text
    assert "2026-11-25" in text
    assert "Choose one." in text
    assert "Ada Voss\nBo Lind, bosun" in text
    assert "permit 26-200" in text
    assert "Files must be chosen again" in text
    assert Round.objects.count() == 1


def test_what_the_service_refuses_is_said_in_the_form(client: Client, cast: Cast, ship: Ship) -> None:
    client.force_login(cast.officer)
    text = client.post(addresses(ship)["new"], form_data(ship, kind="yearly", done_by="yard")).content.decode()
    assert "A round of this kind is open on this vessel since" in text
    assert "Name the yard, the service or the surveyor." in text
    assert "Attach their report" in text


def test_only_the_vessels_own_kits_in_use_are_offered(client: Client, cast: Cast, ship: Ship) -> None:
    foreign, sister = KitFactory(vessel=cast.foreign_vessel), KitFactory(vessel=cast.sister)
    retired = KitFactory(vessel=cast.vessel, retired_on=date(2026, 1, 1))
    client.force_login(cast.officer)
    text = client.get(addresses(ship)["new"]).content.decode()
    assert str(ship.kit.pk) in text
    for kit in (foreign, sister, retired):
        assert str(kit.pk) not in text
        answer = client.post(addresses(ship)["new"], form_data(ship, kit=str(kit.pk)))
        assert "Choose one of the list." in answer.content.decode()


def test_a_vessel_without_a_kit_is_told_to_register_one(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    text = client.get(f"/vessels/{cast.vessel.pk}/rounds/new/").content.decode()
    assert "No kit is registered on this vessel" in text


def test_a_change_opens_with_what_stands_and_keeps_the_kind(client: Client, cast: Cast, ship: Ship) -> None:
    client.force_login(cast.officer)
    text = client.get(addresses(ship)["edit"]).content.decode()
    assert "Ada Voss, chief officer" in text
    assert 'name="kind"' not in text
    answer = client.post(addresses(ship)["edit"], form_data(ship, kind="retest", weather="rain"))
    assert answer.status_code == 302
    row = Round.objects.get()
    assert (row.weather, row.kind) == ("rain", "yearly")


def test_a_closed_round_sends_an_editor_back(client: Client, cast: Cast, ship: Ship) -> None:
    Round.objects.update(closed_on=date(2026, 11, 22))
    client.force_login(cast.officer)
    answer = client.get(addresses(ship)["edit"], follow=True)
    assert answer.redirect_chain[0][0] == addresses(ship)["page"]
    assert "This round is closed and is not changed any more." in answer.content.decode()


def test_the_page_says_how_far_the_round_has_come(client: Client, cast: Cast, ship: Ship) -> None:
    client.force_login(cast.officer)
    assert "0 of 2 drums are sent, 2 not begun." in client.get(addresses(ship)["page"]).content.decode()
    DrumTestFactory(round=ship.round, drum=ship.drums[0])
    send(ship.drums[1], date(2026, 11, 20), round=ship.round, state=State.SUBMITTED)
    text = client.get(addresses(ship)["page"]).content.decode()
    assert "1 of 2 drums are sent, 1 test in hand." in text
    assert "/close/" not in text
    answer = client.post(addresses(ship)["close"], follow=True)
    assert "Still being written: F1." in answer.content.decode()


def test_the_report_is_given_to_whoever_sees_the_vessel(client: Client, cast: Cast, ship: Ship) -> None:
    row = round_open(
        **given(
            cast.vessel,
            ship.kit,
            cast.officer,
            kind="retest",
            done_by="class_witnessed",
            done_by_name="Surveyor Lund",
            report=SimpleUploadedFile("witness <b>.pdf", PDF),
            at=NOW,
        )
    )
    address = f"/rounds/{row.pk}/report/"
    client.force_login(cast.auditor)
    answer = client.get(address)
    assert b"".join(answer.streaming_content) == PDF
    assert answer["Content-Type"] == "application/pdf"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "<" not in answer["Content-Disposition"]
    for outsider in (cast.sister_officer, cast.nobody, *cast.foreign.values()):
        client.force_login(outsider)
        assert client.get(address).status_code == 404
    client.force_login(cast.officer)
    assert client.get(f"/rounds/{ship.round.pk}/report/").status_code == 404
    assert row.report_sha256[:16] in client.get(f"/rounds/{row.pk}/").content.decode()


def test_a_report_is_taken_with_the_form(client: Client, cast: Cast, ship: Ship) -> None:
    client.force_login(cast.master)
    file = io.BytesIO(PDF)
    file.name = "yard.pdf"
    data = form_data(ship, done_by="yard", done_by_name="North Quay Yard", report=file)
    assert client.post(addresses(ship)["new"], data).status_code == 302
    assert Round.objects.get(kind="retest").report_name == "yard.pdf"


def test_the_page_of_a_round_asks_no_more_queries_with_more_drums(client: Client, cast: Cast, ship: Ship) -> None:
    client.force_login(cast.officer)
    counts = []
    for more in (1, 12):
        for _ in range(more):
            drum = DrumFactory(winch=WinchFactory(vessel=cast.vessel))
            send(drum, date(2026, 11, 20), round=ship.round, state=State.SUBMITTED)
        with CaptureQueriesContext(connection) as seen:
            assert client.get(addresses(ship)["page"]).status_code == 200
        counts.append(len(seen))
    assert counts[0] == counts[1]


def test_a_failed_test_of_the_round_is_not_shown_as_approved_alone(client: Client, cast: Cast, ship: Ship) -> None:
    send(ship.drums[0], date(2026, 11, 20), round=ship.round, state=State.APPROVED, outcome=Outcome.OUT_OF_USE)
    client.force_login(cast.officer)
    text = client.get(addresses(ship)["page"]).content.decode()
    assert text.index("defective, out of use") < text.index("approved")
