"""From an address to the row: 404 outside what the person owns, 403 without the role."""

import uuid
from typing import TypeVar

from django.shortcuts import get_object_or_404

from fleet.accounts.models import User
from fleet.gauges.models import Footing, Gauge, Jack, Kit, Lever
from fleet.vessels.models import Vessel
from fleet.vessels.permissions import require

Instrument = TypeVar("Instrument", Gauge, Jack, Lever, Footing, Kit)


def vessel_for(user: User, vessel_id: uuid.UUID, act: str = "view") -> Vessel:
    vessel = get_object_or_404(Vessel.objects.for_user(user).select_related("company"), pk=vessel_id)
    require(user, act, vessel)
    return vessel


def instrument_for(user: User, model: type[Instrument], row_id: uuid.UUID, act: str = "view") -> Instrument:
    rows = model.objects.for_user(user).select_related("vessel__company")
    row: Instrument = get_object_or_404(rows, pk=row_id)
    require(user, act, row.vessel)
    return row
