"""The yearly rounds of a virtual fleet: wear, what is found, what the crew sets, what it writes down.

All drums go through one year together. What is true and what is written are kept apart throughout.
"""

from dataclasses import dataclass

import numpy as np

from fleet.calculation.brake import rendering_load
from fleet.calculation.drift_histories import BoolArray, IntArray
from fleet.calculation.units import FloatArray
from fleet.simulation.fleet_brakes import MARKER, PRESSURE, TORQUE, Brakes, Linings
from fleet.simulation.fleet_faults import Kind
from fleet.simulation.fleet_gauges import Gauges
from fleet.simulation.fleet_noise import AS_FOUND, FIRST_TRY, SECOND_TRY, Noise
from fleet.simulation.fleet_ranges import BAND, BY_KEY, TARGET_SHARE, YEARS_BETWEEN_DOCKINGS

NOT_FOUND, UNTOUCHED, RE_APPLIED = 0, 1, 2
NO_EVENT, RELINED, WORKED_ON = 0, 1, 2
TIGHTEST_SHARE = 1.5


@dataclass(frozen=True, kw_only=True)
class Ships:
    """What stays with the drums of a fleet through the years, one row per drum."""

    brakes: Brakes
    linings: Linings
    wear_per_year_m: FloatArray
    wear_per_mooring_m: FloatArray
    friction_of_years: FloatArray
    friction_memory: FloatArray
    target_pa: FloatArray
    jack_loss: FloatArray
    stop_share: FloatArray
    rule_si: FloatArray
    docking_phase_y: FloatArray


@dataclass(frozen=True, kw_only=True)
class Calendar:
    """(years, drums): time of the round in years, whether it was made, moorings since the round before, crew's care."""

    year: FloatArray
    made: BoolArray
    begun: BoolArray
    moorings: FloatArray
    care: FloatArray


Written = dict[str, FloatArray]


class Rounds:
    """Runs the years. ``written`` is what the ship wrote, ``truth`` what nobody aboard could know; (years, drums).

    In the truth, ``unrenewed_m`` is the wear there would be had this year's new lining not come, ``standing_si`` the
    setting as it truly stands after the round, in the sense of the brake and not of a mark that shifted; ``hand_si``
    and ``reading_share`` are the standard deviations of one setting and of one slip's reading about the truth.
    """

    def __init__(
        self,
        *,
        ships: Ships,
        calendar: Calendar,
        gauges: Gauges,
        noise: Noise,
        planned: dict[Kind, FloatArray],
        harmless: bool = False,
    ) -> None:
        """planned: size of each kind of fault where it acts, else NaN, (years, drums); harmless: it acts on nothing."""
        self.ships, self.calendar, self.gauges, self.noise, self.planned = ships, calendar, gauges, noise, planned
        self.size = {kind: np.full_like(sizes, np.nan) for kind, sizes in planned.items()} if harmless else planned
        drums = len(ships.target_pa)
        self.target_n: FloatArray = np.asarray(rendering_load(sdmbl_n=ships.brakes.sdmbl_n, share=TARGET_SHARE))
        self.loss_m = ships.linings.loss_at_start_m.copy()
        self.eaten_m, self.bedding_m, self.pointer_si = np.zeros(drums), np.zeros(drums), np.zeros(drums)
        self.friction_z, self.new_friction = np.zeros(drums), np.zeros(drums)
        self.unrenewed_m = self.loss_m.copy()
        self.renewed_at = np.full(drums, -1)
        self.moorings = np.zeros(drums)
        self.mark_si = ships.brakes.setting_for(self.target_n, friction_factor=np.ones(drums), loss_m=self.loss_m)
        self.standing_si = self.mark_si.copy()
        shape = calendar.year.shape
        self.written: Written = {name: np.full(shape, np.nan) for name in WRITTEN}
        self.truth: Written = {name: np.full(shape, np.nan) for name in TRUTH}
        self.last: Written = {name: np.full(drums, np.nan) for name in WRITTEN}

    def run(self) -> None:
        """Every year in turn."""
        for year in range(len(self.calendar.year)):
            self._year(year)

    def _active(self, kind: Kind, year: int) -> BoolArray:
        return np.asarray(np.isfinite(self.size[kind][year]))

    def _starts(self, kind: Kind, year: int) -> BoolArray:
        return self._active(kind, year) & _begins(self.planned[kind], year)

    def _of_care(self, key: str, year: int) -> FloatArray:
        low, high = BY_KEY[key].low, BY_KEY[key].high
        return low + self.calendar.care[year] * (high - low)

    def _year(self, year: int) -> None:
        made = self.calendar.made[year]
        event = self._work_between_rounds(year)
        self._wear(year)
        friction = self._friction(year)
        dry = 1 - _drawn("damp", self.noise.damp_u[year])
        wet = np.where(self._active(Kind.WET_BRAKE, year), self.size[Kind.WET_BRAKE][year], 0.0)
        today = _Today(friction=friction, dry=dry * (1 - wet), sense=self._sense(year, friction))
        found = self._as_found(year, today, event)
        left = self._set(year, today, found)
        invented = self._active(Kind.FIGURES_COPIED, year) | self._active(Kind.TOO_GOOD, year)
        now = found | left | {"lining_m": self._thickness(year), "event": event.astype(float)}
        now = self._invent(year, now, invented)
        adjusted = made & ~invented
        self.standing_si = np.where(adjusted, left["standing_si"], self.standing_si)
        self.mark_si = np.where(made, now["mark_si"], self.mark_si)
        self.eaten_m = np.where(adjusted, 0.0, self.eaten_m)
        now["moorings"] = self.moorings.copy()
        self.moorings = np.where(made, 0.0, self.moorings)
        for name in WRITTEN:
            self.written[name][year] = np.where(made, now[name], np.nan)
            self.last[name] = np.where(made, now[name], self.last[name])
        self._keep_truth(year, today)

    def _keep_truth(self, year: int, today: "_Today") -> None:
        brakes = self.ships.brakes
        at_aim_si = brakes.setting_for(self.target_n, friction_factor=today.friction, loss_m=self.loss_m)
        load_n = brakes.load_n(
            self.standing_si, friction_factor=today.friction, loss_m=self.loss_m, eaten_m=self.eaten_m
        )
        half_pa = self.gauges.half_division_pa
        reading = (self._of_care("stroke_pa", year) ** 2 + half_pa**2) / 12 / self.ships.target_pa**2
        slope = brakes.share_per_si(at_aim_si, friction_factor=today.friction, loss_m=self.loss_m)
        for name, values in {
            "mark_for_target_si": at_aim_si - self.pointer_si,
            "as_left_share": load_n / brakes.sdmbl_n,
            "share_per_si": slope,
            "loss_m": self.loss_m,
            "unrenewed_m": self.unrenewed_m,
            "standing_si": self.standing_si,
            "friction": today.friction,
            "sense": today.sense,
            "hand_si": self._hand_si(year),
            "reading_share": TARGET_SHARE * np.sqrt(self._of_care("slip_scatter", year) ** 2 + reading),
        }.items():
            self.truth[name][year] = values

    def _work_between_rounds(self, year: int) -> IntArray:
        noise, linings = self.noise, self.ships.linings
        self.unrenewed_m = self.loss_m.copy()
        calendar, drums = self.calendar, len(self.loss_m)
        event = np.zeros(drums, dtype=np.int64)
        if year == 0:
            return event
        # What nobody looked at cannot be renewed, and a fault's first test is no other work's first test.
        kept = np.any([_begins(self.planned[kind], year) for kind in Kind], axis=0)
        kept |= np.isfinite(self.planned[Kind.TOO_GOOD][year])
        running = self.calendar.begun[year - 1] & ~kept
        phase = self.ships.docking_phase_y
        docked = np.floor((calendar.year[year] - phase) / YEARS_BETWEEN_DOCKINGS) > np.floor(
            (calendar.year[year - 1] - phase) / YEARS_BETWEEN_DOCKINGS
        )
        allowed_m = np.minimum(linings.loss_at_limit_m, linings.new_m - linings.minimum_m)
        near = self.loss_m >= BY_KEY["renewed_near_limit"].low * allowed_m
        # A lining that is yet to be renewed unrecorded is not renewed early besides.
        spared = np.isfinite(self.planned[Kind.RELINED_UNRECORDED][year:]).any(axis=0)
        anyway = (noise.renewed_u[year] < BY_KEY["renewed_anyway"].low) & ~spared
        recorded = running & ((docked & (near | anyway)) | self._seen_worn_out())
        recorded |= _begins(self.planned[Kind.WRONG_JACK_SIDE], year)
        # A lining renewed while the vessel is laid up has its event at the next round, so it waits for that.
        recorded &= calendar.made[year]
        renewed = recorded | self._starts(Kind.RELINED_UNRECORDED, year)
        self._renew(renewed, recorded, year)
        worked = running & ~renewed & calendar.made[year] & (noise.work_u[year] < BY_KEY["brake_work"].low)
        moves = (self.ships.brakes.kind == MARKER) * _drawn("work_moves_mark_m", noise.moved_u[year])
        self.pointer_si = self.pointer_si + np.where(worked, moves, 0.0)
        shifted = self._starts(Kind.MARK_SHIFTED, year)
        self.pointer_si = self.pointer_si + np.where(shifted, self.size[Kind.MARK_SHIFTED][year], 0.0)
        event[recorded], event[worked] = RELINED, WORKED_ON
        return event

    def _seen_worn_out(self) -> BoolArray:
        """Whether the ship's own figures of its last test say that lining or thread is at its end."""
        linings = self.ships.linings
        with np.errstate(invalid="ignore"):
            thin = self.last["lining_m"] < linings.minimum_m
            past = (self.last["mark_si"] - linings.mark_limit_si) * self.ships.brakes.tighter_sign > 0
        return np.asarray(thin | past)

    def _renew(self, renewed: BoolArray, recorded: BoolArray, year: int) -> None:
        self.loss_m = np.where(renewed, 0.0, self.loss_m)
        self.bedding_m = np.where(renewed, _drawn("bedding_in_m", self.noise.bedding_u[year]), self.bedding_m)
        fresh = _drawn("new_lining_friction", self.noise.new_friction_u[year])
        self.new_friction = np.where(renewed, fresh, self.new_friction)
        self.renewed_at = np.where(recorded, year, self.renewed_at)

    def _wear(self, year: int) -> None:
        calendar, ships = self.calendar, self.ships
        if year == 0:
            return
        elapsed_y = calendar.year[year] - calendar.year[year - 1]
        worn_m = ships.wear_per_year_m * elapsed_y + ships.wear_per_mooring_m * calendar.moorings[year]
        worn_m = worn_m * np.exp(BY_KEY["wear_scatter"].low * self.noise.wear_z[year])
        worn_m = worn_m * np.where(self._fast(year), self.size[Kind.FAST_WEAR][year], 1.0)
        self.unrenewed_m = self.unrenewed_m + np.where(calendar.begun[year - 1], worn_m, 0.0)
        just_renewed = self.renewed_at == year
        just_renewed |= self._starts(Kind.RELINED_UNRECORDED, year)
        # At the test after relining nothing is bedded in yet; a year later all of it is.
        worn_m = np.where(just_renewed, 0.1 * worn_m, worn_m + self.bedding_m)
        self.bedding_m = np.where(just_renewed, self.bedding_m, 0.0)
        self.new_friction = np.where(just_renewed, self.new_friction, 0.0)
        worn_m = np.where(calendar.begun[year - 1], worn_m, 0.0)
        self.loss_m = self.loss_m + worn_m
        self.eaten_m = np.where(just_renewed, 0.0, self.eaten_m + worn_m)
        self.moorings = self.moorings + np.where(calendar.begun[year - 1], calendar.moorings[year], 0.0)

    def _fast(self, year: int) -> BoolArray:
        """Wear that is too fast begins with the year before its first test and ends with the lining."""
        active = self._active(Kind.FAST_WEAR, year)
        onset = np.argmax(np.isfinite(self.size[Kind.FAST_WEAR]), axis=0)
        return np.asarray(active & (self.renewed_at < onset))

    def _friction(self, year: int) -> FloatArray:
        memory = self.ships.friction_memory
        fresh = np.sqrt(1 - memory**2) * self.noise.friction_z[year]
        self.friction_z = memory * self.friction_z + fresh if year else self.noise.friction_z[year]
        return np.asarray(np.exp(self.ships.friction_of_years * self.friction_z) * (1 + self.new_friction))

    def _sense(self, year: int, friction: FloatArray) -> FloatArray:
        """1, or what the brake seems to hold over what it holds where the jack pushes against the line's way."""
        brakes = self.ships.brakes
        against = brakes.stiffness_n(friction, own_sense=False) / brakes.stiffness_n(friction)
        return np.where(self._active(Kind.WRONG_JACK_SIDE, year), against, 1.0)

    def _hand_si(self, year: int) -> FloatArray:
        care, kind = self.calendar.care[year], self.ships.brakes.kind
        travel = _blend("hand_careful_m", "hand_hasty_m", care)
        part = _blend("hand_careful", "hand_hasty", care)
        return np.where((kind == TORQUE) | (kind == PRESSURE), part * np.abs(self.mark_si), travel)

    def _believed_over_true(self, year: int) -> FloatArray:
        factor = np.ones(len(self.loss_m))
        for kind in (Kind.UNIT_TWO_PERCENT, Kind.RADIUS_FOR_DIAMETER, Kind.FLANGE_FOR_DRUM):
            factor = np.where(self._active(kind, year), self.size[kind][year], factor)
        return factor

    def _share_read(self, year: int, slip: int, load_n: FloatArray, today: "_Today") -> FloatArray:
        """What the crew makes of one slip: friction's scatter, stroke, jack, gauge and its own figures in between."""
        scatter = np.exp(self._of_care("slip_scatter", year) * self.noise.slip_z[slip, year])
        true_n = load_n * today.dry * today.sense * scatter
        pressure_pa = self.ships.target_pa * true_n / self.target_n / (1 - self.ships.jack_loss)
        pressure_pa = pressure_pa + self.noise.stroke_u[slip, year] * self._of_care("stroke_pa", year)
        reading_pa = self.gauges.shows(year, pressure_pa)
        return TARGET_SHARE * reading_pa / self.ships.target_pa * self._believed_over_true(year)

    def _as_found(self, year: int, today: "_Today", event: IntArray) -> Written:
        u, noise = self.noise.as_found_u[year], self.noise
        none, untouched = BY_KEY["as_found_none"].low, BY_KEY["as_found_untouched"].low
        kind = np.where(u < none, NOT_FOUND, np.where(u < none + untouched, UNTOUCHED, RE_APPLIED))
        kind = np.where(event != NO_EVENT, NOT_FOUND, kind)
        again_si = self.mark_si + self.pointer_si + self._hand_si(year) * noise.hand_z[AS_FOUND, year]
        setting_si = np.where(kind == UNTOUCHED, self.standing_si, again_si)
        friction, loss_m = today.friction, self.loss_m
        eaten_m = np.where(kind == UNTOUCHED, self.eaten_m, 0.0)
        load_n = self.ships.brakes.load_n(setting_si, friction_factor=friction, loss_m=loss_m, eaten_m=eaten_m)
        load_n = load_n * np.where(kind == UNTOUCHED, 1 - _drawn("creep", noise.creep_u[year]), 1.0)
        share = self._share_read(year, AS_FOUND, load_n, today)
        held = share >= self.ships.stop_share
        share = np.where(held, self.ships.stop_share, np.maximum(share, 0.001))
        known = kind != NOT_FOUND
        return {
            "as_found_kind": kind.astype(float),
            "as_found_share": np.where(known, share, np.nan),
            "as_found_held": (held & known).astype(float),
        }

    def _set(self, year: int, today: "_Today", found: Written) -> Written:
        share = found["as_found_share"]
        near = np.abs(share - TARGET_SHARE) <= self._of_care("left_alone_within", year)
        alone = near & (found["as_found_held"] == 0)
        aimed_si = self._on_the_rule(self._aimed(year, today) - self.pointer_si)
        mark_si = np.where(alone, self.mark_si, aimed_si)
        first, standing_si = self._verify(year, mark_si, FIRST_TRY, today)
        again = (first < BAND[0]) | (first > BAND[1])
        slope = self.ships.brakes.share_per_si(
            mark_si + self.pointer_si, friction_factor=today.friction, loss_m=self.loss_m
        )
        seen = np.maximum(slope * today.dry * today.sense * self._believed_over_true(year), 1e-9)
        most_si = 0.5 * np.abs(self.mark_si) + 0.01 * (self.ships.brakes.kind == MARKER)
        by_si = np.clip((TARGET_SHARE - first) / seen, -most_si, most_si)
        corrected_si = self._on_the_rule(mark_si + self.ships.brakes.tighter_sign * by_si)
        second, second_si = self._verify(year, corrected_si, SECOND_TRY, today)
        told = ~alone | again
        scatter = np.exp(self._of_care("slope_error", year) * self.noise.slope_z[year])
        return {
            "mark_si": np.where(again, corrected_si, mark_si),
            "as_left_share": np.maximum(np.where(again, second, first), 0.001),
            "standing_si": np.where(again, second_si, standing_si),
            "slope_share_per_si": np.where(told, seen * scatter, np.nan),
        }

    def _aimed(self, year: int, today: "_Today") -> FloatArray:
        """The true setting at which this crew, with its gauge and its figures, would read what it aims at."""
        aim = TARGET_SHARE + self._of_care("aim_spread", year) * self.noise.aim_z[year]
        reading_pa = self.ships.target_pa * aim / TARGET_SHARE / self._believed_over_true(year)
        pressure_pa = self.gauges.pressure_for(year, reading_pa) - self._of_care("stroke_pa", year) / 2
        load_n = self.target_n * pressure_pa * (1 - self.ships.jack_loss) / self.ships.target_pa
        load_n = np.clip(load_n / today.dry / today.sense, 0.0, TIGHTEST_SHARE * self.ships.brakes.sdmbl_n)
        return self.ships.brakes.setting_for(load_n, friction_factor=today.friction, loss_m=self.loss_m)

    def _verify(self, year: int, mark_si: FloatArray, slip: int, today: "_Today") -> tuple[FloatArray, FloatArray]:
        hand_si, zero = self._hand_si(year), np.zeros(len(self.loss_m))
        shares, setting_si = [], mark_si
        for place in (slip, slip + 1):
            setting_si = mark_si + self.pointer_si + hand_si * self.noise.hand_z[place, year]
            load_n = self.ships.brakes.load_n(
                setting_si, friction_factor=today.friction, loss_m=self.loss_m, eaten_m=zero
            )
            shares.append(self._share_read(year, place, load_n, today))
        return (shares[0] + shares[1]) / 2, setting_si

    def _on_the_rule(self, setting_si: FloatArray) -> FloatArray:
        return np.asarray(np.round(setting_si / self.ships.rule_si) * self.ships.rule_si)

    def _thickness(self, year: int) -> FloatArray:
        spread_m = self._of_care("lining_spread_m", year) * self.noise.lining_z[year]
        thick_m = np.maximum(np.round((self.ships.linings.new_m - self.loss_m + spread_m) / 1e-4) * 1e-4, 1e-4)
        return np.where(self.noise.measured_u[year] < BY_KEY["lining_measured"].low, thick_m, np.nan)

    def _invent(self, year: int, now: Written, invented: BoolArray) -> Written:
        copied = {name: np.where(invented, self.last[name], now[name]) for name in now if name in WRITTEN}
        copied["event"] = np.where(invented, NO_EVENT, now["event"])
        too_good = self._active(Kind.TOO_GOOD, year)
        found = np.round(TARGET_SHARE + 0.003 * self.noise.invented_z[year], 3)
        copied["as_left_share"] = np.where(too_good, TARGET_SHARE, copied["as_left_share"])
        copied["as_found_kind"] = np.where(too_good, RE_APPLIED, copied["as_found_kind"])
        copied["as_found_share"] = np.where(too_good, found, copied["as_found_share"])
        copied["as_found_held"] = np.where(too_good, 0.0, copied["as_found_held"])
        copied["slope_share_per_si"] = np.where(invented, np.nan, copied["slope_share_per_si"])
        return copied


WRITTEN = (
    "mark_si", "as_left_share", "slope_share_per_si", "as_found_kind", "as_found_share", "as_found_held", "lining_m",
    "event", "moorings",
)  # fmt: skip
TRUTH = (
    "mark_for_target_si", "as_left_share", "share_per_si", "loss_m", "unrenewed_m", "standing_si", "friction", "sense",
    "hand_si", "reading_share",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class _Today:
    """This day's friction over the usual, what damp and oil leave of the load, and the sense the jack pushes in."""

    friction: FloatArray
    dry: FloatArray
    sense: FloatArray


def _begins(planned: FloatArray, year: int) -> BoolArray:
    before = np.isfinite(planned[year - 1]) if year else False
    return np.asarray(np.isfinite(planned[year]) & ~before)


def _drawn(key: str, chance: FloatArray) -> FloatArray:
    return BY_KEY[key].low + chance * (BY_KEY[key].high - BY_KEY[key].low)


def _blend(careful: str, hasty: str, care: FloatArray) -> FloatArray:
    return BY_KEY[careful].low + care * (BY_KEY[hasty].low - BY_KEY[careful].low)
