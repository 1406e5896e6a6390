"""The invented demo fleet: people, vessels, drums and instruments, entered through the same services as the web."""

import json
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings

from fleet.accounts.models import Company, User
from fleet.accounts.services import company_add, membership_give, person_add
from fleet.core.typed import Typed
from fleet.drums.figures import Figure
from fleet.drums.models import Drum
from fleet.drums.services import drum_add, drum_particulars_record, winch_add
from fleet.gauges.models import Kit
from fleet.gauges.services import (
    footing_add,
    gauge_add,
    gauge_calibration_record,
    jack_add,
    kit_put_together,
    lever_add,
)
from fleet.vessels.models import Vessel
from fleet.vessels.services import access_give, policy_set, vessel_register

PATH = settings.BASE_DIR / "fixtures" / "demo_fleet.json"
PASSWORD = "demo-harbour-2026"
YEARS_AHEAD = timedelta(days=3 * 365 + 60)


@dataclass
class Ship:
    """One vessel of the demo with those aboard."""

    vessel: Vessel
    kit: Kit
    story: str
    people: dict[str, User]
    drums: list[Drum] = field(default_factory=list)


@dataclass
class Shore:
    company: Company
    people: dict[str, User]


def load_file() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(PATH.read_text(encoding="utf-8"))
    return found


def enter_shore(data: dict[str, Any], *, now: datetime) -> Shore:
    """The company, its policy and its people ashore."""
    at = now - YEARS_AHEAD
    company = company_add(actor=None, is_demo=True, at=at, **data["company"])
    people: dict[str, User] = {}
    for row in data["people"]:
        until = (now + timedelta(days=row["days"])).date() if "days" in row else None
        people[row["role"]] = _person(company, row, at, until)
    policy_set(
        actor=people["superintendent"],
        company=company,
        valid_from=at.date(),
        reason="first policy of the fleet, after common practice",
        settings={},
        at=at,
    )
    return Shore(company, people)


def enter_ship(data: dict[str, Any], shore: Shore, *, now: datetime) -> Ship:
    """A vessel with its people, drums and kit."""
    at = now - YEARS_AHEAD
    superintendent = shore.people["superintendent"]
    vessel = vessel_register(
        actor=superintendent,
        company=shore.company,
        name=data["name"],
        imo_number=data["imo_number"],
        base_load=Typed.read(*data["base_load"]),
        base_load_kind=data["base_load_kind"],
        base_load_document=data["base_load_document"],
        next_dry_docking=(now + timedelta(days=500)).date(),
        at=at,
    )
    people = {}
    for row in data["people"]:
        people[row["role"]] = _person(shore.company, row, at, None, [vessel])
    ship = Ship(vessel, _enter_kit(data["kit"], vessel, superintendent, now), data["story"], people)
    winches: dict[str, Any] = {}
    for number, row in enumerate(data["drums"]):
        place = dict(row)
        name = place.pop("winch")
        if name not in winches:
            winches[name] = winch_add(vessel=vessel, name=name, actor=superintendent, at=at)
        drum = drum_add(
            winch=winches[name],
            number_on_winch=1 + sum(1 for other in ship.drums if other.winch_id == winches[name].pk),
            kind=data["kind"],
            mark_from="machined edge of the stop plate",
            mark_to="end face of the spindle nut",
            lead="left" if number % 2 else "right",
            actor=superintendent,
            at=at,
            **place,
        )
        drum_particulars_record(
            drum=drum,
            valid_from=at.date(),
            figures={
                name: Figure(Typed.read(text, unit), origin, document)
                for name, (text, unit, origin, document) in data["figures"].items()
            },
            line_material=data["line_material"],
            reference_layer=data["layer"],
            reason="taken from the drawings",
            actor=superintendent,
            at=at,
        )
        ship.drums.append(drum)
    return ship


def give_access(data: dict[str, Any], shore: Shore, ships: list[Ship], *, now: datetime) -> None:
    """The auditor's vessels, until the auditor's last day."""
    by_name = {ship.vessel.name: ship.vessel for ship in ships}
    for row in data["people"]:
        for name in row.get("vessels", []):
            membership = shore.people[row["role"]].memberships.get()
            access_give(
                actor=shore.people["administrator"],
                membership=membership,
                vessel=by_name[name],
                until=membership.until,
                at=now,
            )


def _person(company: Company, row: dict[str, Any], at: datetime, until: Any, vessels: Any = ()) -> User:
    user = person_add(
        actor=None,
        company=company,
        email=row["email"],
        name=row["name"],
        rank=row["rank"],
        password=PASSWORD,
        at=at,
    )
    membership = membership_give(actor=None, user=user, company=company, role=row["role"], until=until, at=at)
    for vessel in vessels:
        access_give(actor=None, membership=membership, vessel=vessel, at=at)
    return user


def _enter_kit(data: dict[str, Any], vessel: Vessel, actor: User, now: datetime) -> Kit:
    at = now - YEARS_AHEAD

    def figures(row: dict[str, Any]) -> dict[str, Any]:
        return {name: Typed.read(*value) if isinstance(value, list) else value for name, value in row.items()}

    gauge = gauge_add(vessel=vessel, actor=actor, at=at, **figures(data["gauge"]))
    for years in (3, 2, 1, 0):
        on = now - timedelta(days=365 * years + 70)
        gauge_calibration_record(
            gauge=gauge,
            calibrated_on=on.date(),
            certificate_number=f"CAL-{on:%y}-{gauge.name}",
            laboratory="Quayside calibration workshop (demo)",
            actor=actor,
            at=on,
        )
    return kit_put_together(
        vessel=vessel,
        name=data["name"],
        gauge=gauge,
        lever=lever_add(vessel=vessel, actor=actor, at=at, **figures(data["lever"])),
        jacks=[(jack_add(vessel=vessel, actor=actor, at=at, **figures(data["jack"])), None)],
        footing=footing_add(vessel=vessel, actor=actor, at=at, **figures(data["footing"])),
        actor=actor,
        at=at,
    )
