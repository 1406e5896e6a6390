"""What the readings so far advise, as in a real test: the brake, the band and the hand as the crew knows them."""

from collections.abc import Iterable
from functools import lru_cache
from typing import Protocol

from fleet.calculation.budget import load_budget
from fleet.calculation.measurement import GaugeInUse, Measurement
from fleet.calculation.setting import SettingAdvice, SettingRules, SettingTask, next_move
from fleet.calculation.setting_likelihood import SettingReading
from fleet.practice.brakes import BAND, PracticeBrake, practice_brake


class Written(Protocol):
    """What of a written reading counts for the setting."""

    @property
    def mark_m(self) -> float: ...
    @property
    def gauge_pa(self) -> float: ...
    @property
    def slipped(self) -> bool: ...
    @property
    def reapplied(self) -> bool: ...


def task_for(brake: PracticeBrake, *, is_verifying: bool) -> SettingTask:
    """Brake, band and hand, as the crew knows them; a verification slip in the band is not worked on any more."""
    sdmbl_n = brake.drum.sdmbl_n
    return SettingTask(
        target_load_n=brake.target_load_n,
        lower_n=BAND[0] * sdmbl_n,
        upper_n=BAND[1] * sdmbl_n,
        tighter_is=brake.tighter_is,
        stop_n=brake.target.load_at(brake.stop_mark_pa),
        last_slope_n_per_unit=brake.drum.last_slope_n_per_m,
        movement_per_turn_si=brake.drum.mark_per_turn_m,
        part_that_arrives=part_that_arrives(brake.level.number, brake.seed),
        rules=SettingRules(margins=()) if is_verifying else SettingRules(),
    )


@lru_cache(maxsize=64)
def part_that_arrives(level: int, seed: int) -> float:
    """What is left of a load as read after all that jack and lever can only take away: by assumption, at the target."""
    brake = practice_brake(level, seed)
    dial = brake.drum.trial.rig.dial
    gauge = GaugeInUse(
        full_scale_si=dial.full_scale_pa,
        accuracy_class=dial.accuracy_class,
        smallest_division_si=dial.smallest_division_pa,
    )
    budget = load_budget(Measurement(reading_si=brake.target_reading_pa, target=brake.target, gauge=gauge))
    return float(budget.load_n / budget.uncorrected_n)


def advised(brake: PracticeBrake, readings: Iterable[Written], *, is_verifying: bool) -> SettingAdvice | None:
    """The advice that rests on the readings; None while there is no reading it may rest on."""
    stroke_n = brake.target.load_at(brake.drum.trial.rig.stroke_pa)
    usable = [
        SettingReading(
            setting_si=row.mark_m,
            load_n=brake.target.load_at(row.gauge_pa),
            slipped=row.slipped,
            stroke_n=stroke_n if row.slipped else 0.0,
        )
        for row in readings
        if row.reapplied and row.gauge_pa > 0
    ]
    return next_move(usable, task_for(brake, is_verifying=is_verifying)) if usable else None
