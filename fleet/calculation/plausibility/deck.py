"""Rules on the checks of the deck: what a person answered no to before or during the test."""

from __future__ import annotations

from fleet.calculation.plausibility.case import Case
from fleet.calculation.plausibility.finding import Seen, gettext_noop, rule
from fleet.calculation.units import display, to_si


@rule(
    "pay_out_side_not_confirmed",
    level="stop",
    field="pay_out_side",
    title=gettext_noop("Jack's pay-out side not confirmed"),
    template=gettext_noop(
        "Nobody confirmed that the jack turns the drum the way the line pays out. Turned the other way the brake seems "
        "three to six times weaker and is then overtightened by as much, which can part the line and kill. Check with "
        "the drawing before any reading counts."
    ),
)
def pay_out_side_not_confirmed(case: Case) -> Seen | None:
    return Seen() if case.test.pay_out_side_confirmed is False else None


@rule(
    "sister_drum_holds_line",
    level="stop",
    field="sister_drum",
    title=gettext_noop("Another drum of the winch holds a mooring line"),
    template=gettext_noop(
        "A drum on the same winch frame or shaft holds a mooring line. Do not test on this winch, and do not enter the "
        "test as valid, until that line is off or held elsewhere."
    ),
)
def sister_drum_holds_line(case: Case) -> Seen | None:
    return Seen() if case.test.sister_drum_clear is False else None


@rule(
    "reeled_other_way",
    level="stop",
    field="reeling",
    title=gettext_noop("Line reeled other than marked"),
    template=gettext_noop(
        "The line is reeled the other way from the mark on the drum. A band brake grips fully one way only: the "
        "setting is not valid for this line. Reel it as marked and test again."
    ),
)
def reeled_other_way(case: Case) -> Seen | None:
    return Seen() if case.test.reeled_as_marked is False else None


@rule(
    "drum_surface_pitted",
    level="ask",
    field="drum_surface",
    title=gettext_noop("Brake surface of the drum is not sound"),
    template=gettext_noop(
        "The brake surface of the drum is pitted or scored: a defect of its own beside the lining. Say what was "
        "found, with a photo, and what will be done about it."
    ),
)
def drum_surface_pitted(case: Case) -> Seen | None:
    return Seen() if case.test.drum_surface_ok is False else None


@rule(
    "band_drags_at_rest",
    level="ask",
    field="band_rest",
    title=gettext_noop("Band does not clear the drum at rest"),
    template=gettext_noop(
        "The band does not stand clear of the drum when the brake is open. It drags, heats and wears, and the mark "
        "means little. Adjust the band's rest and say what was done."
    ),
)
def band_drags_at_rest(case: Case) -> Seen | None:
    return Seen() if case.test.band_rest_ok is False else None


@rule(
    "brake_wet",
    level="ask",
    field="brake_condition",
    title=gettext_noop("Brake tested wet"),
    template=gettext_noop(
        "The brake was wet, oily or rusty. It may hold far less than when dry (up to three quarters less), and a "
        "setting made so is too tight once it dries. Run the drum with the brake lightly on until dry, then test again."
    ),
)
def brake_wet(case: Case) -> Seen | None:
    return Seen() if case.test.brake_wet is True else None


@rule(
    "not_run_in",
    level="ask",
    field="brake_condition",
    title=gettext_noop("Brake not run in before the test"),
    template=gettext_noop(
        "The drum was not run with the brake lightly on before the test. Rust and damp then change the first slips. "
        "Run it in and repeat, or say why it could not be done."
    ),
)
def not_run_in(case: Case) -> Seen | None:
    return Seen() if case.test.run_in is False and case.test.brake_wet is not True else None


@rule(
    "lever_slightly_off_square",
    level="note",
    field="lever_arm",
    particulars=True,
    title=gettext_noop("Jack slightly off square to the lever"),
    template=gettext_noop(
        "The jack stands {angle} off square to the lever: the brake slips at a slightly lower load than the reading "
        "says (5° 0.4 %, 10° 1.5 %)."
    ),
)
def lever_slightly_off_square(case: Case) -> Seen | None:
    angle = case.drum.lever_off_square_deg
    return Seen({"angle": display_degrees(angle)}) if angle is not None and 3 < abs(angle) <= 8 else None


@rule(
    "lever_not_square",
    level="ask",
    field="lever_arm",
    particulars=True,
    title=gettext_noop("Jack not square to the lever"),
    template=gettext_noop(
        "The jack stands {angle} off square to the lever. The true load is lower than the reading says, and test gear "
        "out of line can be thrown. Set the jack square and test again."
    ),
)
def lever_not_square(case: Case) -> Seen | None:
    angle = case.drum.lever_off_square_deg
    return Seen({"angle": display_degrees(angle)}) if angle is not None and abs(angle) > 8 else None


def display_degrees(angle_deg: float) -> str:
    """An angle off square, without its sign."""
    return display(to_si(abs(angle_deg), "deg"), "deg")
