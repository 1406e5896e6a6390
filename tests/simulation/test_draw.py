"""Whole virtual drums drawn by seed."""

import subprocess
import sys
from math import log
from pathlib import Path

import pytest
from scipy import stats

from fleet.simulation import ranges
from fleet.simulation.draw import _Draw, draw_drum

SEEDS = range(300)


def test_one_seed_is_one_drum() -> None:
    first, again = draw_drum(11), draw_drum(11)
    assert first.trial.brake == again.trial.brake
    assert first.trial.rig == again.trial.rig
    applied = [drum.trial.apply(drum.start_mark_m, stop_load_n=0.65 * drum.sdmbl_n) for drum in (first, again)]
    assert applied[0] == applied[1]
    assert draw_drum(12).trial.brake != first.trial.brake


@pytest.mark.parametrize("bounds", ranges.TABLE, ids=lambda bounds: bounds.key)
def test_every_figure_is_drawn_between_its_bounds_and_fills_them(bounds: ranges.Bounds) -> None:
    drawn = [_Draw(seed).figures[bounds.key] for seed in SEEDS]
    assert bounds.low <= min(drawn) <= max(drawn) <= bounds.high
    if bounds.drawn == ranges.ONE_OF:
        assert set(drawn) == set(bounds.values)
    elif bounds.low < bounds.high:
        scaled = [log(x) for x in drawn] if bounds.drawn == ranges.LOG_UNIFORM else drawn
        low, high = (
            (log(bounds.low), log(bounds.high)) if bounds.drawn == ranges.LOG_UNIFORM else (bounds.low, bounds.high)
        )
        assert stats.kstest(scaled, "uniform", args=(low, high - low)).pvalue > 1e-4


def test_the_drums_are_sound_and_the_gauges_fit() -> None:
    for seed in SEEDS:
        drum = draw_drum(seed)
        rig, brake = drum.trial.rig, drum.trial.brake
        target_pa = rig.target.pressure_for(0.6 * drum.sdmbl_n)
        assert 80e5 < target_pa <= 350e5
        assert target_pa <= 0.75 * rig.dial.full_scale_pa
        assert (drum.last_mark_m is None) == (drum.last_slope_n_per_m is None)
        mark = brake.mark_for(0.6 * drum.sdmbl_n)
        assert brake.rendering_load(mark) == pytest.approx(0.6 * drum.sdmbl_n, rel=1e-6)
        assert drum.trial.true_load(drum.start_mark_m) < 0.85 * drum.sdmbl_n


def test_the_virtual_brakes_need_no_django() -> None:
    program = (
        "import sys\nsys.modules['django'] = None\n"
        "from fleet.simulation import draw\nprint(draw.draw_drum(1).sdmbl_n > 0)"
    )
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", program],
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
        check=True,
    )
    assert done.stdout.split() == ["True"]
