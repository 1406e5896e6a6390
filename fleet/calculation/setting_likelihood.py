"""What one test's slips and holds say about the brake near its target: load at a mark, slope, setting for a load.

A slip is known to one stroke of the pump only (the load lies between this reading and the one before), a hold says "at
least": both go into the likelihood as what they are. Near the target the load is taken to grow in a straight line;
readings far from it count less, because a real brake bends. Tightness is the setting, turned so that more is tighter.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import log, sqrt

import numpy as np
from scipy import special

from fleet.calculation.checks import InputError, require_not_negative, require_positive
from fleet.calculation.units import FloatArray

COVERAGE = 0.95

_SLOPES = 61
_LOADS = 121
_PRIOR_REACH = 3.5
# What lies so many logarithms below the best cannot be seen in any figure; the grid closes in on the rest.
_LOGS_THAT_MATTER = 25.0
_MOST_PASSES = 5
# Two-sided 95 % of the normal distribution: what turns a factor either way into a standard deviation.
_TWO_SIDED = float(special.ndtri((1 + COVERAGE) / 2))


@dataclass(frozen=True, kw_only=True)
class SettingReading:
    """One application of the brake: its setting, and the load at first movement or the highest load held.

    Args: setting_si: m for a marker distance, else as the drum keeps its setting; load_n: N; slipped: False for a hold;
    stroke_n: what one stroke of the pump adds to the load, N; 0 where the load is read without steps.
    Raises: InputError.
    """

    setting_si: float
    load_n: float
    slipped: bool = True
    stroke_n: float = 0.0

    def __post_init__(self) -> None:
        require_positive(load_n=self.load_n)
        require_not_negative(stroke_n=self.stroke_n)
        if not np.isfinite(self.setting_si):
            raise InputError("setting_si", "must be a finite number")

    @property
    def at_least_n(self) -> float:
        """The load that the brake held for certain, N."""
        return max(0.0, self.load_n - self.stroke_n) if self.slipped else self.load_n

    @property
    def middle_n(self) -> float:
        """The middle of what a slip leaves open, N; for a hold, what was held."""
        return (self.at_least_n + self.load_n) / 2


@dataclass(frozen=True, kw_only=True)
class SlopePrior:
    """What is known of the slope before this test's own readings: lognormal, N per setting unit, always above zero.

    Args: slope_n_per_unit: as likely too low as too high; factor: 19 times in 20 the true slope lies between
    slope ÷ factor and slope × factor; assumed: True when it comes from no measurement. Raises: InputError.
    """

    slope_n_per_unit: float
    factor: float
    assumed: bool = False

    def __post_init__(self) -> None:
        require_positive(slope_n_per_unit=self.slope_n_per_unit)
        if not 1 < self.factor < float("inf"):
            raise InputError("factor", "must be a finite number above 1")


@dataclass(frozen=True, kw_only=True)
class Spread:
    """How far readings stray: slip_relative, standard deviation of a slip as a part of its load; hand_si, standard
    deviation of a setting as a hand finds it; bend, how much less a reading counts per load it lies from the target.
    """

    slip_relative: float
    hand_si: float
    bend: float

    def __post_init__(self) -> None:
        require_positive(slip_relative=self.slip_relative)
        require_not_negative(hand_si=self.hand_si, bend=self.bend)


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A median with its interval of COVERAGE."""

    estimate: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Posterior:
    """Slope and load at a reference tightness, weighed by prior and likelihood on a grid.

    ``slopes`` (N per unit) run down the grid, ``loads_n`` across it; ``weights`` add up to one.
    """

    reference: float
    slopes: FloatArray
    loads_n: FloatArray
    weights: FloatArray

    @cached_property
    def slope(self) -> Estimate:
        """Slope, N per setting unit towards tighter."""
        low, middle, high = _quantiles(self.slopes, self.weights.sum(axis=1), _INTERVAL)
        return Estimate(estimate=middle, low=low, high=high)

    def load_at(self, tightness: float) -> Estimate:
        """Load in N at which the brake should render at a tightness."""
        loads = self.loads_n[None, :] + self.slopes[:, None] * (tightness - self.reference)
        low, middle, high = _quantiles(loads.ravel(), self.weights.ravel(), _INTERVAL)
        return Estimate(estimate=middle, low=low, high=high)

    def tightness_for(self, load_n: float) -> Estimate:
        """Tightness at which the brake should render at a load in N."""
        low, middle, high = _quantiles(self._tightness(load_n), self.weights.ravel(), _INTERVAL)
        return Estimate(estimate=middle, low=low, high=high)

    def tightest_within(self, load_n: float, risk: float) -> float:
        """The tightness up to which the brake renders above a load in N with no more than this probability."""
        return _quantiles(self._tightness(load_n), self.weights.ravel(), (risk,))[0]

    def _tightness(self, load_n: float) -> FloatArray:
        return (self.reference + (load_n - self.loads_n[None, :]) / self.slopes[:, None]).ravel()


_INTERVAL = ((1 - COVERAGE) / 2, 0.5, (1 + COVERAGE) / 2)


def weigh(
    readings: Sequence[tuple[float, SettingReading]],
    *,
    prior: SlopePrior,
    spread: Spread,
    target_load_n: float,
    highest_load_n: float,
) -> Posterior:
    """Prior times likelihood of one test's readings.

    Args: readings: pairs of tightness and reading, at least one; prior: of the slope; the load at the reference is
    taken as equally likely anywhere below ``highest_load_n``, N. Raises: InputError.
    Source: likelihood of interval-censored and right-censored observations, normal scatter; Bayes' rule on a grid.

    >>> pairs = [(0.0, SettingReading(setting_si=0.0, load_n=200.0, stroke_n=10.0)),
    ...     (2.0, SettingReading(setting_si=2.0, load_n=260.0, stroke_n=10.0))]
    >>> found = weigh(pairs, prior=SlopePrior(slope_n_per_unit=20.0, factor=4.0),
    ...     spread=Spread(slip_relative=0.005, hand_si=0.0, bend=0.0), target_load_n=300.0, highest_load_n=400.0)
    >>> round(found.slope.estimate), round(found.tightness_for(300.0).estimate, 1)
    (30, 3.5)
    """
    if not readings:
        raise InputError("readings", "needs at least one")
    require_positive(target_load_n=target_load_n, highest_load_n=highest_load_n)
    # The slip nearest to the target is the reference; a hold serves where nothing slipped.
    reference, nearest = min(readings, key=lambda pair: (not pair[1].slipped, abs(pair[1].middle_n - target_load_n)))
    deviation = log(prior.factor) / _TWO_SIDED
    steps = np.linspace(-_PRIOR_REACH, _PRIOR_REACH, _SLOPES)
    loads_n = _loads_to_look_at(nearest, prior.slope_n_per_unit, spread, target_load_n, highest_load_n)
    for _ in range(_MOST_PASSES):
        slopes = prior.slope_n_per_unit * np.exp(deviation * steps)
        logs = np.broadcast_to(-(steps[:, None] ** 2) / 2, (_SLOPES, _LOADS)).copy()
        for tightness, reading in readings:
            expected_n = loads_n[None, :] + slopes[:, None] * (tightness - reference)
            scatter_n = np.sqrt(
                (spread.slip_relative * reading.load_n) ** 2
                + (slopes[:, None] * spread.hand_si) ** 2
                + (spread.bend * (reading.middle_n - target_load_n)) ** 2
            )
            logs += _log_likelihood(reading, expected_n, scatter_n)
        logs -= logs.max()
        finer_steps, finer_loads_n = _finer(steps, logs.max(axis=1)), _finer(loads_n, logs.max(axis=0))
        if finer_steps is None and finer_loads_n is None:
            break
        steps = steps if finer_steps is None else finer_steps
        loads_n = loads_n if finer_loads_n is None else finer_loads_n
    weights = np.exp(logs)
    return Posterior(reference=reference, slopes=slopes, loads_n=loads_n, weights=weights / weights.sum())


def _finer(grid: FloatArray, best_logs: FloatArray) -> FloatArray | None:
    """A grid over the part that still matters; None where that is most of it already."""
    matters = np.flatnonzero(best_logs > -_LOGS_THAT_MATTER)
    first, last = max(0, matters[0] - 2), min(len(grid) - 1, matters[-1] + 2)
    return None if last - first > len(grid) // 2 else np.linspace(grid[first], grid[last], len(grid))


def _loads_to_look_at(
    nearest: SettingReading, slope_n_per_unit: float, spread: Spread, target_load_n: float, highest_load_n: float
) -> FloatArray:
    reach_n = 5 * sqrt(
        (spread.slip_relative * nearest.load_n) ** 2
        + (slope_n_per_unit * spread.hand_si) ** 2
        + (spread.bend * (nearest.middle_n - target_load_n)) ** 2
    )
    low_n = max(0.0, nearest.at_least_n - reach_n)
    high_n = nearest.load_n + reach_n if nearest.slipped else max(highest_load_n, nearest.load_n + reach_n)
    return np.linspace(low_n, high_n, _LOADS)


def _log_likelihood(reading: SettingReading, expected_n: FloatArray, scatter_n: FloatArray) -> FloatArray:
    """Probability of what was seen, its logarithm: within the stroke for a slip, at or above for a hold."""
    below = (reading.at_least_n - expected_n) / scatter_n
    if not reading.slipped:
        return special.log_ndtr(-below)
    above = (reading.load_n - expected_n) / scatter_n
    if reading.stroke_n <= 1e-6 * reading.load_n:
        # So fine a step is none: the density in its place.
        return -(above**2) / 2 - np.log(scatter_n)
    # The mirror image keeps its digits in the upper tail.
    mirrored = below > 0
    first, second = np.where(mirrored, -below, above), np.where(mirrored, -above, below)
    larger = special.log_ndtr(first)
    return larger + np.log1p(-np.exp(np.minimum(special.log_ndtr(second) - larger, -1e-15)))


def _quantiles(values: FloatArray, weights: FloatArray, at: tuple[float, ...]) -> tuple[float, ...]:
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    reached -= weights[order] / 2
    return tuple(float(found) for found in np.interp(at, reached / weights.sum(), values[order]))
