"""States: each a word and a shape of its own, telling in black and white."""

import pytest
from django.template import Context, Template

from fleet.core.pictures.states import DUE_STATES, RESULT_STATES, SHAPES, STATES


def shown(code: str, extra: str = "") -> str:
    return Template(f'{{% load parts %}}{{% state "{code}" {extra} %}}').render(Context())


def test_all_states_of_drums_and_results_are_there() -> None:
    assert list(DUE_STATES) == [
        "in_date", "due", "overdue", "never_tested", "draft_open", "retest_ordered", "review_pending", "returned",
    ]  # fmt: skip
    assert list(RESULT_STATES) == [
        "in_band", "was_too_tight", "slipped_early", "too_tight", "too_loose", "not_proven", "could_not_be_set",
        "stopped",
        "out_of_use", "restricted", "accepted_aboard", "approved", "superseded", "withdrawn",
    ]  # fmt: skip
    assert len(STATES) == len(DUE_STATES) + len(RESULT_STATES)


def test_no_two_states_share_a_word_or_a_shape() -> None:
    assert len({str(state.word) for state in STATES.values()}) == len(STATES)
    assert len({state.shape for state in STATES.values()}) == len(STATES)
    assert len({tuple((part.d, part.width, part.dash) for part in state.parts) for state in STATES.values()}) == len(
        STATES
    )


def test_no_shape_is_without_a_state() -> None:
    assert {state.shape for state in STATES.values()} == set(SHAPES)


@pytest.mark.parametrize("code", list(STATES))
def test_each_state_shows_its_word_and_titles_its_shape(code: str) -> None:
    html = shown(code)
    word = str(STATES[code].word)
    assert f"<title>{word}</title>" in html
    assert f"<span>{word}</span>" in html
    assert "<path" in html
    assert "style=" not in html


def test_a_fuller_word_replaces_the_plain_one_and_is_escaped() -> None:
    assert "<span>overdue 19 days</span>" in shown("overdue", 'word="overdue 19 days"')
    html = Template("{% load parts %}{% state 'due' word=text %}").render(Context({"text": "<b>due</b>"}))
    assert "<b>" not in html
    assert "&lt;b&gt;due" in html


def test_no_state_shows_nothing_and_an_unknown_one_is_an_error() -> None:
    assert Template("{% load parts %}{% state none %}").render(Context({"none": ""})).strip() == ""
    with pytest.raises(KeyError):
        shown("no_such_state")
