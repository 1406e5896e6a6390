"""Everything the entry page of a test shows, worked out once per request."""

from collections.abc import Mapping, Sequence
from copy import copy
from typing import Any
from uuid import uuid4

from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.records.access import ships_clock
from fleet.records.answers import answer_to, band_words, stop_words
from fleet.records.assess import Assessment, assess
from fleet.records.draft import has_band, parse_draft, readings_open, readings_wait_for, setting_unit, setting_units
from fleet.records.drafts import brake_work_since_last_test
from fleet.records.entry_forms import DraftForm, PhotoForm, ReadingForm, base_of, typed_draft
from fleet.records.merging import Clash
from fleet.records.models import AS_FOUND, DrumTest
from fleet.records.next_step import next_step, steps_of
from fleet.records.results import ReadingResult, Results
from fleet.records.setting_words import next_move_words
from fleet.records.snapshot import STOP_LIMIT_LABELS
from fleet.records.trust_content import trust_content

READING_FIELDS = ("phase", "mark_text", "gauge_text", "reapplied", "rest_minutes")


def entry_context(
    test: DrumTest,
    *,
    unsaved: Mapping[str, Any] | None = None,
    typed: Mapping[str, Any] | None = None,
    reading_told: Mapping[str, Any] | None = None,
    photo_told: Mapping[str, Any] | None = None,
    clashes: Sequence[Clash] = (),
) -> dict[str, Any]:
    """The page's context; `unsaved` is a form shown over what is stored, `typed` only a reading or photo of it."""
    assessment = assess(test)
    shown = typed_draft(unsaved, test.draft) if unsaved is not None else test.draft
    unsaved = unsaved or {}
    typed = typed or unsaved
    photo = {name: typed.get(name, "") for name in ("photo_kind", "photo_caption")}
    # A photo that was refused may be sent again as itself; one that came under the id of another needs its own.
    as_sent = "" if photo_told and "__all__" in photo_told else typed.get("photo_id", "")
    photo["photo_id"] = as_sent or str(uuid4())
    return {
        **saved_context(test, assessment, shown, clashes),
        **readings_context(assessment, typed=typed, told=reading_told),
        "revision": unsaved.get("revision") or str(test.draft_revision),
        "base": unsaved.get("base") or base_of(test.draft),
        "photo_form": PhotoForm(photo if photo_told else None, told=photo_told, initial=photo),
        "photos": assessment.photos,
        "jack_acts": _jack_acts(assessment),
        "units_offered": len(setting_units(test.drum)) > 1,
        "has_band": has_band(test.drum),
        "policy": assessment.policy,
    }


def saved_context(
    test: DrumTest, assessment: Assessment, shown: Mapping[str, str], clashes: Sequence[Clash] = ()
) -> dict[str, Any]:
    """The lead and the stepper, the line that says what is saved, and the fields with what cannot be read in them."""
    told = assessment.parsed.errors
    if shown is not test.draft:
        as_shown = copy(test)
        as_shown.draft = dict(shown)
        told = parse_draft(as_shown).errors
    now = next_step(assessment)
    return {
        "test": test,
        "drum": test.drum,
        "vessel": test.drum.vessel,
        "assessment": assessment,
        "next": now,
        "steps": steps_of(assessment, now.place, may_test=True),
        "form": DraftForm(test, shown, told),
        "revision": str(test.draft_revision),
        "base": base_of(test.draft),
        "saved_clock": ships_clock(test.draft_saved_at, test.round.utc_offset_minutes),
        "clashes": clashes,
    }


def readings_context(
    assessment: Assessment, *, typed: Mapping[str, Any] | None = None, told: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """The part with STOP, the fields of a reading and the readings so far."""
    test, figures, results = assessment.test, assessment.figures, assessment.results
    work = brake_work_since_last_test(test.drum, but=test)
    move = next_move_words(assessment.setting, test.drum)
    rows = results.rows if results else tuple(ReadingResult(row, None, None) for row in test.readings.all())
    return {
        "test": test,
        "drum": test.drum,
        "figures": figures,
        "results": results,
        "assessment": assessment,
        "waiting": readings_wait_for(test),
        "readings_shown": readings_shown(test),
        "brake_work": work,
        "rows": rows,
        "mark_unit": units.label(setting_unit(test)),
        "gauge": test.round.kit.gauge,
        "gauge_unit": units.label(test.round.kit.gauge.unit),
        "answer": answer_to(rows[-1], figures, results, move) if rows and figures and results else None,
        "solid_share": _solid_share(results),
        "trust": trust_content(assessment.trust, as_read_share=results.as_left_share, was_dry=assessment.parsed.was_dry)
        if results and assessment.trust
        else None,
        "trust_unknown": assessment.trust_unknown,
        "band": band_words(figures) if figures else "",
        "aim": aim_words(assessment),
        "stop_sentence": stop_words(figures) if figures else "",
        "stop_limit": _(STOP_LIMIT_LABELS[figures.stop.limit]) if figures else "",
        "reading_form": _reading_form(assessment, typed or {}, told, as_found_offered=work is None),
        "base_kind": str(test.drum.vessel.get_base_load_kind_display()),
    }


def readings_shown(test: DrumTest) -> str:
    """How the part with the readings stands: shut or open, and the setting's unit. A page that shows it otherwise gets
    it anew, whoever changed it."""
    return f"{'open' if readings_open(test) else 'shut'} {setting_unit(test)}"


def aim_words(assessment: Assessment) -> str:
    """What to aim at, as words: a reading, a share and a load, never an order to pump to it."""
    figures = assessment.figures
    if figures is None:
        return ""
    return _("Aim {reading} = {share} of the base load = {load}").format(
        reading=units.display(figures.aim.reading_si, figures.gauge_unit),
        share=units.display(figures.share, "percent"),
        load=units.display(figures.aim.load_n, "kN"),
    )


def _solid_share(results: Results | None) -> float | None:
    """The solid mark of the strip while a test goes on: as left, else the last slip after the first setting."""
    if results is None or results.as_left_share is not None:
        return results.as_left_share if results else None
    slips = [row.share for row in results.rows if row.reading.slipped and row.reading.phase not in AS_FOUND]
    return slips[-1] if slips else None


def _reading_form(
    assessment: Assessment, typed: Mapping[str, Any], told: Mapping[str, Any] | None, *, as_found_offered: bool
) -> ReadingForm:
    test = assessment.test
    given = {name: typed.get(name, "") for name in READING_FIELDS if typed.get(name)}
    if told:
        given["reading_id"] = typed.get("reading_id", "")
    readings = list(test.readings.all())
    last = readings[-1].phase if readings else ""
    return ReadingForm(
        given if told else None,
        test=test,
        gauge=test.round.kit.gauge,
        as_found_offered=as_found_offered,
        told=told,
        # The phase stays until another is chosen; mark and gauge are always typed anew.
        initial={"phase": last, **given},
    )


def _jack_acts(assessment: Assessment) -> str:
    jacks = list(assessment.test.round.kit.kit_jacks.all())
    return jacks[0].jack.acts if jacks else "push"
