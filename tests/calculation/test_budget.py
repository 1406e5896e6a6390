"""The budget of a brake rendering load: its rows, by basis, against other engines and random draws."""

from math import cos, inf, radians, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from fleet.calculation import brake, budget, uncertainty
from fleet.calculation.assumptions import Assumptions, Tolerances
from fleet.calculation.budget import load_budget
from fleet.calculation.checks import InputError
from fleet.calculation.gauge_certificate import CertificatePoint, GaugeCertificate
from fleet.calculation.measurement import GaugeInUse, Measurement
from fleet.calculation.slips import SlipSpread, earlier_spread, slip_spread
from fleet.calculation.tables import OutsideTable
from tests.calculation import cases

JACK = brake.equal_jacks(area_m2=71.26e-4, lever_arm_m=1.0, drum_diameter_m=0.610, line_diameter_m=0.036)
SDMBL_N = 637e3
KNOWN = Tolerances(piston_area_relative=0.005, lever_arm_m=0.003, drum_diameter_m=0.004, line_diameter_m=0.001)
GAUGE = GaugeInUse(full_scale_si=400e5, accuracy_class=1.6, smallest_division_si=2e5)
TABLE = brake.MakersTableTarget(
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


def measured(reading_bar: float = 173.24, **more: object) -> Measurement:
    given_ = {"target": JACK, "gauge": GAUGE, "tolerances": KNOWN, "assumptions": None, **more}
    return Measurement(reading_si=reading_bar * 1e5, **given_)  # type: ignore[arg-type]


def rows_of(measurement: Measurement) -> dict[str, uncertainty.Contribution]:
    return {row.key: row for row in load_budget(measurement).combined.rows}


def relative(result: budget.LoadBudget) -> float:
    return float(result.combined.standard_uncertainty / result.load_n)


def test_the_computed_case_comes_out() -> None:
    case = cases.load("uncertainty")["lever_and_jack"]
    result = load_budget(measured())
    assert 100 * relative(result) == pytest.approx(case["relative_standard_percent"], abs=5e-4)
    assert 2 * 100 * 0.60 * relative(result) == pytest.approx(case["expanded_k2_points_at_60"], abs=5e-3)
    assert result.combined.degrees_of_freedom == inf
    assert result.load_n == pytest.approx(0.6 * SDMBL_N, rel=1e-5)


@pytest.mark.parametrize(("accuracy_class", "scale_bar", "points"), [(1.6, 700, 3.9), (1.0, 250, 0.9)])
def test_the_gauge_row_is_the_class_limit_of_en_837_1(accuracy_class: float, scale_bar: float, points: float) -> None:
    # EN 837-1: so many per cent of the span. Points of SDMBL at 173 bar: computed.
    gauge = GaugeInUse(full_scale_si=scale_bar * 1e5, accuracy_class=accuracy_class)
    row = rows_of(measured(173.0, gauge=gauge))["gauge_class"]
    assert row.half_width_si == pytest.approx(accuracy_class / 100 * scale_bar * 1e5, rel=1e-14)
    assert row.standard_uncertainty == pytest.approx(row.half_width_si / sqrt(3), rel=1e-14)
    assert 100 * row.half_width_si * row.sensitivity / SDMBL_N == pytest.approx(points, abs=0.05)
    assert not row.assumed


@given(
    st.floats(0.15, 1.5), st.floats(0.008, 0.13), st.integers(1, 6), st.sampled_from(["line_on_line", "nested"]),
    st.floats(50, 400), st.lists(st.tuples(st.floats(3e-4, 4e-2), st.floats(0.3, 3.0)), min_size=1, max_size=3),
)  # fmt: skip
def test_analytic_sensitivities_agree_with_automatic_differentiation(
    drum: float, line: float, layer: int, nesting: str, bar: float, arms: list[tuple[float, float]]
) -> None:
    # Reference library: `uncertainties`.
    target = brake.GeometryTarget(
        drum_diameter_m=drum,
        line_diameter_m=line,
        layer=layer,
        nesting=nesting,
        arms=[brake.JackArm(area_m2=area, lever_arm_m=arm) for area, arm in arms],
    )
    ours = load_budget(measured(bar, target=target))
    c = {"line_on_line": 1.0, "nested": sqrt(3) / 2}[nesting]
    pressure = ufloat(bar * 1e5, 6.4e5 / sqrt(3)) + ufloat(0.0, 1e5 / sqrt(3))
    area_factor, arm_shift = ufloat(1.0, 0.005 / sqrt(3)), ufloat(0.0, 0.003 / sqrt(3))
    d, k = ufloat(drum, 0.004 / sqrt(3)), ufloat(line, 0.001 / sqrt(3))
    moment = sum(area_factor * area * (arm + arm_shift) for area, arm in arms)
    load = pressure * moment / ((d + k) / 2 + (layer - 1) * c * k)
    assert ours.load_n == pytest.approx(load.nominal_value, rel=1e-12)
    assert ours.combined.standard_uncertainty == pytest.approx(load.std_dev, rel=1e-9)


def test_random_draws_give_the_same_load_and_uncertainty() -> None:
    """JCGM 101:2008: a million draws of every input, and the numerical tolerance of its clause 8.1."""
    known = Tolerances(
        piston_area_relative=0.005, lever_arm_m=0.003, drum_diameter_m=0.004, line_diameter_m=0.001,
        lever_angle_rad=radians(5), jack_friction_relative=0.03, lever_weight_relative=0.007, pump_stroke_pa=6e5,
    )  # fmt: skip
    gauge = GaugeInUse(full_scale_si=250e5, accuracy_class=1.0, smallest_division_si=5e5)
    spread = SlipSpread(standard_deviation_si=3e5, degrees_of_freedom=inf, slips=2)
    ours = load_budget(measured(gauge=gauge, tolerances=known, spread=spread))

    n, draw = 1_000_000, np.random.default_rng(20261125)
    pressure = 173.24e5 + draw.uniform(-2.5e5, 2.5e5, n) + draw.uniform(-2.5e5, 2.5e5, n)
    pressure += draw.uniform(-3e5, 3e5, n) + draw.normal(0, 3e5 / sqrt(2), n)
    load = pressure * 71.26e-4 * (1 + draw.uniform(-0.005, 0.005, n)) * (1.0 + draw.uniform(-0.003, 0.003, n))
    load /= (0.610 + draw.uniform(-0.004, 0.004, n) + 0.036 + draw.uniform(-0.001, 0.001, n)) / 2
    load *= np.cos(draw.uniform(-radians(5), radians(5), n))
    load *= (1 - draw.uniform(0, 0.03, n)) * (1 - draw.uniform(0, 0.007, n))

    # Two digits of u (kN) are meaningful: the tolerance is half of the last one. The ends are compared to one digit,
    # for a sum of rectangles has thinner tails than the normal distribution.
    tolerance_n = 50.0
    assert ours.load_n == pytest.approx(load.mean(), abs=tolerance_n)
    assert ours.combined.standard_uncertainty == pytest.approx(load.std(), abs=tolerance_n)
    low, high = np.quantile(load, [0.025, 0.975])
    assert ours.load_n - ours.combined.expanded_uncertainty == pytest.approx(low, abs=10 * tolerance_n)
    assert ours.load_n + ours.combined.expanded_uncertainty == pytest.approx(high, abs=10 * tolerance_n)


def test_where_one_rectangle_rules_the_interval_errs_on_the_wide_side() -> None:
    # JCGM 101:2008, 9.2.4 is such a case: the normal interval is wider than the draws'.
    coarse = GaugeInUse(full_scale_si=700e5, accuracy_class=1.6)
    ours = load_budget(measured(gauge=coarse))
    draw = np.random.default_rng(3)
    load = (173.24e5 + draw.uniform(-11.2e5, 11.2e5, 1_000_000)) * JACK.moment_per_pressure_m3 / JACK.radius_m
    assert ours.combined.expanded_uncertainty > np.quantile(load, 0.975) - ours.load_n


@pytest.mark.parametrize("degrees", [0.1, 1.0, 2.9, 5.0, 15.0, 45.0])
def test_an_angle_only_takes_force_away(degrees: float) -> None:
    kept, standard = uncertainty.cosine_loss(radians(degrees))
    # Independent: the mean and the spread over a fine even grid of angles.
    grid = np.cos((np.arange(2_000_000) + 0.5) / 2_000_000 * radians(degrees))
    assert 1 - kept == pytest.approx(1 - grid.mean(), rel=1e-6)
    assert standard == pytest.approx(grid.std(), rel=1e-6)
    assert cos(radians(degrees)) < kept < 1


def test_what_can_only_take_force_away_is_corrected_and_shown() -> None:
    losses = Tolerances(jack_friction_relative=0.02, lever_weight_relative=0.01, lever_angle_rad=radians(5))
    result = load_budget(measured(tolerances=losses))
    assert result.uncorrected_n == pytest.approx(JACK.load_at(173.24e5), rel=1e-15)
    assert result.load_n < result.uncorrected_n
    assert result.uncorrected_n + result.combined.correction == pytest.approx(result.load_n, rel=1e-14)
    rows = {row.key: row for row in result.combined.rows}
    assert rows["jack_friction"].correction == pytest.approx(-0.01 * result.uncorrected_n, rel=0.01)
    assert rows["jack_friction"].distribution == uncertainty.ONE_SIDED
    assert rows["lever_angle"].distribution == uncertainty.COSINE
    assert all(rows[key].correction == 0 for key in ("gauge_class", "smallest_division"))


def test_nothing_to_count_is_no_row_and_nothing_known_is_named() -> None:
    none = load_budget(measured(tolerances=Tolerances(jack_friction_relative=0.0, lever_arm_m=0.003)))
    assert [row.key for row in none.combined.rows] == ["gauge_class", "smallest_division", "lever_arm"]
    assert "jack_friction" not in none.not_counted
    assert none.not_counted == (
        "piston_area", "drum_diameter", "line_diameter", "lever_angle", "lever_weight", "pump_stroke", "slips",
    )  # fmt: skip


def test_what_nobody_measured_is_assumed_and_says_so() -> None:
    gauge = GaugeInUse(full_scale_si=400e5, accuracy_class=1.6)
    result = load_budget(measured(gauge=gauge, tolerances=Tolerances(lever_arm_m=0.001), assumptions=Assumptions()))
    assert result.not_counted == ()
    assert {row.key for row in result.combined.rows if not row.assumed} == {"gauge_class", "lever_arm"}
    assert {row.key for row in result.combined.rows if row.assumed} == {
        "smallest_division", "piston_area", "drum_diameter", "line_diameter", "lever_angle", "jack_friction",
        "lever_weight", "pump_stroke", "slips",
    }  # fmt: skip
    stricter = Assumptions(tolerances=Tolerances(**{**vars(Assumptions().tolerances), "drum_diameter_m": 0.02}))
    loose, usual = (
        relative(load_budget(measured(tolerances=Tolerances(), assumptions=assumptions)))
        for assumptions in (stricter, Assumptions())
    )
    assert loose > usual


CERTIFICATE = GaugeCertificate(
    points=[
        CertificatePoint(reading_pa=100e5, reference_pa=99e5, expanded_uncertainty_pa=1e5),
        CertificatePoint(reading_pa=200e5, reference_pa=198e5, expanded_uncertainty_pa=2e5),
    ]
)


def test_a_certificate_corrects_the_reading_and_takes_the_place_of_the_class() -> None:
    gauge = GaugeInUse(full_scale_si=400e5, accuracy_class=1.6, smallest_division_si=2e5, certificate=CERTIFICATE)
    result = load_budget(measured(150.0, gauge=gauge))
    assert result.load_n == pytest.approx(JACK.load_at(148.5e5), rel=1e-14)
    rows = {row.key: row for row in result.combined.rows}
    assert "gauge_class" not in rows
    row = rows["gauge_calibration"]
    assert row.standard_uncertainty == pytest.approx(0.75e5)
    assert (row.half_width_si, row.divisor, row.distribution) == (pytest.approx(1.5e5), 2.0, "normal")
    with pytest.raises(OutsideTable):
        load_budget(measured(201.0, gauge=gauge))


def test_a_certificate_without_u_corrects_and_leaves_the_class() -> None:
    bare = GaugeCertificate(points=[CertificatePoint(reading_pa=p, reference_pa=p * 0.99) for p in (1e7, 2e7)])
    gauge = GaugeInUse(full_scale_si=400e5, accuracy_class=1.6, certificate=bare)
    result = load_budget(measured(150.0, gauge=gauge))
    assert result.load_n == pytest.approx(JACK.load_at(148.5e5), rel=1e-14)
    assert "gauge_class" in {row.key for row in result.combined.rows}
    with pytest.raises(InputError, match="accuracy_class"):
        GaugeInUse(full_scale_si=400e5, certificate=bare)


def test_a_makers_table_takes_its_slope_from_the_table() -> None:
    known = Tolerances(makers_table_relative=0.02, pump_stroke_pa=4e5, lever_angle_rad=0.0)
    rows = rows_of(measured(150.0, target=TABLE, tolerances=known))
    assert list(rows) == ["gauge_class", "smallest_division", "makers_table", "pump_stroke"]
    assert rows["smallest_division"].sensitivity == pytest.approx((375e3 - 262e3) / 5e6, rel=1e-9)
    assert rows["makers_table"].contribution == pytest.approx(0.02 * TABLE.load_at(150e5) / sqrt(3), rel=1e-12)
    # At the end of the table there is only one side to look at; over a knee, both slopes count by half.
    end = rows_of(measured(250.0, target=TABLE, tolerances=known))["smallest_division"].sensitivity
    assert end == pytest.approx((549e3 - 375e3) / 8e6, rel=1e-9)
    knee = rows_of(measured(170.0, target=TABLE, tolerances=known))["gauge_class"].sensitivity
    assert knee == pytest.approx(((549e3 - 375e3) / 8e6 + (375e3 - 262e3) / 5e6) / 2, rel=1e-9)


def test_a_jack_calibrated_as_force_carries_its_gauge_and_its_seals_within() -> None:
    known = Tolerances(jack_force_relative=0.01, lever_arm_m=0.003, drum_diameter_m=0.004, line_diameter_m=0.001)
    gauge = GaugeInUse(full_scale_si=400e5, accuracy_class=1.6, smallest_division_si=2e5, certificate=CERTIFICATE)
    result = load_budget(measured(150.0, target=CALIBRATED, tolerances=known, gauge=gauge))
    rows = {row.key: row for row in result.combined.rows}
    assert list(rows) == ["jack_force", "smallest_division", "lever_arm", "drum_diameter", "line_diameter"]
    assert result.load_n == pytest.approx(CALIBRATED.load_at(150e5), rel=1e-14)
    per_pa = 2 * (141.3e3 - 70.1e3) / 10e6 * 1.1 / CALIBRATED.radius_m
    assert rows["smallest_division"].sensitivity == pytest.approx(per_pa, rel=1e-9)
    assert rows["lever_arm"].sensitivity == pytest.approx(CALIBRATED.load_at(150e5) / 1.1, rel=1e-12)


def test_a_load_cell_has_only_itself_and_the_slips() -> None:
    cell = GaugeInUse(full_scale_si=1000e3, accuracy_class=1.0, smallest_division_si=2e3)
    result = load_budget(
        Measurement(reading_si=382e3, target=brake.LoadCellTarget(), gauge=cell, spread=slip_spread([380e3, 384e3]))
    )
    assert [row.key for row in result.combined.rows] == ["gauge_class", "smallest_division", "slips"]
    assert result.load_n == 382e3
    assert result.combined.rows[0].contribution == pytest.approx(10e3 / sqrt(3), rel=1e-12)


def test_two_equal_slips_are_never_certain() -> None:
    equal = slip_spread([173e5, 173e5])
    assert equal.standard_deviation_si > 0
    assert (equal.degrees_of_freedom, equal.assumed) == (9, True)
    apart = slip_spread([163e5, 183e5])
    assert apart.standard_deviation_si > equal.standard_deviation_si
    row = rows_of(measured(spread=equal))["slips"]
    assert row.standard_uncertainty == pytest.approx(equal.standard_deviation_si / sqrt(2), rel=1e-12)
    assert row.degrees_of_freedom == 9
    assert load_budget(measured(spread=equal)).combined.coverage_factor < 12


def test_earlier_tests_are_pooled_by_their_degrees_of_freedom() -> None:
    earlier = SlipSpread(standard_deviation_si=2e5, degrees_of_freedom=10)
    pooled = slip_spread([170e5, 176e5], earlier=earlier)
    assert pooled.standard_deviation_si == pytest.approx(sqrt((10 * 2e5**2 + 2 * 3e5**2) / 11), rel=1e-12)
    assert (pooled.degrees_of_freedom, pooled.slips, pooled.assumed) == (11, 2, False)
    one = slip_spread([170e5], earlier=earlier)
    assert (one.standard_deviation_si, one.degrees_of_freedom) == (pytest.approx(2e5), 10)
    known = SlipSpread(standard_deviation_si=2e5, degrees_of_freedom=inf)
    assert slip_spread([170e5, 176e5], earlier=known).standard_deviation_si == 2e5
    with pytest.raises(InputError):
        slip_spread([])


def test_a_fleets_history_is_pooled_by_fractions_and_takes_the_place_of_the_assumption_once_it_is_worth_more() -> None:
    tests = [(100e5, 104e5), (200e5, 208e5, 204e5), (150e5,)] * 3
    spread = earlier_spread(tests, at_si=173e5)
    squares = 3 * (2 * (2 / 102) ** 2 + 2 * (4 / 204) ** 2)
    assert spread.standard_deviation_si == pytest.approx(173e5 * sqrt(squares / 9), rel=1e-12)
    assert (spread.degrees_of_freedom, spread.assumed) == (9, False)
    few = earlier_spread(tests[:2], at_si=173e5)
    assert (few.degrees_of_freedom, few.assumed) == (3 + 8, True)
    none = earlier_spread([], at_si=173e5)
    assert (none.standard_deviation_si, none.degrees_of_freedom, none.assumed) == (pytest.approx(0.02 * 173e5), 8, True)
    assert earlier_spread([(173e5, 173e5)], at_si=173e5).standard_deviation_si > 0
    with pytest.raises(InputError, match="slips_of_test_1"):
        earlier_spread([(0.0, 173e5)], at_si=173e5)


def test_the_gauges_division_is_the_floor_of_the_spread() -> None:
    fine = SlipSpread(standard_deviation_si=1.0, degrees_of_freedom=20)
    row = rows_of(measured(spread=fine))["slips"]
    assert row.standard_uncertainty == pytest.approx(1e5 / sqrt(3), rel=1e-12)


def test_arrays_give_what_floats_give() -> None:
    readings = np.array([120e5, 173.24e5, 199e5])
    gauge = GaugeInUse(full_scale_si=400e5, accuracy_class=1.6, certificate=CERTIFICATE)
    for target in (JACK, TABLE, CALIBRATED):
        many = load_budget(Measurement(reading_si=readings, target=target, gauge=gauge))
        for index, reading_si in enumerate(readings):
            one = load_budget(Measurement(reading_si=float(reading_si), target=target, gauge=gauge))
            assert np.asarray(many.load_n)[index] == pytest.approx(one.load_n, rel=1e-14)
            expanded = np.broadcast_to(many.combined.expanded_uncertainty, readings.shape)
            assert expanded[index] == pytest.approx(one.combined.expanded_uncertainty, rel=1e-12)


def test_figures_that_cannot_be_are_refused() -> None:
    with pytest.raises(InputError, match="lever_arm_m"):
        Tolerances(lever_arm_m=-0.001)
    with pytest.raises(InputError, match="jack_friction_relative"):
        Tolerances(jack_friction_relative=2.0)
    with pytest.raises(InputError, match="lever_angle_rad"):
        Tolerances(lever_angle_rad=3.0)
    with pytest.raises(InputError, match="drum_diameter_m"):
        Assumptions(tolerances=KNOWN.__class__(**{**vars(Assumptions().tolerances), "drum_diameter_m": None}))
    with pytest.raises(InputError, match="accuracy_class"):
        GaugeInUse(full_scale_si=400e5, accuracy_class=3.0)
    with pytest.raises(InputError, match="accuracy_class"):
        GaugeInUse(full_scale_si=400e5)
    with pytest.raises(InputError, match="slips"):
        SlipSpread(standard_deviation_si=1.0, degrees_of_freedom=0.5)
