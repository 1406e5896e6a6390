"""The list of vessels, one vessel, and its registration and change."""

import uuid

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.accounts.models import SHORE_ROLES, Company
from fleet.accounts.signed_in import signed_in_person
from fleet.calculation.brake import rendering_load
from fleet.vessels.forms import VesselForm
from fleet.vessels.models import Vessel, VesselAccess, policy_for
from fleet.vessels.permissions import companies_where, may, require, roles_on
from fleet.vessels.policy_rules import percent, policy_settings, policy_source
from fleet.vessels.services import vessel_change, vessel_register
from fleet.vessels.views.acting import carried_out, sent


def vessel_list(request: HttpRequest) -> HttpResponse:
    user = signed_in_person(request)
    vessels = list(Vessel.objects.for_user(user).select_related("company"))
    return render(
        request,
        "vessels/vessel_list.html",
        {
            "in_fleet": [vessel for vessel in vessels if vessel.in_fleet],
            "left": [vessel for vessel in vessels if not vessel.in_fleet],
            "several": len({vessel.company_id for vessel in vessels}) > 1,
            "may_register": companies_where(user, "edit_vessel").exists(),
            "has_a_role": Company.objects.for_user(user).exists(),
        },
    )


def vessel_page(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = get_object_or_404(Vessel.objects.for_user(user).select_related("company"), pk=vessel_id)
    policy = policy_for(vessel, timezone.localdate())
    accesses = VesselAccess.objects.for_user(user).open().filter(vessel=vessel)
    context = {
        "vessel": vessel,
        "policy": policy,
        "source": policy_source(policy),
        "share": percent(policy.share),
        "settings": policy_settings(policy),
        "load_si": rendering_load(sdmbl_n=vessel.base_load.si, share=float(policy.share)),
        "accesses": accesses.select_related("membership__user").order_by("membership__role", "membership__user__name"),
        "may_edit": may(user, "edit_vessel", vessel),
        "may_set_policy": may(user, "edit_policy", vessel),
        "sees_people": bool(roles_on(user, vessel) & SHORE_ROLES),
        "may_edit_people": may(user, "edit_people", vessel),
    }
    return render(request, "vessels/vessel.html", context)


def vessel_new(request: HttpRequest) -> HttpResponse:
    user = signed_in_person(request)
    if not companies_where(user, "edit_vessel").exists():
        raise PermissionDenied
    form = VesselForm(sent(request), user=user)
    if form.is_valid():
        vessel = carried_out(form, vessel_register, actor=user, **form.cleaned_data)
        if vessel:
            messages.success(request, _("%(vessel)s is registered.") % {"vessel": vessel.name})
            return redirect("vessels:vessel", vessel_id=vessel.pk)
    return render(request, "vessels/vessel_new.html", {"form": form})


def vessel_edit(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = get_object_or_404(Vessel.objects.for_user(user).select_related("company"), pk=vessel_id)
    require(user, "edit_vessel", vessel)
    form = VesselForm(sent(request), user=user, vessel=vessel)
    if form.is_valid():
        changes = dict(form.cleaned_data)
        reason = changes.pop("reason")
        if carried_out(form, vessel_change, actor=user, vessel=vessel, changes=changes, reason=reason):
            messages.success(request, _("The change is recorded, with what stood before."))
            return redirect("vessels:vessel", vessel_id=vessel.pk)
    return render(request, "vessels/vessel_edit.html", {"form": form, "vessel": vessel})
