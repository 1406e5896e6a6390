"""The policies of a company with their history, and the entry of a new one."""

import uuid
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from fleet.accounts.models import Company, User
from fleet.accounts.signed_in import signed_in_person
from fleet.vessels.forms import PolicyForm
from fleet.vessels.models import Policy, Vessel
from fleet.vessels.permissions import companies_where, require
from fleet.vessels.policy_history import company_policies, proposal_of
from fleet.vessels.policy_rules import policy_in_force, policy_source
from fleet.vessels.services import policy_proposed, policy_set
from fleet.vessels.views.acting import carried_out, sent


def policy_list(request: HttpRequest) -> HttpResponse:
    user = signed_in_person(request)
    editable = set(companies_where(user, "edit_policy").values_list("pk", flat=True))
    policies = list(Policy.objects.for_user(user).select_related("vessel", "author"))
    today = timezone.localdate()
    companies = [
        company_policies(company, [row for row in policies if row.company_id == company.pk], today)
        for company in Company.objects.for_user(user)
    ]
    return render(request, "vessels/policy_list.html", {"companies": companies, "editable": editable})


def policy_new(request: HttpRequest) -> HttpResponse:
    user, today = signed_in_person(request), timezone.localdate()
    scope = _scope(request, user)
    if scope is None:
        return redirect("vessels:policy_list")
    company, vessel = scope
    standing = policy_in_force(company, vessel, today)
    form = PolicyForm(sent(request), standing=standing, today=today)
    proposal = None
    if form.is_valid():
        act = _act(form, user, company, vessel)
        policy = carried_out(form, policy_proposed, **act)
        proposal = proposal_of(policy) if policy else None
        if proposal and request.POST.get("seen") == proposal.fingerprint and carried_out(form, policy_set, **act):
            messages.success(request, _("The policy is recorded."))
            return redirect("vessels:policy_list")
    context = {"form": form, "company": company, "vessel": vessel, "standing": standing, "proposal": proposal}
    return render(request, "vessels/policy_new.html", {**context, "source": policy_source(standing)})


def _act(form: PolicyForm, user: User, company: Company, vessel: Vessel | None) -> dict[str, Any]:
    valid_from: date = form.cleaned_data["valid_from"]
    return {
        "actor": user,
        "company": company,
        "vessel": vessel,
        "valid_from": valid_from,
        "reason": form.cleaned_data["reason"],
        "settings": form.settings,
    }


def _scope(request: HttpRequest, user: User) -> tuple[Company, Vessel | None] | None:
    """Whose policy is written, from the query string; None when the person must choose first."""
    if "vessel" in request.GET:
        vessels = Vessel.objects.for_user(user).select_related("company")
        vessel = get_object_or_404(vessels, pk=_key(request.GET["vessel"]))
        require(user, "edit_policy", vessel)
        return vessel.company, vessel
    if "company" in request.GET:
        company = get_object_or_404(Company.objects.for_user(user), pk=_key(request.GET["company"]))
    else:
        companies = list(Company.objects.for_user(user)[:2])
        if len(companies) != 1:
            return None
        company = companies[0]
    require(user, "edit_policy", company)
    return company, None


def _key(text: str) -> uuid.UUID:
    try:
        return uuid.UUID(text)
    except ValueError:
        raise Http404 from None
