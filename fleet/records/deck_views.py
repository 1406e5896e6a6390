"""The vessel's deck from above."""

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.accounts.signed_in import signed_in_person
from fleet.records.deck import deck_of
from fleet.vessels.models import Vessel, policy_for
from fleet.vessels.permissions import may, require


@require_safe
def deck(request: HttpRequest, vessel_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    vessel = get_object_or_404(Vessel.objects.for_user(user).select_related("company"), pk=vessel_id)
    require(user, "see_deck", vessel)
    today = timezone.localdate()
    shown = deck_of(vessel=vessel, on=today, may_test=may(user, "test", vessel))
    context = {"vessel": vessel, "deck": shown, "policy": policy_for(vessel, today)}
    return render(request, "records/deck.html", context)
