"""Brake events and orders to test again."""

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.accounts.signed_in import signed_in_person
from fleet.drums import services
from fleet.drums.forms import BrakeEventForm, RetestOrderForm, TakeBackForm
from fleet.drums.models import ASKS_RETEST, RetestOrder
from fleet.drums.views.access import drum_for
from fleet.vessels.permissions import require
from fleet.vessels.views.acting import carried_out, sent


def event_new(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    drum = drum_for(user, drum_id, "report_event")
    form = BrakeEventForm(sent(request), initial={"happened_on": timezone.localdate()})
    if form.is_valid():
        event = carried_out(form, services.brake_event_report, drum=drum, actor=user, **form.cleaned_data)
        if event:
            messages.success(request, _("The event is recorded."))
            if event.kind in ASKS_RETEST:
                messages.warning(request, _("After this the brake must be tested again before its mark is relied on."))
            return redirect("drums:drum", drum_id=drum.pk)
    return render(request, "drums/event_new.html", {"form": form, "drum": drum, "vessel": drum.winch.vessel})


def retest_order_new(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    drum = drum_for(user, drum_id, "order_retest")
    form = RetestOrderForm(sent(request))
    if form.is_valid() and carried_out(form, services.retest_order_give, drum=drum, actor=user, **form.cleaned_data):
        messages.success(request, _("The retest is ordered. The ship sees it on its deck."))
        return redirect("drums:drum", drum_id=drum.pk)
    return render(request, "drums/retest_order_new.html", {"form": form, "drum": drum, "vessel": drum.winch.vessel})


def retest_order_take_back(request: HttpRequest, order_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    orders = RetestOrder.objects.for_user(user).select_related("drum__winch__vessel__company", "ordered_by")
    order = get_object_or_404(orders, pk=order_id)
    vessel = order.drum.winch.vessel
    require(user, "order_retest", vessel)
    form = TakeBackForm(sent(request))
    if form.is_valid() and carried_out(
        form, services.retest_order_take_back, order=order, actor=user, **form.cleaned_data
    ):
        messages.success(request, _("The order is taken back."))
        return redirect("drums:drum", drum_id=order.drum_id)
    return render(request, "drums/retest_order_take_back.html", {"form": form, "order": order, "vessel": vessel})
