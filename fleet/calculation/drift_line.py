"""The straight line through one drum's tests, alone: least squares with its prediction interval."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from scipy import special

from fleet.calculation.checks import InputError
from fleet.calculation.units import FloatArray


@dataclass(frozen=True, kw_only=True)
class Line:
    """A fitted line: ``level`` at x = ``origin``, ``slope``, their standard deviations and correlation, and
    ``residual``, the standard deviation of one value about the line with ``dof`` degrees of freedom.
    """

    origin: float
    level: float
    slope: float
    level_standard: float
    slope_standard: float
    correlation: float
    residual: float
    dof: int

    def at(self, x: float) -> float:
        """The line at x."""
        return self.level + self.slope * (x - self.origin)

    def standard_at(self, x: float) -> float:
        """Standard deviation of the line at x."""
        away = x - self.origin
        both = 2 * away * self.correlation * self.level_standard * self.slope_standard
        return sqrt(self.level_standard**2 + both + (away * self.slope_standard) ** 2)

    def half_width_at(self, x: float, coverage: float) -> float:
        """Half the width of the interval in which one more value at x falls with this probability."""
        spread = sqrt(self.residual**2 + self.standard_at(x) ** 2)
        return float(special.stdtrit(self.dof, (1 + coverage) / 2)) * spread


def fit_line(x: FloatArray, y: FloatArray, *, origin: float = 0.0) -> Line:
    """Least squares line of y on x.

    Args: x, y: shape (n,), n at least 3, any units; origin: where the level is wanted.
    Raises: InputError. Source: any textbook; checked against NIST StRD "Norris" and JCGM 100:2008, H.3.

    >>> line = fit_line(np.array([0.0, 1.0, 2.0]), np.array([1.0, 3.1, 4.9]))
    >>> round(line.slope, 6), round(line.level, 6), line.dof
    (1.95, 1.05, 1)
    """
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if x.ndim != 1 or x.shape != y.shape or len(x) < 3:
        raise InputError("x", "and y must be of one length, three or more")
    if not (np.all(np.isfinite(x)) and np.all(np.isfinite(y))) or np.ptp(x) == 0:
        raise InputError("x", "and y must be finite, and x not all the same")
    # About the means, so that nothing is lost to large sums.
    x_mean, y_mean = x.mean(), y.mean()
    dx, dy = x - x_mean, y - y_mean
    sxx = float(dx @ dx)
    slope = float(dx @ dy) / sxx
    dof = len(x) - 2
    left = dy - slope * dx
    residual = sqrt(float(left @ left) / dof)
    away = origin - float(x_mean)
    slope_standard = residual / sqrt(sxx)
    level_standard = residual * sqrt(1 / len(x) + away**2 / sxx)
    return Line(
        origin=origin,
        level=float(y_mean) + slope * away,
        slope=slope,
        level_standard=level_standard,
        slope_standard=slope_standard,
        correlation=away / sxx / sqrt((1 / len(x) + away**2 / sxx) / sxx),
        residual=residual,
        dof=dof,
    )
