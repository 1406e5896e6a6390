"""From an address to the test, and what this person may do with it: 404 outside what they own, 403 without the role."""

import uuid
from datetime import UTC, datetime, timedelta

from django.shortcuts import get_object_or_404
from django.utils.formats import date_format

from fleet.accounts.models import User
from fleet.records.models import DrumTest
from fleet.records.snapshot import utc_offset
from fleet.vessels.models import Vessel
from fleet.vessels.permissions import ALLOWED, require, roles_on


def drum_test_for(user: User, test_id: uuid.UUID, act: str) -> DrumTest:
    """The test with all its rows, for a person who may do the act on its vessel."""
    test = get_object_or_404(DrumTest.objects.for_user(user).whole(), pk=test_id)
    require(user, act, test.round.vessel)
    return test


def rights_on(user: User, vessel: Vessel) -> dict[str, bool]:
    """Every act of the table, and whether this person may do it on this vessel today."""
    roles = roles_on(user, vessel)
    return {act: bool(allowed & roles) for act, allowed in ALLOWED.items()}


def ships_time(at: datetime | None, offset_minutes: int) -> str:
    """A moment by the ship's clock, with its distance from UTC."""
    if at is None:
        return ""
    local = at.astimezone(UTC) + timedelta(minutes=offset_minutes)
    return f"{date_format(local, 'j M Y')} {local:%H:%M} {utc_offset(offset_minutes)}"


def ships_clock(at: datetime | None, offset_minutes: int) -> str:
    """Only hours and minutes of it."""
    return f"{at.astimezone(UTC) + timedelta(minutes=offset_minutes):%H:%M}" if at else ""
