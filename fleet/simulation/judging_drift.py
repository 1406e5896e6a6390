"""The drift analysis as it would have spoken at the time: year after year, each with what was on record by then."""

from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter

import numpy as np

from fleet.calculation import drift_results as codes
from fleet.calculation.drift import analyse
from fleet.calculation.drift_histories import BoolArray, Histories, IntArray
from fleet.calculation.drift_results import CODES, STATES, FleetDrift, Forecast, Predictions
from fleet.calculation.drift_words import STRONGER, TIGHTER, WORDS
from fleet.calculation.units import FloatArray
from fleet.simulation.fleet import VirtualFleet
from fleet.simulation.fleet_faults import Kind
from fleet.simulation.fleet_histories import histories_of, rows_of
from fleet.simulation.judging import Alarms

# By which words among a flag's causes a kind of fault is named.
PHRASES: dict[Kind, tuple[str, ...]] = {
    Kind.WET_BRAKE: ("wet, oily or rusty",),
    Kind.FAST_WEAR: ("wears much faster", "the band drags"),
    Kind.RELINED_UNRECORDED: ("the lining was renewed and nobody recorded it",),
    Kind.FIGURES_COPIED: ("figures were copied",),
    Kind.ONE_MARK: ("one drum's mark was written down for all",),
    Kind.WRONG_UNIT: ("in another unit", "the gauge's unit is recorded wrongly"),
    Kind.UNIT_TWO_PERCENT: ("in kgf/cm² were taken for bar",),
    Kind.RADIUS_FOR_DIAMETER: ("a radius was entered for a diameter", "a diameter or lever arm was entered wrongly"),
    Kind.FLANGE_FOR_DRUM: ("a diameter or lever arm was entered wrongly", "another diameter or lever arm is wrong"),
    Kind.DRUMS_EXCHANGED: ("under each other's names", "the figure belongs to another drum"),
    Kind.GAUGE_DRIFTS: ("the gauge has drifted",),
    Kind.GAUGE_OFF: ("or the one before it, reads wrongly",),
    Kind.MARK_SHIFTED: ("its pointer or clamp has moved",),
    Kind.TOO_GOOD: ("the target was written down", "the figures were worked out at a desk"),
    Kind.WRONG_JACK_SIDE: ("the jack pushed against the direction",),
}
# How the words of a flag that has two sides call the side above what was expected.
ABOVE = (TIGHTER, STRONGER)
RATIOS = (codes.SLOPE_UNEXPECTED,)
PREDICTED = ("mean", "low", "high", "scale", "dof", "two_sided")


@dataclass(frozen=True, kw_only=True)
class Watched:
    """What the analysis said of every test in the year it came in, row by row as ``rows_of``.

    ``code_flagged`` (N, codes), and ``above`` (N, codes): whether that flag stands above what was expected; ``first``
    (N,): first test of its segment; ``mark_si`` (N,): the mark corrected to exactly the target; ``mark`` and
    ``as_found``: predictions; ``forecasts``: those given after each year, by its number of years; ``seconds``: of the
    last analysis, over all years.
    """

    code_flagged: BoolArray
    above: BoolArray
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
        names = {kind: self._naming(kind) for kind in Kind}
        return Alarms(flagged=np.asarray(self.code_flagged[:, said].any(axis=1)), names=names)

    def false_by_code(self, good: BoolArray) -> dict[str, float]:
        """How many of 1,000 good tests each code struck; a test may be struck by several."""
        struck = self.code_flagged[good].sum(axis=0) / max(int(good.sum()), 1)
        return {code: float(1000 * part) for code, part in zip(CODES, struck, strict=True)}

    def _naming(self, kind: Kind) -> BoolArray:
        """Tests with a flag whose likeliest causes name the kind."""
        named = np.zeros(len(self.first), dtype=bool)
        for code, above in naming(kind):
            place = CODES.index(code)
            side = np.ones_like(named) if above is None else self.above[:, place] == above
            named |= self.code_flagged[:, place] & side
        return named


def naming(kind: Kind) -> list[tuple[str, bool | None]]:
    """The flags that name a kind among their causes: code, and whether above what was expected (None: either way)."""
    found: list[tuple[str, bool | None]] = []
    for key, words in WORDS.items():
        if any(phrase in cause for phrase in PHRASES[kind] for cause in words.causes):
            code, above = (key, None) if isinstance(key, str) else (key[0], key[1] in ABOVE)
            found.append((code, above))
    return found


def watch(fleet: VirtualFleet, *, by: Callable[[Histories], FleetDrift] = analyse) -> Watched:
    """Let the analysis look at a fleet after each of its years.

    Args: fleet; by: the analysis. What it says later of an earlier test does not count: nobody could act on that.
    """
    year, _ = rows_of(fleet)
    tests = len(year)
    flagged, above = np.zeros((tests, len(CODES)), dtype=bool), np.zeros((tests, len(CODES)), dtype=bool)
    first = np.zeros(tests, dtype=bool)
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
        flagged_now, above_now = _codes_of(found, histories.tests)
        flagged[rows], above[rows] = flagged_now[newest], above_now[newest]
        first[rows] = found.tests.first_of_segment[newest]
        mark_si[rows] = found.tests.mark_for_target_si[newest]
        _keep(mark, found.tests.mark, rows, newest)
        _keep(as_found, found.tests.as_found, rows, newest)
        forecasts[years] = found.forecast
    return Watched(
        code_flagged=flagged,
        above=above,
        first=first,
        mark_si=mark_si,
        mark=mark,
        as_found=as_found,
        forecasts=forecasts,
        seconds=seconds,
    )


def _codes_of(found: FleetDrift, tests: int) -> tuple[BoolArray, BoolArray]:
    flagged, above = np.zeros((tests, len(CODES)), dtype=bool), np.zeros((tests, len(CODES)), dtype=bool)
    flags = found.flags
    ratio = np.isin(flags.code, [CODES.index(code) for code in RATIOS])
    flagged[flags.test, flags.code] = True
    above[flags.test, flags.code] = flags.size > np.where(ratio, 1.0, 0.0)
    return flagged, above


def _keep(kept: dict[str, FloatArray], given: Predictions, rows: IntArray, newest: IntArray) -> None:
    for name in PREDICTED:
        kept[name][rows] = getattr(given, name)[newest]
