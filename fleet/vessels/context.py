"""What the page header needs on every page: who this is, and where they can go."""

from collections.abc import Iterator
from typing import Any

from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import SHIP_ROLES, SHORE_ROLES, Membership, Role
from fleet.vessels.models import Vessel

Link = tuple[str | Promise, str]


def navigation(request: HttpRequest) -> dict[str, Any]:
    """The signed-in person's roles today and the links of the header."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"my_roles": []}
    rows = list(Membership.objects.current(user).select_related("company"))
    roles = {Role(row.role) for row in rows}
    return {
        "my_roles": list(dict.fromkeys(str(row.get_role_display()) for row in rows)),
        "my_companies": sorted({row.company.name for row in rows}),
        "navigation": [
            {"label": label, "url": url, "current": request.path == url} for label, url in _links(user, roles)
        ],
    }


def _links(user: Any, roles: set[Role]) -> Iterator[Link]:
    if roles & {Role.SUPERINTENDENT, Role.MANAGER}:
        yield _("Today"), reverse("review:today")
        yield _("Fleet"), reverse("review:fleet")
    if roles & SHORE_ROLES:
        yield _("Vessels"), reverse("vessels:vessel_list")
    elif roles & SHIP_ROLES:
        yield from _ship_links(user)
    if roles:
        yield _("Certificates"), reverse("certificates:certificate_list")
    if roles & SHORE_ROLES:
        yield _("Policy"), reverse("vessels:policy_list")
        yield _("People"), reverse("vessels:people_list")
    if roles & (SHORE_ROLES | {Role.AUDITOR}):
        yield _("Audit trail"), reverse("review:audit")
    if roles & SHIP_ROLES:
        yield _("Practice"), reverse("practice:start")
    yield _("My page"), reverse("vessels:me")


def _ship_links(user: Any) -> Iterator[Link]:
    vessels = list(Vessel.objects.for_user(user).values_list("pk", flat=True)[:2])
    if len(vessels) != 1:
        yield _("Vessels"), reverse("vessels:vessel_list")
        return
    (vessel,) = vessels
    yield _("Deck"), reverse("records:deck", args=[vessel])
    yield _("Drums"), reverse("drums:drum_list", args=[vessel])
    yield _("Instruments"), reverse("gauges:instrument_list", args=[vessel])
