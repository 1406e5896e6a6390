"""The entry page of a test: begun, filled in on deck, saved as one goes."""

import uuid
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from fleet.accounts.models import User
from fleet.accounts.signed_in import signed_in_person
from fleet.core.documents import file_answer
from fleet.core.kept_forms import form_data, kept_post
from fleet.core.requests import HtmxHttpRequest
from fleet.drums.models import Drum
from fleet.records import drafts
from fleet.records.access import drum_test_for
from fleet.records.assess import assess
from fleet.records.entry_forms import StartForm
from fleet.records.entry_page import entry_context, readings_context, readings_shown, saved_context
from fleet.records.merging import Clashing, SentDraft, draft_merge
from fleet.records.models import DrumTest, Photo, Reading, Round
from fleet.records.reading_words import reading_of, reading_page
from fleet.records.small_pictures import small_answer
from fleet.vessels.permissions import require

Write = Callable[[DrumTest, User], Any]
NOT_STARTED = "This form belongs to another test. Load the page again and start from there."


def test_start(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    drums = Drum.objects.for_user(user).select_related("winch__vessel__company")
    drum = get_object_or_404(drums, pk=drum_id)
    require(user, "test", drum.vessel)
    in_hand = DrumTest.objects.in_hand().filter(drum=drum).first()
    rounds = Round.objects.open().filter(vessel=drum.vessel).select_related("vessel", "kit")
    form = StartForm(form_data(request), rounds=rounds)
    if not drum.removed_on and form.is_valid():
        try:
            begun = drafts.drum_test_start(drum=drum, actor=user, **form.cleaned_data)
        except drafts.DraftConflict:
            form.add_error(None, _(NOT_STARTED))
        else:
            return redirect("records:test", test_id=begun.pk)
    context = {"drum": drum, "vessel": drum.vessel, "rounds": list(rounds), "form": form, "in_hand": in_hand}
    return render(request, "records/test_start.html", context)


def test(request: HttpRequest, test_id: uuid.UUID) -> HttpResponse:
    row = drum_test_for(signed_in_person(request), test_id, "test")
    if not row.is_in_hand:
        return redirect("records:check", test_id=row.pk)
    return render(request, "records/test.html", entry_context(row, unsaved=kept_post(request)))


def test_save(request: HtmxHttpRequest, test_id: uuid.UUID) -> HttpResponse:
    return _write(request, test_id, lambda test, user: None, part="saved")


def reading_add(request: HtmxHttpRequest, test_id: uuid.UUID) -> HttpResponse:
    def add(test: DrumTest, user: User) -> None:
        drafts.reading_add(
            test=test, reading_id=_uuid(request.POST.get("reading_id", "")), actor=user, **reading_of(request.POST)
        )

    return _write(request, test_id, add, part="readings")


def reading_remove(request: HtmxHttpRequest, reading_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    # Removed twice, by two people or two presses, is removed once.
    reading = Reading.objects.for_user(user).filter(pk=reading_id).first()
    if reading is None:
        return _after_missing_reading(request, user)

    def remove(test: DrumTest, user: User) -> None:
        drafts.reading_remove(reading=reading, actor=user)

    return _write(request, reading.test_id, remove, part="readings")


def reading_edit(request: HttpRequest, reading_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    reading = get_object_or_404(Reading.objects.for_user(user), pk=reading_id)
    row = drum_test_for(user, reading.test_id, "test")
    told: Any = None
    if request.method == "POST":
        try:
            drafts.reading_change(reading=reading, actor=user, **reading_of(request.POST))
        except ValidationError as error:
            told = error.message_dict
        except drafts.NotInHand as error:
            messages.error(request, _(str(error)))
            return redirect("records:check", test_id=row.pk)
        else:
            return redirect(reverse("records:test", args=[row.pk]) + "#readings")
    typed = request.POST if request.method == "POST" else kept_post(request)
    return render(request, "records/reading_edit.html", reading_page(assess(row), reading, typed, told))


def photo_add(request: HtmxHttpRequest, test_id: uuid.UUID) -> HttpResponse:
    def add(test: DrumTest, user: User) -> None:
        upload = request.FILES.get("photo")
        if upload is None:
            raise ValidationError({"photo": _("Choose a photo first: JPEG, PNG or WebP, at most 10 MB.")})
        kind, caption = request.POST.get("photo_kind", ""), request.POST.get("photo_caption", "")
        try:
            drafts.photo_add(
                test=test,
                photo_id=_uuid(request.POST.get("photo_id", "")),
                kind=kind,
                caption=caption,
                upload=upload,
                actor=user,
            )
        except ValidationError as error:
            raise ValidationError({"photo": error.messages}) from error

    return _write(request, test_id, add, part="photos")


def photo_remove(request: HtmxHttpRequest, photo_id: uuid.UUID) -> HttpResponse:
    row = get_object_or_404(Photo.objects.for_user(signed_in_person(request)), pk=photo_id)

    def remove(test: DrumTest, user: User) -> None:
        drafts.photo_remove(photo=row, actor=user)

    return _write(request, row.test_id, remove, part="photos")


@require_safe
def photo(request: HttpRequest, photo_id: uuid.UUID) -> HttpResponseBase:
    """The picture itself, or small for a list; also of a photo taken out of the draft, for the records that hold it."""
    user = signed_in_person(request)
    row = get_object_or_404(Photo.objects.for_user(user).select_related("test__round__vessel"), pk=photo_id)
    # A draft is the ship's working page: its photos are shown to an auditor once they were sent.
    require(user, "view" if row.test.submissions.exists() else "see_deck", row.test.round.vessel)
    if "small" in request.GET:
        return small_answer(row.file)
    return file_answer(row.file, name=f"photo-{row.pk}")


def _write(request: HtmxHttpRequest, test_id: uuid.UUID, act: Write, *, part: str) -> HttpResponse:
    """Save what the form changed in the draft, do the act, and answer with the part of the page that it concerns."""
    user = signed_in_person(request)
    row = drum_test_for(user, test_id, "test")
    if request.method != "POST":
        return redirect("records:test", test_id=row.pk)
    before = row
    try:
        row = draft_merge(test=row, sent=SentDraft.read(request.POST), actor=user)
        act(row, user)
    except drafts.NotInHand as error:
        return _not_in_hand(request, before, str(error))
    except Clashing as found:
        return _clash(request, found)
    except drafts.DraftConflict as error:
        return _answer(request, before, part, told={"__all__": [str(error)]})
    except ValidationError as error:
        return _answer(request, before, part, told=error.message_dict)
    return _answer(request, before, part)


def _answer(request: HtmxHttpRequest, before: DrumTest, part: str, told: Any = None) -> HttpResponse:
    row = DrumTest.objects.whole().get(pk=before.pk)
    done = part == "readings" and told is None
    typed = QueryDict() if done else request.POST
    if not request.htmx:
        if told or typed.get("mark_text") or typed.get("gauge_text"):
            of_photo, of_reading = (told, None) if part == "photos" else (None, told)
            context = entry_context(row, typed=typed, reading_told=of_reading, photo_told=of_photo)
            return render(request, "records/test.html", context)
        page = "check" if request.POST.get("page") == "check" else "test"
        return redirect(reverse(f"records:{page}", args=[row.pk]) + f"#{part}")
    assessment = assess(row)
    context = saved_context(row, assessment, row.draft)
    opened = request.POST.get("readings_shown", readings_shown(before)) != readings_shown(row)
    if part == "readings" or opened:
        context |= readings_context(assessment, typed=typed, told=told if part == "readings" else None)
    context |= {"opened": opened and part != "readings", "in_fragment": part == "readings"}
    template = "records/_reading_answer.html" if part == "readings" else "records/_save_answer.html"
    return render(request, template, context)


def _clash(request: HtmxHttpRequest, found: Clashing) -> HttpResponse:
    row = DrumTest.objects.whole().get(pk=found.current.pk)
    if request.htmx:
        assessment = assess(row)
        context = saved_context(row, assessment, row.draft, found.clashes)
        response = render(request, "records/_clash_answer.html", context)
        response["HX-Retarget"] = "#saved"
        response["HX-Reswap"] = "outerHTML"
        return response
    context = entry_context(row, unsaved=request.POST, clashes=found.clashes)
    return render(request, "records/test.html", context, status=409)


def _not_in_hand(request: HtmxHttpRequest, row: DrumTest, words: str) -> HttpResponse:
    messages.error(request, _(words))
    address = reverse("records:check", args=[row.pk])
    return HttpResponse(headers={"HX-Redirect": address}) if request.htmx else redirect(address)


def _after_missing_reading(request: HtmxHttpRequest, user: User) -> HttpResponse:
    row = drum_test_for(user, _uuid(request.POST.get("test_id", "")) or uuid.uuid4(), "test")
    return _write(request, row.pk, lambda test, user: None, part="readings")


def _uuid(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None
