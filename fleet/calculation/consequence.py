"""How much it matters that a brake may lie outside its band: expected beyond each edge, as the operator weighs it.

Shares of the base load as fractions, standard uncertainties likewise; floats or arrays of any one shape.
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from fleet.calculation.checks import require_not_negative, require_positive
from fleet.calculation.units import Number


@dataclass(frozen=True, kw_only=True)
class Consequence:
    """Expected part of the share beyond each edge of the band (as fractions), and both as the operator weighs them."""

    too_tight: Number
    too_loose: Number
    weighted: Number


def expected_consequence(
    *, share: Number, standard_uncertainty: Number, lower: Number, upper: Number, tight_weight: Number
) -> Consequence:
    """What a brake is expected to lie outside its band by, above and below, when its share is normally distributed.

    Args: share: best estimate; standard_uncertainty: 0 takes the share as it is; lower, upper: the band;
    tight_weight: what too tight counts against too loose by the same amount (operator's setting; 2 by default, ours).
    Raises: InputError. Source: the partial expectation of a normal distribution, E[max(0, X − a)] =
    (μ − a)·Φ((μ − a)/σ) + σ·φ((μ − a)/σ).

    >>> found = expected_consequence(share=0.71, standard_uncertainty=0.0, lower=0.55, upper=0.65, tight_weight=2.0)
    >>> round(found.too_tight, 3), round(found.too_loose, 3), round(found.weighted, 3)
    (0.06, 0.0, 0.12)
    """
    require_not_negative(share=share, standard_uncertainty=standard_uncertainty, tight_weight=tight_weight)
    require_positive(lower=lower, width=np.subtract(upper, lower))
    tight = _beyond(np.subtract(share, upper), standard_uncertainty)
    loose = _beyond(np.subtract(lower, share), standard_uncertainty)
    return Consequence(too_tight=tight, too_loose=loose, weighted=tight * tight_weight + loose)


def _beyond(over: Number, deviation: Number) -> Number:
    """E[max(0, X)] of a normal X with this mean and standard deviation."""
    over, deviation = np.asarray(over, dtype=float), np.asarray(deviation, dtype=float)
    # Below a millionth of a point the draw is as good as certain, and the quotient would overflow.
    certain = deviation < 1e-8
    z = over / np.where(certain, 1.0, deviation)
    found = np.where(certain, np.maximum(over, 0.0), over * norm.cdf(z) + deviation * norm.pdf(z))
    return float(found) if found.ndim == 0 else found
