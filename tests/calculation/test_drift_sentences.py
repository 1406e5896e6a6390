"""Flags in words: each code has its sentence, causes and check, and every figure in it is filled in."""

import re

import numpy as np
import pytest

from fleet.calculation.drift import analyse
from fleet.calculation.drift_histories import LINING_RENEWED, Histories
from fleet.calculation.drift_results import CODES, WITHHELD, FleetDrift
from fleet.calculation.drift_sentences import borrowing, early_retest, explain, why_withheld
from fleet.calculation.drift_words import BORROWED_WORDS, EARLY_RETEST, NO_INTERVAL, WITHHELD_WORDS, WORDS
from tests.calculation.histories import as_found, histories, worn

BRAKES, TESTS = 120, 8
FIGURES = {
    "mark", "low", "high", "rate", "load", "target", "before", "drums", "lining", "times", "other", "shift", "lower",
    "upper",
}  # fmt: skip


def troubled() -> Histories:
    """A fleet in which most kinds of trouble are found."""
    rng = np.random.default_rng(7)
    marks = np.round(worn(rng, drums=BRAKES, tests=TESTS), 5)
    lining = np.round(0.012 - 0.0003 * np.arange(TESTS) + rng.normal(0, 1e-4, marks.shape), 5)
    left = np.round(0.60 + rng.normal(0, 0.008, marks.shape), 4)
    slope = 25 * np.exp(rng.normal(0, 0.1, marks.shape))
    found = np.full(marks.shape, np.nan)
    found[:, 1:] = 0.575 + rng.normal(0, 0.01, marks[:, 1:].shape)
    marks[3, -1] -= 6e-3
    marks[4, 5:] += 8e-3
    marks[6] -= np.array([0, 0, 0.7, 1.6, 2.8, 4.4, 6.2, 8.2]) * 1.4e-3
    marks[[7, 8], -1] = marks[[8, 7], -1]
    marks[24:30, -1] = 0.061
    marks[36:48, 5:] -= 2.5e-3
    lining[9, -1] += 2e-3
    lining[10, -1] -= 2e-3
    slope[11, -1], slope[12, -1] = 6.0, 100.0
    for figures in (marks, left, lining, found):
        figures[13, 6] = figures[13, 5]
    left[14, -1] = 0.06
    left[15, 4:] = 0.60
    marks[15, 4:] = marks[15, 4]
    found[16, -1], found[17, -1] = 0.33, 0.75
    gauge = np.repeat(np.arange(BRAKES) // 12, TESTS)
    gauge.reshape(BRAKES, TESTS)[36:48, 5:] = 99
    made = histories(
        marks,
        as_left_share=left.ravel(),
        lining_m=lining.ravel(),
        slope_share_per_si=slope.ravel(),
        gauge=gauge,
        gauge_share=np.full(BRAKES * TESTS, 0.004),
        event_drum=np.array([20]),
        event_year=np.array([2017.45]),
        event_kind=np.array([LINING_RENEWED]),
    )
    return as_found(made, found)


@pytest.fixture(scope="module")
def found() -> FleetDrift:
    return analyse(troubled())


def test_every_flag_is_told_with_causes_and_a_check_and_all_its_figures(found: FleetDrift) -> None:
    told = set()
    for flag in range(len(found.flags.test)):
        explained = explain(found, flag, setting_unit="mm", other_name="Port 2", before="4 May 2016")
        told.add(explained.code)
        assert explained.code == CODES[found.flags.code[flag]]
        assert "{" not in explained.text
        assert 1 <= len(explained.causes) <= 4
        assert explained.check.text
    # All but common movement without another gauge are in this fleet.
    assert told >= set(CODES) - {"moved_together"}


def test_no_template_asks_for_a_figure_that_nobody_fills_in() -> None:
    for words in WORDS.values():
        for template in (words.seen, *words.causes, words.check):
            assert set(re.findall(r"{(\w+)}", template)) <= FIGURES
    codes = {key if isinstance(key, str) else key[0] for key in WORDS}
    assert codes == set(CODES)


def test_no_sentence_sounds_like_permission_or_uses_a_bare_term() -> None:
    every = [template for words in WORDS.values() for template in (words.seen, *words.causes, words.check)]
    every += [*WITHHELD_WORDS.values(), *(words for _, words in BORROWED_WORDS), EARLY_RETEST, NO_INTERVAL]
    for template in every:
        assert not re.search(r"\b(ton|tons|MT|BHC|safe to|may be used|permitted)\b|(?<!brake )rendering load", template)


def test_the_mark_is_told_as_the_drum_keeps_it(found: FleetDrift) -> None:
    row = int(found.drums.last_test[3])
    flag = int(found.flags.of_test(row)[0])
    text = explain(found, flag, setting_unit="mm").seen.text
    mark = found.tests.mark_for_target_si[row] * 1000
    assert f"{mark:.1f} mm" in text
    assert f"{found.tests.mark.low[row] * 1000:.1f} mm" in text


def test_a_forecast_withheld_says_why(found: FleetDrift) -> None:
    assert why_withheld(0) is None
    for reason in range(1, len(WITHHELD)):
        said = why_withheld(reason)
        assert said is not None
        assert said.text == WITHHELD_WORDS[WITHHELD[reason]]


def test_how_far_a_drum_is_judged_by_others_and_when_to_test_early(found: FleetDrift) -> None:
    said = borrowing(found, 0)
    assert said is not None
    assert "own tests" in said.text
    alone = analyse(histories(np.array([[0.05]])))
    lone = borrowing(alone, 0)
    assert lone is not None
    assert lone.template == BORROWED_WORDS[-1][1]
    assert early_retest(found, 20) is not None
    assert early_retest(found, 0) is None
