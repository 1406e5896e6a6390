"""A round: opened, looked at, changed, closed; the report of whoever did the work."""

import uuid

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from fleet.accounts.models import User
from fleet.accounts.signed_in import signed_in_person
from fleet.core.documents import file_answer
from fleet.records import rounds
from fleet.records.models import Round
from fleet.records.round_forms import RoundForm
from fleet.records.round_page import round_page_of
from fleet.records.snapshot import utc_offset
from fleet.vessels.models import Vessel
from fleet.vessels.permissions import may, require
from fleet.vessels.views.acting import carried_out, sent


def round_new(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = get_object_or_404(Vessel.objects.for_user(user).select_related("company"), pk=vessel_id)
    require(user, "test", vessel)
    form = RoundForm(sent(request), request.FILES or None, vessel=vessel)
    if form.is_valid():
        row = carried_out(form, rounds.round_open, vessel=vessel, actor=user, **form.cleaned_data)
        if row:
            messages.success(request, _("The round is open. Prepare the first drum."))
            return redirect("records:deck", vessel_id=vessel.pk)
    has_kit = form.fields["kit"].queryset.exists()  # type: ignore[attr-defined]
    return render(request, "records/round_new.html", {"form": form, "vessel": vessel, "has_kit": has_kit})


@require_safe
def round_page(request: HttpRequest, round_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    row = _round(user, round_id)
    require(user, "see_deck", row.vessel)
    page = round_page_of(row, on=timezone.localdate(), may_test=may(user, "test", row.vessel))
    context = {"round": row, "page": page, "vessel": row.vessel, "ships_time": utc_offset(row.utc_offset_minutes)}
    return render(request, "records/round.html", context)


def round_edit(request: HttpRequest, round_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    row = _round(user, round_id)
    require(user, "test", row.vessel)
    if row.closed_on:
        messages.warning(request, str(rounds.CLOSED))
        return redirect("records:round", round_id=row.pk)
    form = RoundForm(sent(request), request.FILES or None, vessel=row.vessel, round=row)
    if form.is_valid() and carried_out(form, rounds.round_change, round=row, actor=user, **form.cleaned_data):
        messages.success(request, _("The round is changed."))
        return redirect("records:round", round_id=row.pk)
    return render(request, "records/round_edit.html", {"form": form, "round": row, "vessel": row.vessel})


@require_POST
def round_close(request: HttpRequest, round_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    row = _round(user, round_id)
    require(user, "test", row.vessel)
    try:
        rounds.round_close(round=row, actor=user)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(request, _("The round is closed."))
    return redirect("records:round", round_id=row.pk)


@require_safe
def round_report(request: HttpRequest, round_id: uuid.UUID) -> FileResponse:
    row = _round(signed_in_person(request), round_id)
    if not row.report:
        raise Http404
    return file_answer(row.report, name=row.report_name.rsplit(".", 1)[0])


def _round(user: User, round_id: uuid.UUID) -> Round:
    rows = Round.objects.for_user(user).select_related("vessel__company", "kit__gauge", "kit__lever", "opened_by")
    return get_object_or_404(rows, pk=round_id)
