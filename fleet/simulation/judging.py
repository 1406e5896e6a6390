"""Holds what an analysis flagged in a virtual fleet against what was truly wrong there."""

from dataclasses import dataclass, field

import numpy as np

from fleet.calculation.checks import InputError
from fleet.calculation.drift_histories import BoolArray, IntArray
from fleet.calculation.units import FloatArray
from fleet.simulation.fleet import AFTER, FAULTY, GOOD, VirtualFleet
from fleet.simulation.fleet_faults import KINDS, Kind
from fleet.simulation.fleet_histories import rows_of


@dataclass(frozen=True, kw_only=True)
class Alarms:
    """What one way of looking flagged: ``flagged`` (N,), row by row as ``rows_of``; ``names``: where its flags name a
    kind of fault among their causes (N,); kinds it cannot name are left out.
    """

    flagged: BoolArray
    names: dict[Kind, BoolArray] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class KindScore:
    """How a kind of fault was found.

    ``number`` of faults (an act on several drums is one); parts of them flagged ``at_once``, at their first test;
    flagged ``ever``, by the test after the last one; what of that false flags alone would find, ``by_chance``;
    ``named`` rightly by then, NaN where nothing can name it;
    ``delay_y``: mean time from the first test to the first flag, of those flagged, NaN if none.
    """

    number: int
    at_once: float
    ever: float
    by_chance: float
    named: float
    delay_y: float


@dataclass(frozen=True, kw_only=True)
class Score:
    """False flags among good tests, and how each kind of fault was found."""

    good_tests: int
    false_flags: int
    kinds: dict[Kind, KindScore]

    @property
    def false_per_1000(self) -> float:
        """False flags per 1,000 good tests, at most one a test; NaN without good tests."""
        return 1000 * self.false_flags / self.good_tests if self.good_tests else float("nan")


@dataclass(frozen=True, kw_only=True)
class Acts:
    """What was one act, with the tests by which it must be found: rows of tests, sorted by act and then by time.

    ``act`` (M,) numbers from 0, ``test`` (M,) rows as ``rows_of``, ``first`` (M,) whether of the act's first year.
    """

    kind: IntArray
    act: IntArray
    test: IntArray
    first: BoolArray
    time_y: FloatArray
    onset_y: FloatArray


def acts_of(fleet: VirtualFleet) -> Acts:
    """Every act of a fleet with its tests: from a fault's first test to its last, and the one after it."""
    year, drum = rows_of(fleet)
    row_of = np.full(fleet.calendar.made.shape, -1)
    row_of[year, drum] = np.arange(len(year))
    faults = fleet.faults
    numbers = {key: place for place, key in enumerate(dict.fromkeys(zip(faults.kind, faults.act, strict=True)))}
    lines: list[tuple[int, int, bool]] = []
    for fault in range(len(faults.kind)):
        number = numbers[faults.kind[fault], faults.act[fault]]
        of_drum = fleet.condition[:, faults.drum[fault]]
        mine = np.flatnonzero((fleet.fault[:, faults.drum[fault]] == fault) & (of_drum == FAULTY))
        later = np.flatnonzero((fleet.fault[:, faults.drum[fault]] == fault) & (of_drum == AFTER))[:1]
        for place in np.concatenate([mine, later]):
            lines.append((number, int(row_of[place, faults.drum[fault]]), bool(place == faults.year[fault])))
    lines.sort(key=lambda line: (line[0], float(fleet.calendar.year[year[line[1]], drum[line[1]]])))
    act = np.array([line[0] for line in lines], dtype=np.int64)
    test = np.array([line[1] for line in lines], dtype=np.int64)
    time_y = fleet.calendar.year[year[test], drum[test]]
    onset_y = np.full(len(numbers), np.nan)
    onset_y[act[::-1]] = time_y[::-1]
    return Acts(
        kind=np.array([kind for kind, _ in numbers], dtype=np.int64),
        act=act,
        test=test,
        first=np.array([line[2] for line in lines], dtype=bool),
        time_y=time_y,
        onset_y=onset_y,
    )


def score(fleet: VirtualFleet, alarms: Alarms) -> Score:
    """Hold alarms against the truth.

    Args: fleet; alarms: for all its tests. Raises: InputError for another number of tests. A good test is one that no
    fault touches and that no longer shows the trace of one.
    """
    year, drum = rows_of(fleet)
    if alarms.flagged.shape != year.shape:
        raise InputError("flagged", f"must have the shape ({len(year)},)")
    good = fleet.condition[year, drum] == GOOD
    acts = acts_of(fleet)
    false = int((good & alarms.flagged).sum())
    part = false / float(good.sum()) if good.any() else 0.0
    kinds = {kind: _of_kind(acts, kind, alarms, part) for kind in KINDS}
    return Score(good_tests=int(good.sum()), false_flags=false, kinds=kinds)


def _of_kind(acts: Acts, kind: Kind, alarms: Alarms, false: float) -> KindScore:
    mine = np.flatnonzero(acts.kind == KINDS.index(kind))
    lines = np.isin(acts.act, mine)
    hit = lines & alarms.flagged[acts.test]
    ever, at_once = np.unique(acts.act[hit]), np.unique(acts.act[hit & acts.first])
    named = np.nan
    if kind in alarms.names and len(mine):
        named = len(np.unique(acts.act[hit & alarms.names[kind][acts.test]])) / len(mine)
    # The lines of an act stand in order of time, so the first hit is the earliest.
    _, earliest = np.unique(acts.act[hit], return_index=True)
    delay = acts.time_y[hit][earliest] - acts.onset_y[ever]
    number = len(mine)
    tests = np.bincount(acts.act[lines], minlength=len(acts.kind))[mine]
    return KindScore(
        number=number,
        at_once=len(at_once) / number if number else np.nan,
        ever=len(ever) / number if number else np.nan,
        by_chance=float(np.mean(1 - (1 - false) ** tests)) if number else np.nan,
        named=float(named),
        delay_y=float(delay.mean()) if len(ever) else np.nan,
    )
