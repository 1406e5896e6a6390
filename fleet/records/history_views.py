"""Every test of one drum, the failed ones beside the good ones."""

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.accounts.signed_in import signed_in_person
from fleet.drums.models import Drum
from fleet.records.history import history_of
from fleet.vessels.models import policy_for
from fleet.vessels.permissions import may


@require_safe
def history(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    drum = get_object_or_404(Drum.objects.for_user(user).select_related("winch__vessel__company"), pk=drum_id)
    sees_deck = may(user, "see_deck", drum.vessel)
    today = timezone.localdate()
    context = {
        "drum": drum,
        "vessel": drum.vessel,
        "policy": policy_for(drum.vessel, today),
        "history": history_of(drum=drum, on=today, with_drafts=sees_deck),
        "sees_deck": sees_deck,
    }
    return render(request, "records/history.html", context)
