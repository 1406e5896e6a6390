"""Prepare: every figure with its origin, the working, the limits and the gauge of one drum, on one page."""

import json
import re
from datetime import date
from html import unescape
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.accounts.models import Role
from fleet.calculation import units
from fleet.calculation.compute import compute_json
from fleet.core.typed import Typed
from fleet.drums.models import Drum, DrumParticulars
from fleet.gauges.models import GaugeCalibration, Kit
from fleet.records.models import Round
from tests.cast import Cast
from tests.factories import (
    BrakeEventFactory,
    DrumFactory,
    DrumParticularsFactory,
    GaugeFactory,
    JackFactory,
    KitFactory,
    WinchFactory,
    figure,
)
from tests.records.sent import send
from tests.records.ship import Ship, make_ship, on_basis

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]
READERS = sorted(set(Role.values) - {Role.AUDITOR})
BASES = ["geometry", "makers_table", "force_calibrated_jack", "load_cell"]


@pytest.fixture
def ship(cast: Cast) -> Ship:
    return make_ship(cast.vessel)


@pytest.fixture
def officer(client: Client, cast: Cast) -> Client:
    client.force_login(cast.officer)
    return client


def words(content: bytes) -> str:
    """What a reader sees, with single spaces."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", content.decode())))


def look(client: Client, drum: Drum, kit: Kit | None = None) -> str:
    answer = client.get(f"/drums/{drum.pk}/prepare/", {"kit": str(kit.pk)} if kit else {})
    assert answer.status_code == 200
    return words(answer.content)


@pytest.mark.parametrize("role", READERS)
def test_whoever_works_with_the_vessel_prepares(client: Client, cast: Cast, ship: Ship, role: str) -> None:
    client.force_login(cast.people[role])
    assert "STOP at 187 bar" in look(client, ship.drums[0])


@pytest.mark.parametrize("page", ["prepare/", "worksheet.pdf"])
def test_an_auditor_is_refused_and_an_outsider_finds_nothing(client: Client, cast: Cast, ship: Ship, page: str) -> None:
    address = f"/drums/{ship.drums[0].pk}/{page}"
    assert client.get(address).status_code == 302
    client.force_login(cast.auditor)
    assert client.get(address).status_code == 403
    for outsider in (cast.sister_officer, cast.nobody, *cast.foreign.values()):
        client.force_login(outsider)
        assert client.get(address).status_code == 404


def test_another_vessels_kit_is_not_found(officer: Client, cast: Cast, ship: Ship) -> None:
    foreign = KitFactory(vessel=cast.foreign_vessel)
    sister = KitFactory(vessel=cast.sister)
    for kit in (foreign.pk, sister.pk, "nonsense"):
        assert officer.get(f"/drums/{ship.drums[0].pk}/prepare/", {"kit": kit}).status_code == 404


def test_the_figures_are_those_of_compute_to_the_last_shown_digit(officer: Client, ship: Ship) -> None:
    # Constructed case C4: 637 kN, 60 %, drum 610 mm, line 36 mm, arm 1000 mm, 71.26 cm²; right answer 173.24 bar.
    asked = {
        "sdmbl": {"value": 637, "unit": "kN"},
        "share": 0.6,
        "lever_arm": {"value": 1000, "unit": "mm"},
        "piston_area": {"value": 71.26, "unit": "cm2"},
        "drum_diameter": {"value": 610, "unit": "mm"},
        "line_diameter": {"value": 36, "unit": "mm"},
        "gauge_unit": "bar",
        "gauge_reading": {"value": 173, "unit": "bar"},
    }
    answer, code = compute_json(json.dumps(asked))
    assert code == 0
    text = look(officer, ship.drums[0])
    target = units.shown(answer["target_reading"]["value"], 1)
    assert target == "173.2"
    assert f"Target reading, exact {target} bar" in text
    assert f"target reading = {target} bar" in text
    load = answer["brake_rendering_load"]
    assert f"{units.shown(load['kN'], 1)} kN" in text
    assert f"{units.shown(load['tf'], 2)} t (tonne-force)" in text
    at_mark = answer["load_at_reading"]
    assert (
        f"Nearest mark on this gauge 173 bar {units.shown(at_mark['kN'], 1)} kN, "
        f"{units.shown(at_mark['share_of_sdmbl'] * 100, 1)} % of SDMBL" in text
    )
    assert f"{units.shown(answer['moment_radius_mm'], 1)} mm" in text
    assert f"Force of the jacks on the deck {units.shown(answer['deck_reaction_kN'], 1)} kN" in text


def test_every_figure_stands_as_typed_with_origin_and_document(officer: Client, ship: Ship) -> None:
    row = ship.drums[0].particulars.get()
    row.figures["drum_diameter"] = figure("61,0", "cm", "measured", "")
    row.figures["line_diameter"] = figure("36", "mm", "certificate", "line certificate 77")
    DrumParticulars.objects.filter(pk=row.pk).update(figures=row.figures)
    text = look(officer, ship.drums[0])
    for said in (
        "Drum diameter (bare barrel) 61,0 cm measured aboard",
        "Line diameter 36 mm certificate: line certificate 77",
        "Ship design MBL 637 kN towing and mooring arrangements plan, sheet 2",
        "effective piston area 71.26 cm² stated by the maker: jack certificate",
        "Acceptance band 55–65 % operator's setting, not from a standard",
        "common practice; the operator has set no policy",
        "stamped arm 1000 mm safe load 200 kN",
        "from machined edge of the stop plate to end face of the spindle nut",
    ):
        assert said in text, said


def test_the_working_goes_line_by_line(officer: Client, ship: Ship) -> None:
    text = look(officer, ship.drums[0])
    places = [
        text.index(words)
        for words in (
            "brake rendering load =",
            "distance from drum centre to line = 323.0 mm",
            "moment at the drum =",
            "force of all jacks =",
            "target reading = 173.2 bar",
        )
    ]
    assert places == sorted(places)


def test_stop_names_its_limit_and_all_the_others(officer: Client, ship: Ship) -> None:
    text = look(officer, ship.drums[0])
    # 75 % of a 250 bar gauge is 187.5 bar, just below the ceiling of 65 %: 173.24 × 65/60 = 187.68 bar.
    assert "STOP at 187 bar Set by the usable part of the gauge, 75 % of full scale: " in text
    assert "187.5 bar is the limit; STOP is the division mark below it." in text
    for said in (
        "the operator's ceiling 187.7 bar",
        "80 % of the base load, the brake's design holding load 231.0 bar",
        "80 % of the jack's rated pressure 560.0 bar",
        "the lever's safe load 280.7 bar",
        "the load allowed on the footing 350.8 bar",
        "the end of the gauge's scale 250.0 bar",
    ):
        assert said in text, said


def test_a_limit_on_a_division_mark_is_stop_itself(officer: Client, cast: Cast, ship: Ship) -> None:
    # 75 % of a 240 bar gauge is 180 bar: a mark of its own.
    dial = GaugeFactory(vessel=cast.vessel, full_scale=Typed.read("240", "bar"))
    text = look(officer, ship.drums[0], KitFactory(vessel=cast.vessel, gauge=dial))
    assert "STOP at 180 bar" in text
    assert "180.0 bar is the limit, and a division mark: it is STOP." in text
    assert "below it" not in text


def test_a_limit_that_nobody_gave_is_said_to_take_no_part(officer: Client, ship: Ship) -> None:
    ship.kit.lever.safe_load = None
    ship.kit.lever.save()
    assert "the lever's safe load not recorded, takes no part –" in look(officer, ship.drums[0])


def test_the_ladder_ends_at_stop_and_marks_the_band(officer: Client, ship: Ship) -> None:
    answer = officer.get(f"/drums/{ship.drums[0].pk}/prepare/").content.decode()
    assert re.search(
        r">185</td>\s*<td[^>]*>408\.1</td>\s*<td[^>]*>41\.62</td>\s*<td[^>]*>64\.1</td>\s*<td>band", answer
    )
    assert re.search(
        r">155</td>\s*<td[^>]*>342\.0</td>\s*<td[^>]*>34\.87</td>\s*<td[^>]*>53\.7</td>\s*<td></td>", answer
    )
    assert ">190</td>" not in answer


def test_forces_stand_against_what_each_part_may_carry(officer: Client, ship: Ship) -> None:
    text = look(officer, ship.drums[0])
    assert "against its safe load 61.7 % of it at the target 123.5 kN 133.6 kN 200 kN" in text
    assert "against the load allowed there 49.4 % of it at the target 123.5 kN 133.6 kN 250 kN" in text
    ship.kit.footing.allowed_load = Typed.read("100", "kN")
    ship.kit.footing.save()
    text = look(officer, ship.drums[0])
    assert "above the limit: 123.5 % of it" in text
    assert "Do not test with this kit: STOP at 140.3 bar (the load allowed on the footing)" in text


@pytest.mark.parametrize(
    ("calibrated_on", "valid_until", "said"),
    [
        (date(2026, 6, 1), None, "in date until 1 Jun 2027."),
        (date(2025, 11, 25), None, "in date until 25 Nov 2026."),
        (date(2025, 11, 24), None, "Out of date since 24 Nov 2026:"),
        (date(2026, 6, 1), date(2026, 9, 1), "Out of date since 1 Sep 2026:"),
        (date(2024, 6, 1), date(2026, 12, 1), "in date until 1 Dec 2026."),
        (date(2026, 12, 1), None, "No calibration is recorded for this day"),
    ],
)
def test_the_gauges_calibration_is_judged_on_the_day(
    officer: Client, ship: Ship, calibrated_on: date, valid_until: date | None, said: str
) -> None:
    GaugeCalibration.objects.update(calibrated_on=calibrated_on, valid_until=valid_until)
    text = look(officer, ship.drums[0])
    assert said in text
    assert ("has no calibration in date: have it calibrated" in text) == (not said.startswith("in date"))


@pytest.mark.parametrize(
    ("scale", "division", "accuracy", "place", "error"),
    [
        # facts of the trade: at 173 bar a 0–250 bar class 1.0 gauge leaves ±0.9 points of SDMBL (computed there) …
        ("250", "1", "1", "69.3 % of full scale: in the usable part", "±2.5 bar open at any reading: ±0.9 points"),
        # … and a 0–700 bar class 1.6 gauge ±3.9 points.
        ("700", "10", "1.6", "24.7 % of full scale: in the lowest quarter", "±11.2 bar open at any reading: ±3.9"),
        ("200", "1", "1", "86.6 % of full scale: above three quarters", "±2.0 bar open"),
    ],
)
def test_the_gauge_is_judged_by_its_scale_and_class(
    officer: Client, ship: Ship, scale: str, division: str, accuracy: str, place: str, error: str
) -> None:
    gauge = ship.kit.gauge
    gauge.full_scale, gauge.smallest_division = Typed.read(scale, "bar"), Typed.read(division, "bar")
    gauge.accuracy_class = accuracy
    gauge.save()
    text = look(officer, ship.drums[0])
    assert place in text
    assert error in text


@pytest.mark.parametrize("basis", BASES)
def test_every_way_to_find_the_target_is_prepared(officer: Client, cast: Cast, basis: str) -> None:
    drum, kit = on_basis(cast.vessel, basis)
    text = look(officer, drum, kit)
    expected = {
        # geometry as case C4; table: 382.2 kN lies 22.2/180 of the way from 160 to 240 bar;
        # calibration: 123.4506 kN lies 17.4506/70 of the way from 150 to 250 bar; a cell shows the load itself.
        "geometry": "173.2 bar",
        "makers_table": "169.9 bar",
        "force_calibrated_jack": "174.9 bar",
        "load_cell": "382.2 kN",
    }[basis]
    assert f"Target reading, exact {expected}" in text
    assert "STOP at" in text
    assert f"How the target is found {DrumParticulars(target_basis=basis).get_target_basis_display()}" in text


def test_unequal_jacks_are_prepared_with_each_ones_area_and_arm(officer: Client, cast: Cast) -> None:
    jacks = [
        JackFactory(vessel=cast.vessel, name="J-big", stated_area=Typed.read("42.1", "cm2")),
        JackFactory(vessel=cast.vessel, name="J-small", stated_area=Typed.read("33.2", "cm2")),
    ]
    kit = KitFactory(vessel=cast.vessel, jacks=jacks)
    kit.kit_jacks.filter(position=2).update(arm=Typed.read("900", "mm").to_dict())
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    text = look(officer, drum, kit)
    # 123 450.6 N·m ÷ (42.1e-4 × 1.0 + 33.2e-4 × 0.9) m³ = 17.150 MPa
    assert "Target reading, exact 171.5 bar" in text
    assert "Jack J-big, effective piston area 42.1 cm²" in text
    assert "Jack J-small, lever arm in use 900 mm" in text


def test_a_gauge_in_another_unit_gives_target_mark_and_stop_in_that_unit(officer: Client, ship: Ship) -> None:
    gauge = ship.kit.gauge
    gauge.unit, gauge.full_scale = "kgf/cm2", Typed.read("250", "kgf/cm2")
    gauge.smallest_division = Typed.read("5", "kgf/cm2")
    gauge.save()
    text = look(officer, ship.drums[0])
    # 173.2397 bar ÷ 0.980665 = 176.66 kgf/cm² (NIST SP 811: 1 kgf/cm² = 98 066.5 Pa)
    assert "Target reading, exact 176.7 kgf/cm²" in text
    assert "Nearest mark on this gauge 175 kgf/cm²" in text
    assert "STOP at 185 kgf/cm²" in text


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("drum_diameter", "The drum diameter is missing: enter it in the drum's particulars."),
        ("line_diameter", "The line diameter is missing: enter it in the drum's particulars."),
    ],
)
def test_a_missing_figure_is_said_with_what_to_do(officer: Client, ship: Ship, name: str, said: str) -> None:
    row = ship.drums[0].particulars.get()
    del row.figures[name]
    DrumParticulars.objects.filter(pk=row.pk).update(figures=row.figures)
    text = look(officer, ship.drums[0])
    assert "The target cannot be worked out yet." in text
    assert said in text
    assert "STOP at" not in text
    assert officer.get(f"/drums/{ship.drums[0].pk}/worksheet.pdf").status_code == 409


def test_a_drum_without_particulars_and_a_jack_without_area_are_said(officer: Client, cast: Cast, ship: Ship) -> None:
    bare = DrumFactory(winch=WinchFactory(vessel=cast.vessel))
    assert "No particulars of this drum are recorded" in look(officer, bare)
    ship.kit.kit_jacks.get().jack.__class__.objects.update(stated_area=None, bore=None)
    assert "The effective piston area of jack" in look(officer, ship.drums[0])


def test_without_an_open_round_the_only_kit_is_taken_and_of_two_one_is_asked_for(
    officer: Client, cast: Cast, ship: Ship
) -> None:
    Round.objects.update(closed_on=date(2026, 11, 22))
    text = look(officer, ship.drums[0])
    assert "STOP at" in text
    assert "No round is open" in text
    other = KitFactory(vessel=cast.vessel, gauge=GaugeFactory(vessel=cast.vessel, name="PG-9"))
    assert "No kit is chosen" in look(officer, ship.drums[0])
    assert "what gauge PG-9 shows" in look(officer, ship.drums[0], other)


def test_an_undivided_drum_names_its_layer_and_shows_all_layers(officer: Client, cast: Cast) -> None:
    make_ship(cast.vessel)
    drum = DrumParticularsFactory(
        drum__winch__vessel=cast.vessel, drum__kind="undivided", reference_layer=3, figures=wide_drum()
    ).drum
    text = look(officer, drum)
    assert "The setting is for layer 3, line on line" in text
    # Facts of the trade, D = 16 d: 60 % set on layer 3 is 74 % on layer 1; 382.2 kN × 378 mm ÷ 306 mm = 472.1 kN.
    # Nested in the grooves (√3/2 of a line per layer): 306 + 2 × 36 × 0.866 = 368.4 mm, 460.1 kN on layer 1.
    assert "1 472.1 74.1 460.1 72.2" in text
    assert "3 382.2 60.0 382.2 60.0 the layer of the test" in text
    assert "undivided drum" in text


def wide_drum() -> dict[str, Any]:
    """D = 16 d, as MEG's own comparison of layers has it."""
    return {"drum_diameter": figure("576", "mm"), "line_diameter": figure("36", "mm")}


def test_a_split_drum_has_no_table_of_layers(officer: Client, ship: Ship) -> None:
    assert "the load on every layer" not in look(officer, ship.drums[0])


def test_what_the_catalogue_notices_is_shown_before_the_test(officer: Client, ship: Ship) -> None:
    row = ship.drums[0].particulars.get()
    row.figures["drum_diameter"] = figure("305", "mm")
    DrumParticulars.objects.filter(pk=row.pk).update(figures=row.figures)
    text = look(officer, ship.drums[0])
    assert "Look at these figures again" in text
    assert "Probably the radius was entered" in text


def test_after_work_on_the_brake_no_as_found_reading_is_asked_for(officer: Client, ship: Ship) -> None:
    assert "No as-found reading" not in look(officer, ship.drums[0])
    send(ship.drums[0], date(2026, 6, 1))
    BrakeEventFactory(drum=ship.drums[0], kind="lining_renewed", happened_on=date(2026, 9, 3))
    text = look(officer, ship.drums[0])
    assert "No as-found reading on this drum" in text
    assert "new lining, 3 September 2026" in text
    send(ship.drums[0], date(2026, 9, 10))
    assert "No as-found reading" not in look(officer, ship.drums[0])


@pytest.mark.parametrize("kind", ["spindle_torque", "spring_length", "applied_pressure", "shims"])
def test_other_kinds_of_setting_are_prepared_too(officer: Client, cast: Cast, kind: str) -> None:
    ship = make_ship(cast.vessel, setting_kind=kind, brake_kind="spring_applied")
    text = look(officer, ship.drums[0])
    assert "see that it is fully applied" in text


def test_the_cautions_stand_at_their_step(officer: Client, ship: Ship) -> None:
    text = look(officer, ship.drums[0])
    for step, said in (
        ("Before rigging", "No other drum on the same winch frame or shaft holds a mooring line."),
        ("While pumping", "any injection is a surgical emergency."),
        ("After the test", "Release to zero before any bolt is loosened."),
    ):
        assert text.index(step) < text.index(said)
    assert "The jack pushes up and stands on the side away from the line's lead" in text


def test_a_base_load_that_is_not_the_ship_design_mbl_is_not_called_so(officer: Client, cast: Cast, ship: Ship) -> None:
    cast.vessel.base_load_kind = "line_mbl"
    cast.vessel.save()
    text = look(officer, ship.drums[0])
    assert "60.0 % of the base load" in text
    assert "On this vessel “ship design MBL” stands for: MBL of the line from the mooring plan." in text
    assert "SDMBL" not in text


def test_the_number_of_queries_does_not_grow_with_the_fleet(officer: Client, cast: Cast, ship: Ship) -> None:
    address = f"/drums/{ship.drums[0].pk}/prepare/"
    counts = []
    for more in (0, 12):
        for _ in range(more):
            DrumParticularsFactory(drum__winch__vessel=cast.vessel)
            DrumParticularsFactory(drum=ship.drums[0], valid_from=date(2021, 1, 1))
            BrakeEventFactory(drum=ship.drums[0], kind="moorings")
        with CaptureQueriesContext(connection) as seen:
            assert officer.get(address).status_code == 200
        counts.append(len(seen))
    assert counts[0] == counts[1]
