"""From an address to the row: 404 outside what the person owns, 403 without the role."""

import uuid

from django.shortcuts import get_object_or_404

from fleet.accounts.models import User
from fleet.drums.models import Drum
from fleet.vessels.models import Vessel
from fleet.vessels.permissions import require


def vessel_for(user: User, vessel_id: uuid.UUID, act: str = "view") -> Vessel:
    vessel = get_object_or_404(Vessel.objects.for_user(user).select_related("company"), pk=vessel_id)
    require(user, act, vessel)
    return vessel


def drum_for(user: User, drum_id: uuid.UUID, act: str = "view") -> Drum:
    drum = get_object_or_404(Drum.objects.for_user(user).select_related("winch__vessel__company"), pk=drum_id)
    require(user, act, drum.winch.vessel)
    return drum
