"""What the tool itself would do next, from the readings so far: the same advice as in a real test."""

from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.practice.run import AS_FOUND, LEAST_SLIPS, READINGS, SETTING, Reading, Run, bar


def suggestion(run: Run) -> list[str]:
    """What the tool would say now, sentence by sentence."""
    if run.stage == SETTING:
        return [_("Measure the setting as left with the rule, and fix the mark so that no hand can shift it.")]
    if run.stage != READINGS:
        return []
    if run.hand.moved:
        return [_("The drum has moved. Write what the gauge showed at first movement, then release fully.")]
    if run.is_at_stop:
        return [_("That is STOP. Write “held”, release, slacken. Never pump until it goes.")]
    if run.hand.strokes:
        return [
            _("Raise slowly, stroke by stroke, to first movement or to STOP at {stop}.").format(
                stop=bar(run.brake.stop_mark_pa)
            )
        ]
    if not run.readings:
        return [_first_words(run)]
    last = run.readings[-1]
    if not last.reapplied:
        return [_("The last reading shows running friction, not the setting. Release fully, re-apply, test again.")]
    found = run.advice
    said = [] if found is None else [_(part.template).format(**part.figures) for part in found.sentences]
    return [*_when_enough(run, last), *said]


def _first_words(run: Run) -> str:
    if run.brake.after_work:
        return _(
            "There was work on this brake: no as-found reading, the old mark means nothing now. It stands slack at "
            "{mark}. Raise from there and approach from below."
        ).format(mark=units.display(run.hand.mark_m, "mm"))
    if run.as_found_is_open:
        return _(
            "The brake stands as the crew left it a year ago, at {mark}. Test it as found first, before anything is "
            "touched: raise slowly, never past STOP at {stop}."
        ).format(mark=units.display(run.hand.mark_m, "mm"), stop=bar(run.brake.stop_mark_pa))
    return _("Set it well slack of the mark and approach from below, never past STOP at {stop}.").format(
        stop=bar(run.brake.stop_mark_pa)
    )


def _when_enough(run: Run, last: Reading) -> list[str]:
    if len(run.slips_as_left) >= LEAST_SLIPS and last.is_in_band:
        return [
            _("Verification slips: {there}. That is enough: leave the brake here.").format(there=len(run.slips_as_left))
        ]
    if last.phase == AS_FOUND and last.slipped:
        return [_("That was the brake as found.")]
    return []
