"""The aims: each can be met and missed, and says what speaks against it."""

from dataclasses import replace
from typing import Any

import pytest

from fleet.simulation.fleet_faults import INJECTED, Kind
from fleet.simulation.judging import KindScore, Score
from fleet.simulation.judging_aims import aims, lines_of_aims
from fleet.simulation.judging_forecasts import Coverage
from fleet.simulation.judging_oracle import Limit
from fleet.simulation.judging_report import WAYS, Judgement


def score(found: float, *, false_flags: int = 0, **others: float) -> Score:
    """So much found of every kind, other parts of those named."""
    kinds = {
        kind: KindScore(
            number=100,
            at_once=others.get(kind.value, found),
            ever=others.get(kind.value, found),
            by_chance=0.0,
            named=1.0,
            delay_y=0.0,
        )
        for kind in Kind
    }
    return Score(good_tests=10_000, false_flags=false_flags, kinds=kinds)


def judgement(**changed: Any) -> Judgement:
    scores = {way: score(0.5) for way in WAYS}
    scores["analysis"] = score(1.0, false_flags=50)
    perfect = Judgement(
        vessels=1,
        years=1,
        seed=1,
        fleets=1,
        drums=1,
        tests=1,
        scores=scores,
        limits={Kind.FAST_WEAR: Limit(at_once=0.7, ever=0.9)},
        coverage={name: Coverage(tests=100, inside=0.95) for name in ("mark", "as_found")},
        reliability=[],
        flag_codes={},
        seconds=0.0,
    )
    return replace(perfect, **changed)


def missed(one: Judgement) -> list[str]:
    return [line for line in lines_of_aims(one) if "MISSED" in line]


def test_all_aims_can_be_met() -> None:
    assert all(aim.met for aim in aims(judgement()))
    assert missed(judgement()) == []


@pytest.mark.parametrize(("false_flags", "met"), [(50, True), (51, False)])
def test_five_false_flags_in_a_thousand_are_the_most(false_flags: int, met: bool) -> None:
    scores = judgement().scores | {"analysis": score(1.0, false_flags=false_flags)}
    assert aims(judgement(scores=scores))[0].met == met


@pytest.mark.parametrize(("inside", "met"), [(0.929, False), (0.93, True), (0.97, True), (0.971, False)])
@pytest.mark.parametrize("name", ["mark", "as_found"])
def test_intervals_too_narrow_and_too_wide_both_miss(name: str, inside: float, met: bool) -> None:
    coverage = judgement().coverage | {name: Coverage(tests=100, inside=inside)}
    assert (not missed(judgement(coverage=coverage))) == met


def test_a_serious_kind_found_too_seldom_stands_beside_its_limit() -> None:
    scores = judgement().scores | {"analysis": score(1.0, fast_wear=0.6)}
    at_once, ever = missed(judgement(scores=scores))
    assert at_once.endswith("wear too fast 60 % (limit 70)")
    assert ever.endswith("wear too fast 60 % (limit 90)")


def test_a_kind_that_hurts_nobody_need_not_be_found_but_not_less_than_by_a_baseline() -> None:
    assert not INJECTED[Kind.GAUGE_DRIFTS].serious
    less = judgement().scores | {"analysis": score(1.0, gauge_drifts=0.6)}
    assert missed(judgement(scores=less)) == []
    behind = judgement().scores | {"analysis": score(1.0, gauge_drifts=0.4)}
    assert len(missed(judgement(scores=behind))) == 1
    assert missed(judgement(scores=behind))[0].endswith("gauge drifting 40 % beside 50 %")
