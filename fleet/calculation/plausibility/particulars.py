"""Rules on the drum's figures: a diameter that was measured elsewhere, a load in another unit, the wrong layer."""

from __future__ import annotations

from math import pi

from fleet.calculation.plausibility.case import Case, near
from fleet.calculation.plausibility.facts import DrumFacts
from fleet.calculation.plausibility.finding import Seen, gettext_noop, rule
from fleet.calculation.plausibility.ranges import SOFT_RANGES
from fleet.calculation.units import display, shown, to_si

LENGTH_FACTORS = (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001, 25.4, 1 / 25.4, 12.0, 1 / 12.0)
TONNE_FORCE_IN_KN = to_si(1.0, "tf") / 1e3
SHORT_TON = 2000 * to_si(1.0, "lbf") / to_si(1.0, "tf")
LONG_TON = 2240 * to_si(1.0, "lbf") / to_si(1.0, "tf")

_LENGTHS = {"drum_diameter": "drum_diameter_m", "line_diameter": "line_diameter_m", "lever_arm": "lever_arm_m"}


def _like_drums(case: Case) -> list[DrumFacts]:
    """Other drums for the same line, whose barrels are worth comparing."""
    line = case.drum.line_diameter_m
    if not line:
        return []
    return [drum for drum in case.sister_drums if drum.line_diameter_m and near(drum.line_diameter_m, line, 0.05)]


def _diameter_ratio(case: Case) -> float | None:
    drum = case.drum
    return drum.drum_diameter_m / drum.line_diameter_m if drum.drum_diameter_m and drum.line_diameter_m else None


def _lowest_ratio(case: Case) -> float:
    return SOFT_RANGES["diameter_ratio_wire" if case.drum.line_material == "wire" else "diameter_ratio"].low_si


@rule(
    "radius_for_diameter",
    level="ask",
    field="drum_diameter",
    particulars=True,
    title=gettext_noop("Radius given for the barrel diameter"),
    template=gettext_noop(
        "A barrel diameter of {drum_diameter} is about half of what was expected ({expected}). Probably the radius was "
        "entered. Measure straight across the bare barrel, or take the diameter from the winch drawing."
    ),
)
def radius_for_diameter(case: Case) -> Seen | None:
    drum = case.drum
    if not drum.drum_diameter_m:
        return None
    diameter, expected = drum.drum_diameter_m, None
    ratio = _diameter_ratio(case)
    like = case.sister_median("drum_diameter_m", _like_drums(case))
    if case.last and case.last.drum_diameter_m and near(diameter / case.last.drum_diameter_m, 0.5, 0.05):
        expected = case.last.drum_diameter_m
    elif like and near(diameter / like, 0.5, 0.08):
        expected = like
    elif (ratio is not None and ratio < _lowest_ratio(case) <= 2 * ratio <= SOFT_RANGES["diameter_ratio"].high_si) or (
        drum.flange_diameter_m and drum.flange_diameter_m / diameter > 2.8
    ):
        expected = 2 * diameter
    if expected is None:
        return None
    return Seen({"drum_diameter": display(diameter, "mm"), "expected": display(expected, "mm")})


@rule(
    "barrel_reaches_flange",
    level="stop",
    field="drum_diameter",
    particulars=True,
    title=gettext_noop("Barrel diameter as large as the flange"),
    template=gettext_noop(
        "The barrel diameter {drum_diameter} is as large as the flange ({flange_diameter}). The flange was measured "
        "instead of the barrel: the brake would be set far too tight. Enter the diameter of the bare barrel under the "
        "line."
    ),
)
def barrel_reaches_flange(case: Case) -> Seen | None:
    drum = case.drum
    if not drum.drum_diameter_m or not drum.flange_diameter_m:
        return None
    if drum.drum_diameter_m < 0.95 * drum.flange_diameter_m:
        return None
    return Seen(
        {
            "drum_diameter": display(drum.drum_diameter_m, "mm"),
            "flange_diameter": display(drum.flange_diameter_m, "mm"),
        }
    )


@rule(
    "flange_for_barrel",
    level="ask",
    field="drum_diameter",
    particulars=True,
    title=gettext_noop("Flange measured for the barrel"),
    template=gettext_noop(
        "A barrel diameter of {drum_diameter} is too large; about {expected} or less was expected. Probably the flange "
        "was measured: the brake would then be set far too tight. Measure the bare barrel under the line."
    ),
)
def flange_for_barrel(case: Case) -> Seen | None:
    drum = case.drum
    if not drum.drum_diameter_m or barrel_reaches_flange(case):
        return None
    diameter, expected = drum.drum_diameter_m, None
    ratio = _diameter_ratio(case)
    like = case.sister_median("drum_diameter_m", _like_drums(case))
    if case.last and case.last.drum_diameter_m and 1.25 <= diameter / case.last.drum_diameter_m <= 2.6:
        expected = case.last.drum_diameter_m
    elif like and 1.6 <= diameter / like <= 2.6:
        expected = like
    elif ratio is not None and drum.line_diameter_m and ratio > SOFT_RANGES["diameter_ratio"].high_si:
        expected = SOFT_RANGES["diameter_ratio"].high_si * drum.line_diameter_m
    if expected is None:
        return None
    return Seen({"drum_diameter": display(diameter, "mm"), "expected": display(expected, "mm")})


@rule(
    "unusual_diameter_ratio",
    level="ask",
    field="drum_diameter",
    particulars=True,
    general=True,
    title=gettext_noop("Barrel and line diameter do not go together"),
    template=gettext_noop(
        "The barrel ({drum_diameter}) is {ratio} times the line diameter ({line_diameter}); {low} to {high} times is "
        "usual. Check both figures against the drawing and the line's certificate."
    ),
)
def unusual_diameter_ratio(case: Case) -> Seen | None:
    drum, ratio = case.drum, _diameter_ratio(case)
    if ratio is None or not drum.drum_diameter_m or not drum.line_diameter_m:
        return None
    low, high = _lowest_ratio(case), SOFT_RANGES["diameter_ratio"].high_si
    if low <= ratio <= high:
        return None
    return Seen(
        {
            "drum_diameter": display(drum.drum_diameter_m, "mm"),
            "line_diameter": display(drum.line_diameter_m, "mm"),
            "ratio": shown(ratio, 1),
            "low": shown(low, 0),
            "high": shown(high, 0),
        }
    )


@rule(
    "line_diameter_missing",
    level="stop",
    field="line_diameter",
    particulars=True,
    title=gettext_noop("Line diameter left out"),
    template=gettext_noop(
        "There is no line diameter. Without it the line seems to pull closer to the drum's centre than it does and the "
        "brake is set about 5 % too low. Enter the diameter of the line on the drum, without its tail."
    ),
)
def line_diameter_missing(case: Case) -> Seen | None:
    drum = case.drum
    wanted = case.test.target_basis == "geometry" and drum.drum_diameter_m and drum.lever_arm_m
    return Seen() if wanted and not drum.line_diameter_m else None


@rule(
    "circumference_for_diameter",
    level="ask",
    field="line_diameter",
    particulars=True,
    title=gettext_noop("Circumference of the line given for its diameter"),
    template=gettext_noop(
        "A line diameter of {line_diameter} is about three times what was expected ({expected}). Probably the line's "
        "circumference was entered. Measure across the line with callipers, or read its certificate."
    ),
)
def circumference_for_diameter(case: Case) -> Seen | None:
    drum = case.drum
    if not drum.line_diameter_m:
        return None
    alike = [other for other in case.sister_drums if other.line_material == drum.line_material]
    last = case.last.line_diameter_m if case.last and not case.happened_since(["line_changed"]) else None
    for expected in (last, case.sister_median("line_diameter_m", alike)):
        if expected and near(drum.line_diameter_m / expected, pi, 0.05):
            return Seen({"line_diameter": display(drum.line_diameter_m, "mm"), "expected": display(expected, "mm")})
    return None


def _unit_slip(case: Case, quantity: str) -> Seen | None:
    attribute = _LENGTHS[quantity]
    value = getattr(case.drum, attribute)
    last = getattr(case.last, attribute) if case.last else None
    for expected in (last, case.sister_median(attribute)):
        if value and expected and any(near(value / expected, factor, 0.05) for factor in LENGTH_FACTORS):
            return Seen({"value": display(value, "mm"), "expected": display(expected, "mm")})
    return None


_UNIT_SLIP = gettext_noop(
    "{value} differs from the expected {expected} by a whole unit (millimetre, centimetre, inch or foot). Check which "
    "unit the figure was read in and enter it with that unit."
)


@rule(
    "drum_diameter_unit",
    level="ask",
    field="drum_diameter",
    particulars=True,
    title=gettext_noop("Barrel diameter in another unit"),
    template=_UNIT_SLIP,
)
def drum_diameter_unit(case: Case) -> Seen | None:
    return _unit_slip(case, "drum_diameter")


@rule(
    "line_diameter_unit",
    level="ask",
    field="line_diameter",
    particulars=True,
    title=gettext_noop("Line diameter in another unit"),
    template=_UNIT_SLIP,
)
def line_diameter_unit(case: Case) -> Seen | None:
    return _unit_slip(case, "line_diameter")


@rule(
    "lever_arm_unit",
    level="ask",
    field="lever_arm",
    particulars=True,
    title=gettext_noop("Lever arm in another unit"),
    template=_UNIT_SLIP,
)
def lever_arm_unit(case: Case) -> Seen | None:
    return _unit_slip(case, "lever_arm")


@rule(
    "no_lever",
    level="stop",
    field="lever_arm",
    particulars=True,
    title=gettext_noop("Lever arm no longer than the line's own arm"),
    template=gettext_noop(
        "The lever arm {lever_arm} is the line's own arm from the drum centre ({radius}), as if the jack pulled the "
        "line straight. The pressure comes out about three times too high. Enter the distance from the drum centre to "
        "the jack's line of action, square to it."
    ),
)
def no_lever(case: Case) -> Seen | None:
    drum, arm = case.drum, case.drum.lever_arm_m
    if not arm or not drum.drum_diameter_m or not drum.line_diameter_m:
        return None
    radius = (drum.drum_diameter_m + drum.line_diameter_m) / 2
    if not near(radius / arm, 1.0, 0.1):
        return None
    return Seen({"lever_arm": display(arm, "mm"), "radius": display(radius, "mm")})


@rule(
    "lever_arm_inside_flange",
    level="ask",
    field="lever_arm",
    particulars=True,
    title=gettext_noop("Lever arm ends inside the flange"),
    template=gettext_noop(
        "The lever arm {lever_arm} ends inside the drum's flange (radius {flange_radius}). Probably it was measured to "
        "the bolt on the flange: the brake would be set far too tight. Measure from the drum centre to the jack's line "
        "of action; if this maker does jack inside the rim, say so."
    ),
)
def lever_arm_inside_flange(case: Case) -> Seen | None:
    arm, flange = case.drum.lever_arm_m, case.drum.flange_diameter_m
    if not arm or not flange or arm >= flange / 2 or no_lever(case):
        return None
    return Seen({"lever_arm": display(arm, "mm"), "flange_radius": display(flange / 2, "mm")})


@rule(
    "unusual_arm_ratio",
    level="ask",
    field="lever_arm",
    particulars=True,
    general=True,
    title=gettext_noop("Lever arm and drum do not go together"),
    template=gettext_noop(
        "The line's arm ({radius}) is {ratio} of the lever arm ({lever_arm}); {low} to {high} is usual. Check the "
        "lever arm and the barrel diameter."
    ),
)
def unusual_arm_ratio(case: Case) -> Seen | None:
    drum = case.drum
    if not drum.lever_arm_m or not drum.drum_diameter_m or not drum.line_diameter_m:
        return None
    radius = (drum.drum_diameter_m + drum.line_diameter_m) / 2
    ratio, limits = radius / drum.lever_arm_m, SOFT_RANGES["arm_ratio"]
    if limits.holds(ratio):
        return None
    return Seen(
        {
            "radius": display(radius, "mm"),
            "lever_arm": display(drum.lever_arm_m, "mm"),
            "ratio": shown(ratio, 2),
            "low": shown(limits.low_si, 2),
            "high": shown(limits.high_si, 2),
        }
    )


@rule(
    "undivided_first_layer",
    level="ask",
    field="layer",
    particulars=True,
    title=gettext_noop("Undivided drum taken as first layer"),
    template=gettext_noop(
        "This drum has no split, yet it is reckoned on the first layer. In use the line lies higher: a brake set to "
        "60 % on the first layer holds only about 49 % on the third. The usual reference for an undivided drum is the "
        "third layer; name the layer on which the line works."
    ),
)
def undivided_first_layer(case: Case) -> Seen | None:
    return Seen() if case.drum.kind == "undivided" and case.drum.layer == 1 else None


@rule(
    "split_above_first_layer",
    level="note",
    field="layer",
    particulars=True,
    title=gettext_noop("Split drum above its first layer"),
    template=gettext_noop(
        "This drum is split but is reckoned on layer {layer}. The tension section of a split drum normally works on "
        "its first layer."
    ),
)
def split_above_first_layer(case: Case) -> Seen | None:
    layer = case.drum.layer
    return Seen({"layer": str(layer)}) if case.drum.kind == "split" and layer and layer > 1 else None
