"""Control charts for one series of values: the individuals chart and the tabular cumulative sum."""

from dataclasses import dataclass

import numpy as np

from fleet.calculation.checks import InputError, require_not_negative, require_positive
from fleet.calculation.drift_histories import BoolArray
from fleet.calculation.units import FloatArray

RANGE_OF_TWO = 1.128
"""Mean range of two normal values, in standard deviations (factor d2, n = 2; NIST/SEMATECH e-Handbook 6.3.2.2)."""


@dataclass(frozen=True, kw_only=True)
class IndividualsLimits:
    """Centre and limits of an individuals chart, each of the shape of the series without its last axis."""

    mean: FloatArray
    moving_range: FloatArray
    lower: FloatArray
    upper: FloatArray


def individuals_limits(values: FloatArray, *, sigmas: float = 3.0) -> IndividualsLimits:
    """Limits of the individuals chart from the mean moving range; NaN values are left out.

    Args: values: shape (..., n), n at least 2, in order of time; sigmas: how many standard deviations from the mean.
    Returns: limits of shape (...); NaN where fewer than two neighbouring values are known.
    Raises: InputError. Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.

    >>> limits = individuals_limits(np.array([10.0, 12.0, 11.0]))
    >>> round(float(limits.lower), 3), round(float(limits.upper), 3)
    (7.011, 14.989)
    """
    values = np.asarray(values, dtype=float)
    if values.ndim < 1 or values.shape[-1] < 2:
        raise InputError("values", "must be two or more")
    require_positive(sigmas=sigmas)
    mean = _mean(values)
    moving_range = _mean(np.abs(np.diff(values, axis=-1)))
    half = sigmas * moving_range / RANGE_OF_TWO
    return IndividualsLimits(mean=mean, moving_range=moving_range, lower=mean - half, upper=mean + half)


def _mean(values: FloatArray) -> FloatArray:
    known = np.isfinite(values)
    number = known.sum(axis=-1)
    with np.errstate(invalid="ignore"):
        return np.asarray(np.where(known, values, 0.0).sum(axis=-1) / np.where(number > 0, number, np.nan))


@dataclass(frozen=True, kw_only=True)
class Cusum:
    """Tabular cumulative sums above and below the target, and where either passes the decision limit."""

    high: FloatArray
    low: FloatArray
    signal: BoolArray


def cusum(values: FloatArray, *, target: float, slack: float, limit: float) -> Cusum:
    """Tabular cumulative sum of a series; a NaN value leaves the sums as they stand.

    Args: values: shape (..., n) in order of time; target: where the mean should be; slack: what is let pass of each
    deviation (k); limit: the sum at which it signals (h). Returns: arrays of the shape of values.
    Raises: InputError. Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3.

    >>> [float(sum_) for sum_ in cusum(np.array([1.0, 2.0, 2.0]), target=0.0, slack=0.5, limit=3.0).high]
    [0.5, 2.0, 3.5]
    """
    values = np.asarray(values, dtype=float)
    if values.ndim < 1:
        raise InputError("values", "must be an array")
    require_not_negative(slack=slack)
    require_positive(limit=limit)
    off = np.where(np.isfinite(values), values - target, np.nan)
    high, low = np.zeros_like(off), np.zeros_like(off)
    above = below = np.zeros(values.shape[:-1])
    for i in range(values.shape[-1]):
        known = np.isfinite(off[..., i])
        above = np.where(known, np.maximum(0.0, above + off[..., i] - slack), above)
        below = np.where(known, np.maximum(0.0, below - off[..., i] - slack), below)
        high[..., i], low[..., i] = above, below
    return Cusum(high=high, low=low, signal=(high > limit) | (low > limit))
