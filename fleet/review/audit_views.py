"""The audit trail as a page."""

from django.apps import apps
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fleet.accounts.signed_in import signed_in_person
from fleet.core.models import AuditEntry
from fleet.review.audit_entries import (
    companies_read,
    entries_for,
    may_read_any,
    vessels_read,
)
from fleet.review.chains import heads_of
from fleet.review.forms import AuditFilter

PAGE = 50


def audit(request: HttpRequest) -> HttpResponse:
    user = signed_in_person(request)
    if not may_read_any(user):
        raise PermissionDenied
    entries, vessels = entries_for(user), vessels_read(user)
    kinds = sorted(entries.order_by().values_list("subject_kind", flat=True).distinct())
    people = sorted(entries.order_by().values_list("actor_name", flat=True).distinct())
    choices = [(kind, kind_words(kind)) for kind in kinds]
    wanted = AuditFilter(request.GET, vessels=vessels, kinds=choices, people=people)
    wanted.is_valid()
    chosen = wanted.cleaned_data
    if vessel := chosen.get("vessel"):
        entries = entries.filter(vessel_id=vessel.pk)
    if kind := chosen.get("kind"):
        entries = entries.filter(subject_kind=kind)
    if person := chosen.get("person"):
        entries = entries.filter(actor_name=person)
    page = Paginator(entries, PAGE).get_page(request.GET.get("page"))
    names = {str(key): name for key, name in vessels.values_list("pk", "name")}
    asked = request.GET.copy()
    asked.pop("page", None)
    rows = [(row, names.get(str(row.vessel_id), ""), changes_of(row), kind_words(row.subject_kind)) for row in page]
    context = {"page": page, "rows": rows, "filter": wanted, "query": asked.urlencode()}
    context["heads"] = heads_of(companies_read(user))
    return render(request, "review/audit.html", context)


def kind_words(label: str) -> str:
    """A model's label as its own words."""
    try:
        return str(apps.get_model(label)._meta.verbose_name)
    except (LookupError, ValueError):
        return label


def changes_of(entry: AuditEntry) -> list[tuple[str, str, str]]:
    """(what, before, after) of an entry, as short plain text."""
    before, after = entry.before or {}, entry.after or {}
    names = [*after, *(name for name in before if name not in after)]
    return [(name.replace("_", " "), _text(before.get(name)), _text(after.get(name))) for name in names]


def _text(value: object) -> str:
    if isinstance(value, dict) and {"text", "unit"} <= set(value):
        return f"{value['text']} {value['unit']}"
    return "" if value is None else str(value)[:200]
