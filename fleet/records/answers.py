"""What is said to the person at the pump after a reading: where it lies, and what comes next."""

from dataclasses import dataclass, replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from fleet.calculation import units
from fleet.records.figures import Figures
from fleet.records.models import AS_FOUND, Phase
from fleet.records.results import ReadingResult, Results
from fleet.records.setting_words import NextMove

# Two readings that print alike are alike.
HAIR = 1e-9
# A band brake jacked against the pay-out direction seems at least so many times weaker.
WRONG_WAY_FROM = 2.6
TICK_FIRST = gettext_noop(
    "How far to go can be said after a reading for which the brake was released fully and re-applied: tick that "
    "where it was so."
)


@dataclass(frozen=True)
class Answer:
    """One or two sentences; `warns` where the next wrong move would be dangerous; `rests_on` in small print."""

    seen: str
    next: str
    warns: bool = False
    rests_on: tuple[str, ...] = ()


def answer_to(row: ReadingResult, figures: Figures, results: Results, move: NextMove | None = None) -> Answer:
    """The answer to one reading, by phase, by result, and by where it lies against band and STOP.

    Where the readings together say what the next move is, that takes the place of the general words.
    """
    answer = _by_this_reading(row, figures, results)
    if row.share is None or may_be_the_wrong_way(row, figures):
        return answer
    if move is None:
        unticked = not row.reading.reapplied and row.reading.phase not in AS_FOUND
        return replace(answer, rests_on=(_(TICK_FIRST),)) if unticked else answer
    if row.reading.gauge_si > figures.stop_mark.reading_si * (1 + HAIR) and move.sentence:
        return replace(answer, next=f"{answer.next} {move.sentence}")
    if not move.sentence and results.verification_slips >= figures.policy.verification_slips:
        return replace(answer, next=f"{answer.next} {move.at_target}".strip(), rests_on=move.rests_on)
    rests_on = tuple(sentence for sentence in (*move.rests_on, move.at_target) if sentence)
    return replace(answer, next=move.in_full or answer.next, warns=answer.warns or move.warns, rests_on=rests_on)


def _by_this_reading(row: ReadingResult, figures: Figures, results: Results) -> Answer:
    if row.share is None:
        return Answer(
            _("{reading} lies outside the maker's table: no load can be given for it.").format(reading=_gauge(row)),
            _("The table is not extended by guessing. Keep to readings that it covers."),
            warns=True,
        )
    if row.reading.gauge_si > figures.stop_mark.reading_si * (1 + HAIR):
        return Answer(
            _("{reading} is above STOP ({stop}): {share} of the base load.").format(
                reading=_gauge(row), stop=figures.stop_mark.shown, share=_share(row)
            ),
            _("Release to zero and slacken. Check brake, lever, jack and deck before anything else."),
            warns=True,
        )
    return _held(row, figures) if not row.reading.slipped else _slipped(row, figures, results)


def _held(row: ReadingResult, figures: Figures) -> Answer:
    seen = _("Held at {reading} = at least {share} of the base load.").format(reading=_gauge(row), share=_share(row))
    if row.reading.gauge_si >= figures.stop_mark.reading_si * (1 - HAIR):
        return Answer(
            seen,
            _("That is STOP: the brake holds more than this. Release fully, slacken, and start again."),
            warns=True,
        )
    return Answer(
        seen,
        _("A hold alone says only that. Raise further, slowly, never past STOP at {stop}.").format(
            stop=figures.stop_mark.shown
        ),
    )


def _slipped(row: ReadingResult, figures: Figures, results: Results) -> Answer:
    low, high = figures.band
    assert row.share is not None
    where = (
        _("below the band") if row.share < low else _("above the band") if row.share > high else _("inside the band")
    )
    seen = _("Slipped at {reading} = {share} of the base load: {where} ({band}).").format(
        reading=_gauge(row), share=_share(row), where=where, band=band_words(figures)
    )
    if row.reading.phase in AS_FOUND:
        if may_be_the_wrong_way(row, figures):
            return Answer(
                seen,
                _(
                    "That is several times weaker than aimed at. Before anything is tightened, check the jack with the "
                    "drawing: turned against the pay-out direction the brake seems so, and would be set far too tight."
                ),
                warns=True,
            )
        return Answer(seen, _after_as_found(row.share, low, high))
    if row.share < low:
        return Answer(seen, _("Too loose. Release fully, tighten a little, and raise again from below."))
    if row.share > high:
        return Answer(seen, _("Too tight. Release fully, slacken well, and approach again from below."), warns=True)
    return Answer(seen, _in_band(row, figures, results))


def may_be_the_wrong_way(row: ReadingResult, figures: Figures) -> bool:
    """An as-found slip so weak that the jack may turn the drum against the pay-out direction."""
    weak = row.share is not None and row.share * WRONG_WAY_FROM <= figures.share
    return weak and row.reading.slipped and row.reading.phase in AS_FOUND


def _after_as_found(share: float, low: float, high: float) -> str:
    if low <= share <= high:
        return _("As found it lies in the band. Release fully, re-apply to the same mark, and verify.")
    return _("Now set it well slack of the mark and approach from below, never past STOP.")


def _in_band(row: ReadingResult, figures: Figures, results: Results) -> str:
    wanted, there = figures.policy.verification_slips, results.verification_slips
    if row.reading.phase != Phase.VERIFICATION:
        return _("Stop adjusting. Release fully, re-apply to this mark, and verify.")
    if there < wanted:
        return _(
            "Verification slip {there} of {wanted}. Release fully, re-apply to the same mark, and raise again."
        ).format(there=there, wanted=wanted)
    return _(
        "Verification slips: {there}, the policy asks for {wanted}. Measure the setting as left and fix the mark."
    ).format(there=there, wanted=wanted)


def band_words(figures: Figures) -> str:
    """The band in per cent, such as 55–65 %."""
    low, high = (units.digits(share, "percent").removesuffix(".0") for share in figures.band)
    return f"{low}–{high} %"


def stop_words(figures: Figures) -> str:
    """How STOP on the dial comes of the exact limit: a hand cannot stop between two marks."""
    limit = units.display(figures.stop.reading_si, figures.gauge_unit)
    if figures.stop_mark.reading_si < figures.stop.reading_si * (1 - HAIR):
        return _("{limit} is the limit; STOP is the division mark below it.").format(limit=limit)
    return _("{limit} is the limit, and a division mark: it is STOP.").format(limit=limit)


def _gauge(row: ReadingResult) -> str:
    return f"{row.reading.gauge_text} {units.label(row.reading.gauge_unit)}"


def _share(row: ReadingResult) -> str:
    return units.display(row.share or 0.0, "percent")
