"""What the filter is given and what it gives back: a series of the whole fleet, and the fleet's figures."""

from dataclasses import dataclass

import numpy as np
from scipy import special

from fleet.calculation.drift_histories import BoolArray, IntArray
from fleet.calculation.units import FloatArray

FIRST, WITHIN, BROKEN, MOVED = range(4)
"""What a test turned out to be: nothing to compare with; on its line; off it; on the line that the last one began."""

GATE = 0.002
"""Chance below which a good test does not break its line; so few are flagged wrongly that a person still looks."""
_GATES = special.stdtrit(np.arange(1, 202), 1 - GATE / 2)


@dataclass(frozen=True, kw_only=True)
class Series:
    """Values in order of wear, each (n,): ``drum``, ``step`` (place in the vessel's time), ``wear_time``, ``value``
    (growing with wear), ``noise`` (relative variance of one value, 1 for usual), ``starts`` (see Prepared),
    ``bedding``, ``jump`` and ``jump_variance`` (expected at the start of a segment, NaN where nothing is expected),
    ``per_share`` (value per share of load; 0 where gauges do not enter), ``gauge`` and ``gauge_share``. ``vessel`` (D).
    """

    drum: IntArray
    step: IntArray
    wear_time: FloatArray
    value: FloatArray
    noise: FloatArray
    starts: IntArray
    bedding: FloatArray
    jump: FloatArray
    jump_variance: FloatArray
    per_share: FloatArray
    gauge: IntArray
    gauge_share: FloatArray
    vessel: IntArray


@dataclass(frozen=True, kw_only=True)
class Hyper:
    """What the fleet says of a drum of which nothing is known yet.

    Per drum (D): ``wear`` and ``wear_variance`` of its group; ``variance`` of one value; ``wear_part``, relative
    variance of one year's wear; ``bedding`` and ``bedding_variance``; ``vessel_dof`` and ``drum_dof``, how alike
    vessels, and drums of a vessel, are in scatter; ``walk``, part of the variance that a year of wear adds to the line
    itself. For all: ``round_share``, standard deviation of what a round's tests have in common; ``gauge_factor`` on the
    stated uncertainty of gauges; ``together``, how many standard deviations of common movement call for a flag, and
    ``together_new_gauge`` with a gauge that is new to the drums.
    """

    wear: FloatArray
    wear_variance: FloatArray
    variance: FloatArray
    bedding: FloatArray
    bedding_variance: FloatArray
    vessel_dof: FloatArray
    drum_dof: FloatArray
    walk: FloatArray
    wear_part: FloatArray
    round_share: float
    gauge_factor: float
    together: float = 5.0
    together_new_gauge: float = 2.9


@dataclass(frozen=True, kw_only=True)
class Filtered:
    """Per value (n,): ``mean``, ``scale``, ``dof`` of the prediction; ``off``: value less mean, over scale; ``became``
    (FIRST … MOVED); ``wear`` and ``wear_standard`` before the value; ``borrowed``; ``after_break``: the value before
    broke the line; ``shift_share``: taken off for the gauge; ``together``: common movement in standard deviations;
    ``gauge_changed``; ``corrected``: value without the shift;
    ``wear_after``, ``wear_standard_after``: with the value taken in; ``squares``, ``number``: of what the drum's values
    so far were off by, in its fleet's variance of one value;
    of the common movement (share²): ``common_variance`` by chance, NaN where there is none, ``gauge_variance`` expected
    of another gauge, ``wear_variance`` of wear that all share. Per drum, after its last value: ``level`` at
    ``last_time``, covariance ``level_level``, ``level_wear``, ``wear_wear``, ``now_wear``, ``now_variance``,
    ``now_dof``, ``now_borrowed``, ``scatter_borrowed``, ``waiting`` (its last value broke the line),
    ``seen``, and ``gauge_share``, taken off its newest values for the gauge.
    """

    mean: FloatArray
    scale: FloatArray
    dof: FloatArray
    off: FloatArray
    became: IntArray
    wear: FloatArray
    wear_standard: FloatArray
    borrowed: FloatArray
    after_break: BoolArray
    shift_share: FloatArray
    together: FloatArray
    gauge_changed: BoolArray
    corrected: FloatArray
    wear_after: FloatArray
    wear_standard_after: FloatArray
    squares: FloatArray
    number: FloatArray
    common_variance: FloatArray
    gauge_variance: FloatArray
    wear_variance: FloatArray
    level: FloatArray
    last_time: FloatArray
    level_level: FloatArray
    level_wear: FloatArray
    wear_wear: FloatArray
    now_wear: FloatArray
    now_variance: FloatArray
    now_dof: FloatArray
    now_borrowed: FloatArray
    scatter_borrowed: FloatArray
    waiting: BoolArray
    seen: BoolArray
    gauge_share: FloatArray


def gates(dof: FloatArray) -> FloatArray:
    """How many standard deviations break the line, by degrees of freedom, shape of dof."""
    return _GATES[np.clip(dof, 1, 200).astype(np.int64) - 1]
