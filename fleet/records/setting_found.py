"""What a test's readings say of its brake's setting: the next move, the slope, the setting for exactly the target."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import sqrt
from typing import Any

from fleet.calculation import units
from fleet.calculation.assumptions import Assumptions
from fleet.calculation.budget import load_budget
from fleet.calculation.checks import InputError
from fleet.calculation.measurement import Measurement
from fleet.calculation.setting import SettingAdvice, SettingTask, next_move
from fleet.calculation.setting_likelihood import COVERAGE, Estimate, SettingReading
from fleet.calculation.setting_reading import reading_as_taken, rules_for
from fleet.calculation.tables import OutsideTable
from fleet.drums.models import BRAKE_WORK, SettingKind
from fleet.records.canonical import read_content
from fleet.records.draft import ParsedDraft, setting_unit
from fleet.records.figures import Figures
from fleet.records.models import DrumTest, Phase, State
from fleet.records.results import ReadingResult, Results
from fleet.records.trust import assumptions_of, gauge_in_use, tolerances_of
from fleet.records.vicinity import Vicinity

# The handwheel's movement is measured along the spindle: it says nothing of a torque, a pressure or shims.
ALONG_THE_SPINDLE = (SettingKind.MARKER_DISTANCE, SettingKind.SPRING_LENGTH)


@dataclass(frozen=True)
class LastSlope:
    """What the drum's last approved test says of its slope, N per unit of the setting, good within a factor."""

    slope_n_per_unit: float
    factor: float
    tested_on: str


@dataclass(frozen=True)
class SettingFound:
    """The advice after the last reading that counts. ``is_current``: whether that is the last reading of all."""

    advice: SettingAdvice
    unit: str
    settings_counted: int
    readings_counted: int
    is_current: bool
    last_slope: LastSlope | None


def setting_found(
    test: DrumTest,
    figures: Figures | None,
    parsed: ParsedDraft,
    results: Results | None,
    vicinity: Vicinity,
) -> SettingFound | None:
    """Weigh the readings that count; None while there are none, or where the target lies above STOP."""
    if figures is None or results is None:
        return None
    rows = counted(results.rows)
    if not rows:
        return None
    last_slope = slope_of_last_test(test, vicinity)
    unit = setting_unit(test)
    try:
        task = _task(test, figures, parsed, unit, rows[-1], last_slope)
        advice = next_move([_as_taken(row, figures) for row in rows], task)
    except InputError:
        return None
    return SettingFound(
        advice=advice,
        unit=unit,
        settings_counted=len({row.reading.mark_si for row in rows}),
        readings_counted=len(rows),
        is_current=rows[-1] is results.rows[-1],
        last_slope=last_slope,
    )


def counted(rows: Sequence[ReadingResult]) -> list[ReadingResult]:
    """The readings for which the brake was released and re-applied before; others show friction, not the setting.

    Raised further at the same setting after a hold is still the same application.
    """
    found: list[ReadingResult] = []
    before: ReadingResult | None = None
    for row in rows:
        held = before is not None and not before.reading.slipped
        goes_on = held and before is not None and before.reading.mark_si == row.reading.mark_si
        anew = row.reading.reapplied or row.reading.phase == Phase.AS_FOUND_REAPPLIED
        if row.load_n and (anew or goes_on):
            found.append(row)
            before = row
        else:
            before = None
    return found


def slope_of_last_test(test: DrumTest, vicinity: Vicinity) -> LastSlope | None:
    """The slope in the drum's last approved test, its readings weighed anew; None after work on the brake."""
    approved = (row for row in vicinity.earlier(test) if row.test.state == State.APPROVED)
    last = next(approved, None)
    if last is None:
        return None
    if any(event.kind in BRAKE_WORK and event.happened_on >= last.tested_on for event in test.drum.events.all()):
        return None
    content = read_content(last)
    if content["drum"]["setting_kind"] != test.drum.setting_kind:
        return None
    slope = _slope_in(content)
    if slope is None:
        return None
    # Never better than the rule allows: a year lies between.
    factor = max(rules_for(setting_unit(test)).last_slope_factor, sqrt(slope.high / slope.low))
    return LastSlope(slope.estimate, factor, last.tested_on.isoformat())


def setting_analysis(found: SettingFound | None) -> dict[str, Any]:
    """What goes into the record: slope and setting for the target with their intervals; nothing where neither is known.

    A key of its own that older records lack.
    """
    if found is None or found.advice.slope is None or found.advice.target_setting_si is None:
        return {}
    slope, setting, unit = found.advice.slope, found.advice.target_setting_si, found.unit
    low, high = (units.display(end, unit) for end in (setting.low, setting.high))
    return {
        "setting_analysis": {
            "coverage": COVERAGE,
            "unit": unit,
            "slope_n_per_si": slope.estimate,
            "slope_low_n_per_si": slope.low,
            "slope_high_n_per_si": slope.high,
            "slope_shown": per_unit_shown(slope.estimate, unit),
            "slope_interval_shown": f"{per_unit_shown(slope.low, unit)} to {per_unit_shown(slope.high, unit)}",
            "target_setting_si": setting.estimate,
            "target_setting_low_si": setting.low,
            "target_setting_high_si": setting.high,
            "target_setting_shown": units.display(setting.estimate, unit),
            "target_setting_interval_shown": f"{low} to {high}",
            "readings_counted": found.readings_counted,
            "settings_counted": found.settings_counted,
            "last_test_on": found.last_slope.tested_on if found.last_slope else "",
        }
    }


def per_unit_shown(slope_n_per_si: float, unit: str) -> str:
    """A slope as people read it: load per unit of the setting."""
    one = 1.0 if unit == "count" else units.to_si(1.0, unit)
    return units.display(slope_n_per_si * one, "kN")


def _task(
    test: DrumTest,
    figures: Figures,
    parsed: ParsedDraft,
    unit: str,
    last: ReadingResult,
    last_slope: LastSlope | None,
) -> SettingTask:
    low, high = figures.band
    base_n = figures.aim.sdmbl_n
    along = test.drum.setting_kind in ALONG_THE_SPINDLE
    rules = rules_for(unit)
    if last.reading.phase == Phase.VERIFICATION:
        # Verified is verified: a slip in the band is not worked on any more.
        rules = replace(rules, margins=())
    if last_slope is not None:
        rules = replace(rules, last_slope_factor=last_slope.factor)
    return SettingTask(
        target_load_n=figures.aim.load_n,
        lower_n=low * base_n,
        upper_n=high * base_n,
        tighter_is=test.drum.tighter_is,
        stop_n=figures.stop_mark.load_n,
        last_slope_n_per_unit=last_slope.slope_n_per_unit if last_slope else None,
        movement_per_turn_si=figures.particulars.si("movement_per_turn") if along else None,
        slip_spread_relative=assumptions_of(figures).slip_spread_relative,
        setting_unit=unit,
        part_that_arrives=_part_that_arrives(figures, parsed),
        rules=rules,
    )


def _as_taken(row: ReadingResult, figures: Figures) -> SettingReading:
    assert row.load_n is not None
    return reading_as_taken(
        setting_si=row.reading.mark_si,
        reading_si=row.reading.gauge_si,
        load_n=row.load_n,
        slipped=row.reading.slipped,
        stroke_si=_stroke_si(figures),
        division_si=figures.kit.gauge.smallest_division.si,
        load_at=lambda reading_si: figures.at(reading_si).load_n,
    )


def _stroke_si(figures: Figures) -> float:
    stroke = assumptions_of(figures).tolerances.pump_stroke_pa
    # A load cell reads the line's load, whatever the pump does.
    return stroke or 0.0 if figures.target.reading_kind == "pressure" else 0.0


def _part_that_arrives(figures: Figures, parsed: ParsedDraft) -> float:
    """What is left of a load as read after all that jack and lever can only take away: by the budget at the target."""
    measured = Measurement(
        reading_si=figures.aim.reading_si,
        target=figures.true_target,
        gauge=gauge_in_use(figures, figures.aim.reading_si),
        tolerances=tolerances_of(figures, parsed),
        assumptions=assumptions_of(figures),
    )
    try:
        budget = load_budget(measured)
    except OutsideTable:
        return 1.0
    return float(budget.load_n / budget.uncorrected_n)


def _slope_in(content: Mapping[str, Any]) -> Estimate | None:
    """The slope in a record, from its own readings alone; None where they were all taken at one setting."""
    rows = [row for row in content["readings"] if row["reapplied"] and row["load_n"]]
    if len({row["mark_si"] for row in rows}) < 2:
        return None
    base_n = float(content["vessel"]["base_load"]["si"])
    stroke_si = Assumptions().tolerances.pump_stroke_pa or 0.0
    division_si = float(content["kit"]["gauge"]["smallest_division"]["si"])
    unit = rows[-1]["mark_unit"]
    try:
        task = SettingTask(
            target_load_n=float(content["target"]["load_n"]),
            lower_n=content["policy"]["band_low"] * base_n,
            upper_n=content["policy"]["band_high"] * base_n,
            tighter_is=content["drum"]["tighter_is"],
            setting_unit=unit,
            rules=rules_for(unit),
        )
        taken = [
            reading_as_taken(
                setting_si=row["mark_si"],
                reading_si=row["gauge_si"],
                load_n=row["load_n"],
                slipped=row["slipped"],
                stroke_si=stroke_si if units.kind_of(row["gauge_unit"]) == "pressure" else 0.0,
                division_si=division_si,
            )
            for row in rows
        ]
        return next_move(taken, task).slope
    except InputError:
        return None
