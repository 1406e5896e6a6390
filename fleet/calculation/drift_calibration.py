"""The last touch to the fleet's figures: tried on a part of the fleet, each test seen from those before it."""

from dataclasses import replace

import numpy as np
from scipy import special

from fleet.calculation.drift_filter import run_filter
from fleet.calculation.drift_histories import IntArray
from fleet.calculation.drift_model import FIRST, Filtered, Hyper, Series
from fleet.calculation.drift_pooling import common_movement
from fleet.calculation.drift_student import reach
from fleet.calculation.units import FloatArray

WEAR_SPREADS = (0.1, 0.3, 1.0, 2.5, 6.0)
"""Factors on the variance of wear between drums: the first pass took the fastest for broken lines, or, where tests are
few and scatter much, scatter for wear."""
WEAR_PARTS = (0.15, 0.4, 0.8)
"""Factors on the variance found of a year's wear, which takes in what was not known of the drum: the fleet chooses."""
WALKS = (0.0, 0.1, 0.4)
"""What a year of wear may add to the line itself, in variances of one value: the fleet chooses."""
TAILS = (0.5, 1.0, 2.0, 4.0, 8.0)
"""Factors on the degrees of freedom, by which far values are more or less likely: the fleet chooses."""
ENOUGH_VALUES = 400
TRIAL_VESSELS = 60
_FARTHEST = 2.5
_INSIDE = 0.7
"""The part of all tests by which variances are set: near the coverage wanted, short of the few that are wrong."""
_CHOSEN = ("variance", "wear_variance", "wear_part", "walk", "vessel_dof", "drum_dof")
_PER_VALUE = ("drum", "step", "wear_time", "value", "noise", "starts", "bedding", "jump", "jump_variance")
_PER_READING = ("per_share", "gauge", "gauge_share")


def calibrated(series: Series, hyper: Hyper, kind: IntArray) -> Hyper:
    """Choose years of wear, walk and tails by likelihood, and set variances so that as many tests lie inside as ought.

    Args: series, hyper; kind: (D,) drums of one kind share a factor. Returns: hyper unchanged for a small fleet.
    """
    trial = _part(series)
    if len(trial.drum) < ENOUGH_VALUES:
        return hyper
    low = replace(hyper, wear_part=hyper.wear_part * WEAR_PARTS[0])
    hyper = _best(trial, [replace(low, wear_variance=low.wear_variance * spread) for spread in WEAR_SPREADS], kind)
    hyper = _best(
        trial, [replace(hyper, wear_part=hyper.wear_part * part / WEAR_PARTS[0]) for part in WEAR_PARTS], kind
    )
    hyper = _best(trial, [replace(hyper, walk=np.full(len(kind), walk)) for walk in WALKS], kind)
    round_share, gauge_factor = common_movement(run_filter(trial, hyper), hyper)
    hyper = replace(hyper, round_share=round_share, gauge_factor=gauge_factor)
    tails = [replace(hyper, vessel_dof=hyper.vessel_dof * tail, drum_dof=hyper.drum_dof * tail) for tail in TAILS]
    return _best(trial, tails, kind)


def _best(trial: Series, ways: list[Hyper], kind: IntArray) -> Hyper:
    """For each kind of setting the likeliest of these, with its variances set."""
    tried = [_tried(trial, one, kind) for one in ways]
    choice = np.argmax([likelihood for likelihood, _ in tried], axis=0)[kind]
    every = np.arange(len(kind))
    chosen = {name: np.stack([getattr(one, name) for _, one in tried])[choice, every] for name in _CHOSEN}
    return replace(tried[0][1], **chosen)


def _part(series: Series) -> Series:
    vessels = np.unique(series.vessel)
    some = np.isin(series.vessel[series.drum], vessels[:: max(1, len(vessels) // TRIAL_VESSELS)])
    return replace(series, **{name: getattr(series, name)[some] for name in (*_PER_VALUE, *_PER_READING)})


def _seen(found: Filtered) -> tuple[FloatArray, FloatArray, FloatArray, IntArray]:
    use = np.flatnonzero((found.became != FIRST) & np.isfinite(found.scale))
    return found.off[use], found.dof[use], found.scale[use], use


def _tried(trial: Series, hyper: Hyper, kind: IntArray) -> tuple[FloatArray, Hyper]:
    """Likelihood, by kind, of the tests once variances are set, and the figures with those variances.

    Mean logarithm of the density of t; a few values are wrong, so the farthest count as not so far.
    """
    off, dof, scale, use = _seen(run_filter(trial, hyper))
    ratio = np.abs(off) / reach(dof, _INSIDE)
    factor = np.ones(len(hyper.variance))
    of_value = kind[trial.drum[use]]
    likelihood = np.zeros(int(kind.max(initial=0)) + 1)
    for one in np.unique(of_value):
        some = of_value == one
        if some.sum() < ENOUGH_VALUES:
            continue
        mine = float(np.clip(np.quantile(ratio[some], _INSIDE), 0.5, 2.0))
        factor[kind == one] = mine
        far, f = np.clip(off[some] / mine, -_FARTHEST, _FARTHEST), dof[some]
        shape = special.gammaln((f + 1) / 2) - special.gammaln(f / 2) - np.log(f) / 2
        density = shape - 0.5 * (f + 1) * np.log1p(far**2 / f) - np.log(scale[some] * mine)
        likelihood[one] = float(np.mean(density))
    return likelihood, replace(hyper, variance=hyper.variance * factor**2)
