"""What goes wrong in a virtual fleet: kinds of fault, where and when each begins, how large, how long it lasts."""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from fleet.calculation.drift_histories import BoolArray, IntArray
from fleet.calculation.units import FloatArray
from fleet.simulation.ranges import COMMON_PRACTICE, PUBLISHED


class Kind(StrEnum):
    """Kinds of fault that can be told apart by their truth."""

    WET_BRAKE = "wet_brake"
    FAST_WEAR = "fast_wear"
    RELINED_UNRECORDED = "relined_unrecorded"
    FIGURES_COPIED = "figures_copied"
    ONE_MARK = "one_mark"
    WRONG_UNIT = "wrong_unit"
    UNIT_TWO_PERCENT = "unit_two_percent"
    RADIUS_FOR_DIAMETER = "radius_for_diameter"
    FLANGE_FOR_DRUM = "flange_for_drum"
    DRUMS_EXCHANGED = "drums_exchanged"
    GAUGE_DRIFTS = "gauge_drifts"
    GAUGE_OFF = "gauge_off"
    MARK_SHIFTED = "mark_shifted"
    TOO_GOOD = "too_good"
    WRONG_JACK_SIDE = "wrong_jack_side"


class Injected(NamedTuple):
    """How a kind of fault is put into a fleet.

    ``low`` and ``high`` bound its size (``size_is`` says what that is), ``lasts`` is in tests, and so many ``after``
    still show its trace and count neither as good nor as faulty; TO_THE_END of the segment, of either. ``serious``: it
    could hurt somebody, so that it must be found.
    """

    low: float
    high: float
    size_is: str
    lasts: int
    after: int
    whole_vessel: bool
    serious: bool
    words: str
    reason: str
    status: str


TO_THE_END = -1

INJECTED: dict[Kind, Injected] = {
    Kind.WET_BRAKE: Injected(0.20, 0.70, "part of the load lost", 1, 1, False, True, "wet or oily brake",
        "MEG 7.5.5.1.2: holding down by up to 75 %; below 20 % is the usual scatter of damp", PUBLISHED),
    Kind.FAST_WEAR: Injected(3.0, 8.0, "times the usual wear", TO_THE_END, 0, False, True, "wear too fast",
        "a dragging band or a scored rim; our estimate", COMMON_PRACTICE),
    Kind.RELINED_UNRECORDED: Injected(0.0, 0.0, "nothing", 1, TO_THE_END, False, True, "lining renewed, unrecorded",
        "the wear so far decides how far the mark jumps", COMMON_PRACTICE),
    Kind.FIGURES_COPIED: Injected(0.0, 0.0, "nothing", 1, 1, False, True, "last year's figures copied",
        "every figure of the drum equal to last year's", COMMON_PRACTICE),
    Kind.ONE_MARK: Injected(0.0, 0.0, "nothing", 1, 1, True, True, "one mark for all drums",
        "one drum's mark written for the whole vessel", COMMON_PRACTICE),
    Kind.WRONG_UNIT: Injected(0.0, 3.0, "which of the factors", 1, 1, False, True, "wrong unit of pressure",
        "MPa as bar, bar as MPa, psi as bar, bar as psi, in what is typed", COMMON_PRACTICE),
    Kind.UNIT_TWO_PERCENT: Injected(1.02, 1.02, "load as believed over load", 1, 1, True, False, "kgf/cm² read as bar",
        "bar is 1.0197 kgf/cm², exact by definition: the whole round is set 2 % low", PUBLISHED),
    Kind.RADIUS_FOR_DIAMETER: Injected(1.80, 1.95, "load as believed over load", 1, 1, False, True,
        "radius for diameter", "(D + d) over (D/2 + d) at D = 10 to 20 d", PUBLISHED),
    Kind.FLANGE_FOR_DRUM: Injected(0.50, 0.65, "load as believed over load", 1, 1, False, True,
        "flange for drum diameter", "flanges are 1.6 to 2.1 times the barrel", COMMON_PRACTICE),
    Kind.DRUMS_EXCHANGED: Injected(0.0, 0.0, "nothing", 1, 1, False, True, "two drums exchanged",
        "two drums' figures written under each other's names", COMMON_PRACTICE),
    Kind.GAUGE_DRIFTS: Injected(0.02, 0.05, "of the reading, per year", 4, 1, True, False, "gauge drifting",
        "a tired spring; beyond what a class bounds within a year or two; our estimate", COMMON_PRACTICE),
    Kind.GAUGE_OFF: Injected(0.08, 0.20, "of the reading", 1, 1, True, True, "gauge exchanged for one that is off",
        "dropped, or past its date; renewed before the next round; our estimate", COMMON_PRACTICE),
    Kind.MARK_SHIFTED: Injected(4e-3, 15e-3, "m", 1, TO_THE_END, False, True, "mark shifted",
        "a hose clip slipped, a pointer bent; smaller is within hand and rule; our estimate", COMMON_PRACTICE),
    Kind.TOO_GOOD: Injected(0.0, 0.0, "nothing", 4, 1, False, True, "readings too good to be true",
        "the aim written as reached, to the digit, at an unmoved mark, four years running", COMMON_PRACTICE),
    Kind.WRONG_JACK_SIDE: Injected(0.0, 0.0, "nothing", 1, 1, False, True, "jack on the wrong side after relining",
        "the band grips the other way: the brake seems weaker and is overtightened", PUBLISHED),
}  # fmt: skip

UNIT_FACTORS = (10.0, 0.1, 14.503773773, 1 / 14.503773773)  # NIST SP 811, Appendix B
MARKER_ONLY = {Kind.FAST_WEAR, Kind.RELINED_UNRECORDED, Kind.ONE_MARK, Kind.MARK_SHIFTED, Kind.WRONG_JACK_SIDE}
EARLIER_TESTS = 2
DRUM_CHANCE = 0.30
VESSEL_CHANCE = 0.30
LEAST_WEAR_TO_NOTICE_M = 0.5e-3


@dataclass(frozen=True, kw_only=True)
class Faults:
    """Every fault of a fleet, one row each, by drum; a fault of a whole vessel has a row for each drum it touches.

    ``kind`` holds places in ``tuple(Kind)``; ``year`` and ``until`` are the first test's year and the one after the
    last; ``partner`` is the drum exchanged with, or whose mark was written for all, else −1; ``act`` is one number for
    what was one act (a vessel's gauge, a pair).
    """

    kind: IntArray
    drum: IntArray
    year: IntArray
    until: IntArray
    size: FloatArray
    partner: IntArray
    act: IntArray

    def of(self, kind: Kind) -> IntArray:
        """Rows of one kind."""
        return np.flatnonzero(self.kind == KINDS.index(kind))


KINDS = tuple(Kind)


@dataclass(frozen=True, kw_only=True)
class Ground:
    """What the choice of faults needs to know of a fleet: arrays over drums; ``made`` is (years, drums)."""

    vessel: IntArray
    made: BoolArray
    is_marker: BoolArray
    on_first_gauge: BoolArray
    wear_at_start_m: FloatArray


def draw_faults(ground: Ground, rng: np.random.Generator) -> Faults:
    """Choose faults: three vessels in ten have one that touches all their drums, of the other drums three in ten one.

    Each begins from a drum's third test on at the earliest, since nothing can depart from a history that is not there.
    A kind that needs a marker distance, or some wear, is drawn only for drums that have it.
    """
    rows: list[_Row] = []
    for vessel in range(int(ground.vessel.max()) + 1):
        drums = np.flatnonzero(ground.vessel == vessel)
        of_vessel, of_drums = rng.random(4), rng.random((len(drums), 4))
        onsets = np.flatnonzero(ground.made[:, drums[0]])[EARLIER_TESTS:]
        if not len(onsets):
            continue
        if of_vessel[0] < VESSEL_CHANCE:
            rows += _of_a_vessel(ground, drums, onsets, of_vessel, act=int(drums[0]))
        else:
            rows += _of_drums(ground, drums, onsets, of_drums)
    columns = list(zip(*sorted(rows, key=lambda row: (row[1], row[2])), strict=True)) or [()] * 7
    kinds, drum_column, year_column, until, sizes, partners, acts = columns
    return Faults(
        kind=np.array(kinds, dtype=np.int64),
        drum=np.array(drum_column, dtype=np.int64),
        year=np.array(year_column, dtype=np.int64),
        until=np.array(until, dtype=np.int64),
        size=np.array(sizes, dtype=np.float64),
        partner=np.array(partners, dtype=np.int64),
        act=np.array(acts, dtype=np.int64),
    )


def no_faults() -> Faults:
    """A fleet in which all is as it says."""
    whole, real = np.array([], dtype=np.int64), np.array([], dtype=np.float64)
    return Faults(kind=whole, drum=whole, year=whole, until=whole, size=real, partner=whole, act=whole)


_Row = tuple[int, int, int, int, float, int, int]


def _of_a_vessel(ground: Ground, drums: IntArray, onsets: IntArray, chances: FloatArray, *, act: int) -> list[_Row]:
    _, which, when, size = chances
    kind = _pick([kind for kind in _kinds(True) if ground.is_marker[drums[0]] or kind not in MARKER_ONLY], which)
    year = int(onsets[int(when * len(onsets))])
    amount = _size(kind, (size * 2) % 1)
    if kind in (Kind.GAUGE_DRIFTS, Kind.GAUGE_OFF):
        drums = drums[ground.on_first_gauge[drums]]
        amount = amount if size < 0.5 else -amount
    partner = -1
    if kind == Kind.ONE_MARK:
        partner, drums = int(drums[0]), drums[1:]
    return [_row(kind, int(drum), year, len(ground.made), amount, partner, act) for drum in drums]


def _of_drums(ground: Ground, drums: IntArray, onsets: IntArray, chances: FloatArray) -> list[_Row]:
    rows: list[_Row] = []
    spoken_for = {int(drum) for drum, chance in zip(drums, chances[:, 0], strict=True) if chance < DRUM_CHANCE}
    for drum, (lucky, which, when, size) in zip(drums.tolist(), chances.tolist(), strict=True):
        if lucky >= DRUM_CHANCE:
            continue
        kind = _pick(_possible(ground, drum), which)
        year = int(onsets[int(when * len(onsets))])
        amount = _size(kind, size)
        partner = -1
        if kind == Kind.DRUMS_EXCHANGED:
            free = [other for other in drums.tolist() if other not in spoken_for]
            if not free:
                continue
            partner = free[0]
            spoken_for.add(partner)
            rows.append(_row(kind, partner, year, len(ground.made), 0.0, drum, drum))
        if kind == Kind.MARK_SHIFTED and lucky < DRUM_CHANCE / 2:
            amount = -amount
        rows.append(_row(kind, drum, year, len(ground.made), amount, partner, drum))
    return rows


def _kinds(whole_vessel: bool) -> list[Kind]:
    return [kind for kind in Kind if INJECTED[kind].whole_vessel == whole_vessel]


def _possible(ground: Ground, drum: int) -> list[Kind]:
    kinds = [kind for kind in _kinds(False) if ground.is_marker[drum] or kind not in MARKER_ONLY]
    if ground.wear_at_start_m[drum] < LEAST_WEAR_TO_NOTICE_M:
        kinds = [kind for kind in kinds if kind != Kind.RELINED_UNRECORDED]
    return kinds


def _pick(kinds: list[Kind], chance: float) -> Kind:
    return kinds[int(chance * len(kinds))]


def _size(kind: Kind, chance: float) -> float:
    injected = INJECTED[kind]
    if kind == Kind.WRONG_UNIT:
        return float(int(chance * len(UNIT_FACTORS)))
    return injected.low + chance * (injected.high - injected.low)


def _row(kind: Kind, drum: int, year: int, years: int, size: float, partner: int, act: int) -> _Row:
    lasts = INJECTED[kind].lasts
    return KINDS.index(kind), drum, year, years if lasts == TO_THE_END else min(years, year + lasts), size, partner, act
