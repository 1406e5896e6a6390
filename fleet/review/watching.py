"""Whose fleet a person watches from shore."""

from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import HttpRequest

from fleet.accounts.models import Membership, Role
from fleet.accounts.signed_in import signed_in_person
from fleet.vessels.models import Vessel


def watched_vessels(request: HttpRequest) -> QuerySet[Vessel]:
    """The vessels of the companies in which this person superintends or manages; 403 where there are none."""
    user = signed_in_person(request)
    watching = Membership.objects.current(user).filter(role__in=[Role.SUPERINTENDENT, Role.MANAGER])
    if not watching.exists():
        raise PermissionDenied
    return Vessel.objects.for_user(user).filter(company__in=watching.values("company"), in_fleet=True)
