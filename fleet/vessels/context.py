"""What the page header needs on every page."""

from typing import Any

from django.http import HttpRequest

from fleet.accounts.models import SHIP_ROLES, SHORE_ROLES, Membership, Role


def navigation(request: HttpRequest) -> dict[str, Any]:
    """The signed-in person's roles today, as words and as sets the header asks."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"my_roles": []}
    rows = list(Membership.objects.current(user).select_related("company"))
    roles = {Role(row.role) for row in rows}
    return {
        "my_roles": [row.get_role_display() for row in rows],
        "my_companies": sorted({row.company.name for row in rows}),
        "is_ship": bool(roles & SHIP_ROLES),
        "is_shore": bool(roles & SHORE_ROLES),
        "is_superintendent": Role.SUPERINTENDENT in roles,
        "is_auditor": Role.AUDITOR in roles,
        "is_administrator": Role.ADMINISTRATOR in roles,
    }
