"""Verdicts by both decision rules, in the words of the trade."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation import conformity
from fleet.calculation.checks import InputError
from fleet.calculation.conformity import GUARDED, HIGH, IN_BAND, LOW, NOT_PROVEN, SIMPLE, Conformity, assess
from tests.calculation import cases

U = 0.02


def at(estimate: float, rule: str = GUARDED, expanded: float = U) -> Conformity:
    return assess(estimate=estimate, standard_uncertainty=expanded / 2, expanded_uncertainty=expanded, rule=rule)


@pytest.mark.parametrize(
    ("estimate", "simple", "guarded"),
    [
        (0.529, LOW, LOW),
        (0.531, LOW, NOT_PROVEN),
        (0.549, LOW, NOT_PROVEN),
        (0.55, IN_BAND, NOT_PROVEN),
        (0.569, IN_BAND, NOT_PROVEN),
        (0.571, IN_BAND, IN_BAND),
        (0.60, IN_BAND, IN_BAND),
        (0.629, IN_BAND, IN_BAND),
        (0.631, IN_BAND, NOT_PROVEN),
        (0.65, IN_BAND, NOT_PROVEN),
        (0.651, HIGH, NOT_PROVEN),
        (0.671, HIGH, HIGH),
    ],
)
def test_the_verdict_follows_the_rule(estimate: float, simple: str, guarded: str) -> None:
    # JCGM 106:2012, 8.2 and 8.3: acceptance interval narrowed by w = U on both sides.
    assert at(estimate, SIMPLE).verdict == simple
    assert at(estimate, GUARDED).verdict == guarded


def test_at_the_guarded_limit_the_probability_is_that_of_jcgm_106() -> None:
    # U = 2u, the other limit far away: Phi(2).
    found = at(0.55 + U)
    assert found.verdict == IN_BAND
    assert found.probability == pytest.approx(
        cases.load("uncertainty")["conformity"]["at_the_acceptance_limit"], abs=1e-4
    )


@given(st.floats(0.3, 0.9), st.floats(0.001, 0.2))
def test_guarded_acceptance_accepts_and_refuses_no_more_than_simple(estimate: float, expanded: float) -> None:
    simple, guarded = at(estimate, SIMPLE, expanded), at(estimate, GUARDED, expanded)
    assert guarded.verdict in (simple.verdict, NOT_PROVEN)
    assert simple.verdict != NOT_PROVEN
    assert simple.probability == guarded.probability
    assert guarded.probability + guarded.probability_low + guarded.probability_high == pytest.approx(1, abs=1e-9)
    if guarded.verdict == IN_BAND:
        assert guarded.probability > 0.95
    if guarded.verdict in (LOW, HIGH):
        assert guarded.probability < 0.025


def test_a_band_narrower_than_the_uncertainty_can_never_be_proven() -> None:
    wide = at(0.60, GUARDED, 0.051)
    assert wide.verdict == NOT_PROVEN
    assert not wide.can_be_proven
    assert at(0.60, GUARDED, 0.05 - 1e-9).can_be_proven


def test_no_guarded_verdict_in_a_band_that_has_no_room_is_in_band() -> None:
    assert {at(share / 1000, GUARDED, 0.06).verdict for share in range(400, 800)} == {LOW, NOT_PROVEN, HIGH}


def test_the_sentence_says_load_uncertainty_band_and_what_to_do() -> None:
    assert at(0.60).sentence.text == (
        "When tested, the brake rendered at 60.0 % of ship design MBL, give or take 2.0 points: in the band of 55.0 % "
        "to 65.0 % by more than the uncertainty. The probability that the true load is in it is more than 99.9 %. "
        "Stop adjusting."
    )
    assert "Tighten it" in at(0.50).sentence.text
    assert "Slacken it" in at(0.70).sentence.text
    assert "the probability is 84.1 %" in at(0.56).sentence.text
    assert "Stop adjusting" in at(0.56, SIMPLE).sentence.text


def test_every_verdict_has_its_sentence_and_none_gives_leave_to_moor() -> None:
    for rule in conformity.RULES:
        for estimate in (0.40, 0.56, 0.60, 0.80):
            text = at(estimate, rule).sentence.text
            assert text.startswith("When tested, ")
            assert "{" not in text
            assert not any(word in text.lower() for word in ("safe", "may moor", "permit", "fit for"))
    other = assess(estimate=0.6, standard_uncertainty=0.01, expanded_uncertainty=0.02, base_name="line MBL")
    assert "60.0 % of line MBL" in other.sentence.text


def test_nonsense_is_refused() -> None:
    good = {"estimate": 0.6, "standard_uncertainty": 0.01, "expanded_uncertainty": 0.02}
    for wrong in (
        {"estimate": -0.1}, {"estimate": float("nan")}, {"standard_uncertainty": -1.0}, {"expanded_uncertainty": -1.0},
        {"lower": 0.65}, {"lower": 0.0}, {"upper": float("inf")}, {"rule": "lenient"},
    ):  # fmt: skip
        with pytest.raises(InputError):
            assess(**{**good, **wrong})  # type: ignore[arg-type]
