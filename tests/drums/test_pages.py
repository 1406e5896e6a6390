"""The pages of winches and drums for every kind of person."""

import io
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from fleet.drums.models import BrakeEvent, Drum, DrumParticulars, EventKind, RetestOrder, Winch
from fleet.vessels.permissions import ALLOWED
from tests.cast import Cast
from tests.factories import (
    BrakeEventFactory,
    DrumFactory,
    DrumParticularsFactory,
    RetestOrderFactory,
    WinchFactory,
)

pytestmark = pytest.mark.django_db


def picture(colour: str = "#336699") -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", (60, 40), colour).save(out, format="PNG")
    return SimpleUploadedFile("mark.png", out.getvalue(), content_type="image/png")


@pytest.fixture
def drum(cast: Cast) -> Drum:
    return DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum


@pytest.fixture
def order(cast: Cast, drum: Drum) -> RetestOrder:
    made: RetestOrder = RetestOrderFactory(drum=drum, ordered_by=cast.superintendent)
    return made


def pages(drum: Drum, order: RetestOrder) -> dict[str, tuple[str, str]]:
    """Every page: name → (address, the act it needs)."""
    vessel = drum.vessel.pk
    return {
        "drum_list": (reverse("drums:drum_list", args=[vessel]), "view"),
        "winch_new": (reverse("drums:winch_new", args=[vessel]), "edit_drums"),
        "winch_edit": (reverse("drums:winch_edit", args=[drum.winch_id]), "edit_drums"),
        "drum_new": (reverse("drums:drum_new", args=[vessel]), "edit_drums"),
        "drum": (reverse("drums:drum", args=[drum.pk]), "view"),
        "drum_edit": (reverse("drums:drum_edit", args=[drum.pk]), "edit_drums"),
        "drum_remove": (reverse("drums:drum_remove", args=[drum.pk]), "edit_drums"),
        "particulars_new": (reverse("drums:particulars_new", args=[drum.pk]), "edit_drums"),
        "event_new": (reverse("drums:event_new", args=[drum.pk]), "report_event"),
        "retest_order_new": (reverse("drums:retest_order_new", args=[drum.pk]), "order_retest"),
        "retest_order_take_back": (reverse("drums:retest_order_take_back", args=[order.pk]), "order_retest"),
    }


# --- access


@pytest.mark.parametrize("method", ["get", "post"])
def test_every_role_of_the_vessel_gets_what_the_table_of_acts_says(
    client: Client, cast: Cast, drum: Drum, order: RetestOrder, method: str
) -> None:
    for role, person in cast.people.items():
        client.force_login(person)
        for name, (address, act) in pages(drum, order).items():
            answer = getattr(client, method)(address)
            assert answer.status_code == (200 if role in ALLOWED[act] else 403), (role, name)


def test_people_of_other_vessels_and_companies_find_nothing(
    client: Client, cast: Cast, drum: Drum, order: RetestOrder
) -> None:
    for person in (*cast.foreign.values(), cast.sister_officer, cast.nobody):
        client.force_login(person)  # type: ignore[arg-type]
        for name, (address, _act) in pages(drum, order).items():
            assert client.get(address).status_code == 404, (person, name)
            assert client.post(address).status_code == 404, (person, name)


def test_who_is_not_signed_in_is_sent_to_sign_in(client: Client, drum: Drum, order: RetestOrder) -> None:
    for address, _act in pages(drum, order).values():
        answer = client.get(address)
        assert answer.status_code == 302
        assert reverse("account_login") in answer["Location"]


def test_a_refused_role_writes_nothing(client: Client, cast: Cast, drum: Drum) -> None:
    client.force_login(cast.auditor)
    client.post(reverse("drums:winch_new", args=[cast.vessel.pk]), {"name": "Winch Z"})
    assert not Winch.objects.filter(name="Winch Z").exists()


# --- winches and drums


def test_a_winch_then_a_drum_are_registered_through_the_pages(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    client.post(reverse("drums:winch_new", args=[cast.vessel.pk]), {"name": "Aft winch", "shared_shaft": "on"})
    winch = Winch.objects.get(vessel=cast.vessel)
    answer = client.post(
        reverse("drums:drum_new", args=[cast.vessel.pk]),
        {
            "winch": winch.pk,
            "name": "Stern line, port",
            "number_on_winch": "1",
            "area": "aft",
            "side": "port",
            "order": "1",
            "kind": "undivided",
            "brake_kind": "band",
            "setting_kind": "marker_distance",
            "tighter_is": "longer",
            "mark_from": "stop plate",
            "mark_to": "spindle nut",
            "mark_picture": picture(),
            "line_off": "bottom",
            "lead": "right",
        },
    )
    drum = Drum.objects.get()
    assert answer["Location"] == reverse("drums:drum", args=[drum.pk])
    assert (drum.name, drum.tighter_is, drum.line_off, drum.area_order) == ("Stern line, port", "longer", "bottom", 3)
    page = client.get(answer["Location"]).content.decode()
    assert "cannot be tested yet" in page
    assert "Its record lacks the particulars" in page


def test_only_this_vessel_s_winches_are_offered(client: Client, cast: Cast) -> None:
    own, other = WinchFactory(vessel=cast.vessel), WinchFactory(vessel=cast.sister)
    client.force_login(cast.superintendent)
    page = client.get(reverse("drums:drum_new", args=[cast.vessel.pk])).content.decode()
    assert str(own.pk) in page
    assert str(other.pk) not in page
    answer = client.post(reverse("drums:drum_new", args=[cast.vessel.pk]), {"winch": other.pk, "name": "X"})
    assert "Choose one of the list." in answer.content.decode()
    assert not Drum.objects.exists()


def test_a_drum_needs_a_winch_first(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    page = client.get(reverse("drums:drum_new", args=[cast.vessel.pk])).content.decode()
    assert reverse("drums:winch_new", args=[cast.vessel.pk]) in page
    assert "no winch is registered yet" in page


def test_a_bad_entry_keeps_what_was_typed_and_leads_to_the_field(client: Client, cast: Cast) -> None:
    winch = WinchFactory(vessel=cast.vessel)
    client.force_login(cast.officer)
    answer = client.post(
        reverse("drums:drum_new", args=[cast.vessel.pk]),
        {"winch": winch.pk, "name": "Breast line", "number_on_winch": "one", "order": "1,5"},
    )
    page = answer.content.decode()
    assert answer.status_code == 200
    assert 'value="one"' in page
    assert 'value="1,5"' in page
    assert 'href="#id_number_on_winch"' in page
    assert "Type a whole number, without a decimal part." in page
    assert "Choose one." in page


def test_the_picture_of_the_measuring_points_is_made_anew_and_given_out_safely(
    client: Client, cast: Cast, drum: Drum
) -> None:
    client.force_login(cast.officer)
    address = reverse("drums:mark_picture", args=[drum.pk])
    assert client.get(address).status_code == 404
    fields = client.get(reverse("drums:drum_edit", args=[drum.pk])).context["form"].initial
    sent = {name: value for name, value in fields.items() if value is not None and name != "mark_picture"}
    answer = client.post(reverse("drums:drum_edit", args=[drum.pk]), {**sent, "mark_picture": picture()})
    assert answer.status_code == 302, answer.context["form"].errors
    answer = client.get(address)
    body = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
    assert body.startswith(b"\xff\xd8")
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in answer["Content-Security-Policy"]
    assert answer["Content-Disposition"].startswith("inline")
    assert client.get(reverse("drums:drum", args=[drum.pk])).content.decode().count(address) == 1
    for person in (cast.sister_officer, cast.foreign["superintendent"], cast.nobody):
        client.force_login(person)  # type: ignore[arg-type]
        assert client.get(address).status_code == 404
    client.logout()
    assert client.get(address).status_code == 302


def test_a_file_that_is_no_picture_is_refused_with_the_reason(client: Client, cast: Cast, drum: Drum) -> None:
    client.force_login(cast.officer)
    answer = client.post(
        reverse("drums:drum_edit", args=[drum.pk]),
        {"name": "kept name", "mark_picture": SimpleUploadedFile("mark.jpg", b"<svg onload='x'/>")},
    )
    page = answer.content.decode()
    assert "not a JPEG, PNG or WebP picture" in page
    assert 'value="kept name"' in page
    assert "must be chosen again" in page
    drum.refresh_from_db()
    assert not drum.mark_picture


def test_a_drum_taken_off_says_so_and_offers_no_test(client: Client, cast: Cast, drum: Drum) -> None:
    client.force_login(cast.superintendent)
    client.post(reverse("drums:drum_remove", args=[drum.pk]), {"removed_on": "2026-01-10", "reason": "winch renewed"})
    page = client.get(reverse("drums:drum", args=[drum.pk])).content.decode()
    assert "was taken off on 10 January 2026" in page
    assert reverse("drums:particulars_new", args=[drum.pk]) not in page


def test_the_drum_s_page_shows_each_figure_as_typed_with_its_origin(client: Client, cast: Cast, drum: Drum) -> None:
    DrumParticularsFactory(drum=drum, valid_from=date(2019, 1, 1), reason="older row", author=cast.master)
    BrakeEventFactory(drum=drum, note="new lining fitted by the crew", author=cast.engineer)
    client.force_login(cast.auditor)
    page = client.get(reverse("drums:drum", args=[drum.pk])).content.decode()
    for words in ("610 mm", "drawing: drawing W-1", "line certificate", "older row", cast.master.name, "new lining"):
        assert words in page, words
    assert reverse("drums:drum_edit", args=[drum.pk]) not in page


# --- events and orders


def test_an_event_that_asks_for_a_retest_says_so(client: Client, cast: Cast, drum: Drum) -> None:
    client.force_login(cast.engineer)
    answer = client.post(
        reverse("drums:event_new", args=[drum.pk]),
        {"kind": EventKind.LINING_RENEWED, "happened_on": "2026-03-01", "note": "lining renewed"},
        follow=True,
    )
    assert "must be tested again" in answer.content.decode()
    assert BrakeEvent.objects.get().author == cast.engineer


def test_what_the_service_refuses_stands_beside_its_field(client: Client, cast: Cast, drum: Drum) -> None:
    client.force_login(cast.master)
    answer = client.post(
        reverse("drums:event_new", args=[drum.pk]),
        {"kind": EventKind.UNINTENDED_SLIP, "happened_on": "2026-03-01", "note": "kept words"},
    )
    page = answer.content.decode()
    assert 'href="#id_berth"' in page
    assert 'id="id_wind_error"' in page
    assert "kept words" in page


def test_a_retest_is_ordered_and_taken_back_by_the_superintendent(client: Client, cast: Cast, drum: Drum) -> None:
    client.force_login(cast.superintendent)
    client.post(
        reverse("drums:retest_order_new", args=[drum.pk]), {"due_on": "2099-01-01", "reason": "mark looks shifted"}
    )
    order = RetestOrder.objects.get()
    client.post(reverse("drums:retest_order_take_back", args=[order.pk]), {"reason": "it was an old photo"})
    order.refresh_from_db()
    assert order.taken_back_reason == "it was an old photo"
    page = client.get(reverse("drums:drum", args=[drum.pk])).content.decode()
    assert "taken back" in page


# --- how much is asked of the database


def fill_drums(cast: Cast, number: int) -> None:
    winch = WinchFactory(vessel=cast.vessel)
    for _count in range(number):
        DrumParticularsFactory(drum__winch=winch, drum__number_on_winch=1)


def fill_one_drum(cast: Cast, drum: Drum, number: int) -> None:
    for count in range(number):
        DrumParticularsFactory(drum=drum, valid_from=date(2021, 1, 1 + count))
        BrakeEventFactory(drum=drum)
        RetestOrderFactory(drum=drum)


@pytest.mark.parametrize("name", ["drum_list", "drum", "particulars_new"])
def test_no_page_asks_more_of_the_database_with_more_rows(
    client: Client, cast: Cast, drum: Drum, name: str, django_assert_max_num_queries: Callable[..., Any]
) -> None:
    client.force_login(cast.superintendent)
    address = reverse(f"drums:{name}", args=[cast.vessel.pk if name == "drum_list" else drum.pk])
    fill_drums(cast, 1)
    fill_one_drum(cast, drum, 1)
    client.get(address)
    with django_assert_max_num_queries(40) as with_one:
        client.get(address)
    for _count in range(4):
        fill_drums(cast, 5)
    fill_one_drum(cast, drum, 19)
    with django_assert_max_num_queries(len(with_one)):
        client.get(address)


def test_the_register_names_what_each_drum_lacks(client: Client, cast: Cast) -> None:
    DrumFactory(winch__vessel=cast.vessel, name="Bare drum")
    row: DrumParticulars = DrumParticularsFactory(drum__winch__vessel=cast.vessel)
    client.force_login(cast.officer)
    page = client.get(reverse("drums:drum_list", args=[cast.vessel.pk])).content.decode()
    assert "1 of 2 drums lacks something" in page
    assert "the particulars from which the target is computed" in page
    assert row.drum.name in page
