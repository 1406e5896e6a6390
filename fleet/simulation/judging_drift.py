"""The drift analysis as it would have spoken at the time: year after year, each with what was on record by then."""

from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter

import numpy as np

from fleet.calculation import drift_results as codes
from fleet.calculation.drift import analyse
from fleet.calculation.drift_histories import BoolArray, Histories, IntArray
from fleet.calculation.drift_results import CODES, STATES, FleetDrift, Forecast, Predictions
from fleet.calculation.units import FloatArray
from fleet.simulation.fleet import VirtualFleet
from fleet.simulation.fleet_faults import Kind
from fleet.simulation.fleet_histories import histories_of, rows_of
from fleet.simulation.judging import Alarms

_OFF = (codes.OUTSIDE_PREDICTION, codes.STEP)
# Which codes name which kind of fault among the causes they give.
NAMES: dict[Kind, tuple[str, ...]] = {
    Kind.WET_BRAKE: (*_OFF, codes.AS_FOUND_UNEXPECTED),
    Kind.FAST_WEAR: (codes.WEAR_TOO_FAST, *_OFF, codes.LINING_UNEXPECTED),
    Kind.RELINED_UNRECORDED: (codes.LINING_GREW, *_OFF),
    Kind.FIGURES_COPIED: (codes.FIGURES_REPEATED, codes.TOO_GOOD),
    Kind.ONE_MARK: (codes.EQUAL_MARKS,),
    Kind.WRONG_UNIT: (codes.WRONG_UNIT,),
    Kind.UNIT_TWO_PERCENT: (codes.WRONG_UNIT, codes.GAUGE_STEP, codes.MOVED_TOGETHER),
    Kind.RADIUS_FOR_DIAMETER: (*_OFF, codes.AS_FOUND_UNEXPECTED),
    Kind.FLANGE_FOR_DRUM: (*_OFF, codes.AS_FOUND_UNEXPECTED),
    Kind.DRUMS_EXCHANGED: (codes.DRUMS_EXCHANGED,),
    Kind.GAUGE_DRIFTS: (codes.GAUGE_STEP, codes.MOVED_TOGETHER),
    Kind.GAUGE_OFF: (codes.GAUGE_STEP, codes.MOVED_TOGETHER),
    Kind.MARK_SHIFTED: _OFF,
    Kind.TOO_GOOD: (codes.TOO_GOOD, codes.FIGURES_REPEATED),
    Kind.WRONG_JACK_SIDE: (*_OFF, codes.AS_FOUND_UNEXPECTED),
}
PREDICTED = ("mean", "low", "high", "scale", "dof", "two_sided")


@dataclass(frozen=True, kw_only=True)
class Watched:
    """What the analysis said of every test in the year it came in, row by row as ``rows_of``.

    ``code_flagged`` (N, codes); ``first`` (N,): first test of its segment; ``mark_si`` (N,): the mark corrected to
    exactly the target; ``mark`` and ``as_found``: predictions; ``forecasts``: those given after each year, by its
    number of years; ``seconds``: of the last analysis, over all years.
    """

    code_flagged: BoolArray
    first: BoolArray
    mark_si: FloatArray
    mark: dict[str, FloatArray]
    as_found: dict[str, FloatArray]
    forecasts: dict[int, Forecast]
    seconds: float

    @property
    def alarms(self) -> Alarms:
        """Tests flagged as probably wrong; a state that was measured is no such flag."""
        said = np.array([code not in STATES for code in CODES])
        names = {kind: self._any_of(names) for kind, names in NAMES.items()}
        return Alarms(flagged=np.asarray(self.code_flagged[:, said].any(axis=1)), names=names)

    def false_by_code(self, good: BoolArray) -> dict[str, float]:
        """How many of 1,000 good tests each code struck; a test may be struck by several."""
        struck = self.code_flagged[good].sum(axis=0) / max(int(good.sum()), 1)
        return {code: float(1000 * part) for code, part in zip(CODES, struck, strict=True)}

    def _any_of(self, names: tuple[str, ...]) -> BoolArray:
        return np.asarray(self.code_flagged[:, [CODES.index(name) for name in names]].any(axis=1))


def watch(fleet: VirtualFleet, *, by: Callable[[Histories], FleetDrift] = analyse) -> Watched:
    """Let the analysis look at a fleet after each of its years.

    Args: fleet; by: the analysis. What it says later of an earlier test does not count: nobody could act on that.
    """
    year, _ = rows_of(fleet)
    tests = len(year)
    flagged, first = np.zeros((tests, len(CODES)), dtype=bool), np.zeros(tests, dtype=bool)
    mark_si = np.full(tests, np.nan)
    mark = {name: np.full(tests, np.nan) for name in PREDICTED}
    as_found = {name: np.full(tests, np.nan) for name in PREDICTED}
    forecasts: dict[int, Forecast] = {}
    seconds = 0.0
    for years in range(1, len(fleet.calendar.year) + 1):
        histories = histories_of(fleet, years=years)
        start = perf_counter()
        found = by(histories)
        seconds = perf_counter() - start
        then_year, _ = rows_of(fleet, years=years)
        newest, rows = np.flatnonzero(then_year == years - 1), np.flatnonzero(year == years - 1)
        flagged[rows] = _codes_of(found, histories.tests)[newest]
        first[rows] = found.tests.first_of_segment[newest]
        mark_si[rows] = found.tests.mark_for_target_si[newest]
        _keep(mark, found.tests.mark, rows, newest)
        _keep(as_found, found.tests.as_found, rows, newest)
        forecasts[years] = found.forecast
    return Watched(
        code_flagged=flagged,
        first=first,
        mark_si=mark_si,
        mark=mark,
        as_found=as_found,
        forecasts=forecasts,
        seconds=seconds,
    )


def _codes_of(found: FleetDrift, tests: int) -> BoolArray:
    flagged = np.zeros((tests, len(CODES)), dtype=bool)
    flagged[found.flags.test, found.flags.code] = True
    return flagged


def _keep(kept: dict[str, FloatArray], given: Predictions, rows: IntArray, newest: IntArray) -> None:
    for name in PREDICTED:
        kept[name][rows] = getattr(given, name)[newest]
