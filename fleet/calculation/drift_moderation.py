"""The scatter of one drum among others: its own squares so far, drawn towards its vessel's and the fleet's."""

from dataclasses import dataclass

import numpy as np
from scipy import special

from fleet.calculation.drift_histories import BoolArray, IntArray
from fleet.calculation.drift_student import reach
from fleet.calculation.units import FloatArray

_MOST_SQUARE = 9.0
_ENOUGH = 100
_INSIDE = 0.7


@dataclass(frozen=True, kw_only=True)
class Moderated:
    """Factor on the variance that was assumed, with its degrees of freedom: per row (n,) from strictly earlier rounds,
    and per drum (D,) from all of them.
    """

    factor: FloatArray
    dof: FloatArray
    now_factor: FloatArray
    now_dof: FloatArray


def moderated(
    off: FloatArray,
    known: BoolArray,
    *,
    drum: IntArray,
    vessel: IntArray,
    step: IntArray,
    vessel_dof: FloatArray,
    drum_dof: FloatArray,
) -> Moderated:
    """Factors on the variance of values that are off by so many assumed standard deviations.

    Args: off: (n,), in assumed standard deviations; known: False where a value is only "at least"; drum, step: (n,);
    vessel, vessel_dof, drum_dof: (D,); how alike vessels, and drums of a vessel, are.
    """
    # Half of all values lie in the middle half, whatever the few far ones do.
    usual = 1.0
    if known.sum() >= _ENOUGH:
        usual = float(np.clip(np.median(np.abs(off[known])) / special.ndtri(0.75), 0.3, 3.0))
        off = off / usual
    square = np.where(known, np.minimum(off**2, _MOST_SQUARE), 0.0)
    counts = known.astype(float)
    v = vessel[drum]
    of_vessel = vessel_dof[drum] + earlier(v, step, counts)
    vessel_factor = (vessel_dof[drum] + earlier(v, step, square)) / of_vessel
    borrowed = 1 / (1 / drum_dof[drum] + 1 / of_vessel)
    dof = borrowed + earlier(drum, step, counts)
    factor = (borrowed * vessel_factor + earlier(drum, step, square)) / dof
    vessels, drums = int(vessel.max(initial=-1)) + 1, len(vessel)
    all_vessel = vessel_dof + np.bincount(v, counts, vessels)[vessel]
    all_factor = (vessel_dof + np.bincount(v, square, vessels)[vessel]) / all_vessel
    now_borrowed = 1 / (1 / drum_dof + 1 / all_vessel)
    now_dof = now_borrowed + np.bincount(drum, counts, drums)
    now_factor = (now_borrowed * all_factor + np.bincount(drum, square, drums)) / now_dof
    scale = usual**2
    if known.sum() >= _ENOUGH:
        ratio = np.abs(off[known]) / np.sqrt(factor[known]) / reach(dof[known], _INSIDE)
        scale *= float(np.clip(np.quantile(ratio, _INSIDE), 0.3, 3.0)) ** 2
    return Moderated(factor=factor * scale, dof=dof, now_factor=now_factor * scale, now_dof=now_dof)


def earlier(group: IntArray, place: IntArray, values: FloatArray) -> FloatArray:
    """For each row the sum of the values of its group at strictly earlier places.

    >>> earlier(np.array([0, 0, 0, 1]), np.array([0, 1, 1, 5]), np.array([1.0, 2.0, 4.0, 8.0])).tolist()
    [0.0, 1.0, 1.0, 0.0]
    """
    if not len(group):
        return values
    order = np.lexsort((place, group))
    g, p = group[order], place[order]
    total = np.r_[0.0, np.cumsum(values[order])]
    new_group = np.r_[True, g[1:] != g[:-1]]
    new_place = new_group | np.r_[True, p[1:] != p[:-1]]
    of_group = np.flatnonzero(new_group)[np.cumsum(new_group) - 1]
    of_place = np.flatnonzero(new_place)[np.cumsum(new_place) - 1]
    found = np.empty(len(values))
    found[order] = total[of_place] - total[of_group]
    return found
