"""What a browser sends from each form, complete and right: its refusal is then a refusal of the person."""

import uuid
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from fleet.vessels.assumed import ASSUMED
from tests.access.world import Ship, World, answers_to, document, picture
from tests.factories import imo_number

Sent = dict[str, Any]
Sends = Callable[[World], Sent]
TODAY = date.today()
DECLARED = {"name": "Ada Voss", "rank": "chief officer"}


def fixed(**values: Any) -> Sends:
    """A form that names nothing of the fleet."""
    return lambda world: dict(values)


REASON = fixed(reason="a reason in words")
FLAG = fixed(word="watch it at the next test")
SENTENCE = fixed(sentence="measure the lining again")
END = fixed(until=(TODAY - timedelta(days=1)).isoformat())
RETIRE = fixed(retired_on=TODAY.isoformat(), reason="bent")
WINCH = fixed(name="Another winch", shared_shaft="on")
LEVER = fixed(name="L-9", arm="1,2", arm_unit="m", safe_load="20", safe_load_unit="tf")
FOOTING = fixed(name="Plate 9", allowed_load="25", allowed_load_unit="tf")
EVENT = fixed(kind="lining_renewed", happened_on="2026-03-02", note="lining renewed")
RETEST = fixed(due_on="2099-01-01", reason="mark looks shifted")
DECLARATION = fixed(**DECLARED)
GAUGE = fixed(
    name="PG-9", serial_number="A-9", unit="bar", full_scale="400", smallest_division="2", accuracy_class="1.6"
)
GAUGE_CHANGED = fixed(name="PG-9", serial_number="A-9", full_scale="250", smallest_division="1", accuracy_class="1.6")
JACK = fixed(
    **{
        "name": "J-9",
        "serial_number": "99",
        "bore": "95.25",
        "bore_unit": "mm",
        "stated_area": "71,26",
        "stated_area_unit": "cm2",
        "stated_area_document": "plate",
        "area_counts": "stated",
        "nominal_capacity": "50",
        "nominal_capacity_unit": "tf",
        "rated_pressure": "700",
        "rated_pressure_unit": "bar",
        "force-TOTAL_FORMS": "0",
        "force-INITIAL_FORMS": "0",
    }
)
POLICY = fixed(
    valid_from=TODAY.isoformat(),
    share="60",
    band_low="55",
    band_high="65",
    ceiling="65",
    interval_months="12",
    lining_retest_months="6",
    due_soon_days="45",
    verification_slips="2",
    calibration_months="12",
    lining_worn_share="40",
    worn_line_share="75",
    engineer_confirms="on",
    master_releases="on",
    tight_weight="2",
    decision_rule="guarded",
    **{f"assumed_{one.name}": one.text for one in ASSUMED},
    reason="two years without an early slip",
)


def calibration(world: World) -> Sent:
    return {
        "calibrated_on": "2026-03-01",
        "certificate_number": "C-9",
        "laboratory": "Quay workshop",
        "k": "2",
        "points-TOTAL_FORMS": "24",
        "points-INITIAL_FORMS": "0",
        "falling-TOTAL_FORMS": "24",
        "falling-INITIAL_FORMS": "0",
        "document": document(),
    }


def vessel(world: World) -> Sent:
    return {
        "company": world.cast.company.pk,
        "name": "Tern Passage",
        "imo_number": imo_number(90_001),
        "base_load": "637",
        "base_load_unit": "kN",
        "base_load_kind": "sdmbl",
        "base_load_document": "mooring plan, sheet 2",
        "in_fleet": "on",
    }


def vessel_changed(world: World) -> Sent:
    kept = {"imo_number": world.ours.vessel.imo_number, "reason": "renamed"}
    return {key: value for key, value in vessel(world).items() if key != "company"} | kept


def person(world: World) -> Sent:
    return {**role(world), "name": "Gus Ray", "rank": "second officer", "email": "gus@ship.example", "role": "officer"}


def role(world: World) -> Sent:
    return {"company": world.cast.company.pk, "role": "master", "vessels": [world.ours.vessel.pk]}


def access(world: World) -> Sent:
    """To the vessel that the person does not reach yet."""
    return {"membership": world.ours.membership.pk, "vessel": world.sisters.vessel.pk}


def drum(world: World) -> Sent:
    return {
        "winch": world.ours.winch.pk,
        "name": "Another drum",
        "number_on_winch": "12",
        "area": "aft",
        "side": "port",
        "order": "1",
        "kind": "split",
        "brake_kind": "band",
        "setting_kind": "marker_distance",
        "tighter_is": "shorter",
        "mark_from": "stop plate",
        "mark_to": "spindle nut",
        "line_off": "top",
        "lead": "right",
        "mark_picture": picture(),
    }


def particulars(world: World) -> Sent:
    given = {
        "valid_from": "2026-01-01",
        "reason": "measured at the berth",
        "target_basis": "geometry",
        "line_material": "wire",
        "lining_held": "bonded",
        "table-TOTAL_FORMS": "24",
        "table-INITIAL_FORMS": "0",
    }
    for name, text in (("drum_diameter", "610"), ("line_diameter", "36"), ("flange_diameter", "1100")):
        given |= {name: text, f"{name}_unit": "mm", f"{name}_origin": "drawing", f"{name}_document": "W-1"}
    return given


def kit(world: World) -> Sent:
    ours = world.ours
    return {
        "name": "Another kit",
        "gauge": ours.gauge.pk,
        "lever": ours.lever.pk,
        "footing": ours.footing.pk,
        "first_jack": ours.jack.pk,
    }


def round_new(world: World) -> Sent:
    return {**round_changed(world), "kind": "retest"}


def round_changed(world: World) -> Sent:
    return {
        "started_on": "2026-11-20",
        "utc_offset_minutes": "0",
        "kit": world.ours.kit.pk,
        "place": "at anchor",
        "permit": "permit 26-115",
        "people": "Ada Voss, chief officer",
        "weather": "dry",
        "done_by": "crew",
    }


def test_begun(world: World) -> Sent:
    return {"test_id": str(uuid.uuid4()), "round": world.ours.round.pk}


def a_reading(world: World) -> Sent:
    return {
        "reading_id": str(uuid.uuid4()),
        "phase": "adjusting",
        "mark_text": "50",
        "gauge_text": "170",
        "result": "slipped",
    }


def a_photo(world: World) -> Sent:
    return {"photo": picture(), "photo_kind": "lining", "photo_caption": "port side"}


def round_sent(world: World) -> Sent:
    return {**DECLARED, "test": [world.ours.test_ready.pk]}


def approval(world: World) -> Sent:
    answers = answers_to(world.ours.submission_submitted)
    return {"sentence": "", **{f"answer_{code}": words for code, words in answers.items()}}


def swapped(sent: Sent, ours: Ship, other: Ship) -> list[tuple[str, Sent]]:
    """The form once for each field that names one of our things, with the other ship's in its place."""
    names = {str(thing.pk): name for name, thing in [*ours.things.items(), ("vessel", ours.vessel)]}
    names[str(ours.vessel.company_id)] = "company"
    theirs = {**other.things, "vessel": other.vessel, "company": other.vessel.company}
    found = []
    for field, value in sent.items():
        many = isinstance(value, list)
        name = names.get(str(value[0] if many else value))
        if name is not None:
            key = theirs[name].pk
            found.append((field, {**sent, field: [key] if many else key}))
    return found


def second_factor(world: World) -> Sent:
    return {"company": world.cast.company.pk, "roles": ["administrator", "superintendent"]}
