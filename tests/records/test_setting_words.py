"""The next move as the page says it, after each reading: one sentence, by the drum's own sign, never past STOP."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.calculation import units
from fleet.records.assess import assess
from fleet.records.models import DrumTest
from fleet.records.next_step import next_step
from fleet.records.setting_words import turns_in_words
from tests.cast import Cast
from tests.factories import DrumParticularsFactory
from tests.records.scenario import filled_test

pytestmark = pytest.mark.django_db
Reading = tuple[str, str, str, bool, bool]
SLIPS: tuple[Reading, ...] = (("adjusting", "52", "150", True, True), ("adjusting", "50", "160", True, True))
VERIFIED: tuple[Reading, ...] = tuple(("verification", "46.5", gauge, True, True) for gauge in ("176", "177"))


def page_after(client: Client, cast: Cast, *readings: Reading, **drum: Any) -> tuple[str, DrumTest]:
    """The text of the entry page after these readings, and the test."""
    fields = {f"drum__{name}": value for name, value in drum.items()}
    made = DrumParticularsFactory(drum__winch__vessel=cast.vessel, author=cast.officer, **fields).drum
    test = filled_test(cast, drum=made, readings=readings, draft={"final_mark": "", "mark_fixed": "", "outcome": ""})
    client.force_login(cast.officer)
    html = client.get(reverse("records:test", args=[test.pk])).content.decode()
    return " ".join(re.sub(r"<[^>]+>", " ", html).split()), test


def test_too_loose_says_how_far_to_tighten_in_millimetres_and_turns(client: Client, cast: Cast) -> None:
    text, test = page_after(client, cast, *SLIPS)
    found = assess(test).setting
    assert found is not None
    move = found.advice.move
    assert move is not None
    by, to = units.display(abs(move.by_si), "mm"), units.display(move.to_si, "mm")
    sentence = f"Release fully and tighten {by}, {turns_in_words(abs(move.by_si) / 6e-3)}: mark from 50.0 to {to}"
    assert move.to_si < 0.050  # this drum's mark gets shorter
    assert text.count(sentence) == 2  # in the lead, and in the answer to the last reading
    assert "Near the target 1 mm changes the load by" in text
    assert "By these readings the mark for exactly the target is" in text
    assert "Too loose. Release fully, tighten a little" not in text


def test_held_at_stop_says_how_far_to_slacken(client: Client, cast: Cast) -> None:
    # STOP of this kit stands at 187 bar: 65 % of the base load is 187.7 bar.
    text, _ = page_after(client, cast, *SLIPS, ("adjusting", "45", "187", False, True))
    assert re.search(r"Release fully and slacken \d+\.\d mm, about [^:]+: mark from 45\.0 to \d+\.\d mm", text)
    assert "come to it from the slack side" in text
    assert "Held at 187 bar = at least 64.8 %" in text


def test_a_hold_below_stop_says_to_raise_further(client: Client, cast: Cast) -> None:
    text, test = page_after(client, cast, *SLIPS, ("adjusting", "47", "165", False, True))
    assert "Raise further, slowly, never past STOP at 187 bar" in text
    assert next_step(assess(test)).sentence == "Next: raise further, slowly, never past STOP."


def test_well_in_the_band_says_stop_and_verify(client: Client, cast: Cast) -> None:
    text, test = page_after(client, cast, *SLIPS, ("adjusting", "46.5", "176", True, True))
    assert "Stop adjusting. Release fully, re-apply to this mark, and verify." in text
    assert next_step(assess(test)).sentence == (
        "Next: stop adjusting; release fully, re-apply and verify: 0 of 2 verification slips."
    )


def test_in_the_band_but_too_near_its_lower_edge_says_why_to_go_on(client: Client, cast: Cast) -> None:
    # 160 bar is 55.4 % as read; less half a stroke and what jack and lever take, the brake holds less than 55 %.
    text, _ = page_after(client, cast, *SLIPS)
    assert "Slipped at 160 bar = 55.4 % of the base load: inside the band" in text
    assert "It reads in the band, but the brake itself probably holds only 53.9 %, too near its lower edge." in text


def test_readings_that_contradict_each_other_are_said_plainly(client: Client, cast: Cast) -> None:
    text, test = page_after(
        client, cast, ("adjusting", "52", "150", True, True), ("adjusting", "50", "120", True, True)
    )
    assert "These readings contradict each other: at 52.0 mm the brake held" in text
    assert "yet tighter, at 50.0 mm, it rendered at" in text
    assert "Do not adjust now. Release the brake fully, re-apply it to 50.0 mm" in text
    step = next_step(assess(test))
    assert step.sentence.startswith("Do not adjust now.")
    assert step.warns
    assert "changes the load by" not in text


def test_verified_it_gives_the_setting_for_exactly_the_target(client: Client, cast: Cast) -> None:
    text, test = page_after(client, cast, *SLIPS, *VERIFIED)
    found = assess(test).setting
    assert found is not None
    setting = found.advice.target_setting_si
    assert setting is not None
    shown = [units.digits(value, "mm") for value in (setting.estimate, setting.low, setting.high)]
    assert (
        f"the mark for exactly the target is {shown[0]} mm, between {shown[1]} and {shown[2]} (19 times in 20)." in text
    )
    assert "Verification slips: 2, the policy asks for 2." in text


def test_a_reading_without_release_keeps_the_general_words_and_says_what_is_missing(client: Client, cast: Cast) -> None:
    text, _ = page_after(client, cast, ("adjusting", "52", "150", True, False))
    assert "Too loose. Release fully, tighten a little, and raise again from below." in text
    assert "How far to go can be said after a reading for which the brake was released fully and re-applied" in text
    text, _ = page_after(client, cast, ("as_found_untouched", "52", "150", True, False))
    assert "Now set it well slack of the mark and approach from below, never past STOP." in text


def test_an_as_found_slip_many_times_too_weak_is_never_answered_by_tightening(client: Client, cast: Cast) -> None:
    text, test = page_after(client, cast, ("as_found_reapplied", "52", "60", True, True))
    assert "check the jack with the drawing" in text
    assert "Release fully and tighten" not in text
    assert "Release fully and tighten" not in next_step(assess(test)).sentence


def test_a_torque_is_moved_in_its_own_unit_and_named_by_its_kind(client: Client, cast: Cast) -> None:
    fields = {"setting_kind": "spindle_torque", "tighter_is": "longer"}
    slips: tuple[Reading, ...] = (("adjusting", "300", "120", True, True), ("adjusting", "340", "135", True, True))
    text, _ = page_after(client, cast, *slips, **fields)
    assert re.search(r"tighten \d+[05]\.0 N·m: spindle torque from 340\.0 to \d+[05]\.0 N·m", text)
    assert "of a turn" not in text


@pytest.mark.parametrize(
    ("turns", "words"),
    [
        (0.02, "about an eighth of a turn"),
        (0.25, "about a quarter of a turn"),
        (0.36, "about a third of a turn"),
        (0.5, "about half a turn"),
        (0.69, "about two thirds of a turn"),
        (0.77, "about three quarters of a turn"),
        (0.98, "about one turn"),
        (1.26, "about 1 ¼ turns"),
        (3.0, "about 3 turns"),
    ],
)
def test_turns_are_said_as_a_hand_makes_them(turns: float, words: str) -> None:
    assert turns_in_words(turns) == words
