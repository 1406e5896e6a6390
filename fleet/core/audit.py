"""Writing audit entries: every service writes one inside its own transaction, and the chain grows as that ends."""

import threading
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any, Protocol

from django.db import models, transaction
from django.utils import timezone

from fleet.core.audit_chain import Then, link
from fleet.core.models import AuditEntry
from fleet.core.whence import whence


class Actor(Protocol):
    """Who acts: a person's row, or anything with a key and a name."""

    pk: Any
    name: Any


class _Waiting(threading.local):
    """The entries of the transaction under way in this thread."""

    def __init__(self) -> None:
        self.depth = 0
        self.entries: list[tuple[AuditEntry, Then | None]] = []


_waiting = _Waiting()


@contextmanager
def audited() -> Iterator[None]:
    """A transaction whose audit entries are chained at its end; with `with`, or as `@audited()` around a service.

    Not earlier: a chain's head is held until the commit, and a service that held it first and other rows after
    could wait crosswise with another.
    """
    start = len(_waiting.entries)
    _waiting.depth += 1
    try:
        with transaction.atomic():
            yield
            if _waiting.depth == 1:
                link(_waiting.entries)
    except BaseException:
        del _waiting.entries[start:]
        raise
    finally:
        _waiting.depth -= 1
        if _waiting.depth == 0:
            _waiting.entries.clear()


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
    utc_offset_minutes: int | None = None,
    at: datetime | None = None,
    then: Then | None = None,
) -> None:
    """Add one entry; `action` reads as a verb phrase such as 'drum test submitted'.

    `then` is called with the entry and its place in the chain once it has one, still inside the transaction.
    """
    entry = AuditEntry(
        at=at or timezone.now(),
        utc_offset_minutes=utc_offset_minutes,
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
        came_from=whence(),
    )
    with audited():
        _waiting.entries.append((entry, then))
