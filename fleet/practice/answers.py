"""What is said after each move, in the words of the real test, and why the answer to a question was right or wrong."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.calculation.brake import belt_tension_ratio, wrong_way_load
from fleet.practice.brakes import BAND, THIN, WET
from fleet.practice.deck_checks import is_ticked, spoilt
from fleet.practice.mistakes import SENTENCES, THIN_LINING_TESTED
from fleet.practice.run import (
    AS_FOUND,
    CHECKS,
    GAUGE,
    LEAST_SLIPS,
    LINING,
    READINGS,
    SETTING,
    SIDE,
    VERIFICATION,
    Reading,
    Run,
    bar,
)
from fleet.simulation.brake import STATIC
from fleet.simulation.draw import HOLDING_SHARE, SHARE

# A wrong figure, as a part of the right one, and what usually makes it; from the geometry of the formula.
_LIKELY = 0.03


@dataclass(frozen=True)
class Answer:
    """One or two sentences; `warns` where the next wrong move would be dangerous."""

    seen: str
    next: str = ""
    warns: bool = False


def answer(run: Run) -> Answer | None:
    """What the last move came to, or None where there is nothing to say yet."""
    said = {SIDE: _side, CHECKS: _side, LINING: _checks, GAUGE: _lining_or_reads, READINGS: _pump, SETTING: _left}
    return said[run.stage](run) if run.stage in said else None


def _side(run: Run) -> Answer | None:
    if not run.side_answers:
        return None
    brake = run.brake.drum.trial.brake
    friction = brake.friction(STATIC)
    times = units.shown(belt_tension_ratio(friction, brake.wrap_rad), 1)
    if run.side_answers[-1] == run.right_side:
        return Answer(_("Right: there the jack turns the drum the way the line pays out."))
    # Set against the pay-out direction to show the target, it holds so many times more the right way round.
    load_n = run.brake.target_load_n
    share = load_n / wrong_way_load(load_n=load_n, friction=friction, wrap_rad=brake.wrap_rad) * SHARE
    words = _(
        "The tight and the slack end of the band change places, and this brake would seem {times} times weaker than it "
        "is. Tightened until the gauge showed {aim}, it would hold about {share} of the ship design MBL: the line "
        "parts, or the winch leaves the deck, long before the brake gives way. Look at the drawing and answer anew."
    )
    told = words.format(times=times, aim=units.display(SHARE, "percent"), share=f"{units.shown(share * 100, 0)} %")
    return Answer(_("No: there the jack turns the drum against the way it pays out."), told, warns=True)


def _checks(run: Run) -> Answer:
    bad = spoilt(run.brake)
    if bad is None or bad.fault in {"", THIN}:
        return Answer(_("All checks stand. Nothing on this deck was out of order."))
    if not is_ticked(run.ticked, bad):
        told = _("Well seen: “{check}” was not in order.").format(check=bad.label)
        return Answer(told, str(bad.put_right))
    told = str(SENTENCES[f"ticked_{bad.fault}"])
    if bad.fault == WET:
        return Answer(told, _("You go on with a wet brake. Watch what the readings do."), warns=True)
    return Answer(told, str(bad.put_right), warns=True)


def _lining_or_reads(run: Run) -> Answer:
    if run.wrong_reads_pa:
        return _wrong_read(run, run.wrong_reads_pa[-1])
    is_thin, tests = run.brake.fault == THIN, run.lining_answer == "Y"
    relined = _("In this practice the brake is now relined. The old mark means nothing any more: start well slack.")
    if is_thin:
        if tests:
            return Answer(str(SENTENCES[THIN_LINING_TESTED]), relined, warns=True)
        return Answer(_("Right: below its least thickness the drum is out of use until it is relined."), relined)
    if tests:
        return Answer(_("Right: the thinnest place is above the least thickness."))
    return Answer(_("The thinnest place is above the least thickness: this brake may be tested."))


def _wrong_read(run: Run, answer_pa: float) -> Answer:
    told = _("{answer} is not what this gauge must show.").format(answer=bar(answer_pa))
    return Answer(told, _likely_cause(run, answer_pa), warns=True)


def _likely_cause(run: Run, answer_pa: float) -> str:
    target, right_pa = run.brake.target, run.brake.target_reading_pa
    part = answer_pa / right_pa
    radius_m, drum_m = target.radius_m, target.drum_diameter_m
    usual = [
        (HOLDING_SHARE / SHARE, _("It is the reading for 80 %: the brake is set at 60 %.")),
        (1 / SHARE, _("It is the reading for the whole ship design MBL: the brake is set at 60 % of it.")),
        (
            drum_m / 2 / radius_m,
            _("The line diameter seems forgotten: the line pulls half its thickness outside the barrel."),
        ),
        (2.0, _("It is twice the right figure: a diameter was taken for a radius.")),
        (0.5, _("It is half the right figure: a radius was taken for a diameter.")),
        (0.1, _("It is a tenth of the right figure: MPa were taken for bar.")),
        (10.0, _("It is ten times the right figure: a point or a unit slipped.")),
    ]
    for ratio, words in usual:
        if abs(part / ratio - 1) <= _LIKELY:
            return words
    return _("Work it out again from the figures below, or open the worksheet.")


def _pump(run: Run) -> Answer | None:
    hand = run.hand
    if hand.moved:
        told = _("The drum moved. The gauge showed {shown} at first movement.").format(shown=bar(hand.shown_pa))
        return Answer(told, _("Write it down."))
    if hand.strokes:
        return _holding(run)
    if run.readings and (hand.is_applied and hand.mark_m == run.readings[-1].mark_m and hand.has_slid is False):
        last = run.readings[-1]
        return _after_reading(run, last) if not last.slipped else None
    if run.readings and hand.has_slid:
        return _after_reading(run, run.readings[-1])
    return None


def _holding(run: Run) -> Answer:
    shown_pa = run.hand.shown_pa
    share = run.brake.share_at(shown_pa)
    seen = _("It holds at {shown} = {share} of the ship design MBL.").format(
        shown=bar(shown_pa), share=units.display(share, "percent")
    )
    if share > HOLDING_SHARE:
        return Answer(
            seen,
            _(
                "That is above 80 %, the brake's design holding load: band, pins, lever and foundation are loaded "
                "beyond what they are kept for, and gear that let go here has hurt people. Write “held”, release."
            ),
            warns=True,
        )
    if shown_pa > run.brake.stop_mark_pa * (1 + 1e-9):
        return Answer(seen, _("You are past STOP. Write “held”, release, slacken."), warns=True)
    if run.is_at_stop:
        return Answer(
            seen, _("That is STOP: the brake holds more than this. Write “held”, release, slacken."), warns=True
        )
    return Answer(seen)


def _after_reading(run: Run, last: Reading) -> Answer:
    if not last.slipped:
        return _after_hold(run, last)
    low, high = BAND
    where = _("below the band") if last.share < low else _("inside the band")
    if last.share > high:
        where = _("above the band")
    seen = _("Slipped at {reading} = {share} of the ship design MBL: {where}.").format(
        reading=bar(last.gauge_pa), share=units.display(last.share, "percent"), where=where
    )
    if not last.reapplied:
        told = _("But the brake was not released before: that was running friction, not the setting.")
        return Answer(seen, told, warns=True)
    if last.is_in_band and run.advice and run.advice.refines:
        best = units.display(run.advice.best_load_n / run.brake.drum.sdmbl_n, "percent")
        told = _(
            "It reads in the band, but the brake itself probably holds only {best}, too near its lower edge. Release "
            "fully, tighten a little, and raise again from below."
        )
        return Answer(seen, told.format(best=best))
    if last.phase == AS_FOUND:
        if last.is_in_band:
            told = _("As found it lies in the band. Release fully, re-apply to the same mark, and verify.")
            return Answer(seen, told)
        return Answer(seen, _("Now set it well slack of the mark and approach from below, never past STOP."))
    if last.share < low:
        return Answer(seen, _("Too loose. Release fully, tighten a little, and raise again from below."))
    if last.share > high:
        return Answer(seen, _("Too tight. Release fully, slacken well, and approach again from below."), warns=True)
    return Answer(seen, _after_slip_in_band(run, last))


def _after_hold(run: Run, last: Reading) -> Answer:
    seen = _("Held at {reading} = at least {share} of the ship design MBL.").format(
        reading=bar(last.gauge_pa), share=units.display(last.share, "percent")
    )
    if last.gauge_pa >= run.brake.stop_mark_pa * (1 - 1e-9):
        told = _("That is STOP: the brake holds more than this. Release fully, slacken, and start again.")
        return Answer(seen, told, warns=True)
    return Answer(seen, _("A hold alone says only that. Raise further, slowly, never past STOP."))


def _after_slip_in_band(run: Run, last: Reading) -> str:
    there = len(run.slips_as_left)
    if last.phase != VERIFICATION:
        return _("Stop adjusting. Release fully, re-apply to this mark, and verify.")
    if there < LEAST_SLIPS:
        words = _("Verification slip {there} of {wanted}. Release fully, re-apply to the same mark, and raise again.")
        return words.format(there=there, wanted=LEAST_SLIPS)
    return _("Verification slips: {there}. Measure the setting as left and fix the mark.").format(there=there)


def _left(run: Run) -> Answer:
    return _after_reading(run, run.last_slip_here)
