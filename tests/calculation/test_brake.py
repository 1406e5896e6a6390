"""Load against pressure for every basis: outside figures, independent engines, properties."""

from collections.abc import Callable
from fractions import Fraction
from math import exp, radians

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from uncertainties import ufloat

from fleet.calculation import brake, units
from fleet.calculation.checks import InputError
from tests.calculation import cases

CASES = cases.load("jack_and_lever")
G0 = Fraction("9.80665")
NEWTONS = {"kN": Fraction(1000), "tf": 1000 * G0}
PASCALS = {"MPa": Fraction(10**6), "bar": Fraction(10**5), "kgf/cm2": G0 * 10**4}

diameters = st.floats(min_value=0.15, max_value=1.5)
lines = st.floats(min_value=0.008, max_value=0.13)
areas = st.floats(min_value=3e-4, max_value=4e-2)
arms = st.floats(min_value=0.3, max_value=3.0)
pressures = st.floats(min_value=1e5, max_value=7e7)


@st.composite
def geometry_targets(draw: st.DrawFn) -> brake.GeometryTarget:
    jacks = draw(st.lists(st.builds(brake.JackArm, area_m2=areas, lever_arm_m=arms), min_size=1, max_size=3))
    return brake.GeometryTarget(
        drum_diameter_m=draw(diameters),
        line_diameter_m=draw(lines),
        arms=jacks,
        layer=draw(st.integers(1, 6)),
        nesting=draw(st.sampled_from(["line_on_line", "nested"])),
    )


MAKERS_TABLE = brake.MakersTableTarget(
    pressures_pa=(8e6, 12e6, 17e6, 25e6), loads_n=(170e3, 262e3, 375e3, 549e3), table_jack="J-07", jack="J-07"
)
CALIBRATED = brake.ForceCalibratedTarget(
    readings_pa=(0.0, 10e6, 20e6, 30e6),
    forces_n=(0.0, 70.1e3, 141.3e3, 212.9e3),
    lever_arm_m=1.1,
    drum_diameter_m=0.61,
    line_diameter_m=0.038,
    jacks=2,
)


def target_of(case: dict) -> brake.GeometryTarget:
    return brake.equal_jacks(
        area_m2=units.to_si(case["piston_area_cm2"], "cm2"),
        lever_arm_m=units.to_si(case["lever_arm_mm"], "mm"),
        drum_diameter_m=units.to_si(case["drum_diameter_mm"], "mm"),
        line_diameter_m=units.to_si(case["line_diameter_mm"], "mm"),
    )


def result_of(case: dict) -> brake.RenderingTarget:
    sdmbl_n = units.to_si(case["sdmbl"]["value"], case["sdmbl"]["unit"])
    return brake.rendering_target(sdmbl_n=sdmbl_n, share=case["share"], target=target_of(case))


def decimal(value: float) -> Fraction:
    return Fraction(str(value))


@pytest.mark.parametrize("case", CASES["cases"], ids=lambda case: case["id"])
def test_constructed_cases_come_out_to_the_last_printed_digit(case: dict) -> None:
    result = result_of(case)
    assert result.load_n / 1e3 == pytest.approx(case["load_kN"], abs=5.01e-4)
    assert result.jack_forces_n is not None
    assert result.jack_forces_n[0] / 1e3 == pytest.approx(case["jack_force_kN"], abs=5.01e-4)
    assert result.deck_reaction_n == result.jack_forces_n[0]
    for unit, half_digit in (("bar", 5e-4), ("MPa", 5e-5), ("kgf/cm2", 5e-4), ("psi", 0.05)):
        got = units.from_si(result.reading_si, unit)
        assert got == pytest.approx(case["pressure"][unit], abs=half_digit * 1.001), unit


@pytest.mark.parametrize("case", CASES["cases"], ids=lambda case: case["id"])
def test_the_same_in_exact_fractions(case: dict) -> None:
    load = decimal(case["sdmbl"]["value"]) * NEWTONS[case["sdmbl"]["unit"]] * decimal(case["share"])
    radius = Fraction(case["drum_diameter_mm"] + case["line_diameter_mm"], 2000)
    area_and_arm = decimal(case["piston_area_cm2"]) / 10**4 * Fraction(case["lever_arm_mm"], 1000)
    pressure = load * radius / area_and_arm
    result = result_of(case)
    assert result.load_n == pytest.approx(float(load), rel=1e-14)
    assert result.reading_si == pytest.approx(float(pressure), rel=1e-14)
    for unit, pascals in PASCALS.items():
        assert units.from_si(result.reading_si, unit) == pytest.approx(float(pressure / pascals), rel=1e-14)


@pytest.mark.parametrize("case", CASES["cases"], ids=lambda case: case["id"])
def test_the_same_by_the_package_uncertainties(case: dict) -> None:
    newtons = {"kN": 1e3, "tf": 9806.65}[case["sdmbl"]["unit"]]
    load = ufloat(case["sdmbl"]["value"] * newtons, 1.0) * case["share"]
    torque = load * (ufloat(case["drum_diameter_mm"], 1) + ufloat(case["line_diameter_mm"], 1)) / 2e3
    pressure = torque / (ufloat(case["piston_area_cm2"], 0.1) * 1e-4) / (ufloat(case["lever_arm_mm"], 1) / 1e3)
    assert result_of(case).reading_si == pytest.approx(pressure.nominal_value, rel=1e-13)


def test_the_common_practice_drum() -> None:
    practice = CASES["common_practice"]  # common practice, no published source
    result = result_of(practice)
    assert units.from_si(result.load_n, "kgf") == pytest.approx(practice["load_kgf"], rel=1e-12)
    assert units.shown_quantity(result.reading_si, "kgf/cm2", 2) == str(practice["kgf/cm2"])
    assert units.shown_quantity(result.reading_si, "MPa", 2) == str(practice["MPa"])
    in_kn = result_of({**practice, "sdmbl": practice["same_in_kN"]["sdmbl"]})
    assert units.shown_quantity(in_kn.reading_si, "MPa", 2) == str(practice["same_in_kN"]["MPa"])


@given(geometry_targets(), pressures)
def test_pressure_and_load_are_inverse_by_geometry(target: brake.GeometryTarget, pressure_pa: float) -> None:
    assert target.pressure_for(target.load_at(pressure_pa)) == pytest.approx(pressure_pa, rel=1e-14)


@pytest.mark.parametrize("target", [MAKERS_TABLE, CALIBRATED], ids=lambda target: target.basis)
@given(part=st.floats(min_value=0.0, max_value=1.0))
def test_pressure_and_load_are_inverse_over_a_whole_table(target: brake.Target, part: float) -> None:
    low, high = {brake.MAKERS_TABLE: (8e6, 25e6), brake.FORCE_CALIBRATED_JACK: (0.0, 30e6)}[target.basis]
    pressure_pa = min(low + part * (high - low), high)
    assert target.pressure_for(target.load_at(pressure_pa)) == pytest.approx(pressure_pa, rel=1e-12, abs=1e-6)


@given(st.floats(min_value=0, max_value=5e6))
def test_a_load_cell_reads_the_load(load_n: float) -> None:
    assert brake.LoadCellTarget().load_at(load_n) == load_n == brake.LoadCellTarget().pressure_for(load_n)


@given(geometry_targets(), pressures, st.floats(min_value=0.1, max_value=10))
def test_load_scales_with_pressure(target: brake.GeometryTarget, pressure_pa: float, factor: float) -> None:
    scaled = target.load_at(pressure_pa * factor)
    assert scaled == pytest.approx(factor * target.load_at(pressure_pa), rel=1e-13)


@given(geometry_targets(), pressures, st.floats(min_value=0.5, max_value=2))
def test_a_larger_model_of_the_same_rig_holds_by_the_square(
    target: brake.GeometryTarget, pressure_pa: float, factor: float
) -> None:
    larger = brake.GeometryTarget(
        drum_diameter_m=target.drum_diameter_m * factor,
        line_diameter_m=target.line_diameter_m * factor,
        arms=[
            brake.JackArm(area_m2=arm.area_m2 * factor**2, lever_arm_m=arm.lever_arm_m * factor) for arm in target.arms
        ],
        layer=target.layer,
        nesting=target.nesting,
    )
    assert larger.load_at(pressure_pa) == pytest.approx(factor**2 * target.load_at(pressure_pa), rel=1e-12)


RISING = ("load_n", "radius_m")
FALLING = ("area_m2", "lever_arm_m", "jacks")


@pytest.mark.parametrize("argument", [*RISING, *FALLING])
@given(st.data())
def test_pressure_is_monotonic_in_each_input(argument: str, data: st.DataObject) -> None:
    arguments: dict[str, float] = {
        "load_n": data.draw(st.floats(1e4, 2e6)),
        "radius_m": data.draw(st.floats(0.1, 1.0)),
        "area_m2": data.draw(areas),
        "lever_arm_m": data.draw(arms),
        "jacks": data.draw(st.integers(1, 4)),
    }
    more = {**arguments, argument: arguments[argument] * 2}
    before, after = brake.pressure_from_load(**arguments), brake.pressure_from_load(**more)
    assert after > before if argument in RISING else after < before


@given(geometry_targets(), pressures)
def test_load_falls_as_drum_line_or_layer_grows(target: brake.GeometryTarget, pressure_pa: float) -> None:
    same = {
        "drum_diameter_m": target.drum_diameter_m,
        "line_diameter_m": target.line_diameter_m,
        "arms": target.arms,
        "layer": target.layer,
        "nesting": target.nesting,
    }
    for argument, value in (
        ("drum_diameter_m", target.drum_diameter_m * 1.1),
        ("line_diameter_m", target.line_diameter_m * 1.1),
        ("layer", target.layer + 1),
    ):
        larger = brake.GeometryTarget(**{**same, argument: value})  # type: ignore[arg-type]
        assert larger.load_at(pressure_pa) < target.load_at(pressure_pa)


def as_kernel(target: brake.Target) -> list[Callable]:
    return [target.load_at, target.pressure_for]


@pytest.mark.parametrize(
    ("target", "values"),
    [
        (target_of(CASES["cases"][0]), [0.0, 1e5, 17.3e6]),
        (MAKERS_TABLE, [8e6, 9.5e6, 17e6, 25e6]),
        (CALIBRATED, [0.0, 3e6, 20e6, 30e6]),
        (brake.LoadCellTarget(), [0.0, 382_200.0]),
    ],
    ids=lambda value: getattr(value, "basis", None),
)
def test_arrays_give_what_their_elements_give(target: brake.Target, values: list[float]) -> None:
    loads = target.load_at(np.array(values))
    assert loads.tolist() == [target.load_at(value) for value in values]
    assert target.pressure_for(loads).tolist() == [target.pressure_for(load) for load in loads.tolist()]


def test_plain_kernels_accept_arrays_of_any_input() -> None:
    area, arm = np.array([0.006, 0.007]), np.array([[1.0], [1.2]])
    loads = brake.load_from_pressure(pressure_pa=10e6, area_m2=area, lever_arm_m=arm, radius_m=0.3, jacks=2)
    assert np.shape(loads) == (2, 2)
    assert np.asarray(loads)[1, 0] == brake.load_from_pressure(
        pressure_pa=10e6, area_m2=0.006, lever_arm_m=1.2, radius_m=0.3, jacks=2
    )
    back = brake.pressure_from_load(load_n=loads, area_m2=area, lever_arm_m=arm, radius_m=0.3, jacks=2)
    assert np.allclose(back, 10e6, rtol=1e-14)
    assert np.asarray(brake.jack_force(pressure_pa=10e6, area_m2=area)).tolist() == [0.006 * 10e6, 0.007 * 10e6]


def test_unequal_jacks_add_their_areas_times_arms() -> None:
    target = brake.GeometryTarget(
        drum_diameter_m=0.610,
        line_diameter_m=0.038,
        arms=[brake.JackArm(area_m2=0.007, lever_arm_m=1.0), brake.JackArm(area_m2=0.004, lever_arm_m=0.8)],
    )
    exact = Fraction(10**7) * (Fraction(7, 1000) + Fraction(4, 1000) * Fraction(8, 10)) / Fraction(324, 1000)
    assert target.load_at(10e6) == pytest.approx(float(exact), rel=1e-14)
    assert target.jack_forces_at(10e6) == pytest.approx((70e3, 40e3))
    assert target.pressure_for_jack_force(110e3) == pytest.approx(10e6)


def test_two_equal_jacks_need_half_the_pressure_and_load_the_deck_the_same() -> None:
    case = CASES["cases"][1]
    one = target_of(case)
    two = brake.GeometryTarget(drum_diameter_m=0.610, line_diameter_m=0.036, arms=[*one.arms, *one.arms])
    first = brake.rendering_target(sdmbl_n=637e3, share=0.6, target=one)
    second = brake.rendering_target(sdmbl_n=637e3, share=0.6, target=two)
    assert second.reading_si == pytest.approx(first.reading_si / 2, rel=1e-14)
    assert second.deck_reaction_n == pytest.approx(first.deck_reaction_n, rel=1e-14)
    assert second.jack_forces_n == pytest.approx((first.deck_reaction_n / 2,) * 2, rel=1e-14)  # type: ignore[operator]


def test_the_makers_table_interpolates_between_its_rows() -> None:
    assert MAKERS_TABLE.load_at(10e6) == pytest.approx((170e3 + 262e3) / 2)
    assert MAKERS_TABLE.pressure_for(262e3) == 12e6
    assert MAKERS_TABLE.load_at(8e6) == 170e3
    assert MAKERS_TABLE.load_at(25e6) == 549e3


@pytest.mark.parametrize(("pressure_pa", "is_below"), [(7.99e6, True), (25.01e6, False), (0.0, True)])
def test_no_table_is_read_beyond_its_ends(pressure_pa: float, is_below: bool) -> None:
    with pytest.raises(brake.OutsideTable) as caught:
        MAKERS_TABLE.load_at(pressure_pa)
    assert (caught.value.low_si, caught.value.high_si, caught.value.is_below) == (8e6, 25e6, is_below)
    with pytest.raises(brake.OutsideTable):
        MAKERS_TABLE.load_at(np.array([10e6, pressure_pa]))


def test_loads_beyond_a_table_and_nan_are_refused() -> None:
    for target, load_n in ((MAKERS_TABLE, 169e3), (MAKERS_TABLE, 550e3), (CALIBRATED, 1.5e6)):
        with pytest.raises(brake.OutsideTable):
            target.pressure_for(load_n)
    with pytest.raises(brake.OutsideTable):
        MAKERS_TABLE.load_at(float("nan"))


@pytest.mark.parametrize(("table_jack", "jack"), [("J-07", "J-08"), ("", ""), ("J-07", ""), ("J-07", "j-07")])
def test_a_makers_table_belongs_to_one_jack(table_jack: str, jack: str) -> None:
    with pytest.raises(brake.JackMismatch):
        brake.MakersTableTarget(pressures_pa=(1e6, 2e6), loads_n=(1e4, 2e4), table_jack=table_jack, jack=jack)
    assert issubclass(brake.JackMismatch, ValueError)


@pytest.mark.parametrize(
    ("pressures_pa", "loads_n"),
    [
        ((1e6,), (1e4,)),
        ((), ()),
        ((1e6, 2e6), (1e4,)),
        ((1e6, 1e6), (1e4, 2e4)),
        ((1e6, 2e6), (2e4, 1e4)),
        ((2e6, 1e6), (1e4, 2e4)),
        ((-1e6, 1e6), (1e4, 2e4)),
        ((1e6, float("nan")), (1e4, 2e4)),
        ((1e6, float("inf")), (1e4, 2e4)),
    ],
)
def test_a_table_that_does_not_rise_is_refused(pressures_pa: tuple, loads_n: tuple) -> None:
    with pytest.raises(InputError):
        brake.MakersTableTarget(pressures_pa=pressures_pa, loads_n=loads_n, table_jack="J-07", jack="J-07")


def test_a_calibrated_jack_uses_its_own_force_and_the_moment_balance() -> None:
    load_n = CALIBRATED.load_at(15e6)
    force = (Fraction(70100) + Fraction(141300)) / 2
    assert load_n == pytest.approx(float(2 * force * Fraction(11, 10) / Fraction(324, 1000)), rel=1e-14)
    assert CALIBRATED.jack_forces_at(15e6) == pytest.approx((float(force),) * 2)
    assert CALIBRATED.pressure_for_jack_force(float(2 * force)) == pytest.approx(15e6)


def test_without_an_area_the_makers_table_gives_no_jack_force() -> None:
    result = brake.rendering_target(sdmbl_n=500e3, share=0.6, target=MAKERS_TABLE)
    assert result.jack_forces_n is None
    assert result.deck_reaction_n is None
    reading = brake.load_at_reading(reading_si=12e6, sdmbl_n=500e3, target=MAKERS_TABLE)
    assert (reading.load_n, reading.share, reading.deck_reaction_n) == (262e3, 0.524, None)


@pytest.mark.parametrize("share", [0.0, 1.0, -0.6, 60.0, float("nan")])
def test_a_share_is_a_fraction_below_one(share: float) -> None:
    with pytest.raises(InputError, match="share"):
        brake.rendering_load(sdmbl_n=637e3, share=share)


@pytest.mark.parametrize("argument", ["area_m2", "lever_arm_m", "drum_diameter_m", "line_diameter_m", "jacks", "layer"])
@pytest.mark.parametrize("value", [0, -1, float("nan"), float("inf")])
def test_nothing_is_worked_out_from_an_impossible_figure(argument: str, value: float) -> None:
    good = {"area_m2": 0.007, "lever_arm_m": 1.0, "drum_diameter_m": 0.6, "line_diameter_m": 0.04}
    with pytest.raises(InputError):
        brake.equal_jacks(**{**good, argument: value})  # type: ignore[arg-type]


@given(st.floats(0.05, 0.6), st.floats(0.5, 6.0))
def test_wrong_way_reeling_divides_by_the_band_ratio(friction: float, wrap_rad: float) -> None:
    ratio = brake.belt_tension_ratio(friction, wrap_rad)
    assert ratio == pytest.approx(exp(friction * wrap_rad), rel=1e-14)
    assert brake.wrong_way_load(load_n=1e5, friction=friction, wrap_rad=wrap_rad) * ratio == pytest.approx(1e5)


def test_band_tensions_of_two_textbook_brakes() -> None:
    effort, pressure = cases.load("band")["effort"], cases.load("band")["pressure"]  # from memory
    ratio = brake.belt_tension_ratio(effort["friction"], radians(effort["wrap_deg"]))
    slack_n = effort["torque_Nm"] / (effort["drum_mm"] / 2000) / (ratio - 1)
    assert slack_n == pytest.approx(effort["slack_N"], abs=0.005)
    assert slack_n * ratio == pytest.approx(effort["tight_N"], abs=0.005)
    assert slack_n == pytest.approx(effort["printed_slack_N"], abs=1)
    tight_lbf = pressure["p_max_psi"] * pressure["lining_width_in"] * pressure["drum_in"] / 2
    assert tight_lbf == pressure["tight_lbf"]
    slack_lbf = tight_lbf / brake.belt_tension_ratio(pressure["friction"], radians(pressure["wrap_deg"]))
    assert slack_lbf == pytest.approx(pressure["slack_lbf"], abs=0.6)
    assert (tight_lbf - slack_lbf) * 8 == pytest.approx(pressure["torque_lbf_in"], abs=10)


def test_band_ratio_takes_arrays_and_refuses_nonsense() -> None:
    ratios = brake.belt_tension_ratio(np.array([0.2, 0.3]), 4.0)
    assert np.asarray(ratios).tolist() == [brake.belt_tension_ratio(0.2, 4.0), brake.belt_tension_ratio(0.3, 4.0)]
    for friction, wrap in ((-0.1, 4.0), (0.3, float("nan"))):
        with pytest.raises(InputError):
            brake.belt_tension_ratio(friction, wrap)


@given(geometry_targets(), st.floats(3e4, 2.5e6), st.floats(0.4, 0.8))
def test_reading_back_the_target_gives_the_share(target: brake.GeometryTarget, sdmbl_n: float, share: float) -> None:
    aimed = brake.rendering_target(sdmbl_n=sdmbl_n, share=share, target=target)
    assume(aimed.reading_si > 0)
    back = brake.load_at_reading(reading_si=aimed.reading_si, sdmbl_n=sdmbl_n, target=target)
    assert back.share == pytest.approx(share, rel=1e-13)
    assert back.deck_reaction_n == pytest.approx(aimed.deck_reaction_n)
