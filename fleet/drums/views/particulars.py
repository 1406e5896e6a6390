"""The entry of new particulars of a drum."""

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.accounts.signed_in import signed_in_person
from fleet.drums.forms import ParticularsForm
from fleet.drums.models import DrumParticulars
from fleet.drums.services import drum_particulars_record
from fleet.drums.views.access import drum_for
from fleet.vessels.views.acting import carried_out, sent


def particulars_new(request: HttpRequest, drum_id: uuid.UUID) -> HttpResponse:
    user, today = signed_in_person(request), timezone.localdate()
    drum = drum_for(user, drum_id, "edit_drums")
    current = DrumParticulars.objects.for_user(user).in_force(drum, today)
    form = ParticularsForm(sent(request), drum=drum, current=current, today=today)
    if form.is_valid():
        row = carried_out(form, drum_particulars_record, drum=drum, actor=user, **form.given)
        if row:
            messages.success(request, _("The particulars are recorded. The earlier ones stay below."))
            for note in form.notes:
                messages.info(request, note)
            return redirect("drums:drum", drum_id=drum.pk)
    context = {"form": form, "drum": drum, "vessel": drum.winch.vessel, "current": current}
    return render(request, "drums/particulars_new.html", context)
