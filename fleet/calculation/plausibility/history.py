"""Rules on this test against the drum's past: dates, lining, work on the brake, figures that changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from statistics import fmean

from fleet.calculation.geometry import band_travel
from fleet.calculation.lines import USUAL_WRAP_RAD, is_another_line
from fleet.calculation.plausibility.case import AS_FOUND, BRAKE_WORK, Case, near, shown_date
from fleet.calculation.plausibility.finding import Seen, gettext_noop, rule
from fleet.calculation.units import display

LINING_MEASUREMENT_M = 0.0005
"""How far two honest measurements of a lining differ. Common practice, no published source."""

WEAR_LIMIT = 0.40
"""Renew at more than 40 % wear unless the maker says otherwise: ship-practice guidance."""

TESTED_WITHIN = timedelta(days=366)
"""Each brake is tested yearly (MEG 7.5.5)."""

SHARE_ALIKE = 0.02
"""Shares of the base load that tell two settings apart no better. Common practice, no published source."""

MARK_ALIKE_M = 0.0025
"""How far two honest marks for the same setting differ. Common practice, no published source."""

FRICTION_MOVES_MARK_M = 0.012
"""How far rust, polish and the place within the band move a mark without wear. Common practice, no published source."""

LINKAGE_UNKNOWN = (0.8, 12.0)
"""Least and greatest movement of a mark for the travel of its band's end. Common practice, no published source."""

LINKAGE_UNSURE = 0.15
"""How well that movement is measured on a drum, relative. Common practice, no published source."""

MOVED_SLACKER = gettext_noop(
    "The lining lost {loss} since the last test (known to {unsure}), which lets the band's end travel {travel} over a "
    "wrap of {wrap}: the mark should have moved towards tighter. It moved {moved} towards slacker, and the brake still "
    "renders at {share} (last time {before}). Measure the mark again between the drum's named points, and the lining "
    "at the same places."
)
MOVED_TOO_LITTLE = gettext_noop(
    "The lining lost {loss} since the last test (known to {unsure}), which lets the band's end travel {travel} over a "
    "wrap of {wrap}. The mark moved only {moved} towards tighter, and yet the brake renders at {share} (last time "
    "{before}). Measure the mark again between the drum's named points, and the lining at the same places."
)
MOVED_TOO_FAR = gettext_noop(
    "The mark moved {moved} towards tighter since the last test. The lining lost {loss} (known to {unsure}), {travel} "
    "of band travel over a wrap of {wrap}: with this drum's linkage that does not explain it, and the brake renders at "
    "{share} (last time {before}). Look at the linkage, and measure mark and lining again."
)
MOVED_TOO_FAR_BY_ANY_LINKAGE = gettext_noop(
    "The mark moved {moved} towards tighter since the last test. The lining lost {loss} (known to {unsure}), {travel} "
    "of band travel over a wrap of {wrap}. How far the mark moves with the band is not recorded for this drum, but no "
    "usual linkage explains it; the brake renders at {share} (last time {before}). Look at the linkage, and measure "
    "mark and lining again."
)


@rule(
    "as_found_after_brake_work",
    level="stop",
    field="phase",
    title=gettext_noop("As-found readings after brake work"),
    template=gettext_noop(
        "The brake was worked on ({work_on}) and yet as-found readings were taken. After new lining, band or spindle "
        "work the old mark may hold far above 80 %: never test as found, start well slack. Take these readings out, or "
        "correct the date of the work."
    ),
)
def as_found_after_brake_work(case: Case) -> Seen | None:
    rows = tuple(row for row, _ in case.rows(*AS_FOUND))
    day = case.test.tested_on
    if not rows or day is None:
        return None
    # A test that set nothing, such as one that was stopped, says nothing about the mark.
    proven = max((test.tested_on for test in case.previous if test.set_in_band), default=None)
    done = (event for event in case.events if event.kind in BRAKE_WORK and event.on <= day)
    since = (event for event in done if proven is None or event.on > proven)
    work = max(since, key=lambda event: event.on, default=None)
    if work is None:
        return None
    # On a drum whose earlier tests are not on record, older work was tested in its time.
    if case.last is None and day - work.on > TESTED_WITHIN:
        return None
    return Seen({"work_on": shown_date(work.on)}, rows)


@rule(
    "slipped_in_service",
    level="note",
    field="tested_on",
    title=gettext_noop("Brake slipped in service since the last test"),
    template=gettext_noop(
        "The brake slipped unintended on {slipped_on}. Compare what was found now with what it was left at, and say "
        "whether lining, drum and line were looked over after it."
    ),
)
def slipped_in_service(case: Case) -> Seen | None:
    slip = case.happened_since(["unintended_slip"])
    return Seen({"slipped_on": shown_date(slip.on)}) if slip else None


@rule(
    "dated_before_brake_work",
    level="ask",
    field="tested_on",
    title=gettext_noop("Test dated before the brake was worked on"),
    template=gettext_noop(
        "The test is dated {tested_on}, but the brake was worked on later ({work_on}), so this result is not that of "
        "the brake as it is now. Check both dates; if they are right, test again."
    ),
)
def dated_before_brake_work(case: Case) -> Seen | None:
    day = case.test.tested_on
    later = [event.on for event in case.events if event.kind in BRAKE_WORK and day and event.on > day]
    return Seen({"tested_on": shown_date(day), "work_on": shown_date(max(later))}) if later and day else None


@rule(
    "dated_before_last_test",
    level="ask",
    field="tested_on",
    title=gettext_noop("Test dated before the last test"),
    template=gettext_noop("The test is dated {tested_on}, before the last one on record ({last_on}). Check the year."),
)
def dated_before_last_test(case: Case) -> Seen | None:
    day, last = case.test.tested_on, case.last
    if day is None or last is None or day >= last.tested_on:
        return None
    return Seen({"tested_on": shown_date(day), "last_on": shown_date(last.tested_on)})


@rule(
    "lining_below_minimum",
    level="stop",
    field="lining",
    title=gettext_noop("Lining below its minimum"),
    template=gettext_noop(
        "The lining is {thinnest} at its thinnest; its minimum is {minimum}. The brake must not be used so: renew the "
        "lining, then test. Check the measurement first."
    ),
)
def lining_below_minimum(case: Case) -> Seen | None:
    minimum, lining = case.drum.lining_minimum_m, case.test.lining_m
    if minimum is None or not lining or min(lining) >= minimum - 1e-9:
        return None
    return Seen({"thinnest": display(min(lining), "mm"), "minimum": display(minimum, "mm")})


@rule(
    "lining_much_worn",
    level="ask",
    field="lining",
    title=gettext_noop("Lining more than 40 % worn"),
    template=gettext_noop(
        "The lining is {thinnest} at its thinnest, {worn} worn from {new} when new. Unless the maker says otherwise it "
        "is renewed at more than 40 % wear: say when it will be."
    ),
)
def lining_much_worn(case: Case) -> Seen | None:
    new, lining = case.drum.lining_new_m, case.test.lining_m
    if not new or not lining or lining_below_minimum(case):
        return None
    worn = 1 - min(lining) / new
    if worn <= WEAR_LIMIT + 1e-9:
        return None
    return Seen({"thinnest": display(min(lining), "mm"), "worn": display(worn, "percent"), "new": display(new, "mm")})


def _lining_change(case: Case) -> float | None:
    """Mean thickness now less that of the last test; None when either is missing or the lining was renewed."""
    last = case.last
    if last is None or not last.lining_m or not case.test.lining_m or case.happened_since(["lining_renewed"]):
        return None
    return fmean(case.test.lining_m) - fmean(last.lining_m)


@rule(
    "lining_grew",
    level="ask",
    field="lining",
    title=gettext_noop("Lining thicker than last time"),
    template=gettext_noop(
        "The lining measures {now} on average; at the last test it was {before}. A lining does not grow. Either it was "
        "measured at another place, or it was renewed and that was not recorded: record the new lining, or measure "
        "again."
    ),
)
def lining_grew(case: Case) -> Seen | None:
    change = _lining_change(case)
    if change is None or change <= LINING_MEASUREMENT_M or case.last is None:
        return None
    return Seen({"now": display(fmean(case.test.lining_m), "mm"), "before": display(fmean(case.last.lining_m), "mm")})


@rule(
    "lining_above_new",
    level="ask",
    field="lining",
    title=gettext_noop("Lining thicker than when new"),
    template=gettext_noop(
        "The lining measures {thickest} at its thickest, more than the {new} of a new one. Probably the band was "
        "measured with it. Measure the lining alone, or correct the thickness when new."
    ),
)
def lining_above_new(case: Case) -> Seen | None:
    new, lining = case.drum.lining_new_m, case.test.lining_m
    if not new or not lining or max(lining) <= new + 2 * LINING_MEASUREMENT_M:
        return None
    return Seen({"thickest": display(max(lining), "mm"), "new": display(new, "mm")})


@rule(
    "lining_bedding_in",
    level="note",
    field="lining",
    title=gettext_noop("New lining still beds in"),
    template=gettext_noop(
        "The lining was renewed on {renewed_on}. It beds in during its first year and the setting moves: test again "
        "early."
    ),
)
def lining_bedding_in(case: Case) -> Seen | None:
    renewed = case.happened_since(["lining_renewed"])
    return Seen({"renewed_on": shown_date(renewed.on)}) if renewed else None


def _moved_tighter(case: Case) -> float | None:
    """How far the mark was moved in the tightening direction since the last test, in m; marker distance only."""
    drum, last = case.drum, case.last
    if drum.setting_kind != "marker_distance" or drum.tighter_direction is None or last is None:
        return None
    if last.mark_si is None or case.happened_since((*BRAKE_WORK, "line_changed")):
        return None
    mark = next((reading.mark_si for _, reading in reversed(list(case.rows("verification")))), None)
    return None if mark is None else (mark - last.mark_si) * drum.tighter_direction


@rule(
    "mark_against_lining",
    level="ask",
    field="mark",
    title=gettext_noop("Mark and lining do not go together"),
    template=MOVED_SLACKER,
)
def mark_against_lining(case: Case) -> Seen | None:
    change, moved, share = _lining_change(case), _moved_tighter(case), case.as_left_share
    before = case.last.as_left_share if case.last else None
    if change is None or moved is None or share is None or before is None:
        return None
    loss, linkage = -change, _linkage(case)
    sure, most = loss - LINING_MEASUREMENT_M, max(0.0, loss) + LINING_MEASUREMENT_M
    wrap = case.drum.wrap_rad or USUAL_WRAP_RAD
    figures = {
        "loss": display(max(0.0, loss), "mm"),
        "moved": display(abs(moved), "mm"),
        "unsure": display(LINING_MEASUREMENT_M, "mm"),
        "wrap": display(wrap, "deg"),
        "travel": display(band_travel(wrap_rad=wrap, lining_loss_m=max(0.0, loss)), "mm"),
        "share": display(share, "percent"),
        "before": display(before, "percent"),
    }
    at_least = linkage.low * band_travel(wrap_rad=wrap, lining_loss_m=max(0.0, sure))
    at_most = linkage.high * band_travel(wrap_rad=wrap, lining_loss_m=most)
    # A lower share explains a slacker mark, a higher one a tighter mark; so does friction that grew or fell, a little.
    if share >= before - SHARE_ALIKE and moved < at_least - (MARK_ALIKE_M if sure >= 0 else FRICTION_MOVES_MARK_M):
        return Seen(figures, template=MOVED_SLACKER if moved < 0 else MOVED_TOO_LITTLE)
    if share <= before + SHARE_ALIKE and moved > at_most + FRICTION_MOVES_MARK_M:
        return Seen(figures, template=MOVED_TOO_FAR if linkage.known else MOVED_TOO_FAR_BY_ANY_LINKAGE)
    return None


@dataclass(frozen=True)
class _Linkage:
    """Between what the mark moves for each metre that the end of the band travels."""

    low: float
    high: float
    known: bool


def _linkage(case: Case) -> _Linkage:
    ratio = case.drum.mark_per_band_travel
    if ratio is None:
        return _Linkage(*LINKAGE_UNKNOWN, known=False)
    return _Linkage(ratio * (1 - LINKAGE_UNSURE), ratio * (1 + LINKAGE_UNSURE), known=True)


@rule(
    "drum_diameter_changed",
    level="ask",
    field="drum_diameter",
    general=True,
    title=gettext_noop("Barrel diameter differs from the last test"),
    template=gettext_noop(
        "The barrel diameter is {now}; at the last test it was {before}. A barrel does not change: find out which "
        "figure is right."
    ),
)
def drum_diameter_changed(case: Case) -> Seen | None:
    now, before = case.drum.drum_diameter_m, case.last.drum_diameter_m if case.last else None
    if not now or not before or near(now, before, 0.015):
        return None
    return Seen({"now": display(now, "mm"), "before": display(before, "mm")})


@rule(
    "lever_arm_changed",
    level="note",
    field="lever_arm",
    general=True,
    title=gettext_noop("Lever arm differs from the last test"),
    template=gettext_noop(
        "The lever arm is {now}; at the last test it was {before}. Make sure that another lever or hole was used."
    ),
)
def lever_arm_changed(case: Case) -> Seen | None:
    now, before = case.drum.lever_arm_m, case.last.lever_arm_m if case.last else None
    if not now or not before or near(now, before, 0.01):
        return None
    return Seen({"now": display(now, "mm"), "before": display(before, "mm")})


@rule(
    "line_diameter_changed",
    level="note",
    field="line_diameter",
    general=True,
    title=gettext_noop("Line diameter differs from the last test"),
    template=gettext_noop(
        "The line diameter is {now}; at the last test it was {before}, and no change of line is on record. Record the "
        "new line, or correct the figure."
    ),
)
def line_diameter_changed(case: Case) -> Seen | None:
    now, before = case.drum.line_diameter_m, case.last.line_diameter_m if case.last else None
    if not now or not before or case.happened_since(["line_changed"]):
        return None
    if not is_another_line(old_diameter_m=before, new_diameter_m=now):
        return None
    return Seen({"now": display(now, "mm"), "before": display(before, "mm")})
