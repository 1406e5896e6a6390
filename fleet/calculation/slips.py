"""How far slips of one setting lie apart, from this test, from earlier tests and from the fleet. Pa, N for a cell."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, inf, sqrt

from fleet.calculation.assumptions import Assumptions
from fleet.calculation.checks import InputError, require_not_negative, require_positive


@dataclass(frozen=True, kw_only=True)
class SlipSpread:
    """Standard deviation of a single slip's reading, in the reading's SI unit, and what it is worth.

    ``slips`` is how many slips the load was taken from as their mean. Raises: InputError.
    """

    standard_deviation_si: float
    degrees_of_freedom: float
    slips: int = 1
    assumed: bool = False

    def __post_init__(self) -> None:
        require_not_negative(standard_deviation_si=self.standard_deviation_si)
        if not 1 <= self.degrees_of_freedom <= inf or self.slips < 1:
            raise InputError("degrees_of_freedom", "and slips must be 1 or more")


def slip_spread(
    readings_si: Sequence[float],
    *,
    earlier: SlipSpread | None = None,
    assumptions: Assumptions | None = None,
) -> SlipSpread:
    """Pool the spread of this test's slips with what was known before: the drum's and the fleet's, or an assumption.

    Two readings alone give no spread worth the name: two equal ones would give none at all, and Student's t with one
    degree of freedom is 12.7. So there is always a part from before.

    Args: readings_si: this test's slips, at least one, Pa (N for a cell); earlier: from earlier tests of the drum
    and of the fleet, see ``earlier_spread``; without it the assumption stands in, and shows as assumed.
    Raises: InputError. Source: pooled variance, JCGM 100:2008, 4.2.4.

    >>> spread = slip_spread([173e5, 173e5])
    >>> round(spread.standard_deviation_si / 1e5, 2), spread.degrees_of_freedom, spread.slips, spread.assumed
    (3.26, 9.0, 2, True)
    """
    if not readings_si:
        raise InputError("readings_si", "needs at least one slip")
    require_positive(**{f"slip_{number}": reading for number, reading in enumerate(readings_si, start=1)})
    mean_si = fsum(readings_si) / len(readings_si)
    if earlier is None:
        ours = assumptions or Assumptions()
        earlier = SlipSpread(
            standard_deviation_si=ours.slip_spread_relative * mean_si,
            degrees_of_freedom=ours.slip_spread_degrees,
            assumed=True,
        )
    own = len(readings_si) - 1
    degrees = earlier.degrees_of_freedom + own
    squares = fsum((reading - mean_si) ** 2 for reading in readings_si)
    if degrees == inf:
        variance = earlier.standard_deviation_si**2
    else:
        variance = (earlier.degrees_of_freedom * earlier.standard_deviation_si**2 + squares) / degrees
    return SlipSpread(
        standard_deviation_si=sqrt(variance),
        degrees_of_freedom=degrees,
        slips=len(readings_si),
        assumed=earlier.assumed,
    )


def earlier_spread(
    tests: Sequence[Sequence[float]], *, at_si: float, assumptions: Assumptions | None = None
) -> SlipSpread:
    """Spread of one slip at a level of reading, pooled over earlier tests of the drum and of the fleet.

    Spread grows with the load, so it is pooled as a fraction of each test's own mean. As long as all tests together
    are worth less than the assumption, the assumption is pooled in, and the result shows as assumed.

    Args: tests: the slips of each test at one setting (a single slip says nothing); at_si: the level wanted.
    Raises: InputError. Source: pooled variance, JCGM 100:2008, 4.2.4; proportional spread is common practice, no
    published source.

    >>> spread = earlier_spread([(170e5, 174e5), (150e5, 147e5)] * 5, at_si=173e5)
    >>> round(spread.standard_deviation_si / 1e5, 2), spread.degrees_of_freedom, spread.assumed
    (2.66, 10.0, False)
    """
    require_positive(at_si=at_si)
    ours = assumptions or Assumptions()
    squares, degrees = 0.0, 0.0
    for number, slips in enumerate(tests, start=1):
        if len(slips) < 2:
            continue
        require_positive(**{f"slips_of_test_{number}": min(slips)})
        mean_si = fsum(slips) / len(slips)
        squares += fsum((slip / mean_si - 1) ** 2 for slip in slips)
        degrees += len(slips) - 1
    is_assumed = degrees < ours.slip_spread_degrees
    if is_assumed:
        squares += ours.slip_spread_degrees * ours.slip_spread_relative**2
        degrees += ours.slip_spread_degrees
    return SlipSpread(
        standard_deviation_si=sqrt(squares / degrees) * at_si, degrees_of_freedom=degrees, assumed=is_assumed
    )
