"""How the people of a company sign in: set by its administrator."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from fleet.accounts.duty_services import duties_of, second_factor_require
from fleet.accounts.signed_in import signed_in_person
from fleet.vessels.account_forms import SecondFactorForm
from fleet.vessels.permissions import companies_where
from fleet.vessels.views.acting import carried_out, sent


def second_factor(request: HttpRequest) -> HttpResponse:
    user = signed_in_person(request)
    companies = companies_where(user, "edit_people")
    first = companies.first()
    if first is None:
        raise PermissionDenied
    # With several companies none is chosen beforehand, so no ticks of one are shown that could be sent for another.
    standing = duties_of(first) if companies.count() == 1 else []
    form = SecondFactorForm(sent(request), user=user, standing=standing)
    if form.is_valid() and carried_out(form, second_factor_require, actor=user, **form.cleaned_data) is not None:
        messages.success(request, _("From now on these roles sign in so."))
        return redirect("vessels:people_list")
    return render(request, "vessels/second_factor.html", {"form": form})
