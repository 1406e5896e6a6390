"""The jack's side: the drum must turn the way the line pays out (facts of the trade, and the moments themselves)."""

import math
import xml.etree.ElementTree as ET

import pytest
from django.template import Context, Template

from fleet.core.pictures.jack_side import CENTRE_X, JackSide, jack_picture, jack_side

# Practitioner's rule: pushing up with the line off the top, the jack stands on the side away from the line's lead;
# off the bottom, on the lead side; a pulling cylinder reverses both.
CASES = [("top", "push", True), ("bottom", "push", False), ("top", "pull", False), ("bottom", "pull", True)]


@pytest.mark.parametrize("lead", ["left", "right"])
@pytest.mark.parametrize(("line_off", "jack_acts", "away"), CASES)
def test_the_jack_stands_where_practice_puts_it(line_off: str, jack_acts: str, away: bool, lead: str) -> None:
    side = jack_side(line_off=line_off, jack_acts=jack_acts, lead=lead)
    assert side.away_from_lead is away
    assert side.right is ((lead == "left") == away)


@pytest.mark.parametrize("lead", ["left", "right"])
@pytest.mark.parametrize(("line_off", "jack_acts", "away"), CASES)
def test_line_pull_and_jack_force_turn_the_drum_the_same_way(
    line_off: str, jack_acts: str, away: bool, lead: str
) -> None:
    # Independent of the rule: cross products r x F of the line's pull toward its lead and of the jack's force.
    side = jack_side(line_off=line_off, jack_acts=jack_acts, lead=lead)
    contact = (0.0, 0.3 if line_off == "top" else -0.3)
    pull = (-1.0 if lead == "left" else 1.0, 0.0)
    lever_end = (1.1 if side.right else -1.1, 0.0)
    force = (0.0, 1.0 if jack_acts == "push" else -1.0)
    line_moment = contact[0] * pull[1] - contact[1] * pull[0]
    jack_moment = lever_end[0] * force[1] - lever_end[1] * force[0]
    assert math.copysign(1, line_moment) == math.copysign(1, jack_moment)
    assert side.anticlockwise is (line_moment > 0)


def test_off_the_top_to_the_left_the_drum_pays_out_anticlockwise() -> None:
    assert jack_side(line_off="top", jack_acts="push", lead="left") == JackSide(
        anticlockwise=True, right=True, away_from_lead=True
    )


@pytest.mark.parametrize("wrong", [{"line_off": "side"}, {"jack_acts": "twist"}, {"lead": "up"}])
def test_anything_else_is_an_error_and_never_a_guess(wrong: dict[str, str]) -> None:
    with pytest.raises(KeyError):
        jack_side(**{"line_off": "top", "jack_acts": "push", "lead": "left", **wrong})


@pytest.mark.parametrize("lead", ["left", "right"])
@pytest.mark.parametrize(("line_off", "jack_acts", "away"), CASES)
def test_the_drawing_puts_lever_and_jack_on_that_side(line_off: str, jack_acts: str, away: bool, lead: str) -> None:
    drawn = jack_picture(line_off=line_off, jack_acts=jack_acts, lead=lead)
    assert (float(drawn.jack_x) > CENTRE_X) is drawn.side.right
    tip = float(drawn.jack_arrow.head[1:].split()[0].split(",")[1])
    tail = float(drawn.jack_arrow.shaft[1:].split("L")[0].split(",")[1])
    assert (tip < tail) is (jack_acts == "push")
    # An arc from start to end on the left half runs downwards when anticlockwise, upwards on the right half.
    start, end = drawn.turn_arrow.shaft[1:].split("A")[0], drawn.turn_arrow.shaft.split()[-1]
    down = float(end.split(",")[1]) > float(start.split(",")[1])
    on_left = float(start.split(",")[0]) < CENTRE_X
    assert (down == on_left) is drawn.side.anticlockwise


@pytest.mark.parametrize(("line_off", "jack_acts", "away"), CASES)
def test_the_words_say_the_side_and_what_the_wrong_one_does(line_off: str, jack_acts: str, away: bool) -> None:
    html = Template("{% load parts %}{% jack_side off acts %}").render(Context({"off": line_off, "acts": jack_acts}))
    root = ET.fromstring(html.strip())
    said = "".join(root.find("figcaption").itertext())  # type: ignore[union-attr]
    assert ("away from the line's lead" in said) is away
    assert ("toward the line's lead" in said) is not away
    assert ("pushes up" in said) is (jack_acts == "push")
    assert "far too tight" in said
    assert "style=" not in html
