"""Writing one audit entry: called by every service inside its own transaction."""

import uuid
from datetime import datetime
from typing import Any, Protocol

from django.db import models
from django.utils import timezone

from fleet.core.models import AuditEntry


class Actor(Protocol):
    """Who acts: a person's row, or anything with a key and a name."""

    pk: Any
    name: Any


def audit_write(
    *,
    actor: Actor | None,
    action: str,
    subject: models.Model,
    company_id: uuid.UUID | None,
    vessel_id: uuid.UUID | None = None,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
    reason: str = "",
    came_from: str = "",
    at: datetime | None = None,
) -> AuditEntry:
    """Add one entry; `action` reads as a verb phrase such as 'drum test submitted'."""
    return AuditEntry.objects.create(
        at=at or timezone.now(),
        company_id=company_id,
        vessel_id=vessel_id,
        actor_id=actor.pk if actor else None,
        actor_name=str(actor.name) if actor else "the system",
        action=action,
        subject_kind=subject._meta.label,
        subject_id=subject.pk,
        subject_name=str(subject)[:200],
        reason=reason,
        before=before,
        after=after,
        came_from=came_from,
    )
