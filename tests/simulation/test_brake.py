"""The virtual band brake against textbook band brakes, and against what every band brake must do."""

from dataclasses import replace
from math import exp, radians

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from fleet.calculation.brake import wrong_way_load
from fleet.calculation.checks import InputError
from fleet.simulation.brake import SLIDING, BandBrake, BandTensions, tensions_for_torque
from tests.calculation import cases

BRAKE = BandBrake(
    rim_radius_m=0.5,
    line_radius_m=0.32,
    wrap_rad=5.2,
    friction_sliding=0.3,
    static_over_sliding=1.15,
    band_stiffness_n=3e8,
    spindle_stiffness_n_per_m=5e7,
    take_up_m=0.001,
    mark_per_band_travel=8.0,
    mark_when_bearing_m=0.1,
)
STIFF_BAND = replace(BRAKE, band_stiffness_n=1e18)


def test_the_effort_of_a_textbook_brake_goes_by_the_direction_of_rotation() -> None:
    case = cases.load("band")["effort"]  # two textbook exercises, from memory
    band = tensions_for_torque(
        torque_nm=case["torque_Nm"],
        radius_m=case["drum_mm"] / 2000,
        friction=case["friction"],
        wrap_rad=radians(case["wrap_deg"]),
    )
    assert (band.tight_n, band.slack_n) == (
        pytest.approx(case["tight_N"], abs=0.01),
        pytest.approx(case["slack_N"], abs=0.01),
    )
    assert band.torque_nm(case["drum_mm"] / 2000) == pytest.approx(case["torque_Nm"], rel=1e-12)
    # Band end 100 mm from the fulcrum, effort at 500 mm: 288.8 N or 88.8 N, recomputed 288.96 and 88.96.
    assert (band.tight_n * 100 / 500, band.slack_n * 100 / 500) == (
        pytest.approx(288.96, abs=0.005),
        pytest.approx(88.96, abs=0.005),
    )


def test_the_torque_of_a_textbook_brake_at_its_lining_pressure() -> None:
    case = cases.load("band")["pressure"]  # from memory, figures rounded by the textbook
    radius_in = case["drum_in"] / 2
    tight_lbf = case["p_max_psi"] * case["lining_width_in"] * radius_in
    slack_lbf = tight_lbf / exp(case["friction"] * radians(case["wrap_deg"]))
    assert tight_lbf == case["tight_lbf"]
    assert slack_lbf == pytest.approx(case["slack_lbf"], rel=2e-3)
    torque = BandTensions(tight_n=tight_lbf, slack_n=slack_lbf).torque_nm(radius_in)
    assert torque == pytest.approx(case["torque_lbf_in"], rel=2e-3)
    back = tensions_for_torque(
        torque_nm=torque, radius_m=radius_in, friction=case["friction"], wrap_rad=radians(case["wrap_deg"])
    )
    assert back.tight_n == pytest.approx(case["tight_lbf"], rel=1e-12)


@pytest.mark.parametrize("own_sense", [True, False])
def test_the_stretch_of_band_and_spindle_uses_up_the_travel(own_sense: bool) -> None:
    # The tension integrated over the wrap by SciPy, beside the closed form in the brake.
    brake, friction = replace(BRAKE, take_up_m=0.0), 0.33
    band = brake.tensions(0.07, friction=friction, own_sense=own_sense)
    stretch, _ = integrate.quad(
        lambda angle: band.slack_n * exp(friction * angle) * brake.rim_radius_m / brake.band_stiffness_n,
        0,
        brake.wrap_rad,
    )
    at_spindle = band.slack_n if own_sense else band.tight_n
    assert stretch + at_spindle / brake.spindle_stiffness_n_per_m == pytest.approx(0.03 / 8, rel=1e-9)


def test_reeled_the_wrong_way_a_brake_with_a_stiff_band_falls_as_the_estimate_says() -> None:
    own = STIFF_BAND.rendering_load(0.07)
    wrong = STIFF_BAND.rendering_load(0.07, own_sense=False)
    assert wrong == pytest.approx(
        wrong_way_load(load_n=own, friction=STIFF_BAND.friction(), wrap_rad=STIFF_BAND.wrap_rad), rel=1e-6
    )
    assert BRAKE.rendering_load(0.07, own_sense=False) < BRAKE.rendering_load(0.07) / 2


@given(st.floats(0.0, 0.099), st.floats(0.0005, 0.02))
def test_tighter_never_holds_less(mark_m: float, further_m: float) -> None:
    assert BRAKE.rendering_load(mark_m) >= BRAKE.rendering_load(mark_m + further_m)
    longer = replace(BRAKE, tighter_sign=1.0)
    assert longer.rendering_load(0.2 - mark_m) == pytest.approx(BRAKE.rendering_load(mark_m), rel=1e-9, abs=1e-6)


@given(st.floats(1e3, 1e6))
def test_the_mark_for_a_load_gives_that_load(load_n: float) -> None:
    assert BRAKE.rendering_load(BRAKE.mark_for(load_n)) == pytest.approx(load_n, rel=1e-6)


def test_a_band_that_hangs_clear_holds_nothing() -> None:
    assert BRAKE.rendering_load(0.1) == BRAKE.rendering_load(0.15) == 0


def test_a_worn_lining_moves_the_mark_by_wrap_angle_times_loss_through_the_linkage() -> None:
    # 270 degrees give about 4.7 mm of band travel per mm of lining, before the linkage.
    brake = replace(BRAKE, wrap_rad=radians(270))
    moved = brake.mark_for(300e3) - brake.worn(1e-3).mark_for(300e3)
    assert moved / brake.mark_per_band_travel == pytest.approx(4.712e-3, abs=1e-6)
    assert brake.worn(1e-3).rendering_load(0.03) < brake.rendering_load(0.03)


def test_running_friction_and_water_hold_less() -> None:
    assert BRAKE.rendering_load(0.07, movement=SLIDING) < BRAKE.rendering_load(0.07)
    # MEG 7.5.5.1.2: down by up to 75 %.
    assert replace(BRAKE, wetness=1.0).rendering_load(0.07) == pytest.approx(BRAKE.rendering_load(0.07) / 4)


def test_the_slope_is_the_change_of_load_per_movement_of_the_mark() -> None:
    change = (BRAKE.rendering_load(0.069) - BRAKE.rendering_load(0.071)) / 0.002
    assert BRAKE.slope_at(0.07) == pytest.approx(change, rel=1e-3)


@pytest.mark.parametrize(
    ("figure", "value"),
    [("wrap_rad", 0.0), ("wetness", 1.5), ("tighter_sign", 0.5), ("take_up_m", -1.0), ("friction_sliding", -0.1)],
)
def test_a_brake_that_cannot_be_is_refused(figure: str, value: float) -> None:
    with pytest.raises(InputError):
        replace(BRAKE, **{figure: value})
