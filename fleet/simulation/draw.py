"""Draws a whole virtual drum, with the test that lies ahead of it, from the bounds of ``ranges``."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, log

import numpy as np

from fleet.calculation.brake import GeometryTarget, equal_jacks, rendering_load
from fleet.calculation.checks import InputError
from fleet.calculation.gauge import USABLE_TO
from fleet.calculation.geometry import moment_radius
from fleet.simulation import ranges
from fleet.simulation.brake import BandBrake, tensions_for_torque
from fleet.simulation.rig import Dial, Rig
from fleet.simulation.trial import Trial

SHARE = 0.60
HOLDING_SHARE = 0.80
YOUNGS_MODULUS_PA = 205e9
RULE_M = 0.5e-3


@dataclass(frozen=True, kw_only=True)
class VirtualDrum:
    """A drum about to be tested. ``last_mark_m`` and ``last_slope_n_per_m`` are None after work on the brake."""

    sdmbl_n: float
    trial: Trial
    start_mark_m: float
    mark_per_turn_m: float
    last_mark_m: float | None
    last_slope_n_per_m: float | None


def draw_drum(seed: int, given: Mapping[str, float] | None = None) -> VirtualDrum:
    """The virtual drum of a seed: the same seed gives the same drum and, with the same steps, the same readings.

    ``given`` replaces drawn figures by their key in ``ranges.TABLE``; the others stay as they are for the seed.
    Source: the bounds in ``ranges.TABLE``. Young's modulus of steel from memory.
    """
    return _Draw(seed, given).drum()


class _Draw:
    def __init__(self, seed: int, given: Mapping[str, float] | None = None) -> None:
        self.rng = np.random.default_rng(seed)
        # Every parameter is drawn, in the order of the table, whether it is used or not: so one seed stays one drum.
        self.figures = {bounds.key: self._figure(bounds) for bounds in ranges.TABLE}
        unknown = set(given or {}) - set(self.figures)
        if unknown:
            raise InputError("given", f"names figures that are not drawn: {', '.join(sorted(unknown))}")
        self.figures |= given or {}

    def _figure(self, bounds: ranges.Bounds) -> float:
        if bounds.drawn == ranges.ONE_OF:
            return float(self.rng.choice(bounds.values))
        if bounds.drawn == ranges.LOG_UNIFORM:
            return exp(self.rng.uniform(log(bounds.low), log(bounds.high)))
        return float(self.rng.uniform(bounds.low, bounds.high))

    def drum(self) -> VirtualDrum:
        f = self.figures
        as_new = self._brake()
        target_n = rendering_load(sdmbl_n=f["sdmbl_n"], share=SHARE)
        last_mark_m = _on_the_rule(as_new.mark_for(target_n))
        now = self._brake(
            friction_factor=f["friction_since_last"], lining_loss_m=f["lining_loss_m"], wetness=f["wetness"]
        )
        after_work = self.rng.random() < f["after_work_chance"]
        start_mark_m = _on_the_rule(now.mark_for(f["after_work_start"] * f["sdmbl_n"])) if after_work else last_mark_m
        return VirtualDrum(
            sdmbl_n=f["sdmbl_n"],
            trial=Trial(
                brake=now,
                rig=self._rig(target_n),
                rng=self.rng,
                hand_spread_m=f["hand_spread_m"],
                friction_scatter=f["friction_scatter"],
                rest_growth=f["rest_growth"],
                run_in_per_slip=f["run_in_per_slip"],
            ),
            start_mark_m=start_mark_m,
            mark_per_turn_m=f["mark_per_turn_m"],
            last_mark_m=None if after_work else last_mark_m,
            last_slope_n_per_m=None if after_work else f["last_slope_error"] * as_new.slope_at(last_mark_m),
        )

    @property
    def _line_diameter_m(self) -> float:
        return self.figures["drum_diameter_m"] / self.figures["drum_over_line"]

    def _brake(self, *, friction_factor: float = 1.0, lining_loss_m: float = 0.0, wetness: float = 0.0) -> BandBrake:
        f = self.figures
        line_radius_m = moment_radius(drum_diameter_m=f["drum_diameter_m"], line_diameter_m=self._line_diameter_m)
        rim_radius_m = f["brake_over_drum"] * f["drum_diameter_m"] / 2
        holding = tensions_for_torque(
            torque_nm=HOLDING_SHARE * f["sdmbl_n"] * line_radius_m,
            radius_m=rim_radius_m,
            friction=f["friction_sliding"] * f["static_over_sliding"],
            wrap_rad=f["wrap_rad"],
        )
        return BandBrake(
            rim_radius_m=rim_radius_m,
            line_radius_m=line_radius_m,
            wrap_rad=f["wrap_rad"],
            friction_sliding=f["friction_sliding"] * friction_factor,
            static_over_sliding=f["static_over_sliding"],
            band_stiffness_n=holding.tight_n / f["band_stress_pa"] * YOUNGS_MODULUS_PA,
            spindle_stiffness_n_per_m=holding.slack_n / f["spindle_give_m"],
            take_up_m=f["take_up_m"],
            mark_per_band_travel=f["mark_per_band_travel"],
            mark_when_bearing_m=f["mark_when_bearing_m"],
            tighter_sign=f["tighter_sign"],
            lining_loss_m=lining_loss_m,
            wetness=wetness,
            wet_loss=f["wet_loss"],
        )

    def _rig(self, target_n: float) -> Rig:
        f = self.figures
        target = self._jack(target_n)
        return Rig(
            target=target,
            dial=self._dial(target.pressure_for(target_n)),
            lever_arm_m=f["lever_arm_m"],
            jack_friction=f["jack_friction"],
            lever_mass_kg=f["lever_mass_kg"],
            lever_centre=f["lever_centre"],
            lever_angle_rad=f["lever_angle_rad"],
            stroke_pa=f["stroke_pa"],
        )

    def _jack(self, target_n: float) -> GeometryTarget:
        f = self.figures
        jacks = [
            equal_jacks(
                area_m2=area_m2,
                lever_arm_m=f["lever_arm_m"],
                drum_diameter_m=f["drum_diameter_m"],
                line_diameter_m=self._line_diameter_m,
            )
            for area_m2 in ranges.BY_KEY["piston_area_m2"].values
        ]
        fit = [jack for jack in jacks if jack.pressure_for(target_n) <= f["highest_target_pa"]]
        return fit[0] if fit else jacks[-1]

    def _dial(self, target_pa: float) -> Dial:
        f = self.figures
        scales = ranges.BY_KEY["full_scale_pa"].values
        fit = [place for place, scale_pa in enumerate(scales) if target_pa <= USABLE_TO * scale_pa]
        place = min((fit[0] if fit else len(scales) - 1) + int(f["scales_too_coarse"]), len(scales) - 1)
        return Dial(
            full_scale_pa=scales[place],
            accuracy_class=f["accuracy_class"],
            divisions=f["divisions"],
            error=f["gauge_error"],
            offset_part=f["gauge_offset_part"],
        )


def _on_the_rule(mark_m: float) -> float:
    return round(mark_m / RULE_M) * RULE_M
