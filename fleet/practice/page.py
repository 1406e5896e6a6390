"""Everything a practice page shows, worked out once per request."""

from collections.abc import Mapping
from secrets import randbelow
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from fleet.calculation import units
from fleet.calculation.brake import working
from fleet.core.pictures.jack_side import jack_picture
from fleet.practice import run as steps
from fleet.practice.answers import answer
from fleet.practice.brakes import BAND, GAUGE_UNIT, HIGHEST_SEED, LEAST_LINING_PART, LEVELS, PracticeBrake
from fleet.practice.dial import dial_picture
from fleet.practice.forms import StepForm
from fleet.practice.moves import Address
from fleet.practice.outcome import outcome
from fleet.practice.run import Refused, Run
from fleet.practice.suggestion import suggestion
from fleet.simulation.draw import SHARE

STEP_LABELS = {
    steps.SIDE: lazy("The jack's side"),
    steps.CHECKS: lazy("Checks"),
    steps.LINING: lazy("Lining"),
    steps.GAUGE: lazy("What the gauge must show"),
    steps.READINGS: lazy("Readings"),
    steps.SETTING: lazy("Setting"),
    steps.END: lazy("How close it came"),
}


def start_context() -> dict[str, Any]:
    """The levels, each with a brake nobody has seen yet."""
    return {"levels": [{"level": level, "url": run_url(_new_brake(level.number))} for level in LEVELS]}


def run_url(address: Address) -> str:
    return f"{reverse('practice:run')}?run={address.text}"


def _new_brake(level: int) -> Address:
    return Address(level, randbelow(HIGHEST_SEED + 1))


def run_context(
    address: Address, run: Run, *, typed: Mapping[str, Any] | None = None, refusal: Refused | None = None
) -> dict[str, Any]:
    """The page of a run where it stands now."""
    told = {refusal.field: refusal.words} if refusal else None
    brake = run.brake
    return {
        "run": run,
        "brake": brake,
        "level": brake.level,
        "address": address.text,
        "stage": run.stage,
        "form": StepForm(run, typed, told),
        "answer": answer(run),
        "steps": _steps(run),
        "band": BAND,
        "share": SHARE,
        "again_url": run_url(address.again()),
        "another_url": run_url(_new_brake(address.level)),
        **_of_stage(run),
    }


def _of_stage(run: Run) -> dict[str, Any]:
    brake = run.brake
    if run.stage in {steps.SIDE, steps.CHECKS}:
        return {"picture": jack_picture(line_off=brake.line_off, jack_acts=brake.jack_acts, lead=brake.lead)}
    if run.stage == steps.GAUGE:
        return {"figures": figure_rows(brake), "working": _working(brake)}
    if run.stage == steps.READINGS:
        return _reading_context(run)
    if run.stage == steps.SETTING:
        return {"suggestion": suggestion(run), "readings": run.readings}
    if run.stage == steps.END:
        return {"outcome": outcome(run), "readings": run.readings, "mistakes": run.mistakes}
    return {"least_m": LEAST_LINING_PART * brake.lining_new_m}


def _reading_context(run: Run) -> dict[str, Any]:
    brake = run.brake
    slips = [row for row in run.readings if row.slipped]
    next((row.share for row in slips if row.phase == steps.AS_FOUND), None)
    last = next((row.share for row in reversed(slips) if row.phase != steps.AS_FOUND), None)
    return {
        "dial": dial_picture(brake, run.hand.shown_pa),
        "stop_shown": units.display(brake.stop_mark_pa, GAUGE_UNIT),
        "aim": _("Aim {reading} = {share} of the ship design MBL = {load}").format(
            reading=units.display(brake.target_reading_pa, GAUGE_UNIT),
            share=units.display(SHARE, "percent"),
            load=units.display(brake.target_load_n, "kN"),
        ),
        "shown": units.display(run.hand.shown_pa, GAUGE_UNIT),
        "division": units.display(brake.division_pa, GAUGE_UNIT),
        "suggestion": suggestion(run),
        "readings": run.readings,
        "as_found_share": next(
            (row.share for row in run.readings if row.phase == steps.AS_FOUND and row.slipped), None
        ),
        "last_share": last,
    }


def _working(brake: PracticeBrake) -> Any:
    return working(sdmbl_n=brake.drum.sdmbl_n, share=SHARE, target=brake.target, gauge_unit=GAUGE_UNIT)


def figure_rows(brake: PracticeBrake) -> list[tuple[str, str]]:
    """The figures of drum and gear, from which the gauge's reading follows."""
    rig, target = brake.drum.trial.rig, brake.target
    dial = rig.dial
    return [
        (_("ship design MBL"), units.display(brake.drum.sdmbl_n, "kN")),
        (_("share at which the brake is to render"), units.display(SHARE, "percent")),
        (_("drum diameter (bare barrel)"), units.display(target.drum_diameter_m, "mm")),
        (_("line diameter, first layer"), units.display(target.line_diameter_m, "mm")),
        (_("lever arm of the jack"), units.display(rig.lever_arm_m, "mm")),
        (_("effective piston area, one jack"), units.display(target.total_area_m2, "cm2")),
        (
            _("gauge"),
            _("0 to {full}, class {accuracy}, smallest division {division}").format(
                full=units.display(dial.full_scale_pa, GAUGE_UNIT),
                accuracy=units.shown(dial.accuracy_class, 1),
                division=units.display(dial.smallest_division_pa, GAUGE_UNIT),
            ),
        ),
    ]


def _steps(run: Run) -> list[dict[str, object]]:
    order = list(STEP_LABELS)
    now = order.index(run.stage)
    return [
        {"label": label, "url": "", "done": place < now, "now": place == now}
        for place, label in enumerate(STEP_LABELS.values())
    ]
