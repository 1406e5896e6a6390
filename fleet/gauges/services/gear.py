"""Levers and footings."""

from collections.abc import Collection
from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError

from fleet.accounts.models import User
from fleet.core.audit import audited
from fleet.core.writing import set_fields, snapshot
from fleet.gauges.checks import figure_problem, lever_findings, lever_problems, refuse, refuse_unanswered
from fleet.gauges.models import Footing, Lever
from fleet.gauges.services.common import check_unique, hold, keep, retire
from fleet.vessels.models import Vessel

LEVER_FIELDS = ("name", "arm", "weight", "safe_load", "fits", "inspected_on")
FOOTING_FIELDS = ("name", "allowed_load", "note")


@audited()
def lever_add(
    *, vessel: Vessel, actor: User, checked: Collection[str] = (), at: datetime | None = None, **fields: Any
) -> Lever:
    """Register a lever: name, arm, weight, safe_load (Typed), fits, inspected_on; `checked` as for a jack."""
    lever = Lever(vessel=vessel)
    _put_lever(lever, fields, checked)
    keep(lever, actor=actor, action="lever added", more={"checked": sorted(checked)} if checked else None, at=at)
    return lever


@audited()
def lever_change(
    *, lever: Lever, actor: User, checked: Collection[str] = (), at: datetime | None = None, **fields: Any
) -> Lever:
    """Correct a lever's entry."""
    lever = hold(lever)
    before = snapshot(lever)
    _put_lever(lever, fields, checked)
    more = {"checked": sorted(checked)} if checked else None
    keep(lever, actor=actor, action="lever changed", before=before, more=more, at=at)
    return lever


def _put_lever(lever: Lever, fields: dict[str, Any], checked: Collection[str]) -> None:
    set_fields(lever, LEVER_FIELDS, fields)
    check_unique(lever)
    refuse(lever_problems(lever))
    if lever.arm is not None:
        refuse_unanswered(lever_findings(lever), checked, "arm")


@audited()
def lever_retire(*, lever: Lever, retired_on: date, reason: str, actor: User, at: datetime | None = None) -> Lever:
    """Take a lever out of use."""
    return retire(lever, action="lever retired", retired_on=retired_on, reason=reason, actor=actor, at=at)


@audited()
def footing_add(*, vessel: Vessel, actor: User, at: datetime | None = None, **fields: Any) -> Footing:
    """Register a foundation plate or strong point: name, allowed_load (Typed), note."""
    footing = Footing(vessel=vessel)
    _put_footing(footing, fields)
    keep(footing, actor=actor, action="footing added", at=at)
    return footing


@audited()
def footing_change(*, footing: Footing, actor: User, at: datetime | None = None, **fields: Any) -> Footing:
    """Correct a footing's entry."""
    footing = hold(footing)
    before = snapshot(footing)
    _put_footing(footing, fields)
    keep(footing, actor=actor, action="footing changed", before=before, at=at)
    return footing


def _put_footing(footing: Footing, fields: dict[str, Any]) -> None:
    set_fields(footing, FOOTING_FIELDS, fields)
    check_unique(footing)
    problem = figure_problem(footing.allowed_load, "force")
    if problem:
        raise ValidationError({"allowed_load": problem})


@audited()
def footing_retire(
    *, footing: Footing, retired_on: date, reason: str, actor: User, at: datetime | None = None
) -> Footing:
    """Take a footing out of use."""
    return retire(footing, action="footing retired", retired_on=retired_on, reason=reason, actor=actor, at=at)
