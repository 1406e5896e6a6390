"""The figures around the target: layers, ladder, working and the STOP reading."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation import brake, stop, units
from fleet.calculation.checks import InputError
from tests.calculation import cases

LAYERS = cases.load("layers")
JACK = brake.equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
TABLE = brake.MakersTableTarget(
    pressures_pa=(8e6, 12e6, 18e6), loads_n=(170e3, 262e3, 400e3), table_jack="J-07", jack="J-07"
)
CALIBRATED = brake.ForceCalibratedTarget(
    readings_pa=(0.0, 10e6, 30e6),
    forces_n=(0.0, 70e3, 213e3),
    lever_arm_m=1.0,
    drum_diameter_m=0.610,
    line_diameter_m=0.036,
    layer=3,
)
UNEQUAL = brake.GeometryTarget(
    drum_diameter_m=0.610,
    line_diameter_m=0.038,
    arms=[brake.JackArm(area_m2=0.007, lever_arm_m=1.0), brake.JackArm(area_m2=0.004, lever_arm_m=0.8)],
)


def layers_of(*, share: float, set_layer: int = 1, nesting: str = "line_on_line") -> dict[int, brake.LayerLoad]:
    ratio = LAYERS["computed"]["drum_over_line"]
    rows = brake.layer_table(
        load_n=share * 100e3,
        sdmbl_n=100e3,
        drum_diameter_m=ratio * 0.036,
        line_diameter_m=0.036,
        set_layer=set_layer,
        layers=(1, 2, 3, 4),
        nesting=nesting,
    )
    return {row.layer: row for row in rows}


@pytest.mark.parametrize("nesting", ["line_on_line", "nested"])
def test_relative_load_over_the_layers(nesting: str) -> None:
    relative = [row.relative for row in layers_of(share=0.8, nesting=nesting).values()]
    assert relative == pytest.approx(LAYERS["computed"][nesting], abs=5.01e-5)


def test_eighty_per_cent_on_layer_one_is_about_sixty_five_on_layer_three() -> None:
    published = LAYERS["published"]  # MEG 7.5.6
    for nesting, computed in LAYERS["computed"]["eighty_on_layer_1_is_on_layer_3"].items():
        share = layers_of(share=published["share_on_layer_1"], nesting=nesting)[3].share
        assert share == pytest.approx(computed, abs=5.01e-5)
        assert share == pytest.approx(published["share_on_layer_3"], abs=0.015)


def test_sixty_per_cent_both_ways() -> None:
    computed = LAYERS["computed"]
    down = layers_of(share=0.6)[3].share
    up = layers_of(share=0.6, set_layer=3)[1].share
    assert down == pytest.approx(computed["sixty_on_layer_1_is_on_layer_3"], abs=5e-4)
    assert up == pytest.approx(computed["sixty_on_layer_3_is_on_layer_1"], abs=5e-4)


@given(st.integers(1, 6), st.sampled_from(["line_on_line", "nested"]))
def test_the_torque_is_the_same_on_every_layer(set_layer: int, nesting: str) -> None:
    rows = layers_of(share=0.6, set_layer=set_layer, nesting=nesting)
    torques = [row.load_n * row.radius_m for row in rows.values()]
    assert torques == pytest.approx([torques[0]] * len(torques), rel=1e-14)
    if set_layer in rows:
        assert rows[set_layer].relative == 1.0
        assert rows[set_layer].share == pytest.approx(0.6, rel=1e-14)


def test_the_ladder_stands_on_whole_steps_around_the_target() -> None:
    rungs = brake.pressure_ladder(target=JACK, sdmbl_n=637e3, share=0.6, gauge_unit="bar", step=5, rungs_each_side=3)
    assert [rung.reading for rung in rungs] == [160.0, 165.0, 170.0, 175.0, 180.0, 185.0]
    for rung in rungs:
        back = brake.load_at_reading(reading_si=units.to_si(rung.reading, "bar"), sdmbl_n=637e3, target=JACK)
        assert (rung.load_n, rung.share) == (back.load_n, back.share)
    assert rungs[2].share < 0.6 < rungs[3].share


def test_small_steps_stay_on_the_marks() -> None:
    rungs = brake.pressure_ladder(target=JACK, sdmbl_n=637e3, share=0.6, gauge_unit="MPa", step=0.1, rungs_each_side=4)
    assert [rung.reading for rung in rungs] == [17.0, 17.1, 17.2, 17.3, 17.4, 17.5, 17.6, 17.7]


def test_the_ladder_ends_at_stop_at_zero_and_at_the_table() -> None:
    stopped = brake.pressure_ladder(target=JACK, sdmbl_n=637e3, share=0.6, gauge_unit="bar", step=5, stop_si=18e6)
    assert max(rung.reading for rung in stopped) == 180.0
    low = brake.pressure_ladder(target=JACK, sdmbl_n=637e3, share=0.6, gauge_unit="bar", step=100, rungs_each_side=5)
    assert [rung.reading for rung in low] == [100.0, 200.0, 300.0, 400.0, 500.0, 600.0]
    table = brake.pressure_ladder(target=TABLE, sdmbl_n=500e3, share=0.6, gauge_unit="bar", step=20, rungs_each_side=9)
    assert [rung.reading for rung in table] == [80.0, 100.0, 120.0, 140.0, 160.0, 180.0]


def test_the_ladder_of_a_load_cell_is_in_its_own_unit() -> None:
    cell = brake.LoadCellTarget()
    rungs = brake.pressure_ladder(target=cell, sdmbl_n=637e3, share=0.6, gauge_unit="kN", step=10, rungs_each_side=1)
    assert [(rung.reading, rung.load_n) for rung in rungs] == [(380.0, 380e3), (390.0, 390e3)]
    with pytest.raises(units.UnitError):
        brake.pressure_ladder(target=cell, sdmbl_n=637e3, share=0.6, gauge_unit="bar")


@pytest.mark.parametrize(
    ("target", "keys"),
    [
        (JACK, ["load", "radius", "moment", "all_jacks", "one_jack", "reading", "deck"]),
        (UNEQUAL, ["load", "radius", "moment", "reading", "deck"]),
        (TABLE, ["load", "reading"]),
        (CALIBRATED, ["load", "radius", "moment", "all_jacks", "one_jack", "reading", "deck"]),
    ],
    ids=["equal", "unequal", "table", "calibrated"],
)
def test_the_working_ends_in_the_figures_of_the_target(target: brake.Target, keys: list[str]) -> None:
    result = brake.rendering_target(sdmbl_n=500e3, share=0.6, target=target, gauge_unit="psi")
    steps = {step.key: step for step in result.steps}
    assert list(steps) == keys
    assert steps["load"].result_si == result.load_n
    assert steps["reading"].result_si == result.reading_si
    assert steps["reading"].shown == units.display(result.reading_si, "psi")
    if "deck" in steps:
        assert steps["deck"].result_si == pytest.approx(result.deck_reaction_n, rel=1e-14)


@pytest.mark.parametrize("gauge_unit", units.GAUGE_UNITS)
@pytest.mark.parametrize("sdmbl", [(637.0, "kN"), (65.0, "tf")])
def test_a_pocket_calculator_gets_the_printed_working(gauge_unit: str, sdmbl: tuple[float, str]) -> None:
    steps = {
        s.key: s for s in brake.working(sdmbl_n=units.to_si(*sdmbl), share=0.6, target=JACK, gauge_unit=gauge_unit)
    }

    def printed(text: str) -> float:
        return float(text.split()[0])

    load = printed(steps["load"].values[0].shown) * printed(steps["load"].values[1].shown) / 100
    assert round(load) == printed(steps["load"].shown)
    radius = sum(printed(value.shown) for value in steps["radius"].values) / 2
    assert round(radius, 1) == printed(steps["radius"].shown)
    moment = printed(steps["load"].shown) * printed(steps["radius"].shown) / 1000
    assert moment == pytest.approx(printed(steps["moment"].shown), rel=2e-6)
    force = printed(steps["moment"].shown) / printed(steps["all_jacks"].values[1].shown) * 1000
    assert round(force) == printed(steps["one_jack"].shown)
    hint = re.search(r"1 N/cm² = ([0-9.]+) (\S+)\)$", steps["reading"].formula_in_words)
    assert hint is not None
    assert hint[2] == units.label(gauge_unit)
    pressure = printed(steps["one_jack"].shown) / printed(steps["reading"].values[1].shown) * float(hint[1])
    assert units.shown(pressure, units.SHOWN_DECIMALS[gauge_unit]) == steps["reading"].shown.split()[0]


def test_the_working_of_a_table_names_the_two_rows() -> None:
    reading = brake.working(sdmbl_n=500e3, share=0.6, target=TABLE, gauge_unit="bar")[1]
    assert [value.shown for value in reading.values] == ["300000 N", "120.0 bar", "262000 N", "180.0 bar", "400000 N"]
    low, low_load, high, high_load = (value.value_si for value in reading.values[1:])
    assert reading.result_si == pytest.approx(low + (high - low) * (300e3 - low_load) / (high_load - low_load))


def test_the_working_of_an_upper_layer_shows_the_layer() -> None:
    radius = brake.working(sdmbl_n=300e3, share=0.6, target=CALIBRATED, gauge_unit="bar")[1]
    assert [value.name for value in radius.values] == ["drum diameter", "line diameter", "layer", "layer factor"]
    assert radius.shown == "395.0 mm"


def test_the_working_of_a_load_cell_is_the_load() -> None:
    steps = brake.working(sdmbl_n=637e3, share=0.6, target=brake.LoadCellTarget(), gauge_unit="kN")
    assert [step.shown for step in steps] == ["382200 N", "382.2 kN"]


STOP = {
    "target": JACK,
    "sdmbl_n": 637e3,
    "gauge_full_scale_si": 100e6,
    "ceiling_share": 0.9,
    "jack_rated_pressure_pa": 100e6,
    "lever_safe_load_n": 1e6,
    "deck_allowed_load_n": 1e6,
}


@pytest.mark.parametrize(
    ("change", "limit", "bar"),
    [
        ({}, stop.BRAKE_DESIGN_LOAD, 173.23968565815326 / 0.6 * 0.8),
        ({"ceiling_share": 0.65}, stop.OPERATORS_CEILING, 173.23968565815326 / 0.6 * 0.65),
        ({"jack_rated_pressure_pa": 25e6}, stop.JACK_RATING, 200.0),
        ({"lever_safe_load_n": 71.26e-4 * 19e6}, stop.LEVER_SAFE_LOAD, 190.0),
        ({"deck_allowed_load_n": 71.26e-4 * 18e6}, stop.DECK_ALLOWED_LOAD, 180.0),
        ({"gauge_full_scale_si": 25e6}, stop.GAUGE_USABLE_PART, 187.5),
    ],
)
def test_stop_is_the_lowest_limit_and_says_which(change: dict, limit: str, bar: float) -> None:
    reading = brake.stop_reading(**{**STOP, **change})
    assert reading.limit == limit
    assert reading.reading_si == pytest.approx(bar * 1e5, rel=1e-12)
    assert reading.load_n == pytest.approx(JACK.load_at(reading.reading_si))
    assert reading.share == pytest.approx(reading.load_n / 637e3)
    known = [candidate.reading_si for candidate in reading.candidates]
    assert len(known) == 7
    assert reading.reading_si == min(value for value in known if value is not None)
    assert reading.not_known == ()


def test_the_default_ceiling_is_the_top_of_the_default_band() -> None:
    reading = brake.stop_reading(target=JACK, sdmbl_n=637e3, gauge_full_scale_si=40e6)
    assert reading.limit == stop.OPERATORS_CEILING
    assert reading.share == pytest.approx(0.65)
    assert [c.limit for c in reading.not_known] == [stop.JACK_RATING, stop.LEVER_SAFE_LOAD, stop.DECK_ALLOWED_LOAD]
    assert {c.reason for c in reading.not_known} == {stop.NOT_GIVEN}


def test_a_target_above_stop_is_said() -> None:
    arguments = {"target": JACK, "sdmbl_n": 637e3, "target_share": 0.6}
    assert brake.stop_reading(**arguments, gauge_full_scale_si=16e6).target_is_above_stop is True
    assert brake.stop_reading(**arguments, gauge_full_scale_si=40e6).target_is_above_stop is False
    unasked = brake.stop_reading(target=JACK, sdmbl_n=637e3, gauge_full_scale_si=40e6)
    assert unasked.target_is_above_stop is None


def test_the_end_of_a_table_is_a_limit_of_its_own() -> None:
    reading = brake.stop_reading(target=TABLE, sdmbl_n=640e3, gauge_full_scale_si=40e6, lever_safe_load_n=2e5)
    assert (reading.limit, reading.reading_si, reading.load_n) == (stop.END_OF_TABLE, 18e6, 400e3)
    reasons = {candidate.limit: candidate.reason for candidate in reading.candidates}
    assert reasons[stop.OPERATORS_CEILING] == reasons[stop.BRAKE_DESIGN_LOAD] == stop.ABOVE_TABLE
    assert reasons[stop.LEVER_SAFE_LOAD] == stop.JACK_FORCE_UNKNOWN
    assert stop.LEVER_SAFE_LOAD in [candidate.limit for candidate in reading.not_known]


def test_no_stop_reading_is_named_below_a_table() -> None:
    with pytest.raises(brake.OutsideTable):
        brake.stop_reading(target=TABLE, sdmbl_n=200e3, gauge_full_scale_si=40e6)
    with pytest.raises(brake.OutsideTable):
        brake.stop_reading(target=TABLE, sdmbl_n=600e3, gauge_full_scale_si=10e6)


def test_a_load_cell_has_a_stop_reading_in_newtons() -> None:
    reading = brake.stop_reading(
        target=brake.LoadCellTarget(), sdmbl_n=637e3, gauge_full_scale_si=500e3, jack_rated_pressure_pa=70e6
    )
    assert (reading.limit, reading.reading_si) == (stop.GAUGE_USABLE_PART, 375e3)
    reasons = {candidate.limit: candidate.reason for candidate in reading.candidates}
    assert reasons[stop.JACK_RATING] == stop.NOT_FOR_LOAD_CELL


@pytest.mark.parametrize("argument", [name for name in STOP if name != "target"])
@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
def test_a_limit_is_above_zero_and_finite(argument: str, value: float) -> None:
    with pytest.raises(InputError):
        brake.stop_reading(**{**STOP, argument: value})
