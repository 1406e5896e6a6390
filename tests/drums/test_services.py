"""What the services of winches, drums and their papers keep, and what they refuse."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from fleet.core.models import AuditEntry
from fleet.core.typed import Typed
from fleet.drums import checks
from fleet.drums.figures import Figure, setting_typed
from fleet.drums.models import (
    SETTING_UNITS,
    BrakeEvent,
    BrakeKind,
    Drum,
    DrumParticulars,
    EventKind,
    RetestOrder,
    SettingKind,
    TargetBasis,
    Winch,
)
from fleet.drums.services import (
    brake_event_report,
    drum_add,
    drum_change,
    drum_particulars_record,
    drum_remove,
    retest_order_give,
    retest_order_take_back,
    winch_add,
    winch_change,
)
from fleet.drums.services import drums as drum_words
from fleet.drums.services import events as event_words
from fleet.drums.services import retests as retest_words
from fleet.drums.services.winches import WINCH_NAME_TAKEN
from tests.cast import Cast
from tests.factories import DrumFactory, DrumParticularsFactory, WinchFactory

pytestmark = pytest.mark.django_db
AT = datetime(2026, 5, 4, 10, 30, tzinfo=UTC)
IDENTITY: dict[str, Any] = {
    "name": "Forward spring, inner",
    "number_on_winch": 1,
    "area": "main_aft",
    "side": "starboard",
    "order": 3,
    "kind": "split",
    "mark_from": "machined edge of the stop plate",
    "mark_to": "end face of the spindle nut",
}


def figure(text: str, unit: str, origin: str = "drawing", document: str = "drawing W-1") -> Figure:
    return Figure(Typed.read(text, unit), origin, document)


def figures(**changed: Figure | None) -> dict[str, Figure]:
    """A consistent drum, with figures changed or (None) left out."""
    good: dict[str, Figure | None] = {
        "drum_diameter": figure("610", "mm"),
        "line_diameter": figure("36", "mm", "certificate", "line certificate"),
        "flange_diameter": figure("1100", "mm"),
        "lining_new": figure("12", "mm", "maker", "manual"),
        "lining_minimum": figure("7", "mm", "maker", "manual"),
        "mark_least": figure("10", "mm", "maker", "manual"),
        "mark_most": figure("120", "mm", "maker", "manual"),
    }
    return {name: value for name, value in {**good, **changed}.items() if value is not None}


def record(drum: Drum, cast: Cast, **changed: Any) -> DrumParticulars:
    given: dict[str, Any] = {
        "drum": drum,
        "valid_from": date(2026, 1, 1),
        "figures": figures(),
        "line_material": "wire",
        "reason": "first entry from the drawings",
        "actor": cast.officer,
    }
    return drum_particulars_record(**{**given, **changed})


def refused(caught: pytest.ExceptionInfo[ValidationError]) -> dict[str, list[str]]:
    """Field → the codes of its refusals."""
    return {name: [str(error.code) for error in errors] for name, errors in caught.value.error_dict.items()}


@pytest.fixture
def drum(cast: Cast) -> Drum:
    made: Drum = DrumFactory(winch__vessel=cast.vessel)
    return made


# --- winches and drums


def test_a_winch_is_added_and_the_entry_names_who_and_what(cast: Cast) -> None:
    winch = winch_add(vessel=cast.vessel, name=" Forward winch ", shared_shaft=True, note="", actor=cast.officer, at=AT)
    entry = AuditEntry.objects.get()
    assert winch.name == "Forward winch"
    assert (entry.action, entry.at, entry.actor_id, entry.vessel_id, entry.company_id) == (
        "winch added", AT, cast.officer.pk, cast.vessel.pk, cast.company.pk,
    )  # fmt: skip
    assert entry.before is None
    assert entry.after is not None
    assert entry.after["name"] == "Forward winch"


def test_a_change_is_audited_with_what_was_and_what_is_and_nothing_else(cast: Cast) -> None:
    winch = WinchFactory(vessel=cast.vessel, name="Winch A", note="")
    winch_change(winch=winch, name="Winch A", note="new foundation bolts", actor=cast.officer)
    entry = AuditEntry.objects.get()
    assert (entry.before, entry.after) == ({"note": ""}, {"note": "new foundation bolts"})


def test_a_change_that_changes_nothing_writes_no_entry(cast: Cast) -> None:
    winch = WinchFactory(vessel=cast.vessel, name="Winch A")
    winch_change(winch=winch, name="Winch A", actor=cast.officer)
    assert not AuditEntry.objects.exists()


def test_two_winches_of_a_vessel_never_share_a_name(cast: Cast) -> None:
    WinchFactory(vessel=cast.vessel, name="Winch A")
    with pytest.raises(ValidationError) as caught:
        winch_add(vessel=cast.vessel, name="winch a", actor=cast.officer)
    assert caught.value.message_dict == {"name": [WINCH_NAME_TAKEN]}
    assert winch_add(vessel=cast.sister, name="Winch A", actor=cast.superintendent).vessel == cast.sister


def test_a_field_the_service_does_not_write_is_an_error_of_the_caller(cast: Cast) -> None:
    with pytest.raises(TypeError, match="vessel_id"):
        winch_change(winch=WinchFactory(vessel=cast.vessel), vessel_id=cast.sister.pk, actor=cast.officer)


def test_a_drum_gets_its_place_in_the_walk_from_forward_to_aft(cast: Cast) -> None:
    winch = WinchFactory(vessel=cast.vessel)
    aft = drum_add(winch=winch, actor=cast.officer, **{**IDENTITY, "area": "aft", "name": "A", "order": 1})
    fore = drum_add(
        winch=winch, actor=cast.officer, **{**IDENTITY, "area": "forecastle", "name": "B", "number_on_winch": 2}
    )
    assert list(Drum.objects.fitted()) == [fore, aft]
    moved = drum_change(drum=aft, area="forecastle", order=1, actor=cast.officer)
    assert moved.area_order == fore.area_order


@pytest.mark.parametrize("brake_kind", BrakeKind.values)
@pytest.mark.parametrize("setting_kind", SettingKind.values)
def test_every_kind_of_brake_and_setting_can_be_registered_with_its_limits(
    cast: Cast, brake_kind: str, setting_kind: str
) -> None:
    winch = WinchFactory(vessel=cast.vessel)
    drum = drum_add(winch=winch, brake_kind=brake_kind, setting_kind=setting_kind, actor=cast.officer, **IDENTITY)
    unit = SETTING_UNITS[setting_kind][0]
    limits = {
        name: Figure(setting_typed(text, unit), "maker", "manual")
        for name, text in (("mark_least", "12"), ("mark_most", "90"))
    }
    row = record(drum, cast, figures=figures(**limits))
    stored = DrumParticulars.objects.get(pk=row.pk).figure("mark_most")
    assert stored is not None
    assert (stored.typed.text, stored.typed.unit) == ("90", unit)


def test_a_name_in_use_or_a_number_on_the_winch_is_given_once(cast: Cast, drum: Drum) -> None:
    with pytest.raises(ValidationError) as caught:
        drum_add(winch=drum.winch, actor=cast.officer, **{**IDENTITY, "name": drum.name})
    assert caught.value.message_dict == {
        "name": [drum_words.DRUM_NAME_TAKEN],
        "number_on_winch": [drum_words.NUMBER_TAKEN],
    }


def test_a_drum_never_moves_to_another_vessel(cast: Cast, drum: Drum) -> None:
    with pytest.raises(ValidationError) as caught:
        drum_change(drum=drum, winch=WinchFactory(vessel=cast.sister), actor=cast.officer)
    assert refused(caught) == {"winch": ["vessel"]}
    drum.refresh_from_db()
    assert drum.vessel == cast.vessel


def test_the_kind_of_setting_stays_while_limits_in_the_old_kind_are_in_force(cast: Cast, drum: Drum) -> None:
    record(drum, cast)
    with pytest.raises(ValidationError) as caught:
        drum_change(drum=drum, setting_kind=SettingKind.SPINDLE_TORQUE, actor=cast.officer)
    assert refused(caught) == {"setting_kind": ["in_force"]}
    record(drum, cast, figures=figures(mark_least=None, mark_most=None), valid_from=date(2026, 2, 1))
    changed = drum_change(drum=drum, setting_kind=SettingKind.SPINDLE_TORQUE, actor=cast.officer)
    assert changed.setting_kind == SettingKind.SPINDLE_TORQUE


def test_a_removed_drum_leaves_the_deck_and_keeps_its_papers(cast: Cast, drum: Drum) -> None:
    row = record(drum, cast)
    drum_remove(drum=drum, removed_on=date(2026, 5, 1), reason="winch landed", actor=cast.superintendent, at=AT)
    assert not Drum.objects.fitted().filter(pk=drum.pk).exists()
    assert DrumParticulars.objects.filter(pk=row.pk).exists()
    with pytest.raises(ValidationError):
        drum_remove(drum=drum, removed_on=date(2026, 5, 1), reason="again", actor=cast.superintendent)


def test_a_drum_cannot_be_removed_tomorrow_or_without_a_reason(cast: Cast, drum: Drum) -> None:
    for changed, field in ((date(2026, 5, 5), "removed_on"), (date(2026, 5, 4), "reason")):
        with pytest.raises(ValidationError) as caught:
            drum_remove(
                drum=drum,
                removed_on=changed,
                reason="landed" if field == "removed_on" else " ",
                actor=cast.superintendent,
                at=AT,
            )
        assert list(refused(caught)) == [field]


# --- particulars


def test_particulars_keep_what_was_typed_beside_the_si_value(cast: Cast, drum: Drum) -> None:
    row = record(drum, cast, figures=figures(line_diameter=figure("3,6", "cm", "measured", "")), at=AT)
    stored = DrumParticulars.objects.get(pk=row.pk)
    line = stored.figure("line_diameter")
    assert line is not None
    assert (line.typed.text, line.typed.unit, line.origin) == ("3,6", "cm", "measured")
    assert line.typed.si == pytest.approx(0.036, rel=1e-12)
    assert (stored.author, stored.created_at, stored.reference_layer) == (cast.officer, AT, 1)


def test_new_particulars_follow_the_old_and_never_change_them(cast: Cast, drum: Drum) -> None:
    first = record(drum, cast)
    before = DrumParticulars.objects.filter(pk=first.pk).values().get()
    second = record(drum, cast, figures=figures(drum_diameter=figure("612", "mm", "measured", "")), reason="measured")
    assert second.pk != first.pk
    assert DrumParticulars.objects.filter(pk=first.pk).values().get() == before
    assert DrumParticulars.objects.in_force(drum, date(2026, 6, 1)) == second
    assert AuditEntry.objects.filter(action="drum particulars recorded").count() == 2


def test_the_same_particulars_sent_twice_are_recorded_once(cast: Cast, drum: Drum) -> None:
    assert record(drum, cast).pk == record(drum, cast).pk
    assert DrumParticulars.objects.count() == 1
    assert AuditEntry.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "field", "code"),
    [
        ({"drum_diameter": figure("1600", "mm")}, "drum_diameter", "hard_range"),
        ({"drum_diameter": figure("610", "cm")}, "drum_diameter", "hard_range"),
        ({"drum_diameter": None}, "drum_diameter", "required"),
        ({"line_diameter": None}, "line_diameter", "required"),
        ({"line_diameter": figure("7", "mm")}, "line_diameter", "hard_range"),
        ({"line_diameter": figure("36", "kN")}, "line_diameter", "unit"),
        ({"lever_arm": figure("200", "mm")}, "lever_arm", "hard_range"),
        ({"lining_new": figure("41", "mm")}, "lining_new", "hard_range"),
        ({"lining_minimum": figure("12", "mm")}, "lining_minimum", "order"),
        ({"mark_most": figure("10", "mm")}, "mark_most", "order"),
        ({"mark_most": figure("501", "mm")}, "mark_most", "hard_range"),
        ({"mark_least": figure("-1", "mm")}, "mark_least", "hard_range"),
        ({"flange_diameter": figure("610", "mm")}, "flange_diameter", "order"),
        ({"flange_diameter": figure("0", "mm")}, "flange_diameter", "above_zero"),
        ({"line_mbl": figure("66", "tf", "certificate", "")}, "line_mbl", "document"),
        ({"line_mbl": figure("20", "kN")}, "line_mbl", "hard_range"),
        ({"line_residual": figure("110", "percent")}, "line_residual", "hard_range"),
        ({"line_residual": figure("0", "percent")}, "line_residual", "above_zero"),
        ({"line_mbl": figure("660", "kN", "hearsay")}, "line_mbl", "origin"),
        ({"colour": figure("36", "mm")}, "colour", "unknown"),
    ],
)
def test_an_impossible_figure_is_refused_beside_its_name(
    cast: Cast, drum: Drum, changed: dict[str, Figure | None], field: str, code: str
) -> None:
    with pytest.raises(ValidationError) as caught:
        record(drum, cast, figures=figures(**changed))
    assert refused(caught).get(field) == [code]
    assert not DrumParticulars.objects.exists()


def test_a_line_as_thick_as_its_drum_is_refused(cast: Cast, drum: Drum) -> None:
    with pytest.raises(ValidationError) as caught:
        record(drum, cast, figures={"drum_diameter": figure("160", "mm"), "line_diameter": figure("0.125", "m")})
    # 160 mm over 125 mm lies outside the possible ratio of barrel to line: exchanged, or in another unit
    assert refused(caught) == {"drum_diameter": ["hard_range"]}


@pytest.mark.parametrize(
    ("changed", "field", "code"),
    [
        ({"drum_diameter": figure("305", "mm"), "flange_diameter": figure("1100", "mm")}, "drum_diameter", "radius"),
        ({"drum_diameter": figure("1099", "mm")}, "drum_diameter", "barrel_reaches_flange"),
        ({"drum_diameter": figure("1100", "mm"), "flange_diameter": None}, "drum_diameter", "flange_for_barrel"),
        ({"lever_arm": figure("520", "mm")}, "lever_arm", "lever_arm_inside_flange"),
    ],
)
def test_a_figure_from_the_wrong_place_is_asked_about(
    cast: Cast, drum: Drum, changed: dict[str, Figure | None], field: str, code: str
) -> None:
    with pytest.raises(ValidationError) as caught:
        record(drum, cast, figures=figures(**changed))
    assert code in refused(caught)[field][0]


def test_a_figure_asked_about_passes_once_somebody_says_it_was_checked(cast: Cast, drum: Drum) -> None:
    odd = figures(lever_arm=figure("520", "mm"))
    with pytest.raises(ValidationError) as caught:
        record(drum, cast, figures=odd)
    codes = {code.removeprefix("ask:") for codes in refused(caught).values() for code in codes}
    row = record(drum, cast, figures=odd, checked=codes)
    assert row.si("lever_arm") == pytest.approx(0.52)
    entry = AuditEntry.objects.get()
    assert entry.after is not None
    assert entry.after["checked"] == sorted(codes)


def test_what_stops_cannot_be_ticked_away(cast: Cast, drum: Drum) -> None:
    wrong = figures(drum_diameter=figure("1099", "mm"))
    with pytest.raises(ValidationError) as caught:
        record(drum, cast, figures=wrong, checked={"barrel_reaches_flange", "unusual_drum_diameter"})
    assert refused(caught)["drum_diameter"] == ["stop:barrel_reaches_flange"]


def test_sister_drums_on_the_vessel_are_compared(cast: Cast, drum: Drum) -> None:
    for _count in range(3):
        DrumParticularsFactory(drum__winch__vessel=cast.vessel)
    with pytest.raises(ValidationError) as caught:
        record(drum, cast, figures=figures(line_diameter=figure("113", "mm"), drum_diameter=figure("900", "mm")))
    assert "ask:circumference_for_diameter" in refused(caught)["line_diameter"]


def test_an_undivided_drum_must_have_its_layer_named_and_a_split_one_has_the_first(cast: Cast) -> None:
    undivided = DrumFactory(winch__vessel=cast.vessel, kind="undivided")
    with pytest.raises(ValidationError) as caught:
        record(undivided, cast)
    assert caught.value.message_dict == {"reference_layer": [checks.NAME_THE_LAYER]}
    assert record(undivided, cast, reference_layer=3).reference_layer == 3
    with pytest.raises(ValidationError) as caught:
        record(DrumFactory(winch__vessel=cast.vessel), cast, reference_layer=2)
    assert caught.value.message_dict == {"reference_layer": [checks.SPLIT_IS_LAYER_ONE]}


def test_an_undivided_drum_set_for_its_first_layer_is_asked_about(cast: Cast) -> None:
    undivided = DrumFactory(winch__vessel=cast.vessel, kind="undivided")
    with pytest.raises(ValidationError) as caught:
        record(undivided, cast, reference_layer=1)
    assert refused(caught) == {"reference_layer": ["ask:undivided_first_layer"]}


def table(*rows: tuple[str, str]) -> list[tuple[Typed, Typed]]:
    return [(Typed.read(pressure, "bar"), Typed.read(load, "kN")) for pressure, load in rows]


MAKERS: dict[str, Any] = {
    "target_basis": TargetBasis.MAKERS_TABLE,
    "maker_table": table(("50", "110"), ("150", "331"), ("250", "552")),
    "maker_table_jack": "HC-5512",
    "maker_table_document": "brake test manual, sheet 4",
    "figures": {},
}


def test_a_maker_s_table_does_without_the_drum_s_measures(cast: Cast, drum: Drum) -> None:
    row = record(drum, cast, **MAKERS)
    assert row.maker_table[1]["pressure"] == {"text": "150", "unit": "bar", "si": 15_000_000.0}
    assert row.maker_table[1]["load"]["text"] == "331"


@pytest.mark.parametrize(
    ("changed", "field", "code"),
    [
        ({"maker_table": table(("50", "110"))}, "maker_table", "required"),
        ({"maker_table": table(("50", "110"), ("150", "110"))}, "maker_table", "rising"),
        ({"maker_table": table(("150", "110"), ("50", "331"))}, "maker_table", "rising"),
        ({"maker_table": table(("-1", "0"), ("50", "331"))}, "maker_table", "table"),
        ({"maker_table_jack": " "}, "maker_table_jack", "required"),
        ({"maker_table_document": ""}, "maker_table_document", "required"),
        ({"target_basis": TargetBasis.GEOMETRY, "figures": figures()}, "maker_table", "table"),
    ],
)
def test_a_maker_s_table_must_rise_and_belong_to_a_jack(
    cast: Cast, drum: Drum, changed: dict[str, Any], field: str, code: str
) -> None:
    with pytest.raises(ValidationError) as caught:
        record(drum, cast, **{**MAKERS, **changed})
    assert refused(caught) == {field: [code]}


def test_particulars_need_a_reason_and_a_day_not_far_ahead(cast: Cast, drum: Drum) -> None:
    with pytest.raises(ValidationError) as caught:
        record(drum, cast, reason="  ", valid_from=date(2062, 1, 1))
    assert refused(caught) == {"reason": ["required"], "valid_from": ["ahead"]}


# --- events and orders


def test_a_slip_is_reported_with_berth_and_wind(cast: Cast, drum: Drum) -> None:
    with pytest.raises(ValidationError) as caught:
        brake_event_report(drum=drum, happened_on=date(2026, 4, 2), kind=EventKind.UNINTENDED_SLIP, actor=cast.officer)
    assert caught.value.message_dict == {"berth": [event_words.BERTH_NEEDED], "wind": [event_words.WIND_NEEDED]}
    event = brake_event_report(
        drum=drum,
        happened_on=date(2026, 4, 2),
        kind=EventKind.UNINTENDED_SLIP,
        berth="outer jetty",
        wind="force 8 off the jetty, swell 1 m",
        actor=cast.officer,
        at=AT,
    )
    assert (event.created_at, event.author) == (AT, cast.officer)
    assert AuditEntry.objects.get().action == "brake event reported"


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"kind": EventKind.MOORINGS}, "moorings_made"),
        ({"kind": EventKind.MOORINGS, "moorings_made": 0}, "moorings_made"),
        ({"kind": EventKind.LAID_UP, "moorings_made": 3}, "moorings_made"),
        ({"kind": EventKind.LINING_RENEWED}, "note"),
        ({"kind": EventKind.WRONG_MARK}, "note"),
        ({"kind": EventKind.LAID_UP, "happened_on": date(2026, 5, 5)}, "happened_on"),
        ({"kind": "earthquake"}, "kind"),
    ],
)
def test_an_event_without_what_makes_it_useful_is_refused(
    cast: Cast, drum: Drum, given: dict[str, Any], field: str
) -> None:
    with pytest.raises(ValidationError) as caught:
        brake_event_report(**{"drum": drum, "happened_on": date(2026, 4, 2), "actor": cast.officer, "at": AT, **given})
    assert list(caught.value.message_dict) == [field]
    assert not BrakeEvent.objects.exists()


def test_the_same_event_sent_twice_is_recorded_once(cast: Cast, drum: Drum) -> None:
    for _time in range(2):
        brake_event_report(
            drum=drum,
            happened_on=date(2026, 4, 2),
            kind=EventKind.LINING_RENEWED,
            note="new lining fitted",
            actor=cast.engineer,
        )
    assert BrakeEvent.objects.count() == 1


def test_a_retest_is_ordered_and_taken_back_with_reasons(cast: Cast, drum: Drum) -> None:
    order = retest_order_give(
        drum=drum, due_on=date(2026, 6, 1), reason="mark looks shifted", actor=cast.superintendent, at=AT
    )
    taken = retest_order_take_back(order=order, reason="older photo, mark is right", actor=cast.superintendent, at=AT)
    assert (taken.taken_back_at, taken.taken_back_reason) == (AT, "older photo, mark is right")
    assert [entry.action for entry in AuditEntry.objects.all()] == ["retest ordered", "retest order taken back"]
    with pytest.raises(ValidationError) as caught:
        retest_order_take_back(order=order, reason="again", actor=cast.superintendent)
    assert caught.value.messages == [retest_words.ALREADY_TAKEN_BACK]


def test_an_order_needs_a_day_ahead_a_reason_and_a_drum_aboard(cast: Cast, drum: Drum) -> None:
    with pytest.raises(ValidationError) as caught:
        retest_order_give(drum=drum, due_on=date(2026, 5, 3), reason=" ", actor=cast.superintendent, at=AT)
    assert refused(caught) == {"due_on": ["past"], "reason": ["required"]}
    drum_remove(drum=drum, removed_on=date(2026, 5, 1), reason="landed", actor=cast.superintendent, at=AT)
    with pytest.raises(ValidationError) as caught:
        retest_order_give(drum=drum, due_on=date(2026, 6, 1), reason="why", actor=cast.superintendent, at=AT)
    assert caught.value.messages == [retest_words.DRUM_REMOVED]
    assert not RetestOrder.objects.exists()


def test_a_refused_change_leaves_no_row_and_no_entry(cast: Cast) -> None:
    WinchFactory(vessel=cast.vessel, name="Winch A")
    with pytest.raises(ValidationError):
        winch_add(vessel=cast.vessel, name="", actor=cast.officer)
    assert Winch.objects.count() == 1
    assert not AuditEntry.objects.exists()
