"""Jacks: the type is chosen first, then only what belongs to it is asked."""

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from fleet.accounts.signed_in import signed_in_person
from fleet.core.findings import said
from fleet.gauges import services
from fleet.gauges.areas import DIAMETERS, effective_area_of
from fleet.gauges.checks import jack_findings
from fleet.gauges.forms import JackForm
from fleet.gauges.forms.jacks import DIAMETER_WORDS
from fleet.gauges.models import Jack, JackKind
from fleet.gauges.points import ForceRow
from fleet.gauges.views.access import instrument_for, vessel_for
from fleet.vessels.permissions import may
from fleet.vessels.views.acting import carried_out, sent


def jack_new(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = vessel_for(user, vessel_id, "edit_instruments")
    kind = request.GET.get("kind", "")
    if kind not in JackKind.values:
        return render(request, "gauges/jack_kind.html", {"vessel": vessel, "kinds": JackKind.choices})
    form = JackForm(sent(request), kind=kind)
    if form.is_valid():
        jack = carried_out(form, services.jack_add, vessel=vessel, actor=user, **form.given)
        if jack:
            messages.success(request, _("%(jack)s is registered.") % {"jack": jack.name})
            return redirect("gauges:jack", jack_id=jack.pk)
    return render(request, "gauges/jack_form.html", {"form": form, "vessel": vessel, "kinds": JackKind.choices})


def jack_page(request: HttpRequest, jack_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    jack = instrument_for(user, Jack, jack_id)
    context = {
        "jack": jack,
        "vessel": jack.vessel,
        "area": effective_area_of(jack),
        "diameters": [(DIAMETER_WORDS[name][0], getattr(jack, name)) for name in DIAMETERS[jack.kind]],
        "findings": [said(finding) for finding in jack_findings(jack)],
        "force_rows": [ForceRow.from_dict(row) for row in jack.force_table],
        "may_edit": may(user, "edit_instruments", jack.vessel),
    }
    return render(request, "gauges/jack.html", context)


def jack_edit(request: HttpRequest, jack_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    jack = instrument_for(user, Jack, jack_id, "edit_instruments")
    asked = request.GET.get("kind", "")
    form = JackForm(sent(request), kind=asked if asked in JackKind.values else jack.kind, jack=jack)
    if form.is_valid() and carried_out(form, services.jack_change, jack=jack, actor=user, **form.given):
        messages.success(request, _("The change is recorded, with what stood before."))
        return redirect("gauges:jack", jack_id=jack.pk)
    context = {"form": form, "vessel": jack.vessel, "jack": jack, "kinds": JackKind.choices}
    return render(request, "gauges/jack_form.html", context)
