"""How the people of a company sign in: set by its administrator."""

import uuid

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.accounts import account_services
from fleet.accounts.duty_services import duties_of, second_factor_require
from fleet.accounts.models import Company, User
from fleet.accounts.sign_ins import sign_ins_end, sign_ins_of
from fleet.accounts.signed_in import signed_in_person
from fleet.vessels.account_forms import CorrectForm, ReasonForm, SecondFactorForm
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


def person_correct(request: HttpRequest, user_id: uuid.UUID) -> HttpResponse:
    user, person, companies = _administered(request, user_id)
    form = CorrectForm(sent(request), person=person)
    if form.is_valid():
        told = {"actor": user, "user": person, "companies": companies, **form.cleaned_data}
        if carried_out(form, account_services.person_correct, **told):
            messages.success(request, _("Name and rank are put right. What was signed before keeps the name it had."))
            return redirect("vessels:person", user_id=person.pk)
    return render(request, "vessels/person_correct.html", {"form": form, "person": person})


def account_switch(request: HttpRequest, user_id: uuid.UUID) -> HttpResponse:
    """Close an open account, or open a closed one."""
    user, person, companies = _administered(request, user_id)
    service = account_services.account_close if person.is_active else account_services.account_open
    form = ReasonForm(sent(request))
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        if done := carried_out(form, service, actor=user, user=person, companies=companies, reason=reason):
            opened = _("The account is open again.")
            closed = _("The account is closed, and the person is signed out everywhere.")
            messages.success(request, opened if done.is_active else closed)
            return redirect("vessels:person", user_id=person.pk)
    return render(request, "vessels/account_switch.html", {"form": form, "person": person})


def factor_forget(request: HttpRequest, user_id: uuid.UUID) -> HttpResponse:
    user, person, companies = _administered(request, user_id)
    form = ReasonForm(sent(request))
    if form.is_valid():
        told = {"actor": user, "user": person, "companies": companies, "reason": form.cleaned_data["reason"]}
        if carried_out(form, account_services.second_factor_forget, **told):
            messages.success(request, _("The second factor is forgotten: the password alone signs in now."))
            return redirect("vessels:person", user_id=person.pk)
    return render(request, "vessels/factor_forget.html", {"form": form, "person": person})


def sign_ins(request: HttpRequest) -> HttpResponse:
    """Where the person is signed in; sent with one of them, that one ends, without, all others."""
    user = signed_in_person(request)
    this = request.session.session_key
    if request.method == "POST":
        one = request.POST.get("sign_in", "")
        only = None if not one else [int(one)] if one.isascii() and one.isdigit() and len(one) < 16 else []
        ended = sign_ins_end(actor=user, user=user, keep=this, only=only)
        words = ngettext("One sign-in was ended.", "%(number)s sign-ins were ended.", ended) % {"number": ended}
        messages.success(request, words if ended else _("No other sign-in was running there."))
        return redirect("vessels:sign_ins")
    return render(request, "vessels/sign_ins.html", {"sign_ins": sign_ins_of(user, this)})


def _administered(request: HttpRequest, user_id: uuid.UUID) -> tuple[User, User, list[Company]]:
    """The administrator, the person the page is about, and the companies that the first one administers."""
    user = signed_in_person(request)
    person = get_object_or_404(User.objects.for_user(user), pk=user_id)
    companies = list(companies_where(user, "edit_people"))
    if not companies:
        raise PermissionDenied
    return user, person, companies
