"""A certificate's table of rising pairs, read by linear interpolation and never beyond its ends."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np

from fleet.calculation.checks import InputError
from fleet.calculation.units import FloatArray, N


class OutsideTable(ValueError):
    """A value that the table does not cover. ``low_si`` and ``high_si`` give the range that it does cover.

    ``is_below`` tells that (one of) the values lies under the range rather than over it.
    """

    def __init__(self, what: str, low_si: float, high_si: float, *, is_below: bool) -> None:
        super().__init__(
            f"{what} lies outside the table, which covers {low_si:g} to {high_si:g} (SI); not extrapolated"
        )
        self.what = what
        self.low_si = low_si
        self.high_si = high_si
        self.is_below = is_below


@dataclass(frozen=True, kw_only=True)
class RisingTable:
    """Pairs of which both sides rise, so that the table can be read either way.

    Args: xs, ys: SI values, at least two, finite, strictly rising, none below zero; x_name, y_name: for messages.
    Raises: InputError when the pairs are not so; OutsideTable when read beyond an end.
    Source: linear interpolation between neighbouring pairs.

    >>> table = RisingTable(xs=(10.0, 20.0), ys=(100.0, 300.0), x_name="reading", y_name="force")
    >>> table.y_at(15.0), table.x_at(150.0)
    (200.0, 12.5)
    >>> table.y_at(21.0)
    Traceback (most recent call last):
    fleet.calculation.tables.OutsideTable: reading lies outside the table, which covers 10 to 20 (SI); not extrapolated
    """

    xs: Sequence[float]
    ys: Sequence[float]
    x_name: str
    y_name: str

    def __post_init__(self) -> None:
        for name, column in ((self.x_name, self.xs), (self.y_name, self.ys)):
            values = np.asarray(column, dtype=float)
            if len(values) < 2 or len(values) != len(self.xs):
                raise InputError(name, "needs at least two points, each a pair")
            if not np.all(np.isfinite(values)) or values[0] < 0 or not np.all(np.diff(values) > 0):
                raise InputError(name, "must rise from point to point, from zero or more")

    def y_at(self, x: N) -> N:
        """The y that belongs to x, float or array."""
        return _read(self.xs, self.ys, x, self.x_name)

    def x_at(self, y: N) -> N:
        """The x that belongs to y, float or array."""
        return _read(self.ys, self.xs, y, self.y_name)

    def neighbours_of_y(self, y: float) -> tuple[tuple[float, float], tuple[float, float]]:
        """The two (x, y) pairs between which y is interpolated."""
        self.x_at(y)
        upper = min(max(int(np.searchsorted(self.ys, y)), 1), len(self.ys) - 1)
        return (self.xs[upper - 1], self.ys[upper - 1]), (self.xs[upper], self.ys[upper])


def _read(along: Sequence[float], across: Sequence[float], at: N, name: str) -> N:
    # Unit conversion may carry an end of the table one unit in the last place outside it: that is still the end.
    inside: FloatArray = np.asarray(at, dtype=float)
    for end in (along[0], along[-1]):
        inside = np.where(np.isclose(inside, end, rtol=1e-14, atol=0), end, inside)
    if not np.all((inside >= along[0]) & (inside <= along[-1])):
        raise OutsideTable(name, float(along[0]), float(along[-1]), is_below=bool(np.any(inside < along[0])))
    read = np.clip(np.interp(inside, along, across), across[0], across[-1])
    return cast(N, float(read) if np.ndim(at) == 0 else read)
