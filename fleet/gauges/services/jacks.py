"""Jacks."""

from collections.abc import Collection, Sequence
from datetime import date, datetime
from typing import Any

from fleet.accounts.models import User
from fleet.core.audit import audited
from fleet.core.writing import set_fields, snapshot
from fleet.gauges.checks import jack_findings, jack_problems, refuse, refuse_unanswered
from fleet.gauges.models import Jack
from fleet.gauges.points import ForceRow
from fleet.gauges.services.common import check_unique, hold, keep, retire
from fleet.vessels.models import Vessel

JACK_FIELDS = (
    "name", "serial_number", "kind", "bore", "rod_or_hole", "plunger", "stated_area", "stated_area_document",
    "area_counts", "nominal_capacity", "rated_pressure", "force_table_document", "inspected_on",
)  # fmt: skip


@audited()
def jack_add(
    *,
    vessel: Vessel,
    actor: User,
    force_table: Sequence[ForceRow] = (),
    checked: Collection[str] = (),
    at: datetime | None = None,
    **fields: Any,
) -> Jack:
    """Register a jack; the fields are those of JACK_FIELDS, figures as Typed.

    `checked` names the codes of findings answered with "I have checked this figure"; others that ask are refused.
    """
    jack = Jack(vessel=vessel)
    _put(jack, fields, force_table, checked)
    keep(jack, actor=actor, action="jack added", more=_answers(checked), at=at)
    return jack


@audited()
def jack_change(
    *,
    jack: Jack,
    actor: User,
    force_table: Sequence[ForceRow] | None = None,
    checked: Collection[str] = (),
    at: datetime | None = None,
    **fields: Any,
) -> Jack:
    """Correct a jack's entry; a force table that is not given stays as it is."""
    jack = hold(jack)
    before = snapshot(jack)
    _put(jack, fields, force_table, checked)
    keep(jack, actor=actor, action="jack changed", before=before, more=_answers(checked), at=at)
    return jack


def _put(jack: Jack, fields: dict[str, Any], force_table: Sequence[ForceRow] | None, checked: Collection[str]) -> None:
    set_fields(jack, JACK_FIELDS, fields)
    if force_table is not None:
        jack.force_table = [row.to_dict() for row in force_table]
    check_unique(jack, serial=True)
    refuse(jack_problems(jack))
    refuse_unanswered(jack_findings(jack), checked, "stated_area")


def _answers(checked: Collection[str]) -> dict[str, Any] | None:
    return {"checked": sorted(checked)} if checked else None


@audited()
def jack_retire(*, jack: Jack, retired_on: date, reason: str, actor: User, at: datetime | None = None) -> Jack:
    """Take a jack out of use."""
    return retire(jack, action="jack retired", retired_on=retired_on, reason=reason, actor=actor, at=at)
