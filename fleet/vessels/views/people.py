"""The people of a company: who they are, their roles, the vessels these reach, and when they end."""

import uuid
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.accounts.invitations import password_link_send
from fleet.accounts.models import Company, Membership, User
from fleet.accounts.signed_in import signed_in_person
from fleet.vessels import services
from fleet.vessels.forms import AccessForm, PersonForm, RoleForm
from fleet.vessels.models import VesselAccess
from fleet.vessels.people_rows import end_form_for, person_rows, role_rows, roles_seen_by
from fleet.vessels.permissions import companies_where, require
from fleet.vessels.views.acting import carried_out, sent


def people_list(request: HttpRequest) -> HttpResponse:
    user = signed_in_person(request)
    people = person_rows(role_rows(roles_seen_by(user), timezone.localdate()))
    context = {
        "with_role": [row for row in people if row.now],
        "without_role": [row for row in people if not row.now],
        "several": len({role.membership.company_id for row in people for role in row.roles}) > 1,
        "may_add": companies_where(user, "edit_people").exists(),
    }
    return render(request, "vessels/people_list.html", context)


def person_new(request: HttpRequest) -> HttpResponse:
    user = signed_in_person(request)
    _require_administrator(user)
    form = PersonForm(sent(request), user=user)
    if form.is_valid():
        admitted = carried_out(form, services.person_admit, actor=user, **form.cleaned_data)
        if admitted:
            person, made = admitted
            if made:
                _send_link(request, user, person, form.cleaned_data["company"])
            else:
                messages.success(request, _("This e-mail address had an account already: the role was added to it."))
            return redirect("vessels:person", user_id=person.pk)
    return render(request, "vessels/person_new.html", {"form": form})


def person_page(request: HttpRequest, user_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    person = get_object_or_404(User.objects.for_user(user), pk=user_id)
    # The page's forms have addresses of their own, but what was kept over a sign-in comes back to the page itself.
    typed = sent(request)
    forms: dict[str, Any] = {}
    if typed and "role" in typed:
        forms["role_form"] = RoleForm(typed, user=user, auto_id="role_%s")
    elif typed and "membership" in typed:
        forms["access_form"] = AccessForm(typed, user=user, person=person, auto_id="access_%s")
    return _person_response(request, user, person, **forms)


@require_POST
def password_link(request: HttpRequest, user_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    person = get_object_or_404(User.objects.for_user(user), pk=user_id)
    _require_administrator(user)
    theirs = Membership.objects.current(person).values("company")
    company = companies_where(user, "edit_people").filter(pk__in=theirs).first()
    if company is None:
        raise PermissionDenied
    _send_link(request, user, person, company)
    return redirect("vessels:person", user_id=person.pk)


def membership_give(request: HttpRequest, user_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    person = get_object_or_404(User.objects.for_user(user), pk=user_id)
    _require_administrator(user)
    form = RoleForm(sent(request), user=user, auto_id="role_%s")
    if form.is_valid() and carried_out(form, services.role_admit, actor=user, user=person, **form.cleaned_data):
        messages.success(request, _("The role is given."))
        return redirect("vessels:person", user_id=person.pk)
    return _person_response(request, user, person, role_form=form)


def membership_end(request: HttpRequest, membership_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    memberships = Membership.objects.for_user(user).select_related("user", "company")
    membership = get_object_or_404(memberships, pk=membership_id)
    require(user, "edit_people", membership.company)
    form = end_form_for(membership.pk, sent(request), timezone.localdate())
    if form.is_valid() and carried_out(
        form, services.role_end, actor=user, membership=membership, until=form.cleaned_data["until"]
    ):
        messages.success(request, _("The last day of the role is set."))
        return redirect("vessels:person", user_id=membership.user_id)
    return _person_response(request, user, membership.user, bound={membership.pk: form})


def access_give(request: HttpRequest, user_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    person = get_object_or_404(User.objects.for_user(user), pk=user_id)
    _require_administrator(user)
    form = AccessForm(sent(request), user=user, person=person, auto_id="access_%s")
    if form.is_valid() and carried_out(form, services.access_give, actor=user, **form.cleaned_data):
        messages.success(request, _("The vessel is open to this role."))
        return redirect("vessels:person", user_id=person.pk)
    return _person_response(request, user, person, access_form=form)


def access_end(request: HttpRequest, access_id: uuid.UUID) -> HttpResponse:
    user = signed_in_person(request)
    accesses = VesselAccess.objects.for_user(user).select_related("membership__user", "membership__company")
    access = get_object_or_404(accesses, pk=access_id)
    require(user, "edit_people", access.membership.company)
    form = end_form_for(access.pk, sent(request), timezone.localdate())
    if form.is_valid() and carried_out(
        form, services.access_end, actor=user, access=access, until=form.cleaned_data["until"]
    ):
        messages.success(request, _("The last day of the access is set."))
        return redirect("vessels:person", user_id=access.membership.user_id)
    return _person_response(request, user, access.membership.user, bound={access.pk: form})


def me(request: HttpRequest) -> HttpResponse:
    user = signed_in_person(request)
    rows = role_rows(roles_seen_by(user).filter(user=user), timezone.localdate())
    return render(request, "vessels/me.html", {"person": user, "roles": rows})


def _require_administrator(user: User) -> None:
    if not companies_where(user, "edit_people").exists():
        raise PermissionDenied


def _send_link(request: HttpRequest, user: User, person: User, company: Company) -> None:
    """Mail the link; whether that worked is a message, for the account stands either way."""
    try:
        password_link_send(actor=user, user=person, company=company)
    except ValidationError as error:
        messages.warning(request, " ".join(error.messages))
    except OSError:
        messages.warning(
            request, _("The account stands, but the mail to %(email)s could not be sent.") % {"email": person.email}
        )
    else:
        words = _("A link to choose a password is on its way to %(email)s.")
        messages.success(request, words % {"email": person.email})


def _person_response(request: HttpRequest, user: User, person: User, **forms: Any) -> HttpResponse:
    """The page of one person, with fresh forms in place of those that were not sent."""
    companies = frozenset(companies_where(user, "edit_people").values_list("pk", flat=True))
    memberships = roles_seen_by(user).filter(user=person)
    rows = role_rows(memberships, timezone.localdate(), editable=companies, bound=forms.get("bound"))
    at_hand = [*(forms.get("bound") or {}).values(), forms.get("role_form"), forms.get("access_form")]
    context: dict[str, Any] = {
        "person": person,
        "roles": rows,
        "errors_of": next((form for form in at_hand if form is not None and form.is_bound), None),
        "may_edit": bool(companies),
        "may_send_link": not person.has_usable_password() and any(row.end_form for row in rows),
    }
    if companies:
        context["role_form"] = forms.get("role_form") or RoleForm(user=user, auto_id="role_%s")
        context["access_form"] = forms.get("access_form") or AccessForm(user=user, person=person, auto_id="access_%s")
        context["reaches_vessels"] = any(row.end_form and not row.whole_company for row in rows)
    return render(request, "vessels/person.html", context)
