"""The register of winches and drums."""

import uuid

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.accounts.signed_in import signed_in_person
from fleet.core.documents import file_answer
from fleet.drums import services
from fleet.drums.forms import DrumForm, DrumRemoveForm, WinchForm
from fleet.drums.line_on_drum import base_word, lines_on_drum
from fleet.drums.models import Drum, Winch
from fleet.drums.readiness import lacks, rows_in_force, rows_said
from fleet.drums.views.access import drum_for, vessel_for
from fleet.vessels.permissions import may, require
from fleet.vessels.views.acting import carried_out, sent


def drum_list(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = vessel_for(user, vessel_id)
    in_force = rows_in_force(vessel, timezone.localdate())
    drums = list(Drum.objects.for_user(user).filter(winch__vessel=vessel).order_by("area_order", "order", "name"))
    winches = [
        (winch, [(drum, lacks(drum, in_force.get(drum.pk))) for drum in drums if drum.winch_id == winch.pk])
        for winch in Winch.objects.for_user(user).filter(vessel=vessel)
    ]
    fitted = [drum for drum in drums if drum.removed_on is None]
    context = {
        "vessel": vessel,
        "winches": winches,
        "fitted": len(fitted),
        "not_ready": sum(1 for drum in fitted if lacks(drum, in_force.get(drum.pk)).needed),
        "may_edit": may(user, "edit_drums", vessel),
    }
    return render(request, "drums/drum_list.html", context)


def winch_new(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = vessel_for(user, vessel_id, "edit_drums")
    form = WinchForm(sent(request))
    if form.is_valid():
        winch = carried_out(form, services.winch_add, vessel=vessel, actor=user, **form.cleaned_data)
        if winch:
            messages.success(request, _("%(winch)s is registered. Add its drums next.") % {"winch": winch.name})
            return redirect("drums:drum_list", vessel_id=vessel.pk)
    return render(request, "drums/winch_form.html", {"form": form, "vessel": vessel})


def winch_edit(request: HttpRequest, winch_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    winch = get_object_or_404(Winch.objects.for_user(user).select_related("vessel__company"), pk=winch_id)
    require(user, "edit_drums", winch.vessel)
    form = WinchForm(sent(request), instance=winch)
    if form.is_valid() and carried_out(form, services.winch_change, winch=winch, actor=user, **form.cleaned_data):
        messages.success(request, _("The change is recorded, with what stood before."))
        return redirect("drums:drum_list", vessel_id=winch.vessel_id)
    return render(request, "drums/winch_form.html", {"form": form, "vessel": winch.vessel, "winch": winch})


def drum_new(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = vessel_for(user, vessel_id, "edit_drums")
    winches = list(Winch.objects.for_user(user).filter(vessel=vessel))
    start = {"winch": request.GET.get("winch") or (winches[0].pk if len(winches) == 1 else None)}
    form = DrumForm(sent(request), request.FILES or None, vessel=vessel, initial=start)
    if winches and form.is_valid():
        drum = carried_out(form, services.drum_add, actor=user, **form.given)
        if drum:
            messages.success(request, _("%(drum)s is registered. Record its particulars next.") % {"drum": drum.name})
            return redirect("drums:drum", drum_id=drum.pk)
    return render(request, "drums/drum_form.html", {"form": form, "vessel": vessel, "winches": winches})


def drum_page(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    drum, today = drum_for(user, drum_id), timezone.localdate()
    vessel = drum.winch.vessel
    rows = list(drum.particulars.select_related("author"))
    in_force = next((row for row in rows if row.valid_from <= today), None)
    said = rows_said(drum, rows)
    lines = lines_on_drum(drum, [row for row in rows if row is in_force or row.valid_from > today], today)
    context = {
        "line": next((one for one in lines if one.row is in_force), None),
        "line_changes": [one.change for one in lines if one.change and not drum.removed_on],
        "base_word": base_word(vessel),
        "drum": drum,
        "vessel": vessel,
        "in_force": next((one for one in said if one.row is in_force), None),
        "ahead": [one for one in said if one.row.valid_from > today],
        "earlier": [one for one in said if one.row.valid_from <= today and one.row is not in_force],
        "lacks": lacks(drum, in_force),
        "events": list(drum.events.select_related("author")),
        "orders": list(drum.retest_orders.select_related("ordered_by")),
        "may_edit": may(user, "edit_drums", vessel),
        "may_report": may(user, "report_event", vessel),
        "may_order": may(user, "order_retest", vessel),
    }
    return render(request, "drums/drum.html", context)


def drum_edit(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    drum = drum_for(user, drum_id, "edit_drums")
    form = DrumForm(sent(request), request.FILES or None, vessel=drum.winch.vessel, instance=drum)
    if form.is_valid() and carried_out(form, services.drum_change, drum=drum, actor=user, **form.given):
        messages.success(request, _("The change is recorded, with what stood before."))
        return redirect("drums:drum", drum_id=drum.pk)
    context = {"form": form, "vessel": drum.winch.vessel, "drum": drum, "winches": [drum.winch]}
    return render(request, "drums/drum_form.html", context)


def drum_remove(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    drum = drum_for(user, drum_id, "edit_drums")
    form = DrumRemoveForm(sent(request), initial={"removed_on": timezone.localdate()})
    if form.is_valid() and carried_out(form, services.drum_remove, drum=drum, actor=user, **form.cleaned_data):
        messages.success(request, _("The drum is taken off the deck. Its record stays."))
        return redirect("drums:drum", drum_id=drum.pk)
    return render(request, "drums/drum_remove.html", {"form": form, "drum": drum, "vessel": drum.winch.vessel})


def mark_picture(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponseBase:
    drum = drum_for(signed_in_person(request), drum_id)
    if not drum.mark_picture:
        raise Http404
    return file_answer(drum.mark_picture, name="measuring-points")
