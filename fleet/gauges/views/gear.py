"""Levers, footings and kits."""

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from fleet.accounts.signed_in import signed_in_person
from fleet.gauges import services
from fleet.gauges.forms import FootingForm, KitForm, LeverForm
from fleet.gauges.models import Footing, Kit, Lever
from fleet.gauges.views.access import instrument_for, vessel_for
from fleet.vessels.views.acting import carried_out, sent


def lever_new(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = vessel_for(user, vessel_id, "edit_instruments")
    form = LeverForm(sent(request))
    if form.is_valid() and carried_out(
        form, services.lever_add, vessel=vessel, actor=user, checked=form.checked, **form.cleaned_data
    ):
        messages.success(request, _("The lever is registered."))
        return redirect("gauges:instrument_list", vessel_id=vessel.pk)
    return render(request, "gauges/lever_form.html", {"form": form, "vessel": vessel})


def lever_edit(request: HttpRequest, lever_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    lever = instrument_for(user, Lever, lever_id, "edit_instruments")
    form = LeverForm(sent(request), lever=lever)
    if form.is_valid() and carried_out(
        form, services.lever_change, lever=lever, actor=user, checked=form.checked, **form.cleaned_data
    ):
        messages.success(request, _("The change is recorded, with what stood before."))
        return redirect("gauges:instrument_list", vessel_id=lever.vessel_id)
    return render(request, "gauges/lever_form.html", {"form": form, "vessel": lever.vessel, "lever": lever})


def footing_new(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = vessel_for(user, vessel_id, "edit_instruments")
    form = FootingForm(sent(request))
    if form.is_valid() and carried_out(form, services.footing_add, vessel=vessel, actor=user, **form.cleaned_data):
        messages.success(request, _("The footing is registered."))
        return redirect("gauges:instrument_list", vessel_id=vessel.pk)
    return render(request, "gauges/footing_form.html", {"form": form, "vessel": vessel})


def footing_edit(request: HttpRequest, footing_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    footing = instrument_for(user, Footing, footing_id, "edit_instruments")
    form = FootingForm(sent(request), footing=footing)
    if form.is_valid() and carried_out(form, services.footing_change, footing=footing, actor=user, **form.cleaned_data):
        messages.success(request, _("The change is recorded, with what stood before."))
        return redirect("gauges:instrument_list", vessel_id=footing.vessel_id)
    return render(request, "gauges/footing_form.html", {"form": form, "vessel": footing.vessel, "footing": footing})


def kit_new(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = vessel_for(user, vessel_id, "edit_instruments")
    form = KitForm(sent(request), vessel=vessel)
    if form.is_valid() and carried_out(form, services.kit_put_together, vessel=vessel, actor=user, **form.given):
        messages.success(request, _("The kit is put together."))
        return redirect("gauges:instrument_list", vessel_id=vessel.pk)
    return render(request, "gauges/kit_form.html", {"form": form, "vessel": vessel})


def kit_edit(request: HttpRequest, kit_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    kit = instrument_for(user, Kit, kit_id, "edit_instruments")
    form = KitForm(sent(request), vessel=kit.vessel, kit=kit)
    if form.is_valid() and carried_out(form, services.kit_change, kit=kit, actor=user, **form.given):
        messages.success(request, _("The change is recorded, with what stood before."))
        return redirect("gauges:instrument_list", vessel_id=kit.vessel_id)
    return render(request, "gauges/kit_form.html", {"form": form, "vessel": kit.vessel, "kit": kit})
