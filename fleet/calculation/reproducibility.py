"""How well a hand finds the mark again: what re-applied brakes rendered at against what they had been left at.

A thing of its own, never part of a measurement's uncertainty. It holds a year's wear and two measurements besides the
hand, so it rather says too much than too little.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from fleet.calculation.checks import InputError
from fleet.calculation.uncertainty import COVERAGE

# Two tests would say "within 4.3 times what was seen", which helps nobody: ours, common practice, no published source.
LEAST_TESTS = 3


@dataclass(frozen=True, kw_only=True)
class Reproducibility:
    """What a number of tests says of finding the mark again; shares of the base load as fractions.

    ``standard_deviation`` is about nought, its confidence interval ``spread_from`` to ``spread_to``. The next time the
    mark is found again, the load lies within ``half_width`` of where it was left, with the stated coverage.
    ``mean`` tells on which side they came out.
    """

    tests: int
    mean: float
    standard_deviation: float
    spread_from: float
    spread_to: float
    half_width: float
    coverage: float


def reproducibility(differences: Sequence[float], *, coverage: float = COVERAGE) -> Reproducibility | None:
    """From differences, found re-applied less left before, to how far off the next one is to be expected.

    Args:
        differences: one per test, shares of the base load as fractions, any sign; finite.
        coverage: fraction, above 0 and below 1.

    Returns None where there are fewer than LEAST_TESTS: too few to say. Raises: InputError.
    Source: normal differences about nought, n of them, give a variance with n degrees of freedom (the middle is not
    estimated); Student's t with n degrees of freedom for the next one, JCGM 100:2008, G.3.2; chi-square for the
    interval of the standard deviation, NIST/SEMATECH e-Handbook, 7.2.3.1 (there with n - 1, the middle estimated).

    >>> found = reproducibility([0.01, -0.02, 0.0, 0.02, -0.01])
    >>> found.tests, round(found.standard_deviation, 4), round(found.half_width, 4)
    (5, 0.0141, 0.0364)
    >>> reproducibility([0.01, -0.02]) is None
    True
    """
    values = np.asarray(differences, dtype=float)
    if values.ndim != 1 or not np.all(np.isfinite(values)):
        raise InputError("differences", "must be a list of finite numbers")
    if not 0 < coverage < 1:
        raise InputError("coverage", "must lie between 0 and 1")
    count = len(values)
    if count < LEAST_TESTS:
        return None
    sum_of_squares = float(np.sum(values**2))
    deviation = float(np.sqrt(sum_of_squares / count))
    tail = (1 - coverage) / 2
    return Reproducibility(
        tests=count,
        mean=float(np.mean(values)),
        standard_deviation=deviation,
        spread_from=float(np.sqrt(sum_of_squares / special.chdtri(count, tail))),
        spread_to=float(np.sqrt(sum_of_squares / special.chdtri(count, 1 - tail))),
        half_width=float(special.stdtrit(count, 1 - tail)) * deviation,
        coverage=coverage,
    )
