"""Advice comes out of the budget: other budgets, other advice; and what it promises is kept when it is done."""

from dataclasses import replace
from math import inf
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation import brake, units
from fleet.calculation.advice import BETTER, GAUGE_ROWS, Advice, advise
from fleet.calculation.assumptions import Assumptions, Tolerances
from fleet.calculation.budget import LoadBudget, load_budget
from fleet.calculation.conformity import IN_BAND, NOT_PROVEN
from fleet.calculation.measurement import GaugeInUse, Measurement
from fleet.calculation.slips import SlipSpread
from fleet.calculation.units import UnitError

SDMBL_N = 637e3
JACK = brake.equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
COARSE = GaugeInUse(full_scale_si=700e5, accuracy_class=1.6, smallest_division_si=10e5)
FINE = GaugeInUse(full_scale_si=250e5, accuracy_class=0.25, smallest_division_si=0.5e5)
STEADY = SlipSpread(standard_deviation_si=1e5, degrees_of_freedom=30, slips=2)
NOTHING = Tolerances(**dict.fromkeys(vars(Tolerances()), 0.0))


def found(reading_bar: float = 174.0, gauge: GaugeInUse = COARSE, **more: Any) -> LoadBudget:
    given_: dict[str, Any] = {"target": JACK, "spread": STEADY, **more}
    return load_budget(Measurement(reading_si=reading_bar * 1e5, gauge=gauge, **given_))


def advice_on(result: LoadBudget, **more: Any) -> Advice:
    got = advise(result, **{"base_load_n": SDMBL_N, "lower": 0.55, "upper": 0.65, **more})
    assert got is not None
    return got


def test_a_coarse_gauge_is_named_with_the_gauge_that_would_settle_it() -> None:
    got = advice_on(found())
    assert got.sentence.text == (
        "The gauge is too coarse for this band: a 0–250 bar class 1.0 gauge (divided to 2.5 bar or finer) "
        "would settle it."
    )
    assert (got.largest, got.settles, [step.key for step in got.steps]) == ("gauge_class", True, ["gauge_class"])


def test_buying_that_gauge_does_settle_it() -> None:
    bought = GaugeInUse(full_scale_si=250e5, accuracy_class=1.0, smallest_division_si=2.5e5)
    assert advise(found(gauge=bought), base_load_n=SDMBL_N, lower=0.55, upper=0.65) is None


@pytest.mark.parametrize(("reading", "scale"), [(60.0, "0–100 bar"), (280.0, "0–400 bar"), (500.0, "0–700 bar")])
def test_the_gauge_fits_the_reading(reading: float, scale: str) -> None:
    jack = replace(JACK, arms=(brake.JackArm(area_m2=71.26e-4 * 174 / reading, lever_arm_m=1.0),))
    coarse = GaugeInUse(full_scale_si=1000e5, accuracy_class=4.0, smallest_division_si=20e5)
    assert scale in advice_on(found(reading, coarse, target=jack)).steps[0].what.text


@pytest.mark.parametrize(("unit", "words"), [("MPa", "0–25 MPa"), ("psi", "0–5000 psi"), ("kgf/cm2", "0–250 kgf/cm²")])
def test_the_gauge_is_named_in_the_unit_of_the_dial(unit: str, words: str) -> None:
    assert words in advice_on(found(), gauge_unit=unit).sentence.text


def test_a_unit_that_the_target_is_not_read_in_is_refused() -> None:
    with pytest.raises(UnitError):
        advise(found(), base_load_n=SDMBL_N, lower=0.55, upper=0.65, gauge_unit="kN")


def test_other_shares_other_advice() -> None:
    arm = advice_on(found(gauge=FINE, tolerances=replace(NOTHING, lever_arm_m=0.15)))
    assert arm.sentence.text == (
        "The largest part of the uncertainty is: lever arm. Here the lever arm measured to ± 1.0 mm would settle it."
    )
    friction = advice_on(found(gauge=FINE, tolerances=replace(NOTHING, jack_friction_relative=0.25), reading_bar=190.0))
    assert friction.largest == "jack_friction"
    slips = advice_on(
        found(gauge=FINE, tolerances=NOTHING, spread=SlipSpread(standard_deviation_si=10e5, degrees_of_freedom=9))
    )
    assert (slips.largest, slips.steps[0].what.figures["slips"]) == ("slips", "3")


def test_when_one_step_is_not_enough_the_next_largest_follows() -> None:
    got = advice_on(found(tolerances=Tolerances(lever_arm_m=0.1)))
    assert [step.key for step in got.steps][:2] == ["lever_arm", "gauge_class"]
    assert got.settles
    assert got.sentence.text.startswith("The largest part of the uncertainty is: lever arm. Together, the lever arm")
    widths = [float(step.budget.combined.expanded_uncertainty) for step in got.steps]
    assert widths == sorted(widths, reverse=True)


def test_too_near_the_edge_it_says_where_to_set_the_load() -> None:
    got = advice_on(found(159.5, FINE, tolerances=NOTHING))
    assert not got.settles
    assert "set it nearer the middle, between" in got.sentence.text
    aim = [float(got.sentence.figures[name].removesuffix(" %")) / 100 for name in ("aim_from", "aim_to")]
    last = got.steps[-1].conformity
    assert aim == [pytest.approx(last.accept_from, abs=5e-4), pytest.approx(last.accept_to, abs=5e-4)]
    assert 0.55 < aim[0] < 0.60 < aim[1] < 0.65


def test_a_band_too_narrow_for_anything_on_board_is_said_to_be_so() -> None:
    got = advice_on(found(), lower=0.599, upper=0.601)
    assert not got.settles
    assert "leaves no load that could be shown to be in this band" in got.sentence.text


def test_where_nothing_better_is_to_be_had_it_promises_nothing() -> None:
    one = SlipSpread(standard_deviation_si=20e5, degrees_of_freedom=30, slips=5)
    got = advice_on(found(gauge=FINE, tolerances=NOTHING, spread=one))
    assert got.largest == "slips"
    assert not any(step.key == "slips" for step in got.steps)


def test_a_jack_calibrated_as_force_is_never_told_to_change_its_gauge() -> None:
    table = brake.ForceCalibratedTarget(
        readings_pa=(0.0, 30e6), forces_n=(0.0, 213.8e3), lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036
    )
    got = advice_on(found(target=table, tolerances=Tolerances(jack_force_relative=0.08)))
    assert got.largest == "jack_force"
    assert not any(step.key in GAUGE_ROWS for step in got.steps)


def test_a_load_cell_is_told_of_a_better_cell() -> None:
    cell = GaugeInUse(full_scale_si=1000e3, accuracy_class=4.0, smallest_division_si=20e3)
    spread = SlipSpread(standard_deviation_si=2e3, degrees_of_freedom=20, slips=2)
    result = load_budget(Measurement(reading_si=382e3, target=brake.LoadCellTarget(), gauge=cell, spread=spread))
    got = advice_on(result, gauge_unit="kN")
    assert "a load cell of class 1.0 (divided to 10 kN or finer)" in got.sentence.text


@given(
    reading=st.floats(140, 210),
    scale=st.sampled_from([250e5, 400e5, 700e5, 1000e5]),
    accuracy_class=st.sampled_from([0.25, 1.0, 1.6, 4.0]),
    arm=st.floats(0, 0.1),
    area=st.floats(0, 0.1),
)
def test_what_it_promises_is_kept_when_it_is_done(
    reading: float, scale: float, accuracy_class: float, arm: float, area: float
) -> None:
    gauge = GaugeInUse(full_scale_si=scale, accuracy_class=accuracy_class)
    known = Tolerances(lever_arm_m=arm, piston_area_relative=area)
    result = found(reading, gauge, tolerances=known, assumptions=Assumptions(), spread=None)
    got = advise(result, base_load_n=SDMBL_N, lower=0.55, upper=0.65)
    if got is None:
        return
    before = float(result.combined.expanded_uncertainty)
    for step in got.steps:
        again = load_budget(step.budget.measurement)
        assert again.combined.expanded_uncertainty == step.budget.combined.expanded_uncertainty < before
        before = float(step.budget.combined.expanded_uncertainty)
    decided = bool(got.steps) and got.steps[-1].conformity.verdict != NOT_PROVEN
    assert got.settles == decided
    assert got.sentence.text.endswith("would settle it.") == decided
    if decided and got.steps[-1].conformity.verdict == IN_BAND:
        assert got.steps[-1].conformity.probability > 0.95


def test_every_better_figure_is_better_than_what_is_assumed() -> None:
    usual = Assumptions().tolerances
    for name, value_si, unit, _ in BETTER.values():
        assert 0 < value_si < getattr(usual, name) < inf
        assert units.display(value_si, unit)
