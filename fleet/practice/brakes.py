"""The brakes to practise on: three levels, each with its own difficulties, drawn by number."""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as lazy

from fleet.calculation import units
from fleet.calculation.brake import rendering_load
from fleet.calculation.gauge import division_at_or_below
from fleet.calculation.stop import StopReading, stop_reading
from fleet.calculation.targets import GeometryTarget
from fleet.simulation.by_hand import ByHand
from fleet.simulation.draw import SHARE, VirtualDrum, draw_drum
from fleet.simulation.trial import Trial

BAND = (0.55, 0.65)
GAUGE_UNIT = "bar"
BAR_PA = units.to_si(1.0, GAUGE_UNIT)
JACK_RATED_PA = units.to_si(700.0, GAUGE_UNIT)
LEAST_LINING_PART = 0.6
HIGHEST_SEED = 999_999

# What is not in order on deck, besides nothing at all.
WET, REELED, SISTER, THIN, NEEDLE = "wet", "reeled", "sister", "thin", "needle"
FAULTS = (WET, REELED, SISTER, THIN, NEEDLE)


@dataclass(frozen=True)
class Level:
    """How hard a brake is to set, and why."""

    number: int
    name: str | Promise
    explained: str | Promise


LEVELS = (
    Level(
        1,
        lazy("Dry and honest"),
        lazy("A dry brake with a sound lining, a fine gauge in date, and nothing wrong on deck. Begin here."),
    ),
    Level(
        2,
        lazy("Worn lining, coarse gauge"),
        lazy(
            "The lining has worn since the last test, so the old mark holds too little. The gauge is one size too "
            "large and coarse, and each stroke of the pump is a big step."
        ),
    ),
    Level(
        3,
        lazy("Something is not in order"),
        lazy(
            "On deck, on the brake or on the gauge one thing is wrong: water, the line reeled the other way, and the "
            "like. See it before the pump is touched."
        ),
    ),
)
BY_NUMBER = {level.number: level for level in LEVELS}


@dataclass(frozen=True)
class PracticeBrake:
    """One brake as it is handed to a crew; the same level and seed give the same one."""

    level: Level
    seed: int
    fault: str
    drum: VirtualDrum
    line_off: str
    jack_acts: str
    lead: str
    lining_new_m: float
    lining_m: tuple[float, float, float]

    @property
    def target(self) -> GeometryTarget:
        """Lever and jack as the crew believes them."""
        return self.drum.trial.rig.target

    @property
    def after_work(self) -> bool:
        """True where the brake was relined, so that its old mark means nothing."""
        return self.drum.last_mark_m is None

    @property
    def tighter_is(self) -> str:
        return "longer" if self.drum.trial.brake.tighter_sign > 0 else "shorter"

    @property
    def target_load_n(self) -> float:
        return rendering_load(sdmbl_n=self.drum.sdmbl_n, share=SHARE)

    @property
    def target_reading_pa(self) -> float:
        """What the crew's gauge should show as the brake renders at the target, if it were without error."""
        return self.target.pressure_for(self.target_load_n)

    @property
    def division_pa(self) -> float:
        return self.drum.trial.rig.dial.smallest_division_pa

    @cached_property
    def stop(self) -> StopReading:
        return stop_reading(
            target=self.target,
            sdmbl_n=self.drum.sdmbl_n,
            gauge_full_scale_si=self.drum.trial.rig.dial.full_scale_pa,
            ceiling_share=BAND[1],
            jack_rated_pressure_pa=JACK_RATED_PA,
            target_share=SHARE,
        )

    @cached_property
    def stop_mark_pa(self) -> float:
        """The division mark at or below the STOP reading."""
        reading = units.from_si(self.stop.reading_si, GAUGE_UNIT)
        return units.to_si(division_at_or_below(reading, units.from_si(self.division_pa, GAUGE_UNIT)), GAUGE_UNIT)

    def share_at(self, reading_pa: float) -> float:
        """Line load at a reading as a share of the ship design MBL, as the crew works it out."""
        return self.target.load_at(reading_pa) / self.drum.sdmbl_n

    def by_hand(self, attempt: int, *, run_in: bool) -> ByHand:
        """The brake, ready for one person's test. Each attempt has its own small chances; the brake stays the same."""
        given = self.drum.trial
        rng = np.random.default_rng([self.seed, self.level.number, attempt])
        trial = Trial(
            brake=given.brake.drier(0.05) if run_in else given.brake,
            rig=given.rig,
            rng=rng,
            hand_spread_m=given.hand_spread_m,
            friction_scatter=given.friction_scatter,
            rest_growth=given.rest_growth,
            run_in_per_slip=given.run_in_per_slip,
        )
        return ByHand(trial, rng=rng, mark_m=self.drum.start_mark_m)


@lru_cache(maxsize=64)
def practice_brake(level: int, seed: int) -> PracticeBrake:
    """The brake of a level and seed: the first that can be set with its own gear, from this seed on."""
    tried = seed
    while True:
        found = _draw(BY_NUMBER[level], seed, tried)
        if _can_be_set(found):
            return found
        tried += HIGHEST_SEED + 1


def _draw(level: Level, seed: int, tried: int) -> PracticeBrake:
    rng = np.random.default_rng([tried, level.number, 1])
    fault = str(rng.choice(FAULTS)) if level.number == 3 else ""
    new_m = float(rng.choice([10e-3, 12e-3]))
    return PracticeBrake(
        level=level,
        seed=seed,
        fault=fault,
        drum=draw_drum(tried, _given(level.number, fault, rng)),
        line_off=str(rng.choice(["top", "bottom"])),
        jack_acts="push",
        lead=str(rng.choice(["left", "right"])),
        lining_new_m=new_m,
        lining_m=_lining(level.number, fault, new_m, rng),
    )


def _given(level: int, fault: str, rng: np.random.Generator) -> dict[str, float]:
    """The figures a level fixes; all others are drawn as for any virtual brake."""
    calm = {"after_work_chance": 0.0, "wetness": 0.0, "friction_scatter": 0.004, "rest_growth": 0.0}
    if level == 1:
        return {
            **calm,
            "lining_loss_m": 0.0,
            "accuracy_class": 1.0,
            "scales_too_coarse": 0.0,
            "divisions": 100.0,
            "hand_spread_m": 0.1e-3,
            "jack_friction": 0.005,
            "stroke_pa": 6e5,
            "run_in_per_slip": 0.0,
        }
    if level == 2:
        return {
            **calm,
            "lining_loss_m": float(rng.uniform(0.10e-3, 0.22e-3)),
            "accuracy_class": 2.5,
            "scales_too_coarse": 1.0,
            "divisions": 50.0,
            "stroke_pa": 10e5,
        }
    wetness = float(rng.uniform(0.2, 0.4)) if fault == WET else 0.0
    return {**calm, "wetness": wetness, "after_work_chance": 1.0 if fault == THIN else 0.0}


def _lining(level: int, fault: str, new_m: float, rng: np.random.Generator) -> tuple[float, float, float]:
    """Thickness at three places, to a tenth of a millimetre; the thinnest in the middle."""
    low, high = (0.52, 0.57) if fault == THIN else (0.64, 0.72) if level == 2 else (0.78, 0.92)
    thinnest = float(rng.uniform(low, high)) * new_m
    places = (thinnest + rng.uniform(0.1e-3, 0.4e-3), thinnest, thinnest + rng.uniform(0.1e-3, 0.4e-3))
    first, second, third = (round(float(place), 4) for place in places)
    return first, second, third


def _can_be_set(found: PracticeBrake) -> bool:
    """Whether this gear can show the band, and every mark on the way is one that a rule can measure."""
    brake, sdmbl_n = found.drum.trial.brake, found.drum.sdmbl_n
    if found.target.load_at(found.stop_mark_pa) < 1.03 * found.target_load_n:
        return False
    marks = [brake.mark_for(share * sdmbl_n) for share in (0.2, 0.9)]
    as_found = brake.drier(0.05).rendering_load(found.drum.start_mark_m) / sdmbl_n
    return min(marks) >= 8e-3 and max(marks) <= 250e-3 and 0.25 <= as_found <= 0.80
