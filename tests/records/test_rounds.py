"""Rounds: opening, changing, closing; a yard's or a service's work comes with their report."""

import hashlib
from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile

from fleet.accounts.models import User
from fleet.core.models import AuditEntry
from fleet.gauges.models import Kit
from fleet.gauges.services import kit_change, kit_retire
from fleet.records import rounds
from fleet.records.models import Round, State
from fleet.records.rounds import round_change, round_close, round_open
from fleet.vessels.models import Vessel
from tests.cast import Cast
from tests.factories import (
    DrumTestFactory,
    GaugeFactory,
    JackFactory,
    KitFactory,
    LeverFactory,
    ReadingFactory,
    RoundFactory,
    UserFactory,
    VesselFactory,
)
from tests.records.scenario import filled_test

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 25, 9, tzinfo=UTC)
PDF = b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\ntrailer\n<<>>\n%%EOF\n"


@pytest.fixture
def vessel() -> Vessel:
    return VesselFactory()


@pytest.fixture
def kit(vessel: Vessel) -> Kit:
    return KitFactory(vessel=vessel)


@pytest.fixture
def actor() -> User:
    return UserFactory()


def given(vessel: Vessel, kit: Kit, actor: User, **changes: Any) -> dict[str, Any]:
    return {
        "vessel": vessel,
        "kind": "yearly",
        "started_on": date(2026, 11, 20),
        "kit": kit,
        "place": "at anchor, inner roads",
        "permit": "permit 26-114",
        "people": [{"name": "Ada Voss", "rank": "chief officer"}],
        "weather": "dry, wind force 2",
        "done_by": "crew",
        "actor": actor,
        "at": NOW,
        **changes,
    }


def refused(**arguments: Any) -> dict[str, list[str]]:
    with pytest.raises(ValidationError) as caught:
        round_open(**arguments)
    return caught.value.message_dict


def report(content: bytes = PDF, name: str = "report.pdf") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


def test_an_opened_round_keeps_what_its_drums_share_and_is_audited(vessel: Vessel, kit: Kit, actor: User) -> None:
    row = round_open(
        **given(
            vessel,
            kit,
            actor,
            people=[{"name": " Ada  Voss ", "rank": "chief officer"}, {"name": "", "rank": " "}],
            utc_offset_minutes=-210,
        )
    )
    row.refresh_from_db()
    assert (row.kit, row.closed_on, row.opened_by, row.utc_offset_minutes) == (kit, None, actor, -210)
    assert row.people == [{"name": "Ada Voss", "rank": "chief officer"}]
    entry = AuditEntry.objects.get()
    assert (entry.action, entry.actor_id, entry.vessel_id) == ("round opened", actor.pk, vessel.pk)
    assert entry.after["permit"] == "permit 26-114"


def test_one_round_of_a_kind_is_open_at_a_time(vessel: Vessel, kit: Kit, actor: User) -> None:
    first = round_open(**given(vessel, kit, actor))
    assert "2026" in refused(**given(vessel, kit, actor))["kind"][0]
    round_open(**given(vessel, kit, actor, kind="retest"))
    round_close(round=first, actor=actor, at=NOW)
    round_open(**given(vessel, kit, actor))
    assert Round.objects.open().count() == 2


@pytest.mark.parametrize("done_by", ["yard", "maker_service", "class_witnessed"])
def test_others_work_needs_their_name_and_their_report(vessel: Vessel, kit: Kit, actor: User, done_by: str) -> None:
    problems = refused(**given(vessel, kit, actor, done_by=done_by))
    assert problems == {"done_by_name": [str(rounds.NAME_NEEDED)], "report": [str(rounds.REPORT_NEEDED)]}
    row = round_open(**given(vessel, kit, actor, done_by=done_by, done_by_name="North Quay Yard", report=report()))
    row.refresh_from_db()
    assert row.report_sha256 == hashlib.sha256(PDF).hexdigest()
    with row.report.open() as stored:
        assert stored.read() == PDF
    assert row.report_name == "report.pdf"


def test_a_picture_of_the_report_is_made_anew_and_its_hash_is_of_what_is_kept(
    vessel: Vessel, kit: Kit, actor: User
) -> None:
    import io

    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (40, 30), "white").save(out, "PNG")
    row = round_open(
        **given(
            vessel, kit, actor, done_by="yard", done_by_name="Yard", report=report(out.getvalue(), "../a b/scan.PNG")
        )
    )
    with row.report.open() as stored:
        content = stored.read()
    assert content.startswith(b"\xff\xd8")
    assert row.report_sha256 == hashlib.sha256(content).hexdigest()
    assert row.report_name == "scan.jpg"
    assert str(row.pk) in row.report.name


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"MZ this is a program", "neither a PDF nor"),
        (b"%PDF-1.7\ncut short", "cut short"),
        (PDF + b"0" * 10_000_000, "10 MB"),
    ],
)
def test_a_report_is_judged_by_what_it_holds(vessel: Vessel, kit: Kit, actor: User, content: bytes, words: str) -> None:
    problems = refused(
        **given(vessel, kit, actor, done_by="yard", done_by_name="Yard", report=report(content, "report.pdf"))
    )
    assert words in problems["report"][0]
    assert not Round.objects.exists()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"people": []}, "people"),
        ({"people": [{"name": "Ada Voss", "rank": ""}]}, "people"),
        ({"started_on": date(2026, 11, 27)}, "started_on"),
        ({"place": "  "}, "place"),
        ({"permit": ""}, "permit"),
        ({"weather": ""}, "weather"),
        ({"kind": "weekly"}, "kind"),
        ({"done_by": "someone"}, "done_by"),
        ({"utc_offset_minutes": 900}, "utc_offset_minutes"),
    ],
)
def test_what_is_missing_or_impossible_is_said_beside_its_field(
    vessel: Vessel, kit: Kit, actor: User, changes: dict[str, Any], field: str
) -> None:
    assert field in refused(**given(vessel, kit, actor, **changes))
    assert not AuditEntry.objects.exists()


def test_only_the_vessels_own_kit_in_use_is_taken(vessel: Vessel, kit: Kit, actor: User) -> None:
    assert refused(**given(vessel, KitFactory(), actor)) == {"kit": [str(rounds.KIT_OF_ANOTHER_VESSEL)]}
    kit.retired_on = date(2026, 1, 1)
    assert refused(**given(vessel, kit, actor)) == {"kit": [str(rounds.KIT_OUT_OF_USE)]}


def test_a_change_says_what_was_and_what_is(vessel: Vessel, kit: Kit, actor: User) -> None:
    row = RoundFactory(vessel=vessel, kit=kit)
    round_change(round=row, weather="rain, wind force 5", actor=actor, at=NOW)
    entry = AuditEntry.objects.get()
    assert (entry.action, entry.before, entry.after) == (
        "round changed",
        {"weather": "dry, wind force 2"},
        {"weather": "rain, wind force 5"},
    )
    round_change(round=row, weather="rain, wind force 5", actor=actor, at=NOW)
    assert AuditEntry.objects.count() == 1


def test_the_kind_and_the_vessel_are_not_changed(vessel: Vessel, actor: User) -> None:
    with pytest.raises(TypeError):
        round_change(round=RoundFactory(vessel=vessel), kind="retest", actor=actor)


def test_the_kit_stays_once_readings_were_taken_with_it(vessel: Vessel, kit: Kit, actor: User) -> None:
    row = RoundFactory(vessel=vessel, kit=kit)
    other = KitFactory(vessel=vessel)
    round_change(round=row, kit=other, actor=actor, at=NOW)
    ReadingFactory(test=DrumTestFactory(round=row))
    with pytest.raises(ValidationError) as caught:
        round_change(round=row, kit=kit, actor=actor, at=NOW)
    assert other.name in caught.value.message_dict["kit"][0]
    row.refresh_from_db()
    assert row.kit == other


def test_a_report_once_attached_serves_until_another_comes(vessel: Vessel, kit: Kit, actor: User) -> None:
    row = round_open(**given(vessel, kit, actor, done_by="yard", done_by_name="Yard", report=report()))
    round_change(round=row, place="in dock", actor=actor, at=NOW)
    changed = round_change(round=row, report=report(PDF + b"\n%%EOF", "second.pdf"), actor=actor, at=NOW)
    assert changed.report_name == "second.pdf"
    assert changed.report_sha256 == hashlib.sha256(PDF + b"\n%%EOF").hexdigest()


def test_a_round_is_closed_once_and_then_left_alone(vessel: Vessel, actor: User) -> None:
    row = RoundFactory(vessel=vessel)
    assert round_close(round=row, actor=actor, at=NOW).closed_on == date(2026, 11, 25)
    round_close(round=row, actor=actor, at=datetime(2026, 12, 1, tzinfo=UTC))
    row.refresh_from_db()
    assert row.closed_on == date(2026, 11, 25)
    assert AuditEntry.objects.count() == 1
    with pytest.raises(ValidationError, match="closed"):
        round_change(round=row, weather="rain", actor=actor)


@pytest.mark.parametrize("state", [State.DRAFT, State.RETURNED])
def test_a_round_with_a_test_still_in_hand_stays_open(vessel: Vessel, actor: User, state: str) -> None:
    row = RoundFactory(vessel=vessel)
    test = DrumTestFactory(round=row, state=state)
    with pytest.raises(ValidationError) as caught:
        round_close(round=row, actor=actor)
    assert test.drum.name in caught.value.messages[0]
    row.refresh_from_db()
    assert row.closed_on is None


@pytest.mark.parametrize("part", ["gauge", "lever", "jacks"])
def test_a_kit_with_which_readings_were_taken_keeps_its_gauge_lever_and_jacks(cast: Cast, part: str) -> None:
    # Exchanged under a test in hand, or before an amendment, the record would name gear that was never there.
    kit = filled_test(cast).round.kit
    others: dict[str, Any] = {
        "gauge": GaugeFactory(vessel=cast.vessel),
        "lever": LeverFactory(vessel=cast.vessel),
        "jacks": [(JackFactory(vessel=cast.vessel), None)],
    }
    with pytest.raises(ValidationError, match="keeps its gauge"):
        kit_change(kit=kit, actor=cast.engineer, **{part: others[part]})
    assert kit_change(kit=kit, actor=cast.engineer, note="new hose").note == "new hose"


def test_a_round_whose_kit_was_taken_out_of_use_meanwhile_can_still_be_corrected(cast: Cast) -> None:
    round_ = filled_test(cast).round
    kit_retire(kit=round_.kit, retired_on=date(2026, 11, 24), reason="hose burst", actor=cast.engineer, at=NOW)
    assert round_change(round=round_, weather="rain from noon", actor=cast.officer, at=NOW).weather == "rain from noon"
