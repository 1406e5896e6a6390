"""What is asked where the load's uncertainty, or the gauge's certificate, does not bear the claim *set in band*."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.calculation.budget import load_budget
from fleet.calculation.conformity import SIMPLE, assess
from fleet.calculation.measurement import GaugeInUse, Measurement
from fleet.calculation.plausibility import TrustFacts
from fleet.calculation.plausibility.case import Case
from fleet.calculation.slips import slip_spread
from tests.calculation.good_record import Record, good_record
from tests.calculation.honest_records import KINDS, MATERIALS, UNITS, honest_record

Mistake = Callable[[Record], Record]
COARSER = "The gauge is too coarse for this band: another would settle it."


def trust(verdict: Any, estimate: float, expanded: float = 0.02, rule: Any = "guarded", advice: str = "") -> Mistake:
    facts = TrustFacts(
        estimate_share=estimate, expanded_share=expanded, probability=0.91, rule=rule, verdict=verdict, advice=advice
    )
    return lambda record: record.with_test(trust=facts)


def covered(low_bar: float, high_bar: float) -> Mistake:
    return lambda record: record.with_gauge(certificate_from_pa=low_bar * 1e5, certificate_to_pa=high_bar * 1e5)


# The good record's slips, 178 and 182 bar, are 61.1 % as read; at 163 and 165 bar they are 55.6 %.
def near_the_edge(verdict: str, estimate: float) -> Mistake:
    return lambda record: trust(verdict, estimate, rule="simple")(record.with_pressures("verification", 163, 165))


MISTAKES: list[tuple[str, str, Mistake, Collection[str]]] = [
    ("load_not_proven", "ask", trust("not_proven", 0.602, 0.055, advice=COARSER), ()),
    ("load_not_proven", "ask", trust("not_proven", 0.602, 0.055), ()),
    ("load_below_by_its_uncertainty", "ask", trust("low", 0.52), ()),
    ("load_above_by_its_uncertainty", "ask", trust("high", 0.68), ()),
    ("likely_outside_band", "ask", near_the_edge("low", 0.548), ()),
    ("gauge_not_covered", "ask", covered(50, 150), ()),
    ("gauge_not_covered", "ask", covered(50, 181), ()),  # the target is covered, one of the two slips is not
]


@pytest.mark.parametrize(("code", "level", "mistake", "company"), MISTAKES)
def test_it_names_the_mistake_at_its_level(code: str, level: str, mistake: Mistake, company: Collection[str]) -> None:
    found = mistake(good_record()).find()
    assert next(finding.level for finding in found if finding.code == code) == level
    others = {finding.code for finding in found if finding.level != "note"} - {code}
    assert others == set(company)


def test_the_advice_is_part_of_what_is_asked() -> None:
    (finding,) = trust("not_proven", 0.602, 0.055, advice=COARSER)(good_record()).find()
    assert finding.sentence.endswith(f"the probability is 91.0 %. {COARSER} If it is to stand as it is, say why.")
    assert "60.2 % of the base load, give or take 5.5 points" in finding.sentence


@pytest.mark.parametrize(
    "made",
    [
        trust("in_band", 0.602),
        trust("in_band", 0.602, rule="simple"),
        # A test that claims no success claims no load in band.
        lambda record: trust("not_proven", 0.602)(record).with_test(outcome="stopped"),
        covered(50, 250),
    ],
)
def test_nothing_is_asked_of_a_load_that_bears_its_claim(made: Mistake) -> None:
    codes = {finding.code for finding in made(good_record()).find() if finding.level != "note"}
    assert not codes & {code for code, *_ in MISTAKES}


def with_its_trust(record: Record) -> Record:
    """The record with its load worked out by the default assumptions, judged by simple acceptance."""
    test, case = record.test, Case(record.test)
    gauge, target = test.gauge, case.geometry
    assert gauge is not None
    assert target is not None
    assert gauge.full_scale_pa is not None
    slips = case.pressures("verification", slipped=True)
    base_n = test.drum.base_load_n or 1.0
    found = load_budget(
        Measurement(
            reading_si=sum(slips) / len(slips),
            target=target,
            gauge=GaugeInUse(
                full_scale_si=gauge.full_scale_pa,
                accuracy_class=gauge.accuracy_class,
                smallest_division_si=gauge.division_pa,
            ),
            spread=slip_spread(slips),
        )
    )
    judged = assess(
        estimate=float(found.load_n) / base_n,
        standard_uncertainty=float(found.combined.standard_uncertainty) / base_n,
        expanded_uncertainty=float(found.combined.expanded_uncertainty) / base_n,
        lower=test.band_low or 0.0,
        upper=test.band_high or 1.0,
        rule=SIMPLE,
    )
    facts = TrustFacts(
        estimate_share=judged.estimate,
        expanded_share=judged.expanded_uncertainty,
        probability=judged.probability,
        rule="simple",
        verdict=judged.verdict,  # type: ignore[arg-type]
    )
    return replace(record, test=replace(test, trust=facts))


@settings(
    derandomize=True,
    database=None,
    deadline=None,
    max_examples=300,
    suppress_health_check=[HealthCheck.too_slow],
)
@given(
    record=st.builds(
        honest_record,
        st.integers(0, 2**48),
        unit=st.sampled_from(UNITS),
        material=st.sampled_from(MATERIALS),
        kind=st.sampled_from(KINDS),
        setting_kind=st.just("marker_distance"),
        direction=st.sampled_from((1, -1)),
    )
)
def test_an_honest_record_is_asked_only_where_it_was_left_at_the_low_edge(record: Record) -> None:
    judged = with_its_trust(record)
    asked = {finding.code for finding in judged.find() if finding.level != "note"}
    left = Case(judged.test).as_left_share
    assert left is not None
    # Jack and lever take 1.4 % of the load in the middle: 0.8 points at the low edge of the band.
    at_the_edge = left < (judged.test.band_low or 0.0) + 0.01
    assert asked == ({"likely_outside_band"} if at_the_edge and "likely_outside_band" in asked else set())
