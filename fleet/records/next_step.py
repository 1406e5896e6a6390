"""The first sentence of a test's page: what to do next, and where on the page it is done."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.calculation.setting_sentences import IN_BAND
from fleet.records.answers import may_be_the_wrong_way
from fleet.records.assess import Assessment
from fleet.records.draft import has_band, readings_wait_for, waits_for_an_answer
from fleet.records.models import AS_FOUND, Outcome, State
from fleet.records.results import Results
from fleet.records.setting_words import next_move_words


@dataclass(frozen=True)
class NextStep:
    """`place` is a part of the entry page, or `check` for the page after it; `from-shore` is no step of its own."""

    sentence: str
    place: str
    warns: bool = False


def next_step(assessment: Assessment) -> NextStep:
    """Follow the order of the test: checks, state, readings, setting, outcome."""
    test, parsed = assessment.test, assessment.parsed
    if assessment.figures is None:
        return NextStep(_("Figures are missing, so no target can be given. Enter them first."), "readings", warns=True)
    if waits_for_an_answer(test) and not parsed.values.get("answer_to_shore"):
        return NextStep(_("Next: do what shore asks for, then answer in one line what was done."), "from-shore")
    waiting = readings_wait_for(test)
    if waiting:
        number = len(waiting)
        return NextStep(
            ngettext(
                "Next: confirm the check that is still open; until then no reading can be entered.",
                "Next: confirm the {number} checks that are still open; until then no reading can be entered.",
                number,
            ).format(number=number),
            "checks",
        )
    if any(not parsed.values.get(name) for name in ("brake_state", "lining_1", "lining_2", "lining_3", "drum_surface")):
        if has_band(test.drum):
            told = _("Next: write down the state of lining, drum and band before the pump is touched.")
        else:
            told = _("Next: write down the state of lining and drum before the pump is touched.")
        return NextStep(told, "brake")
    return _after_the_checks(assessment)


def _after_the_checks(assessment: Assessment) -> NextStep:
    results, parsed = assessment.results, assessment.parsed
    outcome = parsed.values.get("outcome")
    if results is None or (outcome and outcome != Outcome.SET_IN_BAND):
        return NextStep(_("Next: check the record and have it released."), "check")
    if not results.rows:
        return NextStep(_("Next: the first reading. Raise slowly, and write what the gauge shows."), "readings")
    wanted = assessment.policy.verification_slips
    if results.verification_slips < wanted:
        move = _move(assessment, results, wanted)
        if move is not None:
            return move
        if all(row.reading.phase in AS_FOUND for row in results.rows):
            return NextStep(_("Next: set slack of the mark and approach from below, reading by reading."), "readings")
        return NextStep(
            _("Next: adjust until it slips in the band, then verify: {there} of {wanted} verification slips.").format(
                there=results.verification_slips, wanted=wanted
            ),
            "readings",
        )
    if not parsed.values.get("final_mark") or not parsed.values.get("mark_fixed"):
        return NextStep(_("Next: measure the setting as left and say how the mark is fixed."), "setting")
    if not outcome:
        return NextStep(_("Next: say how the test ended."), "outcome")
    return NextStep(_("Next: check the record and have it released."), "check")


def _move(assessment: Assessment, results: Results, wanted: int) -> NextStep | None:
    """The next move where the readings say what it is: as in the answer to the last reading, in fewer words."""
    found = assessment.setting
    words = next_move_words(found, assessment.test.drum)
    last = results.rows[-1]
    if found is None or words is None or assessment.figures is None or may_be_the_wrong_way(last, assessment.figures):
        return None
    if words.sentence:
        return NextStep(words.sentence, "readings", warns=words.warns)
    if found.advice.code == IN_BAND:
        told = _("Next: stop adjusting; release fully, re-apply and verify: {there} of {wanted} verification slips.")
        return NextStep(told.format(there=results.verification_slips, wanted=wanted), "readings")
    return NextStep(_("Next: raise further, slowly, never past STOP."), "readings")


STEPS = ("checks", "brake", "readings", "setting", "outcome")


def steps_of(assessment: Assessment, now: str, *, may_test: bool) -> list[dict[str, object]]:
    """The stepper of both pages: five parts of the entry page, then check and release."""
    test, parsed, results = assessment.test, assessment.parsed, assessment.results
    values = parsed.values
    entry = reverse("records:test", args=[test.pk])
    done = {
        "checks": not readings_wait_for(test),
        "brake": all(
            values.get(name)
            for name in ("brake_state", "lining_1", "lining_2", "lining_3", "lining_condition", "drum_surface")
        ),
        "readings": bool(results and results.verification_slips >= assessment.policy.verification_slips),
        "setting": bool(values.get("final_mark") and values.get("mark_fixed")),
        "outcome": bool(values.get("outcome")),
        "check": test.state not in {State.DRAFT, State.RETURNED},
    }
    labels = {
        "checks": _("Checks"),
        "brake": _("Lining and band") if has_band(test.drum) else _("Lining and drum"),
        "readings": _("Readings"),
        "setting": _("Setting and photos"),
        "outcome": _("Outcome"),
        "check": _("Check and release"),
    }
    urls = {**{step: f"{entry}#{step}" for step in STEPS}, "check": reverse("records:check", args=[test.pk])}
    return [
        {
            "label": label,
            "url": urls[step] if may_test or step == "check" else "",
            "done": done[step],
            "now": step == now,
        }
        for step, label in labels.items()
    ]
