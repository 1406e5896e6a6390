"""Thousands of virtual brakes at once: the band brake of ``brake`` in arrays, and brakes set by force, not travel.

A band brake on a spindle is set by travel, which wear eats up. Where torque, spring length or pressure is kept, the
force on the band is set, and wear leaves it alone (but for a spring that nobody touches). All figures SI.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import lambertw

from fleet.calculation.drift_histories import BoolArray, IntArray
from fleet.calculation.geometry import moment_radius
from fleet.calculation.units import FloatArray
from fleet.simulation import fleet_ranges, ranges
from fleet.simulation.draw import HOLDING_SHARE, YOUNGS_MODULUS_PA
from fleet.simulation.ranges import LOG_UNIFORM, ONE_OF, Bounds

MARKER, TORQUE, SPRING, PRESSURE = range(4)


def draw(bounds: Bounds, rng: np.random.Generator, size: int | tuple[int, ...]) -> FloatArray:
    """Values of one parameter, drawn as its bounds say."""
    if bounds.drawn == ONE_OF:
        return rng.choice(np.array(bounds.values), size)
    if bounds.drawn == LOG_UNIFORM:
        return np.exp(rng.uniform(np.log(bounds.low), np.log(bounds.high), size))
    return rng.uniform(bounds.low, bounds.high, size)


@dataclass(frozen=True, kw_only=True)
class Brakes:
    """Brakes as they truly are, one row per drum.

    ``load_n`` of a brake is ``give_n`` times the band's travel beyond its take-up, with the friction of the moment;
    the setting is ``zero_si`` where the new lining begins to bear, and ``ratio`` settings make one of band travel.
    ``wears`` is 1 where wear eats up travel at a kept setting, ``slackens`` where it does so at least untouched.
    """

    kind: IntArray
    tighter_sign: FloatArray
    zero_si: FloatArray
    ratio: FloatArray
    take_up_m: FloatArray
    wrap_rad: FloatArray
    friction: FloatArray
    rim_over_line: FloatArray
    spindle_give: FloatArray
    band_give: FloatArray
    wears: FloatArray
    slackens: FloatArray
    sdmbl_n: FloatArray

    def stiffness_n(self, friction_factor: FloatArray, *, own_sense: bool = True) -> FloatArray:
        """Line load per band travel beyond the take-up, N/m (N per unit of force setting).

        Source: Euler-Eytelwein; elastic stretch of a band whose tension grows exponentially over the wrap.
        """
        bend = self.friction * friction_factor * self.wrap_rad
        if own_sense:
            give = self.spindle_give + self.band_give * np.expm1(bend) / bend
            return self.rim_over_line * np.expm1(bend) / give
        give = self.spindle_give - self.band_give * np.expm1(-bend) / bend
        return -self.rim_over_line * np.expm1(-bend) / give

    def load_n(
        self, setting_si: FloatArray, *, friction_factor: FloatArray, loss_m: FloatArray, eaten_m: FloatArray
    ) -> FloatArray:
        """Line load at which each renders.

        loss_m: lining worn off; eaten_m: worn off since anybody set an untouched brake.
        """
        travel_m = self._travel(setting_si, loss_m, eaten_m)
        return self.stiffness_n(friction_factor) * taken_up(travel_m, self.take_up_m)

    def setting_for(
        self, load_n: FloatArray, *, friction_factor: FloatArray, loss_m: FloatArray, own_sense: bool = True
    ) -> FloatArray:
        """The setting at which each renders at a load."""
        travel_m = travel_for(load_n / self.stiffness_n(friction_factor, own_sense=own_sense), self.take_up_m)
        travel_m = travel_m + self.wrap_rad * self.wears * loss_m
        return self.zero_si + self.tighter_sign * self.ratio * travel_m

    def share_per_si(self, setting_si: FloatArray, *, friction_factor: FloatArray, loss_m: FloatArray) -> FloatArray:
        """Share of SDMBL that one unit of setting adds, towards tighter."""
        travel_m = np.maximum(self._travel(setting_si, loss_m, np.zeros_like(loss_m)), 0.0)
        part = -np.expm1(-travel_m / self.take_up_m)
        return self.stiffness_n(friction_factor) * part / self.ratio / self.sdmbl_n

    def _travel(self, setting_si: FloatArray, loss_m: FloatArray, eaten_m: FloatArray) -> FloatArray:
        travelled_m = self.tighter_sign * (setting_si - self.zero_si) / self.ratio
        return travelled_m - self.wrap_rad * (self.wears * loss_m + self.slackens * eaten_m)


def taken_up(travel_m: FloatArray, take_up_m: FloatArray) -> FloatArray:
    """The part of the travel that stretches the band; nothing where it hangs clear."""
    travel_m = np.maximum(travel_m, 0.0)
    return np.asarray(travel_m + take_up_m * np.expm1(-travel_m / take_up_m))


def travel_for(stretch_m: FloatArray, take_up_m: FloatArray) -> FloatArray:
    """The travel that leaves so much stretch: the inverse of ``taken_up``.

    Source: x + t (exp(−x/t) − 1) = y is solved by x = y + t (1 + W(−exp(−1 − y/t))), W the Lambert function.
    """
    over = stretch_m / take_up_m
    return np.asarray(stretch_m + take_up_m * (1 + np.real(lambertw(-np.exp(-1 - over)))))


@dataclass(frozen=True, kw_only=True)
class Linings:
    """Linings and limits, one row per drum: what the drum's papers say, and the wear when records begin."""

    new_m: FloatArray
    minimum_m: FloatArray
    mark_limit_si: FloatArray
    loss_at_limit_m: FloatArray
    loss_at_start_m: FloatArray


def draw_brakes(kind: IntArray, rng: np.random.Generator) -> tuple[Brakes, Linings]:
    """Brakes with their linings for the kind of setting of each drum, from the bounds of ``ranges`` and here."""
    drums = len(kind)
    f = {bounds.key: draw(bounds, rng, drums) for bounds in ranges.TABLE}
    f |= {bounds.key: draw(bounds, rng, drums) for bounds in fleet_ranges.DRUM}
    marker = kind == MARKER
    line_radius_m = moment_radius(
        drum_diameter_m=f["drum_diameter_m"], line_diameter_m=f["drum_diameter_m"] / f["drum_over_line"]
    )
    rim_radius_m = f["brake_over_drum"] * f["drum_diameter_m"] / 2
    friction = f["friction_sliding"] * f["static_over_sliding"]
    bend = friction * f["wrap_rad"]
    slack_n = HOLDING_SHARE * f["sdmbl_n"] * line_radius_m / rim_radius_m / np.expm1(bend)
    tight_n = slack_n * np.exp(bend)
    band_give = f["wrap_rad"] * rim_radius_m / (tight_n / f["band_stress_pa"] * YOUNGS_MODULUS_PA)
    at_aim_si, unit_ratio = _force_settings(kind, f)
    # A force setting: slack tension in proportion, nothing stretches, so the "give" is setting per tension.
    aim_n = slack_n * fleet_ranges.TARGET_SHARE / HOLDING_SHARE
    sign = np.where(marker | (kind == SPRING), f["tighter_sign"], 1.0)
    limits = _linings(f, marker)
    brakes = Brakes(
        kind=kind,
        tighter_sign=sign,
        zero_si=_zero(kind, f, sign, limits),
        ratio=np.where(marker, f["mark_per_band_travel"], unit_ratio),
        take_up_m=np.where(marker, f["take_up_m"], 1e-6 * at_aim_si),
        wrap_rad=f["wrap_rad"],
        friction=friction,
        rim_over_line=rim_radius_m / line_radius_m,
        spindle_give=np.where(marker, f["spindle_give_m"] / slack_n, at_aim_si / aim_n),
        band_give=np.where(marker, band_give, 0.0),
        wears=marker.astype(float),
        slackens=(kind == SPRING).astype(float),
        sdmbl_n=f["sdmbl_n"],
    )
    return brakes, _with_mark_limits(brakes, limits, f)


def _force_settings(kind: IntArray, f: dict[str, FloatArray]) -> tuple[FloatArray, FloatArray]:
    choices = [f["spindle_torque_nm"], f["spring_travel_m"], f["applied_pa"]]
    at_aim = np.select([kind == TORQUE, kind == SPRING, kind == PRESSURE], choices, default=f["spring_travel_m"])
    return at_aim, np.ones_like(at_aim)


def _zero(kind: IntArray, f: dict[str, FloatArray], sign: FloatArray, linings: Linings) -> FloatArray:
    run_m = f["wrap_rad"] * f["mark_per_band_travel"] * linings.loss_at_limit_m
    # The mark is at its shortest at the limit where tighter is shorter, and when new where tighter is longer.
    reserve_m = f["mark_per_band_travel"] * (f["spindle_give_m"] + 3 * f["take_up_m"])
    marker = np.where(sign < 0, f["least_mark_m"] + run_m + reserve_m, f["least_mark_m"])
    spring = np.where(sign < 0, f["spring_free_m"], 0.0)
    return np.select(
        [kind == MARKER, kind == SPRING, kind == TORQUE],
        [marker, spring, f["force_zero"] * f["spindle_torque_nm"]],
        default=f["force_zero"] * f["applied_pa"],
    )


def _linings(f: dict[str, FloatArray], marker: BoolArray) -> Linings:
    worn_out_m = f["lining_worn_part"] * f["lining_new_m"]
    per_loss = f["wrap_rad"] * f["mark_per_band_travel"]
    thread_m = np.minimum(f["thread_part"] * worn_out_m * per_loss, f["most_thread_m"])
    at_limit_m = np.where(marker, np.minimum(thread_m / per_loss, 10.0), worn_out_m)
    return Linings(
        new_m=f["lining_new_m"],
        minimum_m=f["lining_new_m"] - worn_out_m,
        mark_limit_si=np.full(len(worn_out_m), np.nan),
        loss_at_limit_m=at_limit_m,
        loss_at_start_m=f["used_at_start"] * np.minimum(at_limit_m, worn_out_m),
    )


def _with_mark_limits(brakes: Brakes, linings: Linings, f: dict[str, FloatArray]) -> Linings:
    target_n = fleet_ranges.TARGET_SHARE * brakes.sdmbl_n
    limit_si = brakes.setting_for(target_n, friction_factor=np.ones_like(target_n), loss_m=linings.loss_at_limit_m)
    return Linings(
        new_m=linings.new_m,
        minimum_m=linings.minimum_m,
        mark_limit_si=np.where(brakes.kind == MARKER, limit_si, np.nan),
        loss_at_limit_m=linings.loss_at_limit_m,
        loss_at_start_m=linings.loss_at_start_m,
    )
