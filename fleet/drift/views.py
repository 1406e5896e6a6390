"""One drum over the years."""

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.accounts.signed_in import signed_in_person
from fleet.drift.drum_years import ZOOMS, DrumYears
from fleet.drift.years_picture import years_picture
from fleet.drums.models import Drum
from fleet.vessels.permissions import may


@require_safe
def years(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    drum = get_object_or_404(Drum.objects.for_user(user).select_related("winch__vessel__company"), pk=drum_id)
    asked = request.GET.get("years", "")
    chosen = int(asked) if asked in {str(number) for number in ZOOMS} else None
    page = DrumYears(drum, on=timezone.localdate(), years=chosen)
    strong, rest, warn = page.lead
    context = {
        "drum": drum,
        "vessel": drum.vessel,
        "page": page,
        "picture": years_picture(page),
        "strong": strong,
        "rest": rest,
        "warn": warn,
        "sees_deck": may(user, "see_deck", drum.vessel),
    }
    return render(request, "drift/years.html", context)
