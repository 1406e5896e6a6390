"""Brakes in arrays: the same physics as the one brake, and its inverse."""

import numpy as np
import pytest
from scipy import optimize

from fleet.simulation.brake import BandBrake
from fleet.simulation.fleet_brakes import MARKER, PRESSURE, SPRING, TORQUE, Brakes, draw_brakes, taken_up, travel_for
from fleet.simulation.fleet_noise import stream

KINDS = np.array([MARKER] * 6 + [TORQUE, SPRING, PRESSURE] * 2)


def one_brake(brakes: Brakes, drum: int, *, friction_factor: float, loss_m: float) -> BandBrake:
    """The same drum as a single brake, whose numbers are tested against the textbooks."""
    return BandBrake(
        rim_radius_m=float(brakes.rim_over_line[drum]),
        line_radius_m=1.0,
        wrap_rad=float(brakes.wrap_rad[drum]),
        friction_sliding=float(brakes.friction[drum] * friction_factor),
        static_over_sliding=1.0,
        # Only wrap · radius / stiffness counts.
        band_stiffness_n=float(brakes.wrap_rad[drum] * brakes.rim_over_line[drum] / brakes.band_give[drum]),
        spindle_stiffness_n_per_m=float(1 / brakes.spindle_give[drum]),
        take_up_m=float(brakes.take_up_m[drum]),
        mark_per_band_travel=float(brakes.ratio[drum]),
        mark_when_bearing_m=float(brakes.zero_si[drum]),
        tighter_sign=float(brakes.tighter_sign[drum]),
        lining_loss_m=loss_m,
    )


def test_the_arrays_agree_with_the_single_brake() -> None:
    brakes, linings = draw_brakes(KINDS, stream(3, "brakes"))
    factor, loss_m = np.full(len(KINDS), 0.97), linings.loss_at_start_m
    setting_si = brakes.setting_for(0.6 * brakes.sdmbl_n, friction_factor=factor, loss_m=loss_m)
    slopes = brakes.share_per_si(setting_si, friction_factor=factor, loss_m=loss_m) * brakes.sdmbl_n
    against = brakes.stiffness_n(factor, own_sense=False) / brakes.stiffness_n(factor)
    for drum in np.flatnonzero(KINDS == MARKER):
        one = one_brake(brakes, drum, friction_factor=0.97, loss_m=float(loss_m[drum]))
        mark_m = float(setting_si[drum])
        assert one.rendering_load(mark_m) == pytest.approx(0.6 * brakes.sdmbl_n[drum], rel=1e-9)
        assert one.slope_at(mark_m) == pytest.approx(slopes[drum], rel=1e-4)
        wrong_way = one.rendering_load(mark_m, own_sense=False) / one.rendering_load(mark_m)
        assert wrong_way == pytest.approx(against[drum], rel=1e-9)
        assert wrong_way < 1


@pytest.mark.parametrize("stretch_m", [1e-5, 4e-4, 2e-3, 3e-2])
def test_the_travel_for_a_stretch_is_what_a_root_finder_finds(stretch_m: float) -> None:
    take_up_m = np.array([1e-3])
    found = optimize.brentq(lambda x: float(taken_up(np.array([x]), take_up_m)[0]) - stretch_m, 0, 1, xtol=1e-15)
    assert travel_for(np.array([stretch_m]), take_up_m)[0] == pytest.approx(found, rel=1e-9)


def test_wear_moves_a_marker_towards_tighter_and_leaves_a_force_alone() -> None:
    brakes, _ = draw_brakes(KINDS, stream(3, "brakes"))
    usual, target_n = np.ones(len(KINDS)), 0.6 * brakes.sdmbl_n
    new = brakes.setting_for(target_n, friction_factor=usual, loss_m=np.zeros(len(KINDS)))
    worn = brakes.setting_for(target_n, friction_factor=usual, loss_m=np.full(len(KINDS), 1e-3))
    moved = (worn - new) * brakes.tighter_sign
    marker = KINDS == MARKER
    # The facts of the trade: band travel is wrap angle times lining lost.
    assert moved[marker] == pytest.approx(brakes.ratio[marker] * brakes.wrap_rad[marker] * 1e-3, rel=1e-9)
    assert not np.any(moved[~marker])


def test_the_limit_is_on_the_tight_side_and_every_mark_is_a_distance() -> None:
    brakes, linings = draw_brakes(np.full(500, MARKER), stream(4, "brakes"))
    usual = np.ones(500)
    at_start = brakes.setting_for(0.6 * brakes.sdmbl_n, friction_factor=usual, loss_m=linings.loss_at_start_m)
    assert np.all((linings.mark_limit_si - at_start) * brakes.tighter_sign > 0)
    assert np.all(linings.mark_limit_si > 0)
    assert np.all(at_start > 0)
    assert np.all(linings.new_m - linings.loss_at_start_m > linings.minimum_m)
