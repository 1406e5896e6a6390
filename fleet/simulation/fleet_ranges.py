"""Between what bounds a virtual fleet is drawn, and why. Fixed before any analysis was tuned on it.

A drum's brake takes its parameters from ``ranges``; here is what makes years and fleets of it: wear, linings, gauges,
crews. Like there, the bounds say what fleets there may be, and are not to be narrowed to make an analysis look better.
SI throughout; times in years; shares and ratios as fractions.
"""

from fleet.simulation.ranges import COMMON_PRACTICE, FROM_MEMORY, LOG_UNIFORM, ONE_OF, PUBLISHED, Bounds


def _between(key: str, low: float, high: float, unit: str, status: str, reason: str, drawn: str = "uniform") -> Bounds:
    return Bounds(key=key, low=low, high=high, unit=unit, reason=reason, status=status, drawn=drawn)


def _one_of(key: str, values: tuple[float, ...], unit: str, status: str, reason: str) -> Bounds:
    return Bounds(
        key=key, low=min(values), high=max(values), unit=unit, reason=reason, status=status, drawn=ONE_OF, values=values
    )


# Once for each vessel.
VESSEL = (
    _one_of("drums", (8.0, 10.0, 12.0, 14.0, 16.0), "count", COMMON_PRACTICE, "a ship's round is 8 to 16 drums"),
    _one_of("winch_type", (0.0, 1.0, 2.0, 3.0, 4.0), "code", COMMON_PRACTICE,
            "a company has a handful of winch types, one on a vessel"),
    _one_of("lining_kind", (0.0, 1.0, 2.0), "code", COMMON_PRACTICE, "moulded, woven or another: one on a vessel"),
    _one_of("setting_kind", (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 2.0, 3.0), "code", COMMON_PRACTICE,
            "seven in ten keep a marker distance; torque, spring length and pressure one each; our estimate"),
    _between("first_year", 0.0, 0.6, "ratio of the years", COMMON_PRACTICE,
             "where a vessel that joins later (joins_late) begins; our estimate"),
    _between("joins_late", 0.30, 0.30, "ratio", COMMON_PRACTICE, "part of the vessels that join later; our estimate"),
    _between("moorings_per_year", 20.0, 150.0, "1/year", COMMON_PRACTICE,
             "from long voyages to a short trade; our estimate", LOG_UNIFORM),
    _between("moorings_known", 0.50, 0.50, "ratio", COMMON_PRACTICE,
             "part of the vessels that keep count of their moorings; our estimate"),
    _between("docking_phase", 0.0, 5.0, "year", PUBLISHED,
             "when the first dry-docking falls; two in five years, one of them commonly afloat: every five years here"),
    _between("round_phase", 0.0, 1.0, "year", COMMON_PRACTICE, "when in the year the round falls"),
    _one_of("gauges", (1.0, 1.0, 2.0), "count", COMMON_PRACTICE, "most vessels have one test gauge, some two"),
    _one_of("stop_share", (0.65, 0.65, 0.80), "ratio", PUBLISHED,
            "the operator's ceiling: top of the band by default, or the 80 % of MEG 7.5.6"),
    _between("jack_loss", 0.0, 0.03, "ratio", COMMON_PRACTICE, "as jack_friction: seals and lever take, never give"),
    _between("usual_care", 0.0, 1.0, "ratio", COMMON_PRACTICE, "0 careful to 1 hasty: the vessel's habit"),
    _one_of("rule_m", (0.5e-3, 1.0e-3), "m", COMMON_PRACTICE, "marks are written to half or whole millimetres"),
    _one_of("accuracy_class", (1.0, 1.6, 2.5), "% of span", PUBLISHED, "classes of EN 837-1; which of them: common"),
    _one_of("divisions", (50.0, 100.0), "count", COMMON_PRACTICE, "divisions on a dial; read to half of one"),
)  # fmt: skip

# Once for each drum.
DRUM = (
    _between("lining_new_m", 8e-3, 14e-3, "m", FROM_MEMORY, "linings of 6 to 20 mm are met with"),
    _between("lining_worn_part", 0.40, 0.40, "ratio", PUBLISHED,
             "renew at more than 40 % wear unless the maker says otherwise: ship-practice guidance, one source"),
    _between("thread_part", 0.7, 1.5, "ratio", COMMON_PRACTICE,
             "travel the spindle's thread leaves the mark, over what the whole allowed wear would need; our estimate"),
    _between("most_thread_m", 200e-3, 200e-3, "m", FROM_MEMORY, "no longer travel of the mark than this"),
    _between("least_mark_m", 10e-3, 40e-3, "m", FROM_MEMORY, "shortest distance between the points, at the limit"),
    _between("used_at_start", 0.5, 0.995, "ratio", COMMON_PRACTICE,
             "part of lining or thread used when records begin: ships in mid-life; our estimate"),
    _between("wear_of_drum", 0.6, 1.7, "ratio", COMMON_PRACTICE,
             "a drum's wear over that of its like; our estimate", LOG_UNIFORM),
    _between("wear_per_year_m", 2e-6, 15e-6, "m/year", COMMON_PRACTICE,
             "rust and weather take a little without any mooring; our estimate", LOG_UNIFORM),
    _between("target_pa", 120e5, 320e5, "Pa", COMMON_PRACTICE, "gauge reading at the aim; 80 to 450 bar are met with"),
    _between("force_zero", 0.0, 0.15, "ratio", COMMON_PRACTICE,
             "torque, pressure or spring travel that only overcomes the gear's own friction, over that at the aim"),
    _between("spring_free_m", 0.20, 0.40, "m", COMMON_PRACTICE, "free length of a spring; our estimate"),
    _between("spring_travel_m", 20e-3, 60e-3, "m", COMMON_PRACTICE, "its travel at the aim; our estimate"),
    _between("spindle_torque_nm", 80.0, 400.0, "N·m", COMMON_PRACTICE, "spindle torque at the aim; our estimate"),
    _between("applied_pa", 40e5, 160e5, "Pa", COMMON_PRACTICE, "applied pressure at the aim; our estimate"),
    _between("friction_of_years", 0.01, 0.03, "ratio", COMMON_PRACTICE,
             "standard deviation of a dried, run-in lining's friction from year to year; makes 2 to 6 % of the load; "
             "wider changes count as faults; our estimate"),
    _between("friction_memory", 0.0, 0.5, "ratio", COMMON_PRACTICE,
             "how much of one year's departure is left the next; our estimate"),
)  # fmt: skip

# Once for each fleet: how the wear of comparable drums differs.
FLEET = (
    _between("wear_of_type", 0.15e-6, 0.80e-6, "m per mooring", COMMON_PRACTICE,
             "each of the winch types; with 20 to 150 moorings a year 3 to 120 µm of lining; our estimate",
             LOG_UNIFORM),
    _between("wear_of_lining", 0.7, 1.4, "ratio", COMMON_PRACTICE, "each of the lining kinds; our estimate",
             LOG_UNIFORM),
    _between("wear_of_head", 0.7, 1.1, "ratio", COMMON_PRACTICE, "head and stern lines; our estimate"),
    _between("wear_of_breast", 0.8, 1.2, "ratio", COMMON_PRACTICE, "breast lines; our estimate"),
    _between("wear_of_spring", 1.0, 1.6, "ratio", COMMON_PRACTICE, "springs take the surging; our estimate"),
)  # fmt: skip

# Drawn anew each year, or spreads of what is.
YEAR = (
    _between("round_scatter_y", 0.08, 0.08, "year", COMMON_PRACTICE, "standard deviation of a round's date: a month"),
    _between("laid_up", 0.02, 0.02, "ratio", COMMON_PRACTICE, "part of the years without a round; our estimate"),
    _between("moorings_scatter", 0.25, 0.25, "ratio", COMMON_PRACTICE, "of moorings from year to year, log; ours"),
    _between("wear_scatter", 0.20, 0.20, "ratio", COMMON_PRACTICE, "of wear at equal moorings, log; our estimate"),
    _between("crew_scatter", 0.30, 0.30, "ratio", COMMON_PRACTICE, "of care about the vessel's habit as crews change"),
    _between("hand_careful_m", 0.15e-3, 0.15e-3, "m", COMMON_PRACTICE,
             "standard deviation of a mark set by a careful hand; 0.1 to 0.4 mm in ranges"),
    _between("hand_hasty_m", 0.60e-3, 0.60e-3, "m", COMMON_PRACTICE, "and by a hasty one; our estimate"),
    _between("hand_careful", 0.005, 0.005, "ratio", COMMON_PRACTICE, "the same where torque or pressure is kept"),
    _between("hand_hasty", 0.020, 0.020, "ratio", COMMON_PRACTICE, "the same of a hasty hand; our estimate"),
    _between("aim_spread", 0.005, 0.020, "ratio of SDMBL", COMMON_PRACTICE,
             "how near the aim a crew stops adjusting, careful to hasty; in band means stop"),
    _between("left_alone_within", 0.015, 0.040, "ratio of SDMBL", COMMON_PRACTICE,
             "an as-found share this near the aim is left alone, careful to hasty; our estimate"),
    _between("slope_error", 0.10, 0.25, "ratio", COMMON_PRACTICE, "of a slope got from the test's own slips, log"),
    _between("slip_scatter", 0.006, 0.025, "ratio", COMMON_PRACTICE,
             "of one slip's load, careful to hasty; friction_scatter in ranges makes 0.5 to 3 %"),
    _between("lining_spread_m", 0.10e-3, 0.30e-3, "m", COMMON_PRACTICE, "of a thickness measured at three places"),
    _between("lining_measured", 0.90, 0.90, "ratio", COMMON_PRACTICE, "part of the tests that say a thickness"),
    _between("as_found_none", 0.10, 0.10, "ratio", COMMON_PRACTICE, "part of the tests without as-found; our estimate"),
    _between("as_found_untouched", 0.40, 0.40, "ratio", COMMON_PRACTICE, "part found as the brake stood; our estimate"),
    _between("creep", 0.0, 0.02, "ratio", COMMON_PRACTICE, "load an untouched brake loses by creep of the lining"),
    _between("damp", 0.0, 0.02, "ratio", COMMON_PRACTICE, "load lost to what damp is left after drying"),
    _between("stroke_pa", 3e5, 10e5, "Pa", FROM_MEMORY, "pressure step of one stroke of a hand pump, careful to hasty"),
    _between("gauge_drift_per_year", 0.10, 0.10, "part of the class limit", COMMON_PRACTICE,
             "standard deviation of a sound gauge's wandering; our estimate"),
    _between("gauge_renewed", 0.12, 0.12, "ratio", COMMON_PRACTICE, "gauges lost, dropped or replaced a year"),
    _between("renewed_anyway", 0.10, 0.10, "ratio", COMMON_PRACTICE,
             "linings renewed at a dry-docking though not worn out: cracked, oily, loose; our estimate"),
    _between("renewed_near_limit", 0.85, 0.85, "ratio", COMMON_PRACTICE,
             "part of the allowed wear from which a dry-docking renews the lining; our estimate"),
    _between("brake_work", 0.02, 0.02, "ratio", COMMON_PRACTICE,
             "brakes whose spindle or linkage is worked on a year, on record; our estimate"),
    _between("work_moves_mark_m", -6e-3, 6e-3, "m", COMMON_PRACTICE, "how far that moves the mark; our estimate"),
    _between("bedding_in_m", 10e-6, 80e-6, "m", COMMON_PRACTICE,
             "a new lining's high spots go in the first year; our estimate"),
    _between("new_lining_friction", -0.08, 0.02, "ratio", COMMON_PRACTICE,
             "friction of a new lining over its later own until it has bedded in; our estimate"),
)  # fmt: skip

TABLE: tuple[Bounds, ...] = (*VESSEL, *DRUM, *FLEET, *YEAR)
BY_KEY: dict[str, Bounds] = {bounds.key: bounds for bounds in TABLE}

YEARS_BETWEEN_DOCKINGS = 5.0
TARGET_SHARE = 0.60
BAND = (0.55, 0.65)
