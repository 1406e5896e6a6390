"""A superintendent's own flags, and the one that clears them."""

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _

from fleet.accounts.signed_in import signed_in_person
from fleet.drums.views.access import drum_for
from fleet.review.flags import drum_flag_clear, drum_flag_raise
from fleet.review.forms import FlagClearForm, FlagForm
from fleet.review.models import DrumFlag
from fleet.vessels.permissions import require
from fleet.vessels.views.acting import carried_out, sent


def flag_new(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    drum = drum_for(user, drum_id, "review")
    form = FlagForm(sent(request))
    if form.is_valid() and carried_out(form, drum_flag_raise, drum=drum, actor=user, **form.cleaned_data):
        messages.success(request, _("The flag stands in Today until it is cleared."))
        return redirect("review:today")
    return render(request, "review/flag_new.html", {"form": form, "drum": drum, "vessel": drum.winch.vessel})


def flag_clear(request: HttpRequest, flag_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    flags = DrumFlag.objects.for_user(user).select_related("drum__winch__vessel__company", "raised_by")
    flag = get_object_or_404(flags, pk=flag_id)
    vessel = flag.drum.winch.vessel
    require(user, "review", vessel)
    form = FlagClearForm(sent(request))
    if form.is_valid() and carried_out(form, drum_flag_clear, flag=flag, actor=user, **form.cleaned_data):
        messages.success(request, _("The flag is cleared; it stays on record."))
        return redirect("review:today")
    return render(request, "review/flag_clear.html", {"form": form, "flag": flag, "drum": flag.drum, "vessel": vessel})
