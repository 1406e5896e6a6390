"""The record of a test as it was sent, version by version; opened again by shore with a reason."""

import uuid
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from fleet.accounts.models import User
from fleet.accounts.signed_in import signed_in_person
from fleet.core.kept_forms import form_data, kept_post
from fleet.records import submissions
from fleet.records.access import drum_test_for, rights_on, ships_time
from fleet.records.canonical import read_content
from fleet.records.check_page import HASH_SHOWN, returned_sentence
from fleet.records.drafts import NotInHand, drum_test_discard
from fleet.records.entry_forms import ReasonForm
from fleet.records.models import DrumTest, Photo, State, Submission
from fleet.records.record_rows import beside, day_words, sections_below_the_result
from fleet.records.submissions import NotPossible


@require_safe
def record(request: HttpRequest, test_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    row = drum_test_for(user, test_id, "view")
    return render(request, "records/record.html", _context(request, user, row, ReasonForm(kept_post(request))))


def reopen(request: HttpRequest, test_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    row = drum_test_for(user, test_id, "review")
    if request.method != "POST":
        return redirect("records:record", test_id=row.pk)
    form = ReasonForm(request.POST)
    if form.is_valid():
        try:
            submissions.drum_test_reopen(test=row, reason=form.cleaned_data["reason"], actor=user)
        except NotPossible as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, _("The record is open again. The ship sees the reason."))
            return redirect("records:record", test_id=row.pk)
    return render(request, "records/record.html", _context(request, user, row, form))


def set_aside(request: HttpRequest, test_id: uuid.UUID) -> HttpResponse:
    """A draft begun by mistake, taken out of the way with its reason."""
    user = signed_in_person(request)
    row = drum_test_for(user, test_id, "test")
    form = ReasonForm(form_data(request))
    if request.method == "POST" and form.is_valid():
        try:
            drum_test_discard(test=row, reason=form.cleaned_data["reason"], actor=user)
        except NotInHand as error:
            form.add_error(None, str(error))
        except ValidationError as error:
            form.add_error(None, error.messages[0])
        else:
            messages.success(request, _("The draft is set aside. It stays on record with its reason."))
            return redirect("records:deck", vessel_id=row.round.vessel_id)
    vessel = row.round.vessel
    return render(request, "records/set_aside.html", {"test": row, "drum": row.drum, "vessel": vessel, "form": form})


def _context(request: HttpRequest, user: User, row: DrumTest, form: ReasonForm) -> dict[str, Any]:
    versions = list(row.submissions.prefetch_related("decisions").order_by("-version"))
    if not versions:
        raise Http404
    shown = _version(request.GET.get("version"), versions) or versions[0]
    other = _version(request.GET.get("beside"), versions)
    offset = row.round.utc_offset_minutes
    rights = rights_on(user, row.round.vessel)
    content = read_content(shown)
    lines = beside(read_content(other), content) if other else []
    return {
        "test": row,
        "drum": row.drum,
        "vessel": row.round.vessel,
        "versions": [
            (version, ships_time(version.submitted_at, offset), read_content(version).get("answer_to_shore", ""))
            for version in versions
        ],
        "shown": shown,
        "other": other,
        "content": content,
        "tested_on": day_words(content["tested"]["on"]),
        "sections": [] if other else sections_below_the_result(content),
        "differing": [line for line in lines if line.differs],
        "same": [line for line in lines if not line.differs],
        "photos": _photos(row, content),
        "arrived": ships_time(shown.submitted_at, offset),
        "hash_shown": shown.sha256[:HASH_SHOWN],
        "returned": returned_sentence(row, versions[0]),
        "rights": rights,
        "may_reopen": rights["review"] and row.state in {State.APPROVED, State.SUBMITTED},
        "form": form,
    }


def _version(text: str | None, versions: list[Submission]) -> Submission | None:
    """The version a query string asks for; 404 for one that does not exist."""
    if not text:
        return None
    for row in versions:
        if str(row.version) == text:
            return row
    raise Http404


def _photos(row: DrumTest, content: dict[str, Any]) -> list[Photo]:
    """The photos that this version speaks of, also those taken out of the draft since."""
    named = {photo["id"] for photo in content["photos"]}
    return [photo for photo in row.photos.all() if str(photo.pk) in named]
