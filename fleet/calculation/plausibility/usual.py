"""Rules on the soft ranges: nothing is wrong for certain, but a figure is outside what ships usually have."""

from __future__ import annotations

from collections.abc import Callable
from statistics import fmean

from fleet.calculation.plausibility.case import Case, near
from fleet.calculation.plausibility.finding import Seen, gettext_noop, rule
from fleet.calculation.plausibility.ranges import SOFT_RANGES, USUAL_FULL_SCALES_PA
from fleet.calculation.units import display

_UNUSUAL = gettext_noop(
    "{value} is outside what is usual ({low} to {high}). Check the figure and its unit; if it is right, say so."
)


def _outside(quantity: str, value_si: float | None) -> Seen | None:
    limits = SOFT_RANGES[quantity]
    if not value_si or limits.holds(value_si):
        return None
    return Seen(
        {
            "value": display(value_si, limits.unit),
            "low": display(limits.low_si, limits.unit),
            "high": display(limits.high_si, limits.unit),
        }
    )


def _enter(quantity: str, title: str, value_of: Callable[[Case], float | None], *, particulars: bool) -> None:
    rule(
        f"unusual_{quantity}",
        level="ask",
        field={"test_pressure": "target_pressure", "marker_distance": "mark"}.get(quantity, quantity),
        particulars=particulars,
        general=True,
        title=title,
        template=_UNUSUAL,
    )(lambda case: _outside(quantity, value_of(case)))


def _odd_area(case: Case) -> float | None:
    areas = [jack.area_m2 for jack in case.drum.jacks if jack.area_m2]
    return next((area for area in areas if not SOFT_RANGES["piston_area"].holds(area)), None)


def _marker_distance(case: Case) -> float | None:
    if case.drum.setting_kind != "marker_distance":
        return None
    return next((reading.mark_si for _, reading in case.rows("verification") if reading.mark_si is not None), None)


_enter(
    "drum_diameter",
    gettext_noop("Unusual barrel diameter"),
    lambda case: case.drum.drum_diameter_m,
    particulars=True,
)
_enter(
    "line_diameter",
    gettext_noop("Unusual line diameter"),
    lambda case: case.drum.line_diameter_m,
    particulars=True,
)
_enter("base_load", gettext_noop("Unusual base load"), lambda case: case.drum.base_load_n, particulars=True)
_enter("lever_arm", gettext_noop("Unusual lever arm"), lambda case: case.drum.lever_arm_m, particulars=True)
_enter("piston_area", gettext_noop("Unusual piston area"), _odd_area, particulars=True)
_enter(
    "test_pressure",
    gettext_noop("Unusual test pressure"),
    # A load cell shows the line load itself.
    lambda case: None if case.test.target_basis == "load_cell" else case.test.target_pressure_pa,
    particulars=False,
)
_enter("marker_distance", gettext_noop("Unusual marker distance"), _marker_distance, particulars=False)
_enter(
    "lining",
    gettext_noop("Unusual lining thickness"),
    lambda case: fmean(case.test.lining_m) if case.test.lining_m else None,
    particulars=False,
)


@rule(
    "unusual_gauge_full_scale",
    level="note",
    field="gauge",
    particulars=True,
    title=gettext_noop("Unusual full scale of the gauge"),
    template=gettext_noop("A gauge with a full scale of {full_scale} is unusual. Check the figure and the unit."),
)
def unusual_gauge_full_scale(case: Case) -> Seen | None:
    gauge = case.test.gauge
    if gauge is None or not gauge.full_scale_pa or case.test.target_basis == "load_cell":
        return None
    if any(near(gauge.full_scale_pa, usual, 0.05) for usual in USUAL_FULL_SCALES_PA):
        return None
    return Seen({"full_scale": display(gauge.full_scale_pa, gauge.unit)})


@rule(
    "turn_longer_than_travel",
    level="ask",
    field="movement_per_turn",
    particulars=True,
    title=gettext_noop("One turn of the handwheel moves more than the whole travel"),
    template=gettext_noop(
        "One turn of the handwheel is said to move the setting by {turn}, more than its whole travel of {travel}. "
        "Probably several turns were measured, or another unit was read. Measure one turn again."
    ),
)
def turn_longer_than_travel(case: Case) -> Seen | None:
    drum = case.drum
    if not drum.setting_per_turn_si or drum.mark_low_si is None or drum.mark_high_si is None:
        return None
    turn, travel = abs(drum.setting_per_turn_si), drum.mark_high_si - drum.mark_low_si
    if travel <= 0 or turn <= travel:
        return None
    return Seen({"turn": case.shown_mark(turn), "travel": case.shown_mark(travel)})
