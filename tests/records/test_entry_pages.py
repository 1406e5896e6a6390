"""The entry page of a test: begun, filled in, saved, read back; by whom, and with what bad input."""

import json
import re
import uuid
from datetime import date
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from fleet.accounts.models import Role
from fleet.drums.models import BrakeKind, EventKind
from fleet.records.draft import CHECKS, FIELDS
from fleet.records.drafts import draft_save, drum_test_start, reading_add
from fleet.records.entry_forms import base_of
from fleet.records.models import DrumTest, Photo, Reading, State
from tests.cast import Cast
from tests.factories import BrakeEventFactory, DrumParticularsFactory, RoundFactory
from tests.records.scenario import filled_test, round_for, submitted

HTMX = {"HX-Request": "true"}
TICKS = {check.name: "on" for check in CHECKS}


def sign_in(client: Client, user: Any) -> Client:
    client.force_login(user)
    return client


def begun(cast: Cast, ticked: bool = True, drum: Any = None) -> DrumTest:
    """A test just begun, its checks ticked unless told otherwise."""
    drum = drum or DrumParticularsFactory(drum__winch__vessel=cast.vessel, author=cast.officer).drum
    test = drum_test_start(drum=drum, round=round_for(cast), actor=cast.officer)
    if ticked:
        test = draft_save(test=test, values=TICKS, revision=test.draft_revision, actor=cast.officer)
    return test


def form_of(test: DrumTest, **changes: str) -> dict[str, str]:
    """The draft's form as the page shows it, with some fields changed."""
    shown = {name: test.draft.get(name, "") for name in FIELDS}
    sent = {name: value for name, value in {**shown, **changes}.items() if value}
    return {**sent, "base": base_of(test.draft), "revision": str(test.draft_revision)}


def a_reading(**changes: str) -> dict[str, str]:
    return {
        "reading_id": str(uuid.uuid4()),
        "phase": "adjusting",
        "mark_text": "50",
        "gauge_text": "173",
        "result": "slipped",
        **changes,
    }


def photo_file(name: str = "mark.png") -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (900, 600), "#0b5c7a").save(out, format="PNG")
    return SimpleUploadedFile(name, out.getvalue(), content_type="image/png")


# --- who may ------------------------------------------------------------------------------------------------------

WRITERS = {"officer", "master"}


@pytest.mark.parametrize("role", list(Role.values))
def test_only_those_who_test_reach_the_entry_pages(client: Client, cast: Cast, role: str) -> None:
    test = begun(cast)
    reading = reading_add(
        test=test, phase="adjusting", mark_text="50", gauge_text="173", slipped=True, actor=cast.officer
    )
    sign_in(client, cast.people[role])
    wanted = 200 if role in WRITERS else 403
    assert client.get(reverse("records:test", args=[test.pk])).status_code == wanted
    assert client.get(reverse("records:test_start", args=[test.drum_id])).status_code == wanted
    assert client.get(reverse("records:reading_edit", args=[reading.pk])).status_code == wanted
    for name, key in (
        ("test_save", test.pk),
        ("reading_add", test.pk),
        ("photo_add", test.pk),
        ("reading_remove", reading.pk),
    ):
        answer = client.post(reverse(f"records:{name}", args=[key]), form_of(test))
        assert (answer.status_code == 403) == (role not in WRITERS), name


def test_people_of_other_ships_and_companies_find_nothing(client: Client, cast: Cast) -> None:
    test = filled_test(cast)
    reading = test.readings.all()[0]
    for user in (cast.sister_officer, cast.foreign["officer"], cast.foreign["superintendent"], cast.nobody):
        sign_in(client, user)
        for name, key in (
            ("test", test.pk),
            ("test_start", test.drum_id),
            ("test_save", test.pk),
            ("reading_add", test.pk),
            ("reading_edit", reading.pk),
            ("reading_remove", reading.pk),
            ("photo_add", test.pk),
        ):
            assert client.post(reverse(f"records:{name}", args=[key]), form_of(test)).status_code == 404, name


# --- begin --------------------------------------------------------------------------------------------------------


def hidden(html: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]+)"', html)
    assert found, name
    return found[1]


def test_the_form_sent_twice_is_one_test(client: Client, cast: Cast) -> None:
    round_ = round_for(cast)
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    sign_in(client, cast.officer)
    url = reverse("records:test_start", args=[drum.pk])
    page = client.get(url).content.decode()
    sent = {"test_id": hidden(page, "test_id"), "round": hidden(page, "round")}
    first, second = client.post(url, sent), client.post(url, sent)
    assert first.status_code == second.status_code == 302
    test = DrumTest.objects.get()
    assert first["Location"] == second["Location"] == reverse("records:test", args=[test.pk])
    assert (str(test.pk), test.round) == (sent["test_id"], round_)


def test_without_an_open_round_the_page_says_to_open_one(client: Client, cast: Cast) -> None:
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    sign_in(client, cast.officer)
    url = reverse("records:test_start", args=[drum.pk])
    html = client.get(url).content.decode()
    assert "No round is open" in html
    assert reverse("records:round_new", args=[cast.vessel.pk]) in html
    client.post(url, {"test_id": str(uuid.uuid4())})
    assert not DrumTest.objects.exists()


def test_with_two_open_rounds_the_person_chooses(client: Client, cast: Cast) -> None:
    yearly = round_for(cast)
    retest = RoundFactory(vessel=cast.vessel, kit=yearly.kit, kind="retest")
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    sign_in(client, cast.officer)
    url = reverse("records:test_start", args=[drum.pk])
    assert client.get(url).content.decode().count('type="radio"') == 2
    client.post(url, {"test_id": str(uuid.uuid4()), "round": str(retest.pk)})
    assert DrumTest.objects.get().round == retest


def test_a_round_of_another_ship_cannot_be_chosen(client: Client, cast: Cast) -> None:
    round_for(cast)
    foreign = RoundFactory(vessel=cast.foreign_vessel)
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    sign_in(client, cast.officer)
    url = reverse("records:test_start", args=[drum.pk])
    assert client.post(url, {"test_id": str(uuid.uuid4()), "round": str(foreign.pk)}).status_code == 200
    assert not DrumTest.objects.exists()


def test_a_test_in_hand_is_gone_on_with(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    html = client.get(reverse("records:test_start", args=[test.drum_id])).content.decode()
    assert reverse("records:test", args=[test.pk]) in html


# --- what the page says -------------------------------------------------------------------------------------------


def test_the_page_says_whose_what_and_what_next(client: Client, cast: Cast) -> None:
    test = begun(cast, ticked=False)
    sign_in(client, cast.officer)
    html = client.get(reverse("records:test", args=[test.pk])).content.decode()
    assert f"Test of {test.drum}" in html
    assert str(cast.vessel) in html
    assert "draft open" in html
    assert html.index("Next: confirm the 7 checks") < html.index('id="checks"')


def test_nobody_is_asked_about_the_band_of_a_disc_brake(client: Client, cast: Cast) -> None:
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel, drum__brake_kind=BrakeKind.DISC).drum
    test = begun(cast, drum=drum)
    sign_in(client, cast.officer)
    html = client.get(reverse("records:test", args=[test.pk])).content.decode()
    assert "the state of lining and drum before the pump" in html
    assert "Lining and drum" in html
    assert 'name="band_rest' not in html
    assert "drum, band" not in html


def test_stop_and_aim_are_words_and_no_field_is_prefilled(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    html = client.get(reverse("records:test", args=[test.pk])).content.decode()
    # The constructed case of the factories: 60 % of 637 kN is 382.2 kN, at 173.2 bar.
    assert "Aim 173.2 bar = 60.0 % of the base load = 382.2 kN" in html
    assert "STOP at 187 bar" in html
    assert "187.5 bar is the limit; STOP is the division mark below it." in html
    assert "the usable part of the gauge" in html
    gauge = test.round.kit.gauge
    assert f"Write what gauge {gauge.name} shows when the drum first moves, bar" in html
    assert "pump to" not in html.lower()
    for name in ("mark_text", "gauge_text"):
        field = re.search(rf'<input type="text" name="{name}"[^>]*>', html)
        assert field
        assert "value=" not in field[0]


def test_readings_stay_shut_until_the_checks_are_ticked(client: Client, cast: Cast) -> None:
    test = begun(cast, ticked=False)
    sign_in(client, cast.officer)
    html = client.get(reverse("records:test", args=[test.pk])).content.decode()
    assert 'name="gauge_text"' not in html
    assert 'href="#id_pay_out_side"' in html
    answer = client.post(reverse("records:reading_add", args=[test.pk]), {**form_of(test), **a_reading()}, headers=HTMX)
    assert "Confirm the checks above first" in answer.content.decode()
    assert not Reading.objects.exists()


def test_ticking_the_last_check_opens_the_readings_at_once(client: Client, cast: Cast) -> None:
    test = begun(cast, ticked=False)
    sign_in(client, cast.officer)
    answer = client.post(reverse("records:test_save", args=[test.pk]), form_of(test, **TICKS), headers=HTMX)
    html = answer.content.decode()
    assert 'id="reading-part" hx-swap-oob="true"' in html
    assert 'name="gauge_text"' in html
    unticked = dict.fromkeys(("pay_out_side",), "")
    test.refresh_from_db()
    html = client.post(
        reverse("records:test_save", args=[test.pk]), form_of(test, **unticked), headers=HTMX
    ).content.decode()
    assert 'name="gauge_text"' not in html
    assert "The jack turns the drum the way the line pays out" in html


def test_no_as_found_reading_is_offered_after_brake_work(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    url = reverse("records:test", args=[test.pk])
    assert 'value="as_found_untouched"' in client.get(url).content.decode()
    BrakeEventFactory(drum=test.drum, kind=EventKind.LINING_RENEWED, happened_on=date(2026, 10, 1))
    html = client.get(url).content.decode()
    assert 'value="as_found_untouched"' not in html
    assert "No as-found reading" in html
    answer = client.post(
        reverse("records:reading_add", args=[test.pk]),
        {**form_of(test), **a_reading(phase="as_found_untouched")},
        headers=HTMX,
    )
    assert "start well slack" in answer.content.decode()
    assert not Reading.objects.exists()


# --- saving -------------------------------------------------------------------------------------------------------


def test_a_change_is_saved_and_says_when_and_by_whom(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.master)
    answer = client.post(
        reverse("records:test_save", args=[test.pk]), form_of(test, lining_1="10,8"), headers=HTMX
    ).content.decode()
    test.refresh_from_db()
    assert test.draft["lining_1"] == "10,8"
    assert re.search(r"Saved \d\d:\d\d", answer)
    assert f"revision {test.draft_revision} by {cast.master.name}" in answer
    assert f'id="revision" value="{test.draft_revision}"' in answer


def test_the_plain_button_saves_the_same_way(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    answer = client.post(reverse("records:test_save", args=[test.pk]), form_of(test, remarks="calm"))
    assert answer.status_code == 302
    test.refresh_from_db()
    assert test.draft["remarks"] == "calm"
    answer = client.post(reverse("records:test_save", args=[test.pk]), {**form_of(test), "page": "check"})
    assert answer["Location"].startswith(reverse("records:check", args=[test.pk]))


def test_a_tick_taken_out_is_taken_out(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    client.post(reverse("records:test_save", args=[test.pk]), form_of(test, run_in=""))
    test.refresh_from_db()
    assert test.draft["run_in"] == ""
    assert test.draft["permit_seen"] == "on"


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("lining_1", "18,2,3", "One number"),
        ("lining_2", "300", "lining"),
        ("final_mark", "abc", "digits"),
        ("lever_angle", "-3", "below zero"),
        ("lever_angle", "87", "More than 45° from square"),
        ("tested_on", "20.11.2026", "2026-11-20"),
        ("tested_at", "twenty past", "10:40"),
    ],
)
def test_what_cannot_be_read_is_saved_as_typed_and_flagged_beside_the_field(
    client: Client, cast: Cast, field: str, typed: str, words: str
) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    answer = client.post(
        reverse("records:test_save", args=[test.pk]), form_of(test, **{field: typed}), headers=HTMX
    ).content.decode()
    slot = re.search(rf'<div class="error" id="id_{field}_error"[^>]*><div>(.*?)</div>', answer)
    assert slot
    assert f'href="#id_{field}"' in answer
    html = client.get(reverse("records:test", args=[test.pk])).content.decode()
    assert f'value="{typed}"' in html
    assert re.search(rf'id="id_{field}_error"[^>]*><div>', html)


def test_a_second_tab_that_changed_another_field_is_merged(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    old_form = form_of(test, lining_1="10.8")
    client.post(reverse("records:test_save", args=[test.pk]), form_of(test, remarks="from the second tab"))
    answer = client.post(reverse("records:test_save", args=[test.pk]), old_form, headers=HTMX)
    assert "Not saved" not in answer.content.decode()
    test.refresh_from_db()
    assert (test.draft["lining_1"], test.draft["remarks"]) == ("10.8", "from the second tab")


def clashing(client: Client, cast: Cast) -> tuple[DrumTest, dict[str, str]]:
    """The master wrote a mark; the officer's form, older, holds another."""
    test = begun(cast)
    mine = form_of(test, final_mark="50", remarks="mine alone")
    draft_save(test=test, values={"final_mark": "49"}, revision=test.draft_revision, actor=cast.master)
    sign_in(client, cast.officer)
    return test, mine


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_two_people_in_one_field_see_both_and_nothing_is_overwritten(
    client: Client, cast: Cast, headers: dict[str, str]
) -> None:
    test, mine = clashing(client, cast)
    answer = client.post(reverse("records:test_save", args=[test.pk]), mine, headers=headers)
    html = answer.content.decode()
    assert f"{cast.master.name} wrote other words" in html
    assert "<td>49</td><td>50</td>" in html
    assert "Save mine on top" in html
    test.refresh_from_db()
    assert test.draft["final_mark"] == "49"
    assert "remarks" not in test.draft
    if not headers:
        assert re.search(r'name="final_mark" value="50"', html)
        assert "mine alone" in html
        assert json.loads(re.search(r'id="base" value="([^"]*)"', html)[1].replace("&quot;", '"'))["final_mark"] == ""  # type: ignore[index]
        # Saved again without a choice it is refused again.
        assert client.post(reverse("records:test_save", args=[test.pk]), mine).status_code == 409


@pytest.mark.parametrize(("button", "stands"), [("on_top_of", "50"), ("take_theirs", "49")])
def test_the_person_chooses_whose_words_stand(client: Client, cast: Cast, button: str, stands: str) -> None:
    test, mine = clashing(client, cast)
    test.refresh_from_db()
    client.post(reverse("records:test_save", args=[test.pk]), {**mine, button: str(test.draft_revision)})
    test.refresh_from_db()
    assert (test.draft["final_mark"], test.draft["remarks"]) == (stands, "mine alone")


def test_a_choice_made_before_a_third_person_wrote_is_asked_again(client: Client, cast: Cast) -> None:
    test, mine = clashing(client, cast)
    test.refresh_from_db()
    seen = test.draft_revision
    draft_save(test=test, values={"final_mark": "48"}, revision=seen, actor=cast.master)
    answer = client.post(reverse("records:test_save", args=[test.pk]), {**mine, "on_top_of": str(seen)})
    assert answer.status_code == 409
    test.refresh_from_db()
    assert test.draft["final_mark"] == "48"


def test_a_test_that_was_sent_cannot_be_written_to(client: Client, cast: Cast) -> None:
    test = submitted(cast).test
    sign_in(client, cast.officer)
    check = reverse("records:check", args=[test.pk])
    assert client.get(reverse("records:test", args=[test.pk]))["Location"] == check
    answer = client.post(reverse("records:test_save", args=[test.pk]), form_of(test, remarks="late"))
    assert answer["Location"] == check
    answer = client.post(reverse("records:test_save", args=[test.pk]), form_of(test, remarks="late"), headers=HTMX)
    assert answer["HX-Redirect"] == check
    test.refresh_from_db()
    assert (test.state, "remarks" in test.draft) == (State.SUBMITTED, False)


# --- readings -----------------------------------------------------------------------------------------------------


def test_a_reading_is_answered_with_load_share_and_what_next(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    html = client.post(
        reverse("records:reading_add", args=[test.pk]), {**form_of(test), **a_reading()}, headers=HTMX
    ).content.decode()
    assert "Slipped at 173 bar = 59.9 % of the base load: inside the band (55–65 %)." in html
    assert "Stop adjusting. Release fully, re-apply to this mark, and verify." in html
    assert '<td class="num" data-label="Line load, kN">381.7</td>' in html
    assert not re.search(r'name="gauge_text" value=', html)


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ({"gauge_text": "150"}, "Too loose. Release fully, tighten a little"),
        ({"gauge_text": "189"}, "is above STOP (187 bar)"),
        ({"gauge_text": "150", "result": "held"}, "Held at 150 bar = at least 52.0 % of the base load."),
        ({"gauge_text": "187", "result": "held"}, "That is STOP: the brake holds more than this."),
        ({"phase": "verification"}, "Verification slip 1 of 2."),
        ({"phase": "as_found_untouched", "gauge_text": "150"}, "set it well slack of the mark"),
        ({"phase": "as_found_untouched"}, "As found it lies in the band."),
        # 17.3 % where 60 % is aimed at: jacked against the pay-out direction before it is anything else.
        ({"phase": "as_found_untouched", "gauge_text": "50"}, "Before anything is tightened, check the jack"),
        ({"phase": "as_found_reapplied", "gauge_text": "66"}, "Before anything is tightened, check the jack"),
    ],
)
def test_the_answer_fits_the_reading(client: Client, cast: Cast, reading: dict[str, str], words: str) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    html = client.post(
        reverse("records:reading_add", args=[test.pk]), {**form_of(test), **a_reading(**reading)}, headers=HTMX
    ).content.decode()
    assert words in html


@pytest.mark.parametrize("headers", [{}, HTMX])
@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"gauge_text": "17x"}, "gauge_text", "digits"),
        ({"gauge_text": ""}, "gauge_text", ""),
        ({"gauge_text": "900"}, "gauge_text", "above the end of the gauge"),
        ({"mark_text": "4 9"}, "mark_text", ""),
        ({"phase": ""}, "phase", "Choose what this reading is."),
    ],
)
def test_a_bad_reading_is_refused_beside_its_field_and_stays_typed(
    client: Client, cast: Cast, headers: dict[str, str], typed: dict[str, str], field: str, words: str
) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    sent = a_reading(**{"mark_text": "49,5", **typed})
    answer = client.post(
        reverse("records:reading_add", args=[test.pk]), {**form_of(test, remarks="kept"), **sent}, headers=headers
    )
    html = answer.content.decode()
    assert answer.status_code == 200
    assert f'id="id_{field}_error"' in html
    assert words in html
    assert "data-error-summary" in html
    for name in ("mark_text", "gauge_text"):
        if sent[name]:
            assert f'name="{name}" value="{sent[name]}"' in html
    assert not Reading.objects.exists()
    test.refresh_from_db()
    assert test.draft["remarks"] == "kept"


def test_the_same_reading_sent_twice_is_one_row(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    sent = {**form_of(test), **a_reading()}
    url = reverse("records:reading_add", args=[test.pk])
    client.post(url, sent)
    client.post(url, sent)
    assert Reading.objects.count() == 1
    html = client.post(url, {**sent, "gauge_text": "175"}, headers=HTMX).content.decode()
    assert "sent before with other figures" in html
    assert Reading.objects.get().gauge_text == "173"


def test_a_plain_reading_leads_back_to_the_readings(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    answer = client.post(reverse("records:reading_add", args=[test.pk]), {**form_of(test, remarks="x"), **a_reading()})
    assert answer["Location"] == reverse("records:test", args=[test.pk]) + "#readings"
    test.refresh_from_db()
    assert test.draft["remarks"] == "x"


def test_a_reading_typed_but_not_sent_survives_the_plain_save(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    typed = a_reading()
    del typed["result"]
    answer = client.post(reverse("records:test_save", args=[test.pk]), {**form_of(test, remarks="x"), **typed})
    assert 'name="gauge_text" value="173"' in answer.content.decode()
    assert not Reading.objects.exists()


def test_a_reading_is_changed_and_removed_while_the_test_is_in_hand(client: Client, cast: Cast) -> None:
    test = filled_test(cast)
    sign_in(client, cast.officer)
    reading = test.readings.all()[1]
    url = reverse("records:reading_edit", args=[reading.pk])
    assert 'value="166"' in client.get(url).content.decode()
    html = client.post(url, a_reading(gauge_text="bad")).content.decode()
    assert 'value="bad"' in html
    assert client.post(url, a_reading(gauge_text="168", result="held")).status_code == 302
    reading.refresh_from_db()
    assert (reading.gauge_text, reading.slipped) == ("168", False)
    test = DrumTest.objects.get(pk=test.pk)
    remove = reverse("records:reading_remove", args=[reading.pk])
    client.post(remove, form_of(test), headers=HTMX)
    assert not Reading.objects.filter(pk=reading.pk).exists()
    # Removed a second time, from a page that still shows it, nothing happens.
    again = client.post(remove, {**form_of(test), "test_id": str(test.pk)}, headers=HTMX)
    assert again.status_code == 200
    assert test.readings.count() == 3


# --- photos -------------------------------------------------------------------------------------------------------


def test_a_photo_is_kept_shown_small_and_removed(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    sent = {**form_of(test, remarks="x"), "photo": photo_file(), "photo_kind": "mark", "photo_caption": "rule beside"}
    assert client.post(reverse("records:photo_add", args=[test.pk]), sent).status_code == 302
    photo = Photo.objects.get()
    assert (photo.kind, photo.caption) == ("mark", "rule beside")
    url = reverse("records:photo", args=[photo.pk])
    html = client.get(reverse("records:test", args=[test.pk])).content.decode()
    assert f'src="{url}?small=1"' in html
    for address in (url, f"{url}?small=1"):
        answer = client.get(address)
        assert b"".join(answer) if answer.streaming else answer.content
        assert answer["Content-Type"] == "image/jpeg"
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert "private" in answer["Cache-Control"]
    small = Image.open(BytesIO(client.get(f"{url}?small=1").content))
    assert max(small.size) <= 320
    test.refresh_from_db()
    client.post(reverse("records:photo_remove", args=[photo.pk]), form_of(test))
    photo.refresh_from_db()
    assert photo.removed_at
    assert f'src="{url}' not in client.get(reverse("records:test", args=[test.pk])).content.decode()


@pytest.mark.parametrize("upload", [None, SimpleUploadedFile("mark.jpg", b"GIF89a not a photo")])
def test_a_refused_photo_says_why_and_asks_for_the_file_again(client: Client, cast: Cast, upload: Any) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    sent = {**form_of(test), "photo_kind": "lining", "photo_caption": "second place"}
    if upload:
        sent["photo"] = upload
    answer = client.post(reverse("records:photo_add", args=[test.pk]), sent)
    html = answer.content.decode()
    assert 'id="id_photo_error"' in html
    assert "Choose the file again" in html
    assert 'value="second place"' in html
    assert '<option value="lining" selected>' in html
    assert not Photo.objects.exists()


def a_photo(photo_id: str, **changes: Any) -> dict[str, Any]:
    return {
        "photo_id": photo_id,
        "photo_kind": "mark",
        "photo_caption": "rule beside",
        "photo": photo_file(),
        **changes,
    }


def test_a_photo_sent_twice_is_kept_once(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    url, add = reverse("records:test", args=[test.pk]), reverse("records:photo_add", args=[test.pk])
    made = hidden(client.get(url).content.decode(), "photo_id")
    for _press in range(2):
        assert client.post(add, {**form_of(test), **a_photo(made)}).status_code == 302
    assert str(Photo.objects.get().pk) == made
    # The next form has an id of its own: the same picture may be added once more on purpose.
    other = hidden(client.get(url).content.decode(), "photo_id")
    assert other != made
    client.post(add, {**form_of(test), **a_photo(other)})
    assert Photo.objects.count() == 2


def test_another_photo_under_the_same_id_is_refused_and_gets_a_new_one(client: Client, cast: Cast) -> None:
    test, other = begun(cast), begun(cast)
    sign_in(client, cast.officer)
    made = str(uuid.uuid4())
    client.post(reverse("records:photo_add", args=[test.pk]), {**form_of(test), **a_photo(made)})
    for row, changes in ((test, {"photo_caption": "lining"}), (other, {})):
        html = client.post(
            reverse("records:photo_add", args=[row.pk]), {**form_of(row), **a_photo(made, **changes)}
        ).content.decode()
        assert "Another photo was sent with this form before." in html
        assert hidden(html, "photo_id") != made
    photo = Photo.objects.get()
    assert (photo.test, photo.caption) == (test, "rule beside")


def test_a_photo_is_hidden_from_other_ships(client: Client, cast: Cast) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    client.post(reverse("records:photo_add", args=[test.pk]), {**form_of(test), "photo": photo_file()})
    url = reverse("records:photo", args=[Photo.objects.get().pk])
    for user in (cast.sister_officer, cast.foreign["manager"], cast.nobody):
        sign_in(client, user)
        assert client.get(url).status_code == 404
    sign_in(client, cast.superintendent)
    answer = client.get(url)
    assert answer.status_code == 200
    assert b"".join(answer)


# --- cost ---------------------------------------------------------------------------------------------------------


def test_the_page_asks_as_often_with_twenty_readings_as_with_one(
    client: Client, cast: Cast, django_assert_max_num_queries: Any
) -> None:
    test = begun(cast)
    sign_in(client, cast.officer)
    url = reverse("records:test", args=[test.pk])

    def add(number: int) -> None:
        for _count in range(number):
            reading_add(
                test=test, phase="adjusting", mark_text="50", gauge_text="170", slipped=True, actor=cast.officer
            )

    add(1)
    client.get(url)
    with django_assert_max_num_queries(60) as few:
        client.get(url)
    add(19)
    with django_assert_max_num_queries(len(few.captured_queries)):
        client.get(url)
