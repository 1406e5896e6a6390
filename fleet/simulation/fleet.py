"""Whole virtual fleets with known truth: vessels, drums, years of tests, and the faults that were put in.

One seed is one fleet. With ``faults=False`` it lives its years without any; with ``harmless=True`` so that each fault's
effect is what differs.
"""

from dataclasses import dataclass

import numpy as np

from fleet.calculation.checks import InputError
from fleet.calculation.drift_histories import BoolArray, IntArray
from fleet.calculation.units import FloatArray
from fleet.simulation import fleet_ranges as ranges
from fleet.simulation.fleet_brakes import MARKER, PRESSURE, TORQUE, Brakes, Linings, draw, draw_brakes
from fleet.simulation.fleet_faults import (
    INJECTED,
    KINDS,
    TO_THE_END,
    UNIT_FACTORS,
    Faults,
    Ground,
    Kind,
    draw_faults,
    no_faults,
)
from fleet.simulation.fleet_gauges import Gauges, gauges_of
from fleet.simulation.fleet_noise import Noise, draw_noise, stream
from fleet.simulation.fleet_rounds import NO_EVENT, Calendar, Rounds, Ships, Written

GOOD, FAULTY, AFTER = 0, 1, 2
HEAD, BREAST, SPRING_LINE = 0, 1, 2
TORQUE_STEP_NM, PRESSURE_STEP_PA = 5.0, 1e5


@dataclass(frozen=True, kw_only=True)
class VirtualFleet:
    """A fleet that has lived its years.

    Per drum: ``vessel``, ``winch_type``, ``lining_kind``, ``duty``, ``moorings_known``, ``ships``. Per (year, drum):
    ``calendar``, ``gauges``, ``written`` and ``truth`` (see Rounds), ``condition`` (GOOD, FAULTY, or AFTER: still
    showing a fault's trace), ``fault`` (row in ``faults``, −1 where good).
    """

    seed: int
    vessel: IntArray
    winch_type: IntArray
    lining_kind: IntArray
    duty: IntArray
    moorings_known: BoolArray
    ships: Ships
    calendar: Calendar
    gauges: Gauges
    written: Written
    truth: Written
    faults: Faults
    condition: IntArray
    fault: IntArray

    @property
    def brakes(self) -> Brakes:
        """The brakes as they are."""
        return self.ships.brakes

    @property
    def linings(self) -> Linings:
        """What the papers say of linings and limits."""
        return self.ships.linings


def simulate(*, vessels: int, years: int, seed: int, faults: bool = True, harmless: bool = False) -> VirtualFleet:
    """A fleet of so many vessels over so many years.

    Args: vessels, years: at least 1; seed; faults: False for a fleet with nothing wrong; harmless: faults are planned
    and do nothing, so that every chance but theirs is the same as with them. Raises: InputError.
    Source: the bounds in ``fleet_ranges`` and ``ranges``; the faults in ``fleet_faults``.
    """
    if vessels < 1 or years < 1:
        raise InputError("vessels", "and years must be at least 1")
    of_vessel = {bounds.key: draw(bounds, stream(seed, bounds.key), vessels) for bounds in ranges.VESSEL}
    vessel = np.repeat(np.arange(vessels), of_vessel["drums"].astype(np.int64))
    place = np.arange(len(vessel)) - np.searchsorted(vessel, vessel)
    v = {key: values[vessel] for key, values in of_vessel.items()}
    kind = v["setting_kind"].astype(np.int64)
    brakes, linings = draw_brakes(kind, stream(seed, "brakes"))
    noise = draw_noise(seed, years=years, drums=len(vessel), vessels=vessels)
    calendar = _calendar(of_vessel, vessel, years, stream(seed, "joins"), noise)
    duty = _duties(place, v["drums"])
    slot = np.where(v["gauges"] == 2, place % 2, 0).astype(np.int64)
    ground = Ground(
        vessel=vessel,
        made=calendar.made,
        is_marker=kind == MARKER,
        on_first_gauge=slot == 0,
        wear_at_start_m=linings.loss_at_start_m,
    )
    injected = draw_faults(ground, stream(seed, "faults")) if faults else no_faults()
    size = _sizes(injected, calendar.made.shape)
    ships = _ships(seed, v, duty, brakes, linings)
    gain, renewed = _gauge_faults(injected, size)
    gain = np.zeros_like(gain) if harmless else gain
    gauges = gauges_of(
        noise=noise,
        vessel=vessel,
        slot=slot,
        target_pa=ships.target_pa,
        accuracy_class=v["accuracy_class"],
        divisions=v["divisions"],
        gain=gain,
        renewed=renewed,
    )
    rounds = Rounds(ships=ships, calendar=calendar, gauges=gauges, noise=noise, planned=size, harmless=harmless)
    rounds.run()
    if not harmless:
        _miswrite(rounds.written, injected)
    condition, fault = _conditions(injected, calendar.made, rounds.written["event"])
    return VirtualFleet(
        seed=seed,
        vessel=vessel,
        winch_type=v["winch_type"].astype(np.int64),
        lining_kind=v["lining_kind"].astype(np.int64),
        duty=duty,
        moorings_known=stream(seed, "counts").random(vessels)[vessel] < ranges.BY_KEY["moorings_known"].low,
        ships=ships,
        calendar=calendar,
        gauges=gauges,
        written=rounds.written,
        truth=rounds.truth,
        faults=injected,
        condition=condition,
        fault=fault,
    )


def _duties(place: IntArray, drums: FloatArray) -> IntArray:
    """Fore to aft: four in ten head or stern lines, three breast lines, three springs."""
    part = (place + 0.5) / drums
    return np.where(part < 0.4, HEAD, np.where(part < 0.7, BREAST, SPRING_LINE)).astype(np.int64)


def _calendar(
    of_vessel: dict[str, FloatArray], vessel: IntArray, years: int, rng: np.random.Generator, noise: Noise
) -> Calendar:
    numbers = np.arange(years)[:, None]
    late = rng.random(len(of_vessel["drums"])) < of_vessel["joins_late"]
    first = np.where(late, np.floor(of_vessel["first_year"] * years), 0.0)
    scatter_y = np.clip(ranges.BY_KEY["round_scatter_y"].low * noise.round_z, -0.25, 0.25)
    year = numbers + of_vessel["round_phase"] + scatter_y
    begun = numbers >= first
    made = begun & ((noise.laid_up_u >= ranges.BY_KEY["laid_up"].low) | (numbers == first))
    elapsed = np.diff(year, axis=0, prepend=year[:1] - 1)
    moorings = of_vessel["moorings_per_year"] * elapsed
    moorings = np.round(moorings * np.exp(ranges.BY_KEY["moorings_scatter"].low * noise.moorings_z))
    care = np.clip(of_vessel["usual_care"] + ranges.BY_KEY["crew_scatter"].low * noise.care_z, 0.0, 1.0)
    return Calendar(
        year=year[:, vessel],
        made=made[:, vessel],
        begun=begun[:, vessel],
        moorings=moorings[:, vessel],
        care=care[:, vessel],
    )


def _ships(seed: int, v: dict[str, FloatArray], duty: IntArray, brakes: Brakes, linings: Linings) -> Ships:
    drums = len(duty)
    d = {bounds.key: draw(bounds, stream(seed, bounds.key), drums) for bounds in ranges.DRUM}
    fleet = {bounds.key: draw(bounds, stream(seed, bounds.key), 5) for bounds in ranges.FLEET}
    by_duty = np.array([fleet[key][0] for key in ("wear_of_head", "wear_of_breast", "wear_of_spring")])
    wear_m = fleet["wear_of_type"][v["winch_type"].astype(int)]
    wear_m = wear_m * fleet["wear_of_lining"][v["lining_kind"].astype(int)] * by_duty[duty] * d["wear_of_drum"]
    rule_si = np.select(
        [brakes.kind == TORQUE, brakes.kind == PRESSURE], [TORQUE_STEP_NM, PRESSURE_STEP_PA], v["rule_m"]
    )
    return Ships(
        brakes=brakes,
        linings=linings,
        wear_per_year_m=d["wear_per_year_m"],
        wear_per_mooring_m=wear_m,
        friction_of_years=d["friction_of_years"],
        friction_memory=d["friction_memory"],
        target_pa=d["target_pa"],
        jack_loss=v["jack_loss"],
        stop_share=v["stop_share"],
        rule_si=rule_si,
        docking_phase_y=v["docking_phase"],
    )


def _sizes(faults: Faults, shape: tuple[int, ...]) -> dict[Kind, FloatArray]:
    """The size of each kind of fault where it acts, NaN elsewhere; (years, drums)."""
    sizes = {kind: np.full(shape, np.nan) for kind in Kind}
    for row, kind in enumerate(faults.kind.tolist()):
        sizes[KINDS[kind]][faults.year[row] : faults.until[row], faults.drum[row]] = faults.size[row]
    return sizes


def _gauge_faults(faults: Faults, size: dict[Kind, FloatArray]) -> tuple[FloatArray, FloatArray]:
    off, drifts = size[Kind.GAUGE_OFF], size[Kind.GAUGE_DRIFTS]
    gain = np.where(np.isfinite(off), off, 0.0)
    drifting = np.isfinite(drifts)
    gain = gain + np.where(drifting, drifts * np.cumsum(drifting, axis=0), 0.0)
    renewed = np.zeros(off.shape)
    for kind in (Kind.GAUGE_OFF, Kind.GAUGE_DRIFTS):
        for row in faults.of(kind):
            if kind == Kind.GAUGE_OFF:
                renewed[faults.year[row], faults.drum[row]] = 1
            if faults.until[row] < len(renewed):
                renewed[faults.until[row], faults.drum[row]] = 1
    return gain, renewed


SWAPPED = (
    "mark_si", "as_left_share", "slope_share_per_si", "as_found_kind", "as_found_share", "as_found_held", "lining_m",
)  # fmt: skip


def _miswrite(written: Written, faults: Faults) -> None:
    """The faults of the pen alone: what was done is right, what was written is not."""
    for row in faults.of(Kind.WRONG_UNIT):
        at = (faults.year[row], faults.drum[row])
        for name in ("as_left_share", "as_found_share"):
            written[name][at] *= UNIT_FACTORS[int(faults.size[row])]
    for row in faults.of(Kind.ONE_MARK):
        year = faults.year[row]
        written["mark_si"][year, faults.drum[row]] = written["mark_si"][year, faults.partner[row]]
    for row in faults.of(Kind.DRUMS_EXCHANGED):
        year, one, other = faults.year[row], faults.drum[row], faults.partner[row]
        if one < other:
            for name in SWAPPED:
                written[name][year, [one, other]] = written[name][year, [other, one]]


def _conditions(faults: Faults, made: BoolArray, event: FloatArray) -> tuple[IntArray, IntArray]:
    condition = np.zeros(made.shape, dtype=np.int64)
    fault = np.full(made.shape, -1, dtype=np.int64)
    for row, kind in enumerate(faults.kind.tolist()):
        injected, drum, year = INJECTED[KINDS[kind]], faults.drum[row], faults.year[row]
        tests = np.flatnonzero(made[:, drum])
        anew = tests[(tests > year) & (event[tests, drum] != NO_EVENT)]
        end = int(anew[0]) if len(anew) else len(made)
        until = min(int(faults.until[row]), end) if injected.lasts == TO_THE_END else int(faults.until[row])
        faulty = tests[(tests >= year) & (tests < until)]
        later = tests[(tests >= until) & (tests < end)]
        after = later if injected.after == TO_THE_END else later[: injected.after]
        condition[faulty, drum], condition[after, drum] = FAULTY, AFTER
        fault[faulty, drum] = fault[after, drum] = row
        if KINDS[kind] == Kind.ONE_MARK:
            # The drum whose mark was written for all has its own, yet belongs to the act.
            condition[faulty, faults.partner[row]] = AFTER
    return condition, fault
