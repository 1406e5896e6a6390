"""A virtual drum taken stroke by stroke."""

import numpy as np
import pytest

from fleet.calculation.checks import InputError
from fleet.simulation.by_hand import PLAY_M, ByHand
from fleet.simulation.draw import draw_drum
from fleet.simulation.trial import Trial


def calm(seed: int = 3) -> ByHand:
    """A drum without chance: what a hand does is all that changes it."""
    drum = draw_drum(seed, {"wetness": 0.0, "after_work_chance": 0.0})
    rng = np.random.default_rng(1)
    return ByHand(Trial(brake=drum.trial.brake, rig=drum.trial.rig, rng=rng), rng=rng, mark_m=drum.start_mark_m)


def test_strokes_add_up_until_the_drum_moves_and_no_further() -> None:
    hand = calm()
    slip_pa = hand.trial.rig.pressure_at_slip(hand.trial.true_load(hand.mark_m))
    before = 0.0
    while not hand.moved:
        before = hand.pressure_pa
        hand.stroke(stop_shown_pa=1e9)
    assert before < slip_pa <= hand.pressure_pa
    assert hand.pressure_pa - before <= hand.trial.rig.stroke_pa
    with pytest.raises(InputError):
        hand.stroke(stop_shown_pa=1e9)


def test_a_stroke_is_cut_short_at_stop_and_the_next_goes_past_it() -> None:
    hand = calm()
    stop_pa = 8 * hand.trial.rig.dial.smallest_division_pa
    while hand.shown_pa < stop_pa:
        hand.stroke(stop_shown_pa=stop_pa)
    assert hand.shown_pa == pytest.approx(stop_pa)
    for _stroke in range(3):
        hand.stroke(stop_shown_pa=stop_pa)
    assert hand.shown_pa > stop_pa


def test_a_brake_that_is_off_cannot_be_pumped() -> None:
    hand = calm()
    hand.release()
    with pytest.raises(InputError):
        hand.stroke(stop_shown_pa=1e9)


def test_easing_under_load_leaves_the_band_tighter_by_the_play() -> None:
    hand, other = calm(), calm()
    sign = hand.trial.brake.tighter_sign
    eased_m = hand.mark_m - sign * 4e-3
    assert hand.set_to(eased_m)
    other.release()
    assert not other.set_to(eased_m)
    assert other.trial.load_to_render() == pytest.approx(other.trial.brake.rendering_load(eased_m))
    assert hand.trial.load_to_render() == pytest.approx(hand.trial.brake.rendering_load(eased_m + sign * PLAY_M))


def test_figures_may_be_given_by_their_keys_alone() -> None:
    assert draw_drum(3, {"lever_arm_m": 1.0}).trial.rig.lever_arm_m == 1.0
    with pytest.raises(InputError):
        draw_drum(3, {"lever": 1.0})
