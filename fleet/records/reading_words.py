"""One reading as a form sends it, and the page on which it is corrected."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from fleet.records.assess import Assessment
from fleet.records.drafts import brake_work_since_last_test
from fleet.records.entry_forms import ReadingForm
from fleet.records.models import Reading

RESULTS = ("slipped", "held")


def reading_of(posted: Mapping[str, Any]) -> dict[str, Any]:
    """A reading's fields out of a form; which of the two buttons was pressed says whether it slipped."""
    result = posted.get("result", "")
    if result not in RESULTS:
        raise ValidationError({"__all__": _("Press “It slipped” or “It held”.")})
    return {
        "phase": str(posted.get("phase", "")),
        "mark_text": str(posted.get("mark_text", "")),
        "gauge_text": str(posted.get("gauge_text", "")),
        "slipped": result == "slipped",
        "reapplied": bool(posted.get("reapplied")),
        "rest_minutes": str(posted.get("rest_minutes", "")),
    }


def reading_page(
    assessment: Assessment, reading: Reading, typed: Mapping[str, Any] | None, told: Mapping[str, Any] | None
) -> dict[str, Any]:
    """The page that corrects a reading, with what was recorded or what was just typed."""
    test = assessment.test
    recorded = {
        "phase": reading.phase,
        "mark_text": reading.mark_text,
        "gauge_text": reading.gauge_text,
        "reapplied": reading.reapplied,
        "rest_minutes": reading.rest_minutes,
    }
    form = ReadingForm(
        typed,
        test=test,
        gauge=test.round.kit.gauge,
        as_found_offered=brake_work_since_last_test(test.drum, but=test) is None,
        told=told,
        initial=recorded,
    )
    return {"form": form, "test": test, "drum": test.drum, "vessel": test.drum.vessel, "reading": reading}
