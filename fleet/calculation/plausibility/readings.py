"""Rules on the readings: unit, pay-out direction, repeats, release between slips, limits, order of load and mark."""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations
from statistics import fmean, median

from fleet.calculation.plausibility.case import AS_FOUND, Case
from fleet.calculation.plausibility.facts import ReadingFacts
from fleet.calculation.plausibility.finding import Seen, gettext_noop, rule
from fleet.calculation.plausibility.targets import other_unit
from fleet.calculation.units import display, label

SPREAD_ALLOWED = 0.12
"""Spread of repeats, highest less lowest over their mean. Common practice, no published source."""

MARK_TOLERANCE = 0.004
"""Two settings closer than this share of the figure are the same setting (for figures that are not lengths)."""


@rule(
    "wrong_unit",
    level="ask",
    field="reading",
    title=gettext_noop("Reading in another unit"),
    template=gettext_noop(
        "A reading of {reading} is far from the {expected} expected here. It fits if the figure was read on a scale in "
        "{unit}, or if the decimal comma slipped. Look at the photo of the gauge, and check the unit in the gauge's "
        "record."
    ),
)
def wrong_unit(case: Case) -> Seen | None:
    expected = case.target_pa or _last_verification(case)
    if not expected:
        return None
    rows: list[int] = []
    figures: dict[str, str] = {}
    for row, reading in case.rows():
        pressure = reading.reading_pa or 0.0
        # While adjusting from slack a low reading is what one hopes for.
        if reading.phase == "adjusting" and pressure < expected:
            continue
        unit = other_unit(case, pressure, expected)
        if unit:
            rows.append(row)
            figures = figures or {
                "reading": case.shown_pa(pressure),
                "expected": case.shown_pa(expected),
                "unit": label(unit),
            }
    return Seen(figures, tuple(rows)) if rows else None


@rule(
    "slipped_decimal",
    level="ask",
    field="reading",
    title=gettext_noop("Decimal comma slipped"),
    template=gettext_noop(
        "A reading of {reading} is about ten times off the {expected} expected here. Probably the decimal comma "
        "slipped. Look at the photo of the gauge and enter the figure again."
    ),
)
def slipped_decimal(case: Case) -> Seen | None:
    expected = case.target_pa or _last_verification(case)
    if not expected or wrong_unit(case):
        return None
    for row, reading in case.rows():
        ratio = (reading.reading_pa or 0.0) / expected
        if 6.5 <= ratio <= 15 or (reading.phase != "adjusting" and 1 / 15 <= ratio <= 1 / 7.2):
            return Seen(
                {"reading": case.shown_pa(reading.reading_pa or 0.0), "expected": case.shown_pa(expected)}, (row,)
            )
    return None


def _last_verification(case: Case) -> float | None:
    readings = case.last.readings if case.last else ()
    slips = [reading.reading_pa for reading in readings if reading.phase == "verification" and reading.reading_pa]
    return median(slips) if slips else None


@rule(
    "wrong_pay_out_direction",
    level="ask",
    field="pay_out_side",
    title=gettext_noop("Probably jacked against the pay-out direction"),
    template=gettext_noop(
        "The brake was found at {found}, where {expected} was expected: {times} times weaker. Probably the jack turned "
        "the drum against the pay-out direction. A brake tightened after such a reading is several times too tight: "
        "the line can part and kill. Stop, check the jack's side with the drawing, slacken the brake and begin again."
    ),
)
def wrong_pay_out_direction(case: Case) -> Seen | None:
    if case.drum.brake_kind not in (None, "band"):
        return None
    first = next(case.rows(*AS_FOUND, slipped=True), None)
    if first is None:
        return None
    row, reading = first
    share = case.share_at(reading.reading_pa or 0.0)
    expected = (case.last.as_left_share if case.last else None) or case.test.share_aimed
    if share is None or not expected or not 1 / 7 <= share / expected <= 1 / 2.6:
        return None
    return Seen(
        {
            "found": display(share, "percent"),
            "expected": display(expected, "percent"),
            "times": f"{expected / share:.1f}",
        },
        (row,),
    )


@rule(
    "reading_above_stop",
    level="ask",
    field="reading",
    title=gettext_noop("Pumped above the STOP reading"),
    template=gettext_noop(
        "A reading of {reading} is above the STOP reading ({stop}). Check the figure. If it is true, say why the jack "
        "was pumped past STOP, and have lever, jack, line and deck looked over before the next test."
    ),
)
def reading_above_stop(case: Case) -> Seen | None:
    stop = case.test.stop_pressure_pa
    if not stop:
        return None
    # A reading is known to the nearest division only.
    over = [
        (row, reading) for row, reading in case.rows() if (reading.reading_pa or 0) > stop * 1.002 + case.division_pa
    ]
    if not over:
        return None
    worst = max(reading.reading_pa or 0.0 for _, reading in over)
    return Seen({"reading": case.shown_pa(worst), "stop": case.shown_pa(stop)}, tuple(row for row, _ in over))


@rule(
    "spread_of_repeats",
    level="ask",
    field="reading",
    title=gettext_noop("Repeats too far apart"),
    template=gettext_noop(
        "The verification slips lie {spread} apart, from {low} to {high}. Repeats at one mark should lie closer. "
        "Release fully, re-apply to the mark, dry the brake if needed and repeat until they agree."
    ),
)
def spread_of_repeats(case: Case) -> Seen | None:
    slips = list(case.rows("verification", slipped=True))
    pressures = [reading.reading_pa or 0.0 for _, reading in slips]
    if len(pressures) < 2:
        return None
    low, high, mean = min(pressures), max(pressures), fmean(pressures)
    if high - low <= max(SPREAD_ALLOWED * mean, 3 * case.division_pa):
        return None
    return Seen(
        {
            "spread": display((high - low) / mean, "percent"),
            "low": case.shown_pa(low),
            "high": case.shown_pa(high),
        },
        tuple(row for row, _ in slips),
    )


@rule(
    "too_few_verification_slips",
    level="ask",
    field="reading",
    title=gettext_noop("Too few verification slips"),
    template=gettext_noop(
        "Verification slips: {slips}; the policy asks for at least {least}. Release, re-apply to the mark and "
        "slip again, or say why it could not be done."
    ),
)
def too_few_verification_slips(case: Case) -> Seen | None:
    slips, least = len(case.pressures("verification", slipped=True)), case.test.policy_slips
    if least is None or slips >= least or not slips or case.test.outcome not in (None, "set_in_band"):
        return None
    return Seen({"slips": str(slips), "least": str(least)})


@rule(
    "no_release_between_slips",
    level="ask",
    field="reading",
    title=gettext_noop("Brake not released between slips"),
    template=gettext_noop(
        "Between slips the brake was not released and applied again. The repeat then shows friction, not the setting. "
        "Release fully, re-apply to the mark and slip again."
    ),
)
def no_release_between_slips(case: Case) -> Seen | None:
    rows = []
    for phase in ("as_found_reapplied", "verification"):
        slips = list(case.rows(phase))
        first_counts = 0 if phase == "as_found_reapplied" else 1
        rows += [row for row, reading in slips[first_counts:] if reading.released_and_reapplied is False]
    return Seen(rows=tuple(rows)) if rows else None


@rule(
    "layer_differs",
    level="ask",
    field="layer",
    title=gettext_noop("Reading on another layer"),
    template=gettext_noop(
        "A reading was taken with the line on layer {seen}, but the record is reckoned on layer {layer}. The load "
        "differs by layer: name the layer on which the line lay."
    ),
)
def layer_differs(case: Case) -> Seen | None:
    layer = case.drum.layer
    other = [(row, reading.layer) for row, reading in case.rows() if layer and reading.layer not in (None, layer)]
    return Seen({"seen": str(other[0][1]), "layer": str(layer)}, tuple(row for row, _ in other)) if other else None


def same_mark(case: Case, one_si: float, other_si: float) -> bool:
    """Whether two settings are one and the same: half a millimetre for lengths."""
    if case.drum.setting_kind in ("spindle_torque", "applied_pressure"):
        return abs(one_si - other_si) <= MARK_TOLERANCE * max(abs(one_si), abs(other_si))
    return abs(one_si - other_si) <= 0.00051


@rule(
    "verification_marks_differ",
    level="ask",
    field="mark",
    title=gettext_noop("Verification at different marks"),
    template=gettext_noop(
        "The verification slips were made at different marks, from {low} to {high}. Only slips at one and the same "
        "mark prove that mark. Set the final mark and repeat the slips there."
    ),
)
def verification_marks_differ(case: Case) -> Seen | None:
    rows = [(row, reading.mark_si) for row, reading in case.rows("verification") if reading.mark_si is not None]
    marks = [mark for _, mark in rows if mark is not None]
    if len(marks) < 2 or same_mark(case, min(marks), max(marks)):
        return None
    return Seen(
        {"low": case.shown_mark(min(marks)), "high": case.shown_mark(max(marks))}, tuple(row for row, _ in rows)
    )


@rule(
    "left_at_another_mark",
    level="ask",
    field="mark_left",
    title=gettext_noop("Left at another mark than verified"),
    template=gettext_noop(
        "The setting as left is {left}, but the last verification slip was made at {verified}. The winch tag would "
        "tell the ship a setting that no slip has proved. Measure again; if the mark has moved, re-apply and verify."
    ),
)
def left_at_another_mark(case: Case) -> Seen | None:
    left = case.test.mark_left_si
    slips = [(row, reading.mark_si) for row, reading in case.rows("verification", slipped=True)]
    row, verified = slips[-1] if slips else (0, None)
    if left is None or verified is None or same_mark(case, left, verified):
        return None
    return Seen({"left": case.shown_mark(left), "verified": case.shown_mark(verified)}, (row,))


@rule(
    "verification_held_above_band",
    level="ask",
    field="reading",
    title=gettext_noop("Held above the band while verifying"),
    template=gettext_noop(
        "While verifying, the brake held {reading} without a slip, {share} of the base load or more, where the band "
        "ends at {high}. Lower slips beside it do not undo that: slacken, re-apply and verify until every raise slips "
        "inside the band."
    ),
)
def verification_held_above_band(case: Case) -> Seen | None:
    high, stop = case.test.band_high, case.test.stop_pressure_pa
    if high is None or case.test.outcome not in (None, "set_in_band"):
        return None
    last_mark = next((reading.mark_si for _, reading in reversed(list(case.rows("verification")))), None)
    for row, reading in case.rows("verification"):
        pressure = reading.reading_pa or 0.0
        share = case.share_at(pressure)
        moved_since = reading.mark_si is not None and last_mark is not None
        if reading.result != "held" or share is None:
            continue
        if moved_since and not same_mark(case, reading.mark_si or 0.0, last_mark or 0.0):
            continue
        # Held at STOP is "more than that", and STOP is read at a mark of the scale.
        if share > high + 1e-9 or (stop and share >= high - 0.01 and pressure >= stop - case.division_pa):
            figures = {
                "reading": case.shown_pa(pressure),
                "share": display(share, "percent"),
                "high": display(high, "percent"),
            }
            return Seen(figures, (row,))
    return None


@rule(
    "mark_outside_limits",
    level="ask",
    field="mark",
    title=gettext_noop("Mark outside the drum's limits"),
    template=gettext_noop(
        "A mark of {mark} lies outside this drum's limits ({low} to {high}). Check the figure and between which points "
        "it was measured; if it is right, the brake has no travel left to work with."
    ),
)
def mark_outside_limits(case: Case) -> Seen | None:
    low, high = case.drum.mark_low_si, case.drum.mark_high_si
    if low is None or high is None:
        return None
    for row, reading in case.rows():
        mark = reading.mark_si
        if mark is not None and not (low <= mark <= high or same_mark(case, mark, low) or same_mark(case, mark, high)):
            return Seen(
                {
                    "mark": case.shown_mark(mark),
                    "low": case.shown_mark(low),
                    "high": case.shown_mark(high),
                },
                (row,),
            )
    return None


@rule(
    "load_falls_when_tightened",
    level="ask",
    field="mark",
    title=gettext_noop("Load fell although the brake was tightened"),
    template=gettext_noop(
        "At {tighter} the brake slipped at {lower}, though at {slacker}, where it is slacker, it held {higher}. Either "
        "the marks were measured between other points, or this drum's mark moves the other way, or the brake got wet. "
        "Find out which before the setting is trusted."
    ),
)
def load_falls_when_tightened(case: Case) -> Seen | None:
    direction = case.drum.tighter_direction
    if direction is None:
        return None
    by_mark: dict[float, list[tuple[int, ReadingFacts]]] = defaultdict(list)
    # A brake as it stood may have rusted or dried: its first reading compares with nothing.
    for row, reading in case.rows("as_found_reapplied", "adjusting", "verification"):
        if reading.mark_si is not None and reading.result is not None:
            by_mark[reading.mark_si].append((row, reading))
    for one, other in combinations(sorted(by_mark), 2):
        slack, tight = (one, other) if direction > 0 else (other, one)
        if same_mark(case, slack, tight):
            continue
        slips = [reading.reading_pa or 0.0 for _, reading in by_mark[tight] if reading.result == "slipped"]
        held = fmean([reading.reading_pa or 0.0 for _, reading in by_mark[slack]])
        if not slips or held - fmean(slips) <= max(SPREAD_ALLOWED * held, 3 * case.division_pa):
            continue
        rows = tuple(sorted(row for row, _ in by_mark[slack] + by_mark[tight]))
        return Seen(
            {
                "tighter": case.shown_mark(tight),
                "slacker": case.shown_mark(slack),
                "lower": case.shown_pa(fmean(slips)),
                "higher": case.shown_pa(held),
            },
            rows,
        )
    return None
