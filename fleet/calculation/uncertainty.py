"""How far a figure can be trusted: contributions combined as JCGM 100 (the GUM) says, and the chance of conformity.

Everything takes floats or arrays, so that a fleet's history is worked through in one call. The rows of a brake
rendering load's own budget are made in ``budget``.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import cos, inf, sin, sqrt
from typing import Any

import numpy as np
from scipy import special

from fleet.calculation.checks import InputError, require_not_negative
from fleet.calculation.units import FloatArray, Number

NORMAL = "normal"
RECTANGULAR = "rectangular"
ONE_SIDED = "one_sided"
COSINE = "cosine"
DISTRIBUTIONS = (NORMAL, RECTANGULAR, ONE_SIDED, COSINE)

RECTANGULAR_DIVISOR = sqrt(3.0)
COVERAGE = 0.95

# From here on Student's t is the normal distribution to four digits.
_MANY_DEGREES = 10_000


@dataclass(frozen=True, kw_only=True)
class Contribution:
    """One row of a budget.

    Args:
        standard_uncertainty: of the input, in the input's SI unit.
        sensitivity: change of the result per unit of the input.
        degrees_of_freedom: 1 or more; infinite for bounds taken as certain (JCGM 100, G.4.3).
        key, name: what the row is called, for programs and for people.
        distribution: one of DISTRIBUTIONS; half_width_si ÷ divisor is the standard uncertainty, where both are given.
        value_si: the input's own estimate.
        kind: of the standard uncertainty, see ``units.KINDS`` (``share`` for a relative one); value_kind and
            half_width_kind: of those figures, where they are of another kind.
        correction: already added to the result for a one-sided effect, in the result's unit.
        assumed: True for a figure that nobody measured or certified.

    Raises: InputError. Source: JCGM 100:2008, 4.3 and 5.1.

    >>> Contribution(standard_uncertainty=2.0, sensitivity=-3.0).contribution
    6.0
    """

    standard_uncertainty: Number
    sensitivity: Number = 1.0
    degrees_of_freedom: Number = inf
    key: str = ""
    name: str = ""
    distribution: str = NORMAL
    half_width_si: Number | None = None
    divisor: float | None = None
    value_si: Number | None = None
    kind: str = ""
    value_kind: str = ""
    half_width_kind: str = ""
    correction: Number = 0.0
    assumed: bool = False

    def __post_init__(self) -> None:
        require_not_negative(standard_uncertainty=self.standard_uncertainty)
        if not np.all(np.isfinite(self.sensitivity)):
            raise InputError("sensitivity", "must be a finite number")
        if not np.all(np.greater_equal(self.degrees_of_freedom, 1)):
            raise InputError("degrees_of_freedom", "must be 1 or more")

    @property
    def contribution(self) -> Number:
        """Standard uncertainty of the result from this row alone."""
        return _plain(np.abs(self.sensitivity) * self.standard_uncertainty)


@dataclass(frozen=True, kw_only=True)
class Combined:
    """A budget added up; the rows stand in the order given."""

    rows: tuple[Contribution, ...]
    standard_uncertainty: Number
    degrees_of_freedom: Number
    coverage: float
    coverage_factor: Number

    @property
    def expanded_uncertainty(self) -> Number:
        """Half-width of the interval that is to hold the true value with the stated coverage."""
        return self.coverage_factor * self.standard_uncertainty

    @property
    def correction(self) -> Number:
        """Sum of the rows' corrections, already in the result."""
        return sum((row.correction for row in self.rows), 0.0)

    @cached_property
    def shares(self) -> tuple[Number, ...]:
        """Each row's part of the variance, in the order of the rows; nothing of nothing is nought."""
        return tuple(_plain(_part(row.contribution, self.standard_uncertainty) ** 2) for row in self.rows)

    @property
    def longest_first(self) -> tuple[tuple[Contribution, float], ...]:
        """Rows with their shares, the largest first; for floats only."""
        pairs = [(row, float(share)) for row, share in zip(self.rows, self.shares, strict=True)]
        return tuple(sorted(pairs, key=lambda pair: -pair[1]))


def combine(
    contributions: Iterable[Contribution | Mapping[str, Any]],
    *,
    coverage: float = COVERAGE,
    correlations: Mapping[tuple[str, str], float] | None = None,
) -> Combined:
    """Combine contributions: standard uncertainty, effective degrees of freedom, coverage factor, expanded uncertainty.

    Args:
        contributions: rows, or mappings with the names of a row's fields (``standard_uncertainty`` is the only one
            needed); floats or arrays of one shape.
        coverage: fraction, above 0 and below 1.
        correlations: coefficient by pair of keys. Welch-Satterthwaite does not hold then (JCGM 100, G.4.1): the
            smallest degrees of freedom of any row stand in for it.

    Raises: InputError. Source: JCGM 100:2008, 5.1.2 (independent), 5.2.2 (correlated), G.4.1 (Welch-Satterthwaite,
    truncated to a whole number before Student's t is taken).

    >>> rows = [{"standard_uncertainty": 3.0, "degrees_of_freedom": 9}, Contribution(standard_uncertainty=4.0)]
    >>> total = combine(rows)
    >>> total.standard_uncertainty, round(total.degrees_of_freedom, 2), round(total.coverage_factor, 3), total.shares[0]
    (5.0, 69.44, 1.995, 0.36)
    """
    rows = tuple(row if isinstance(row, Contribution) else Contribution(**row) for row in contributions)
    if not rows:
        raise InputError("contributions", "must hold at least one row")
    variance: Number = 0.0
    for row in rows:
        variance = variance + row.contribution**2
    for (first, second), coefficient in (correlations or {}).items():
        variance = variance + 2 * coefficient * _signed(rows, first) * _signed(rows, second)
    combined = np.sqrt(np.maximum(variance, 0.0))
    if correlations:
        degrees = np.minimum.reduce([np.asarray(row.degrees_of_freedom, dtype=float) for row in rows])
    else:
        degrees = _effective_degrees(rows, combined)
    return Combined(
        rows=rows,
        standard_uncertainty=_plain(combined),
        degrees_of_freedom=_plain(degrees),
        coverage=coverage,
        coverage_factor=coverage_factor(_plain(degrees), coverage),
    )


def _signed(rows: tuple[Contribution, ...], key: str) -> Number:
    for row in rows:
        if row.key == key:
            return row.sensitivity * row.standard_uncertainty
    raise InputError("correlations", f"name a row that is not there: {key}")


def _part(contribution: Number, combined: Number) -> Number:
    return contribution / np.where(np.greater(combined, 0), combined, 1.0)


def _effective_degrees(rows: tuple[Contribution, ...], combined: Number) -> Number:
    inverse: Number = 0.0
    for row in rows:
        if np.ndim(row.degrees_of_freedom) or np.isfinite(row.degrees_of_freedom):
            squared = _part(row.contribution, combined) ** 2
            inverse = inverse + squared * squared / row.degrees_of_freedom
    if np.ndim(inverse) == 0:
        return 1.0 / float(inverse) if inverse > 0 else inf
    return np.divide(1.0, inverse, out=np.full(np.shape(inverse), inf), where=np.greater(inverse, 0))


def coverage_factor(degrees_of_freedom: Number, coverage: float = COVERAGE) -> Number:
    """Coverage factor k: two-sided Student's t, the degrees of freedom cut down to a whole number.

    Args: degrees_of_freedom: 1 or more, may be infinite; float or array; coverage: fraction. Raises: InputError.
    Source: JCGM 100:2008, G.3.4 and G.4.1; above 10 000 degrees the normal distribution.

    >>> round(coverage_factor(16.7, 0.99), 2), round(coverage_factor(inf), 4)
    (2.92, 1.96)
    """
    if not 0 < coverage < 1:
        raise InputError("coverage", "must lie above 0 and below 1")
    if not np.all(np.greater_equal(degrees_of_freedom, 1)):
        raise InputError("degrees_of_freedom", "must be 1 or more")
    tail = (1 + coverage) / 2
    # A hair above, so that five degrees, come out of a division as 4.999999999, are still five.
    whole = np.floor(np.minimum(degrees_of_freedom, _MANY_DEGREES) * (1 + 1e-9)).astype(int)
    if np.ndim(whole) == 0:
        return float(special.ndtri(tail) if whole >= _MANY_DEGREES else special.stdtrit(float(whole), tail))
    # Whole numbers repeat: one t per number serves a million rows.
    by_degrees: FloatArray = special.stdtrit(np.arange(1.0, min(int(np.max(whole)), _MANY_DEGREES) + 1), tail)
    if len(by_degrees) == _MANY_DEGREES:
        by_degrees[-1] = special.ndtri(tail)
    return by_degrees[whole - 1]


def probability_of_conformity(
    estimate: Number, standard_uncertainty: Number, lower: Number | None, upper: Number | None
) -> Number:
    """Probability that the true value lies between two limits, given an estimate and its standard uncertainty.

    Args: all in one unit; lower or upper: None where there is no such limit; standard_uncertainty: zero or more.
    Floats or arrays. Raises: InputError. Source: JCGM 106:2012, 7.2 to 7.4, normal distribution.

    >>> round(probability_of_conformity(-5.47, 0.05, None, -5.40), 5)
    0.91924
    """
    low: Number = -inf if lower is None else lower
    high: Number = inf if upper is None else upper
    require_not_negative(standard_uncertainty=standard_uncertainty)
    if not np.all(np.isfinite(estimate)):
        raise InputError("estimate", "must be a finite number")
    if not np.all(np.less(low, high)):
        raise InputError("lower", "must lie below upper")
    certain = np.equal(standard_uncertainty, 0)
    spread = np.where(certain, 1.0, standard_uncertainty)
    below, above = (low - estimate) / spread, (high - estimate) / spread
    # In the upper tail both values of the distribution are nearly one: take the mirror image instead.
    mirrored = np.greater(below, 0)
    inside = special.ndtr(np.where(mirrored, -below, above)) - special.ndtr(np.where(mirrored, -above, below))
    known = np.less_equal(low, estimate) & np.less_equal(estimate, high)
    return _plain(np.where(certain, known, inside))


def cosine_loss(angle_rad: float) -> tuple[float, float]:
    """Mean and standard deviation of the cosine of an angle that lies anywhere between ±angle_rad.

    Source: integrals of cos and cos² over a rectangular distribution; JCGM 100:2008, F.2.4.4 treats such a case.

    >>> kept, standard = cosine_loss(0.1)
    >>> round(1 - kept, 6), round(standard, 6)
    (0.001666, 0.00149)
    """
    if angle_rad < 0.05:
        # The exact form loses its digits here; what is left out is below one part in a million.
        squared = angle_rad**2
        return 1 - squared / 6 + squared**2 / 120, squared * sqrt((1 - squared / 7) / 45)
    kept = sin(angle_rad) / angle_rad
    return kept, sqrt(0.5 + sin(angle_rad) * cos(angle_rad) / (2 * angle_rad) - kept**2)


def _plain(value: Number) -> Number:
    return float(value) if np.ndim(value) == 0 else value
