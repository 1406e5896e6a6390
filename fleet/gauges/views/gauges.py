"""Gauges and their calibrations."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.accounts.signed_in import signed_in_person
from fleet.core.documents import file_answer
from fleet.core.findings import said
from fleet.gauges import services
from fleet.gauges.calibration import calibration_said
from fleet.gauges.certificate_words import calibrations_shown
from fleet.gauges.checks import gauge_findings
from fleet.gauges.forms import CalibrationForm, GaugeForm
from fleet.gauges.models import Gauge, GaugeCalibration
from fleet.gauges.views.access import instrument_for, vessel_for
from fleet.vessels.models import policy_for
from fleet.vessels.permissions import may
from fleet.vessels.views.acting import carried_out, sent


def gauge_new(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = vessel_for(user, vessel_id, "edit_instruments")
    form = GaugeForm(sent(request))
    if form.is_valid():
        gauge = carried_out(form, services.gauge_add, vessel=vessel, actor=user, **form.cleaned_data)
        if gauge:
            messages.success(request, _("%(gauge)s is registered. Record its calibration next.") % {"gauge": gauge})
            for finding in gauge_findings(gauge):
                messages.warning(request, said(finding))
            return redirect("gauges:gauge", gauge_id=gauge.pk)
    return render(request, "gauges/gauge_form.html", {"form": form, "vessel": vessel})


def gauge_page(request: HttpRequest, gauge_id: uuid.UUID) -> HttpResponse:
    user, today = signed_in_person(request), timezone.localdate()
    gauge = instrument_for(user, Gauge, gauge_id)
    policy = policy_for(gauge.vessel, today)
    calibrations = gauge.calibrations.select_related("author").order_by("-calibrated_on", "-created_at")
    context: dict[str, Any] = {
        "gauge": gauge,
        "vessel": gauge.vessel,
        "policy": policy,
        "said": calibration_said(gauge, policy, today),
        "calibrations": calibrations_shown(calibrations, policy, gauge.unit),
        "may_edit": may(user, "edit_instruments", gauge.vessel),
    }
    return render(request, "gauges/gauge.html", context)


def gauge_edit(request: HttpRequest, gauge_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    gauge = instrument_for(user, Gauge, gauge_id, "edit_instruments")
    form = GaugeForm(sent(request), gauge=gauge)
    if form.is_valid() and carried_out(form, services.gauge_change, gauge=gauge, actor=user, **form.cleaned_data):
        messages.success(request, _("The change is recorded, with what stood before."))
        return redirect("gauges:gauge", gauge_id=gauge.pk)
    return render(request, "gauges/gauge_form.html", {"form": form, "vessel": gauge.vessel, "gauge": gauge})


def calibration_new(request: HttpRequest, gauge_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    gauge = instrument_for(user, Gauge, gauge_id, "edit_instruments")
    form = CalibrationForm(sent(request), request.FILES or None, gauge=gauge)
    if form.is_valid() and carried_out(form, services.gauge_calibration_record, gauge=gauge, actor=user, **form.given):
        messages.success(request, _("The calibration is recorded."))
        return redirect("gauges:gauge", gauge_id=gauge.pk)
    return render(request, "gauges/calibration_new.html", {"form": form, "gauge": gauge, "vessel": gauge.vessel})


def calibration_document(request: HttpRequest, calibration_id: uuid.UUID) -> HttpResponseBase:
    rows = GaugeCalibration.objects.for_user(signed_in_person(request))
    row = get_object_or_404(rows, pk=calibration_id)
    if not row.document:
        raise Http404
    return file_answer(row.document, name="calibration-certificate")
