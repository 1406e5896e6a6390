"""Student's t for hundreds of thousands of values at once: quantiles by interpolation, normal scores by a formula."""

from functools import cache

import numpy as np
from scipy import special

from fleet.calculation.units import FloatArray

_POINTS = 400
_MOST = 8.0
"""Normal scores beyond this are all the same: too far."""


@cache
def _grid(inside: float) -> tuple[FloatArray, FloatArray]:
    inverse = np.linspace(0.0, 1.0, _POINTS)
    dof = 1 / np.maximum(inverse, 1e-9)
    return inverse, np.asarray(special.stdtrit(dof, (1 + inside) / 2))


def reach(dof: FloatArray, inside: float) -> FloatArray:
    """How many standard deviations either way hold a value with this probability.

    Args: dof: 1 or more, NaN counts as 1; inside: 0 to 1. Source: SciPy's quantile, interpolated in 1/dof.

    >>> round(float(reach(np.array(10.0), 0.95)), 3)
    2.228
    """
    inverse, values = _grid(inside)
    dof = np.where(np.isfinite(dof), np.maximum(dof, 1.0), 1.0)
    return np.asarray(np.interp(1 / dof, inverse, values))


def normal_score(off: FloatArray, dof: FloatArray) -> FloatArray:
    """The normal score as unlikely as a score of t; NaN stays NaN.

    Args: off: in standard deviations; dof: 1 or more. Source: D. L. Wallace, Annals of Mathematical Statistics 30
    (1959) 1124, from memory; checked against SciPy.

    >>> round(float(normal_score(np.array(2.228), np.array(10.0))), 2)
    1.96
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        size = np.sqrt(dof * np.log1p(off * off / dof)) * (8 * dof + 1) / (8 * dof + 3)
    return np.asarray(np.sign(off) * np.minimum(size, _MOST))


def chance(off: FloatArray, dof: FloatArray) -> FloatArray:
    """Chance of a value so far off either way. Args: as for ``normal_score``."""
    return np.asarray(2 * special.ndtr(-np.abs(normal_score(off, dof))))
