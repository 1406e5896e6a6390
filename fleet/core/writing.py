"""What services share: one row checked, saved and audited, with what changed as plain data."""

import uuid
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models.fields.files import FieldFile
from django.utils import timezone

from fleet.core.audit import Actor, audit_write
from fleet.core.typed import Typed


def plain(value: Any) -> Any:
    """A value as JSON can hold it; a figure keeps its typed text and unit."""
    if isinstance(value, Typed):
        return value.to_dict()
    if isinstance(value, FieldFile):
        return value.name or ""
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, uuid.UUID | Decimal):
        return str(value)
    return value


def snapshot(row: models.Model) -> dict[str, Any]:
    """The row's own columns as plain data."""
    return {field.attname: plain(getattr(row, field.attname)) for field in row._meta.concrete_fields}


def set_fields(row: models.Model, allowed: Iterable[str], values: Mapping[str, Any]) -> None:
    """Put values into a row's named fields; TypeError for a field that this service does not write."""
    unknown = set(values) - set(allowed)
    if unknown:
        raise TypeError(f"no such field to write: {', '.join(sorted(unknown))}")
    for name, value in values.items():
        setattr(row, name, value)


def save_audited(
    row: models.Model,
    *,
    actor: Actor | None,
    action: str,
    company_id: uuid.UUID,
    vessel_id: uuid.UUID | None = None,
    before: dict[str, Any] | None = None,
    more: Mapping[str, Any] | None = None,
    exclude: Iterable[str] = (),
    reason: str = "",
    at: datetime | None = None,
) -> bool:
    """Check, save and audit one row inside the caller's transaction; False, and no entry, where nothing changed.

    `more` goes into the entry beside the row's own columns, such as which figures a person said were checked.
    """
    row.full_clean(exclude=set(exclude))
    after = {**snapshot(row), **(more or {})}
    if before is not None:
        changed = [name for name in after if before.get(name) != after[name]]
        if not changed:
            return False
        before, after = {name: before.get(name) for name in changed}, {name: after[name] for name in changed}
    row.save()
    audit_write(
        actor=actor,
        action=action,
        subject=row,
        company_id=company_id,
        vessel_id=vessel_id,
        before=before,
        after=after,
        reason=reason,
        at=at,
    )
    return True


def day_of(at: datetime | None) -> date:
    """The day an act is done: that of `at`, else today."""
    return (at or timezone.now()).date()


def stamp_created(row: models.Model, at: datetime | None) -> None:
    """Give a row that was just added the time of the act it tells of, where that was not now."""
    if at is not None:
        type(row)._default_manager.filter(pk=row.pk).update(created_at=at)
        row.created_at = at  # type: ignore[attr-defined]
