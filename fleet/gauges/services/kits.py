"""Kits: what is used together."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import User
from fleet.core.audit import audited
from fleet.core.typed import Typed
from fleet.core.writing import set_fields, snapshot
from fleet.gauges.checks import figure_problem
from fleet.gauges.models import Footing, Gauge, Jack, Kit, KitJack, Lever
from fleet.gauges.services.common import check_unique, hold, keep, retire
from fleet.vessels.models import Vessel

NOT_OF_THIS_VESSEL = _("Choose one of this vessel's own that is in use.")
ONE_OR_TWO_JACKS = _("A kit has one jack or two.")
JACKS_DIFFER = _("Choose another jack: this one is already in the kit.")
ONE_WAY = _(
    "One of these jacks pushes and the other pulls: they would turn the drum against each other, or stand on opposite "
    "sides of it. Choose two that act the same way; make a second kit for the other one."
)
WAS_USED = _(
    "Readings were taken with this kit, so it keeps its gauge, lever and jacks: records are made out with them. Take "
    "this kit out of use and put another together."
)
KIT_FIELDS = ("name", "gauge", "lever", "footing", "note")

JackWithArm = tuple[Jack, Typed | None]


@audited()
def kit_put_together(
    *,
    vessel: Vessel,
    name: str,
    gauge: Gauge,
    lever: Lever,
    jacks: Sequence[JackWithArm],
    actor: User,
    footing: Footing | None = None,
    note: str = "",
    at: datetime | None = None,
) -> Kit:
    """Put a kit together; `jacks` holds one or two jacks, each with its own arm where that differs from the lever's."""
    kit = Kit(vessel=vessel, name=name, gauge=gauge, lever=lever, footing=footing, note=note.strip())
    _check(kit, jacks)
    keep(kit, actor=actor, action="kit put together", more={"jacks": _jacks_said(jacks)}, at=at)
    _put_jacks(kit, jacks)
    return kit


@audited()
def kit_change(
    *,
    kit: Kit,
    actor: User,
    jacks: Sequence[JackWithArm] | None = None,
    at: datetime | None = None,
    **fields: Any,
) -> Kit:
    """Change what a kit holds, until readings were taken with it; jacks that are not given stay as they are."""
    kit = hold(kit)
    now = [(row.jack, row.arm) for row in kit.kit_jacks.select_related("jack")]
    before = {**snapshot(kit), "jacks": _jacks_said(now)}
    was = {"gauge": kit.gauge_id, "lever": kit.lever_id, "first_jack": [jack.pk for jack, _arm in now]}
    set_fields(kit, KIT_FIELDS, fields)
    wanted = now if jacks is None else list(jacks)
    _check(kit, wanted)
    is_now = {"gauge": kit.gauge_id, "lever": kit.lever_id, "first_jack": [jack.pk for jack, _arm in wanted]}
    changed = [name for name in was if was[name] != is_now[name]]
    if changed and kit.rounds.filter(tests__readings__isnull=False).exists():
        raise ValidationError({name: ValidationError(WAS_USED, code="used") for name in changed})
    keep(kit, actor=actor, action="kit changed", before=before, more={"jacks": _jacks_said(wanted)}, at=at)
    if jacks is not None:
        kit.kit_jacks.all().delete()
        _put_jacks(kit, jacks)
    return kit


@audited()
def kit_retire(*, kit: Kit, retired_on: date, reason: str, actor: User, at: datetime | None = None) -> Kit:
    """Take a kit out of use; its parts stay in use."""
    return retire(kit, action="kit retired", retired_on=retired_on, reason=reason, actor=actor, at=at)


def _check(kit: Kit, jacks: Sequence[JackWithArm]) -> None:
    check_unique(kit)
    problems: dict[str, ValidationError] = {}
    parts: dict[str, Gauge | Lever | Footing | Jack | None] = {
        "gauge": kit.gauge,
        "lever": kit.lever,
        "footing": kit.footing,
    }
    parts |= dict(zip(("first_jack", "second_jack"), (jack for jack, _arm in jacks), strict=False))
    for name, part in parts.items():
        if part is not None and (part.vessel_id != kit.vessel_id or part.retired_on is not None):
            problems[name] = ValidationError(NOT_OF_THIS_VESSEL, code="vessel")
    if not 1 <= len(jacks) <= 2:
        problems["first_jack"] = ValidationError(ONE_OR_TWO_JACKS, code="jacks")
    elif len({jack.pk for jack, _arm in jacks}) < len(jacks):
        problems["second_jack"] = ValidationError(JACKS_DIFFER, code="twice")
    elif len({jack.acts for jack, _arm in jacks}) > 1:
        problems["second_jack"] = ValidationError(ONE_WAY, code="acts")
    for name, (_jack, arm) in zip(("first_arm", "second_arm"), jacks, strict=False):
        wrong = figure_problem(arm, "length", "lever_arm")
        if wrong:
            problems[name] = wrong
    if problems:
        raise ValidationError(problems)


def _jacks_said(jacks: Sequence[JackWithArm]) -> list[dict[str, Any]]:
    return [
        {"jack": str(jack.pk), "serial_number": jack.serial_number, "arm": arm.to_dict() if arm else None}
        for jack, arm in jacks
    ]


def _put_jacks(kit: Kit, jacks: Sequence[JackWithArm]) -> None:
    for position, (jack, arm) in enumerate(jacks, start=1):
        row = KitJack(kit=kit, jack=jack, position=position, arm=arm)
        row.full_clean()
        row.save()
