"""The limit of what can be seen: one who knows every parameter, and has only to choose between "this fault" and none.

For each fault, what it changed is known exactly, as the difference between the fleet and the same fleet with its faults
made harmless. What remains is chance: friction of the year, hand, readings, wear about its expected, a new gauge's
error. With normal chance the best test (Neyman and Pearson) is the likelihood ratio; at a false alarm rate a it finds
the fault with the probability Φ(d − z), d² = δᵀ Σ⁻¹ δ, Φ(z) = 1 − a. No analysis that must reckon with every kind of
fault, and learn its parameters from the records, can do better on the whole.
"""

from dataclasses import dataclass

import numpy as np
from scipy import special

from fleet.calculation.checks import InputError
from fleet.calculation.units import FloatArray
from fleet.simulation.fleet import VirtualFleet
from fleet.simulation.fleet_faults import KINDS, Kind
from fleet.simulation.fleet_histories import rows_of
from fleet.simulation.fleet_ranges import BY_KEY, TARGET_SHARE
from fleet.simulation.judging import acts_of

# The faults of the pen alone show by equal digits, to which a normal law does not speak.
WITHOUT_LIMIT = (Kind.FIGURES_COPIED, Kind.ONE_MARK, Kind.TOO_GOOD)


@dataclass(frozen=True, kw_only=True)
class Limit:
    """Mean probability with which the oracle finds the faults of a kind at their first test, and by the last."""

    at_once: float
    ever: float


@dataclass(frozen=True, kw_only=True)
class _Seen:
    """What one sees of each test, (years, drums): the mark for the target in share, the share as found, the lining."""

    mark: FloatArray
    found: FloatArray
    lining_m: FloatArray


def limits(fleet: VirtualFleet, harmless: VirtualFleet, *, false_part: float) -> dict[Kind, Limit]:
    """The oracle's recall for every kind to which it applies and that occurs.

    Args: fleet; harmless: the same with harmless faults; false_part: false alarms per good test, above 0 and below 1.
    Raises: InputError. Source: Neyman-Pearson lemma for a shift of known size in normal noise.
    """
    if not 0 < false_part < 1:
        raise InputError("false_part", "must lie between 0 and 1")
    if harmless.seed != fleet.seed or harmless.calendar.made.shape != fleet.calendar.made.shape:
        raise InputError("harmless", "must be the same fleet")
    z = float(special.ndtri(1 - false_part))
    seen, without = _seen(fleet, harmless), _seen(harmless, harmless)
    noise = _Noise(harmless)
    acts = acts_of(fleet)
    year, drum = rows_of(fleet)
    found: dict[Kind, list[tuple[float, float]]] = {}
    for number, kind in enumerate(acts.kind):
        if KINDS[kind] in WITHOUT_LIMIT:
            continue
        tests = acts.test[acts.act == number]
        first, whole = 0.0, 0.0
        for place, one in enumerate(np.unique(year[tests])):
            distance = noise.distance(int(one), drum[tests[year[tests] == one]], seen, without)
            first = distance if place == 0 else first
            whole += distance
        found.setdefault(KINDS[kind], []).append((first, whole))
    return {
        kind: Limit(
            at_once=float(np.mean(special.ndtr(np.sqrt([first for first, _ in pairs]) - z))),
            ever=float(np.mean(special.ndtr(np.sqrt([whole for _, whole in pairs]) - z))),
        )
        for kind, pairs in found.items()
    }


def _seen(fleet: VirtualFleet, harmless: VirtualFleet) -> _Seen:
    slope = harmless.truth["share_per_si"] * fleet.brakes.tighter_sign
    written = fleet.written
    return _Seen(
        mark=slope * written["mark_si"] + TARGET_SHARE - written["as_left_share"],
        found=written["as_found_share"],
        lining_m=written["lining_m"],
    )


class _Noise:
    """The chance in what one sees, as the ranges and the parameters of the drum have it."""

    def __init__(self, harmless: VirtualFleet) -> None:
        brakes, truth = harmless.brakes, harmless.truth
        usual = np.ones(len(harmless.vessel))
        per_friction = (brakes.stiffness_n(1.01 * usual) / brakes.stiffness_n(usual) - 1) / 0.01
        friction = (TARGET_SHARE * per_friction * harmless.ships.friction_of_years) ** 2
        worn_m = np.diff(truth["unrenewed_m"], axis=0, prepend=truth["unrenewed_m"][:1])
        per_loss = brakes.wears * brakes.wrap_rad * brakes.ratio * truth["share_per_si"]
        wear = (BY_KEY["wear_scatter"].low * np.maximum(worn_m, 0.0) * per_loss) ** 2
        one_slip = truth["reading_share"] ** 2 + (truth["hand_si"] * truth["share_per_si"]) ** 2
        # A tighter mark is needed by what the as-found share lacks, so friction and wear count in both, opposed.
        self.shared = friction + wear
        self.mark = self.shared + one_slip / 2
        creep = (TARGET_SHARE * BY_KEY["creep"].high) ** 2 / 12
        self.found = self.shared + one_slip + creep
        low, high = BY_KEY["lining_spread_m"].low, BY_KEY["lining_spread_m"].high
        self.lining = (low + harmless.calendar.care * (high - low)) ** 2
        number = harmless.gauges.number
        new = np.diff(number, axis=0, prepend=number[:1]) != 0
        of_class = TARGET_SHARE * harmless.gauges.limit_pa / harmless.ships.target_pa / np.sqrt(3)
        self.new_gauge = np.where(new, of_class, 0.0)

    def distance(self, year: int, drums: np.ndarray, seen: _Seen, without: _Seen) -> float:
        """d² of one act in one year: the shift it makes in all it touches, against the chance in that."""
        shift = np.concatenate([(seen.mark - without.mark)[year, drums], (seen.found - without.found)[year, drums]])
        count = len(drums)
        spread = np.diag(np.concatenate([self.mark[year, drums], self.found[year, drums]]))
        both = np.arange(count)
        spread[both, both + count] = spread[both + count, both] = -self.shared[year, drums]
        gauge = np.concatenate([-self.new_gauge[year, drums], self.new_gauge[year, drums]])
        spread = spread + np.outer(gauge, gauge)
        known = np.isfinite(shift)
        lining = (seen.lining_m - without.lining_m)[year, drums] ** 2 / self.lining[year, drums]
        if not known.any():
            return float(np.nansum(lining))
        part = np.linalg.solve(spread[np.ix_(known, known)], shift[known])
        return float(shift[known] @ part + np.nansum(lining))
