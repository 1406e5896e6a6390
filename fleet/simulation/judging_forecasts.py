"""Whether predictions and forecasts keep their word in a virtual fleet: coverage of intervals, and reliability."""

from dataclasses import dataclass

import numpy as np

from fleet.calculation.drift_histories import BoolArray, IntArray
from fleet.calculation.drift_results import DOCKING, DUE
from fleet.calculation.units import FloatArray
from fleet.simulation.fleet import GOOD, VirtualFleet
from fleet.simulation.fleet_histories import rows_of
from fleet.simulation.fleet_ranges import BAND, TARGET_SHARE, YEARS_BETWEEN_DOCKINGS
from fleet.simulation.fleet_rounds import NOT_FOUND, RELINED
from fleet.simulation.judging_drift import Watched

BINS = (0.0, 0.02, 0.05, 0.10, 0.20, 0.40, 0.60, 0.80, 0.95, 1.0)
MARK_LIMIT, LINING_MINIMUM, AS_FOUND_OUT = "mark_limit", "lining_minimum", "as_found_out"
EVENTS = (MARK_LIMIT, LINING_MINIMUM, AS_FOUND_OUT)
HORIZON_NAMES = ("next_due", "next_docking")


@dataclass(frozen=True, kw_only=True)
class Coverage:
    """How many good tests had a prediction, and the part of them that lay inside its interval."""

    tests: int
    inside: float


@dataclass(frozen=True, kw_only=True)
class Bin:
    """Forecasts between two probabilities: how many, the mean of what was said, and the part that happened."""

    low: float
    high: float
    number: int
    said: float
    happened: float


@dataclass(frozen=True, kw_only=True)
class Reliability:
    """Forecasts of one event by one date: how many were given and how many withheld, by probability, and Brier's score
    beside that of always saying how often it happens."""

    event: str
    horizon: str
    number: int
    withheld: int
    brier: float
    brier_of_mean: float
    bins: tuple[Bin, ...]


def coverage(fleet: VirtualFleet, watched: Watched) -> dict[str, Coverage]:
    """Coverage of the prediction intervals of good tests: "mark" and "as_found" from the second test of a segment on,
    and "mark_first", "as_found_first" of the first.

    For a brake that held, the interval holds when it reaches above what was held.
    """
    year, drum = rows_of(fleet)
    good = fleet.condition[year, drum] == GOOD
    share, held = fleet.written["as_found_share"][year, drum], fleet.written["as_found_held"][year, drum] == 1
    found, mark = watched.as_found, watched.mark
    with np.errstate(invalid="ignore"):
        in_mark = (watched.mark_si >= mark["low"]) & (watched.mark_si <= mark["high"])
        in_found = np.where(held, found["high"] >= share, (share >= found["low"]) & (share <= found["high"]))
    kept = {}
    for name, inside, known in (
        ("mark", in_mark, np.isfinite(mark["mean"])),
        ("as_found", in_found, np.isfinite(found["mean"]) & np.isfinite(share)),
    ):
        for suffix, use in (("", ~watched.first), ("_first", watched.first)):
            rows = good & known & use
            number = int(rows.sum())
            kept[name + suffix] = Coverage(tests=number, inside=float(inside[rows].mean()) if number else np.nan)
    return kept


def reliability(fleet: VirtualFleet, watched: Watched) -> list[Reliability]:
    """What was said of each event by each date against what happened, over every forecast given after a good test.

    By the next due date: what the next test, if it is good, truly met. By the next dry-docking: the truth at that date.
    What a new lining prevented counts as if it had not come; other work in between, or a fault, takes the case out.
    The share as found by a dry-docking is that of the brake left as it was set.
    """
    said: dict[tuple[str, int], list[tuple[FloatArray, BoolArray]]] = {}
    withheld: dict[tuple[str, int], int] = {}
    for years, forecast in watched.forecasts.items():
        if years >= len(fleet.calendar.year):
            continue
        for horizon in (DUE, DOCKING):
            drums, outcome = outcomes(fleet, years, horizon)
            for event, (happened, known) in outcome.items():
                chance = getattr(forecast, event)[drums, horizon]
                given = np.isfinite(chance)
                said.setdefault((event, horizon), []).append((chance[given & known], happened[given & known]))
                withheld[event, horizon] = withheld.get((event, horizon), 0) + int((known & ~given).sum())
    found = []
    for (event, horizon), parts in said.items():
        chance = np.concatenate([chance for chance, _ in parts])
        happened = np.concatenate([happened for _, happened in parts])
        found.append(_reliability(event, horizon, chance, happened, withheld[event, horizon]))
    return found


def _reliability(event: str, horizon: int, chance: FloatArray, happened: BoolArray, withheld: int) -> Reliability:
    place = np.clip(np.searchsorted(BINS, chance, side="right") - 1, 0, len(BINS) - 2)
    bins = []
    for one in range(len(BINS) - 1):
        rows = place == one
        if rows.any():
            bins.append(
                Bin(
                    low=BINS[one],
                    high=BINS[one + 1],
                    number=int(rows.sum()),
                    said=float(chance[rows].mean()),
                    happened=float(happened[rows].mean()),
                )
            )
    often = float(happened.mean()) if len(happened) else np.nan
    return Reliability(
        event=event,
        horizon=HORIZON_NAMES[horizon],
        number=len(chance),
        withheld=withheld,
        brier=float(np.mean((chance - happened) ** 2)) if len(chance) else np.nan,
        brier_of_mean=often * (1 - often),
        bins=tuple(bins),
    )


Outcome = dict[str, tuple[BoolArray, BoolArray]]


def outcomes(fleet: VirtualFleet, years: int, horizon: int) -> tuple[IntArray, Outcome]:
    """What became of the drums with a good test in the newest of so many years.

    Returns: the drums, and for each event whether it happened by the horizon, and whether that is known.
    """
    now = years - 1
    drums = np.flatnonzero(fleet.calendar.made[now] & (fleet.condition[now] == GOOD))
    if horizon == DUE:
        at, date = np.full(len(drums), years), fleet.calendar.year[now, drums] + 1
    else:
        phase = fleet.ships.docking_phase_y[drums]
        date = fleet.calendar.year[now, drums] - phase
        date = phase + YEARS_BETWEEN_DOCKINGS * (np.floor(date / YEARS_BETWEEN_DOCKINGS) + 1)
        at = (fleet.calendar.year[:, drums] < date).sum(axis=0)
    known = at < len(fleet.calendar.year)
    at = np.minimum(at, len(fleet.calendar.year) - 1)
    loss_m = _loss_at(fleet, drums, at, date)
    clear = known & _undisturbed(fleet, drums, now, at)
    friction = fleet.truth["friction"][at, drums]
    mark = _passed_limit(fleet, drums, loss_m, friction)
    linings = fleet.linings
    lining = linings.new_m[drums] - loss_m < linings.minimum_m[drums]
    out, read = _found_out(fleet, drums, now, at, loss_m, friction, horizon)
    # A ship that sees a limit passed renews at once: what was passed by then did happen.
    met = known & _met_before_renewal(fleet, drums, now, at)
    before_m = np.where(met, fleet.truth["unrenewed_m"][_renewal(fleet, drums, now, at), drums], loss_m)
    earlier_mark = met & _passed_limit(fleet, drums, before_m, np.ones(len(drums)))
    earlier_lining = met & (linings.new_m[drums] - before_m < linings.minimum_m[drums])
    return drums, {
        MARK_LIMIT: (np.where(clear, mark, earlier_mark), clear | earlier_mark),
        LINING_MINIMUM: (np.where(clear, lining, earlier_lining), clear | earlier_lining),
        AS_FOUND_OUT: (out, clear & read),
    }


def _renewal(fleet: VirtualFleet, drums: IntArray, now: int, at: IntArray) -> IntArray:
    """Year of the first new lining on record after this test and before the date's round; that round's without."""
    rows = np.arange(len(fleet.calendar.year))[:, None]
    renewed = (fleet.written["event"][:, drums] == RELINED) & (rows > now) & (rows < at)
    return np.where(renewed.any(axis=0), renewed.argmax(axis=0), at)


def _met_before_renewal(fleet: VirtualFleet, drums: IntArray, now: int, at: IntArray) -> BoolArray:
    """A new lining came before the date, with no fault and no other work until it did."""
    renewal = _renewal(fleet, drums, now, at)
    return (renewal < at) & _undisturbed(fleet, drums, now, renewal)


def _loss_at(fleet: VirtualFleet, drums: IntArray, at: IntArray, date: FloatArray) -> FloatArray:
    """Wear at a date between two rounds, on the straight line from one to the other, no new lining in between."""
    before_m, after_m = fleet.truth["loss_m"][at - 1, drums], fleet.truth["unrenewed_m"][at, drums]
    before, after = fleet.calendar.year[at - 1, drums], fleet.calendar.year[at, drums]
    part = np.clip((date - before) / (after - before), 0.0, 1.2)
    return np.asarray(before_m + part * (after_m - before_m))


def _undisturbed(fleet: VirtualFleet, drums: IntArray, now: int, at: IntArray) -> BoolArray:
    """No fault up to the round after the date, and no recorded work up to the one before it."""
    rows = np.arange(len(fleet.calendar.year))[:, None]
    made = fleet.calendar.made[:, drums]
    within = (rows > now) & (rows <= at) & made
    faulty = (fleet.condition[:, drums] != GOOD) & within
    worked = (fleet.written["event"][:, drums] > 0) & within & (rows < at)
    return np.asarray(~faulty.any(axis=0) & ~worked.any(axis=0))


def _passed_limit(fleet: VirtualFleet, drums: IntArray, loss_m: FloatArray, friction: FloatArray) -> BoolArray:
    """Whether the mark for exactly the target has passed its limit, with so much wear and this friction."""
    everywhere = np.zeros(len(fleet.vessel))
    wear, usual = everywhere.copy(), np.ones(len(fleet.vessel))
    wear[drums], usual[drums] = loss_m, friction
    mark = fleet.brakes.setting_for(TARGET_SHARE * fleet.brakes.sdmbl_n, friction_factor=usual, loss_m=wear)
    with np.errstate(invalid="ignore"):
        past = (mark - fleet.linings.mark_limit_si) * fleet.brakes.tighter_sign > 0
    return np.asarray(past[drums])


def _found_out(
    fleet: VirtualFleet, drums: IntArray, now: int, at: IntArray, loss_m: FloatArray, friction: FloatArray, horizon: int
) -> tuple[BoolArray, BoolArray]:
    """Whether the brake is found outside the band, and whether anybody looked (by a dry-docking: the truth does)."""
    low, high = BAND
    if horizon == DUE:
        share, kind = fleet.written["as_found_share"][at, drums], fleet.written["as_found_kind"][at, drums]
        held = fleet.written["as_found_held"][at, drums] == 1
        looked = fleet.calendar.made[at, drums] & (kind != NOT_FOUND) & np.isfinite(share)
        with np.errstate(invalid="ignore"):
            return np.asarray((share < low) | (share > high) | (held & (share >= high))), np.asarray(looked)
    count = len(fleet.vessel)
    wear, eaten, usual = np.zeros(count), np.zeros(count), np.ones(count)
    wear[drums], usual[drums] = loss_m, friction
    eaten[drums] = loss_m - fleet.truth["loss_m"][now, drums]
    standing = fleet.truth["standing_si"][now]
    load_n = fleet.brakes.load_n(standing, friction_factor=usual, loss_m=wear, eaten_m=eaten)
    # What a crew would read differs from the truth by as much as it did at this test.
    off = fleet.written["as_left_share"][now, drums] / fleet.truth["as_left_share"][now, drums]
    share = (load_n / fleet.brakes.sdmbl_n)[drums] * off
    return np.asarray((share < low) | (share > high)), np.ones(len(drums), dtype=bool)
