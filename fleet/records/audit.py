"""The audit entry of a test, as every service that writes to one leaves it."""

from typing import Any

from fleet.accounts.models import User
from fleet.core.audit import audit_write
from fleet.records.models import DrumTest


def audit_drum_test(test: DrumTest, actor: User, action: str, **more: Any) -> None:
    """Enter an act on a test; `more` is what core's audit_write takes beside it."""
    vessel = test.round.vessel
    audit_write(
        actor=actor,
        action=action,
        subject=test,
        company_id=vessel.company_id,
        vessel_id=vessel.pk,
        utc_offset_minutes=test.round.utc_offset_minutes,
        **more,
    )
