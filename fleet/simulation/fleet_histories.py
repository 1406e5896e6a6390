"""A virtual fleet as the drift analysis sees it: what the ships wrote, and nothing of the truth."""

import numpy as np

from fleet.calculation.drift_histories import BRAKE_WORK, LINING_RENEWED, Histories, IntArray
from fleet.calculation.units import FloatArray
from fleet.simulation.fleet import VirtualFleet
from fleet.simulation.fleet_brakes import MARKER, PRESSURE, SPRING, TORQUE
from fleet.simulation.fleet_ranges import BAND, TARGET_SHARE, YEARS_BETWEEN_DOCKINGS
from fleet.simulation.fleet_rounds import NO_EVENT, RELINED

# What an operator would state of its hands; the crews' own spreads are not on record. Common practice, no source.
STATED_HAND_M, STATED_HAND_PART = 0.4e-3, 0.012
EVENT_BEFORE_TEST_Y = 0.1
KIND_CODES = {MARKER: 0, TORQUE: 1, SPRING: 2, PRESSURE: 3}


def rows_of(fleet: VirtualFleet, *, years: int | None = None) -> tuple[IntArray, IntArray]:
    """Year and drum of every test that was made, by drum and then by year; only of the first so many years."""
    made = fleet.calendar.made[:years]
    drum, year = np.nonzero(made.T)
    return year, drum


def histories_of(fleet: VirtualFleet, *, years: int | None = None) -> Histories:
    """What the ships of a fleet wrote in its first so many years (all without ``years``), row by row as ``rows_of``."""
    rows = rows_of(fleet, years=years)
    year, drum = rows
    written = {name: values[rows] for name, values in fleet.written.items()}
    time = fleet.calendar.year[rows]
    kind = np.array([KIND_CODES[one] for one in range(len(KIND_CODES))])[fleet.brakes.kind]
    by_force = np.isin(fleet.brakes.kind, (TORQUE, PRESSURE))[drum]
    first = np.diff(drum, prepend=-1) != 0
    counted = fleet.moorings_known[drum] & ~first
    event = np.flatnonzero(written["event"] != NO_EVENT)
    last, due = _dates(fleet, drum, time)
    return Histories(
        vessel=fleet.vessel,
        winch_type=fleet.winch_type,
        lining_kind=fleet.lining_kind,
        duty=fleet.duty,
        setting_kind=kind,
        tighter_sign=fleet.brakes.tighter_sign,
        mark_limit_si=fleet.linings.mark_limit_si,
        lining_minimum_m=fleet.linings.minimum_m,
        next_due_year=last + 1,
        next_docking_year=due,
        drum=drum,
        year=time,
        round_id=fleet.vessel[drum] * len(fleet.calendar.year) + year,
        mark_si=written["mark_si"],
        as_left_share=written["as_left_share"],
        slope_share_per_si=written["slope_share_per_si"],
        hand_si=np.where(by_force, STATED_HAND_PART * np.abs(written["mark_si"]), STATED_HAND_M),
        gauge_share=_of_class(fleet)[drum],
        as_found_share=written["as_found_share"],
        as_found_kind=written["as_found_kind"].astype(np.int64),
        as_found_held=written["as_found_held"] > 0,
        lining_m=written["lining_m"],
        gauge=fleet.gauges.number[rows],
        moorings_since=np.where(counted, written["moorings"], np.nan),
        target_share=np.full(len(drum), TARGET_SHARE),
        lower_share=np.full(len(drum), BAND[0]),
        upper_share=np.full(len(drum), BAND[1]),
        event_drum=drum[event],
        event_year=time[event] - EVENT_BEFORE_TEST_Y,
        event_kind=np.where(written["event"][event] == RELINED, LINING_RENEWED, BRAKE_WORK),
    )


def _of_class(fleet: VirtualFleet) -> FloatArray:
    """Standard uncertainty in share from the gauge's class alone. Source: EN 837-1; JCGM 100, 4.3.7 (rectangular)."""
    return TARGET_SHARE * fleet.gauges.limit_pa / fleet.ships.target_pa / np.sqrt(3)


def _dates(fleet: VirtualFleet, drum: IntArray, time: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Time of each drum's newest test, and of the dry-docking after it; NaN without tests."""
    last = np.full(len(fleet.vessel), np.nan)
    last[drum] = time
    phase = fleet.ships.docking_phase_y
    docking = phase + YEARS_BETWEEN_DOCKINGS * (np.floor((last - phase) / YEARS_BETWEEN_DOCKINGS) + 1)
    return last, docking
