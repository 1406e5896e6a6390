"""All instruments of a vessel with their dates; and taking one out of use."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.accounts.signed_in import signed_in_person
from fleet.gauges import services
from fleet.gauges.areas import effective_area_of
from fleet.gauges.calibration import calibration_said
from fleet.gauges.forms import RetireForm
from fleet.gauges.models import Footing, Gauge, Jack, Kit, Lever
from fleet.gauges.views.access import instrument_for, vessel_for
from fleet.vessels.models import policy_for
from fleet.vessels.permissions import may
from fleet.vessels.views.acting import carried_out, sent

RETIRE: dict[str, tuple[Any, Any, Any]] = {
    "gauge": (Gauge, services.gauge_retire, gettext_lazy("Take this gauge out of use")),
    "jack": (Jack, services.jack_retire, gettext_lazy("Take this jack out of use")),
    "lever": (Lever, services.lever_retire, gettext_lazy("Take this lever out of use")),
    "footing": (Footing, services.footing_retire, gettext_lazy("Take this footing out of use")),
    "kit": (Kit, services.kit_retire, gettext_lazy("Take this kit out of use")),
}


def instrument_list(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user, today = signed_in_person(request), timezone.localdate()
    vessel = vessel_for(user, vessel_id)
    policy = policy_for(vessel, today)
    gauges = Gauge.objects.for_user(user).filter(vessel=vessel).prefetch_related("calibrations")
    said = [(gauge, calibration_said(gauge, policy, today)) for gauge in gauges]
    jacks = [(jack, effective_area_of(jack)) for jack in Jack.objects.for_user(user).filter(vessel=vessel)]
    levers = list(Lever.objects.for_user(user).filter(vessel=vessel))
    footings = list(Footing.objects.for_user(user).filter(vessel=vessel))
    kits = list(Kit.objects.for_user(user).filter(vessel=vessel).whole())
    everything: list[Any] = [*(one for one, _s in said), *(one for one, _a in jacks), *levers, *footings, *kits]
    in_use = [(gauge, state) for gauge, state in said if not gauge.retired_on]
    context = {
        "vessel": vessel,
        "policy": policy,
        "gauges": in_use,
        "not_in_date": [gauge.name for gauge, state in in_use if not state.in_date],
        "jacks": [(jack, area) for jack, area in jacks if not jack.retired_on],
        "levers": [lever for lever in levers if not lever.retired_on],
        "footings": [footing for footing in footings if not footing.retired_on],
        "kits": [(kit, calibration_said(kit.gauge, policy, today)) for kit in kits if not kit.retired_on],
        "retired": [row for row in everything if row.retired_on],
        "may_edit": may(user, "edit_instruments", vessel),
    }
    return render(request, "gauges/instrument_list.html", context)


def instrument_retire(request: HttpRequest, row_id: uuid.UUID, what: str) -> HttpResponse:
    user = signed_in_person(request)
    model, service, heading = RETIRE[what]
    row = instrument_for(user, model, row_id, "edit_instruments")
    form = RetireForm(sent(request), initial={"retired_on": timezone.localdate()})
    if form.is_valid() and carried_out(form, service, actor=user, **{what: row}, **form.cleaned_data):
        messages.success(request, _("%(name)s is out of use. What it was used for stays on record.") % {"name": row})
        return redirect("gauges:instrument_list", vessel_id=row.vessel_id)
    context = {"form": form, "row": row, "vessel": row.vessel, "heading": heading}
    return render(request, "gauges/retire.html", context)
