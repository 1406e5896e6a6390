"""A drum of any kind, from its registration to its certificate, through the services; for tests/test_every_kind.py."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from fleet.core.typed import Typed
from fleet.drums.figures import Figure
from fleet.drums.models import Drum
from fleet.drums.services.drums import drum_add
from fleet.drums.services.particulars import drum_particulars_record
from fleet.drums.services.winches import winch_add
from fleet.gauges.models import Gauge, Jack, Kit
from fleet.gauges.points import ForceRow, Point
from fleet.gauges.services.gauges import gauge_add, gauge_calibration_record
from fleet.gauges.services.gear import footing_add, lever_add
from fleet.gauges.services.jacks import jack_add
from fleet.gauges.services.kits import kit_put_together
from fleet.records.draft import CHECKS
from fleet.records.drafts import draft_save, drum_test_start, reading_add
from fleet.records.models import DrumTest, Round, Submission
from fleet.records.rounds import round_open
from fleet.records.submissions import drum_test_submit, instruments_confirm, master_release
from tests.cast import Cast

TODAY = date(2026, 11, 20)
AT = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)
REPORT = b"%PDF-1.4\n1 0 obj<<>>endobj\ntrailer<<>>\n%%EOF\n"


def typed(text: str) -> Typed:
    """`610 mm` as Typed."""
    number, unit = text.split()
    return Typed.read(number, unit)


@dataclass(frozen=True)
class Kind:
    """What is special about one drum and its gear; everything else is the same for all. Invented figures."""

    drum: dict[str, Any] = field(default_factory=dict)
    particulars: dict[str, Any] = field(default_factory=dict)
    figures: tuple[str, ...] = ("drum_diameter", "flange_diameter", "line_diameter")
    setting_unit: str = "mm"
    marks: tuple[str, str] = ("53.8", "49")  # as found, as left
    gauge: tuple[str, str, str] = ("bar", "250", "1")
    readings: tuple[str, str, str] = ("152", "172", "174")  # as found, then two verification slips
    jacks: tuple[dict[str, Any], ...] = ({},)
    arms: tuple[str | None, ...] = (None,)
    round: dict[str, Any] = field(default_factory=dict)


FIGURES = {
    "drum_diameter": Figure(typed("610 mm"), "drawing", "W-1"),
    "flange_diameter": Figure(typed("1100 mm"), "drawing", "W-1"),
    "line_diameter": Figure(typed("36 mm"), "certificate", "line certificate 7"),
}
JACK: dict[str, Any] = {
    "kind": "plain",
    "stated_area": typed("71.26 cm2"),
    "stated_area_document": "jack plate",
    "bore": typed("95.25 mm"),
    "rated_pressure": typed("700 bar"),
}


def force_row(reading: str, force: str) -> ForceRow:
    return ForceRow(typed(f"{reading} bar"), typed(f"{force} kN"))


def table_row(pressure: str, load: str) -> tuple[Typed, Typed]:
    return typed(f"{pressure} bar"), typed(f"{load} kN")


def register_drum(cast: Cast, kind: Kind) -> Drum:
    who = {"actor": cast.superintendent, "at": AT}
    winch = winch_add(vessel=cast.vessel, name="Forward winch", **who)
    given = {
        "name": "F1", "number_on_winch": 1, "area": "forecastle", "side": "port", "order": 1, "kind": "split",
        "brake_kind": "band", "setting_kind": "marker_distance", "tighter_is": "shorter", "mark_from": "stop plate",
        "mark_to": "nut face", "line_off": "top", "lead": "left",
    }  # fmt: skip
    drum = drum_add(winch=winch, **{**given, **kind.drum}, **who)
    drum_particulars_record(
        drum=drum,
        valid_from=date(2026, 1, 1),
        figures={name: FIGURES[name] for name in kind.figures},
        line_material="wire",
        reason="first entry",
        **kind.particulars,
        **who,
    )
    return drum


def register_gauge(cast: Cast, kind: Kind) -> Gauge:
    unit, full_scale, division = kind.gauge
    who = {"actor": cast.superintendent, "at": AT}
    gauge = gauge_add(
        vessel=cast.vessel,
        name="PG-3",
        serial_number="G-3",
        unit=unit,
        full_scale=Typed.read(full_scale, unit),
        smallest_division=Typed.read(division, unit),
        accuracy_class=Decimal("1"),
        **who,
    )
    half = str(int(full_scale) // 2)
    points = [Point(Typed.read(text, unit), Typed.read(text, unit)) for text in (half, full_scale)]
    gauge_calibration_record(
        gauge=gauge,
        calibrated_on=date(2026, 6, 1),
        certificate_number="CAL-26-9",
        laboratory="Inner harbour workshop",
        points=points,
        **who,
    )
    return gauge


def register_kit(cast: Cast, kind: Kind) -> Kit:
    who = {"actor": cast.superintendent, "at": AT}
    gauge = register_gauge(cast, kind)
    jacks: list[Jack] = [
        jack_add(vessel=cast.vessel, **{"name": f"J-{n}", "serial_number": f"J-{n}", **JACK, **special}, **who)
        for n, special in enumerate(kind.jacks, start=1)
    ]
    lever = lever_add(vessel=cast.vessel, name="Lever A", arm=typed("1000 mm"), safe_load=typed("200 kN"), **who)
    footing = footing_add(vessel=cast.vessel, name="Plate 1", allowed_load=typed("250 kN"), **who)
    arms = [typed(arm) if arm else None for arm in kind.arms]
    return kit_put_together(
        vessel=cast.vessel,
        name="Kit A",
        gauge=gauge,
        lever=lever,
        footing=footing,
        jacks=list(zip(jacks, arms, strict=True)),
        **who,
    )


def open_round(cast: Cast, kind: Kind, kit: Kit) -> Round:
    given = {
        "kind": "yearly",
        "started_on": TODAY,
        "place": "at anchor, inner roads",
        "permit": "permit 26-114",
        "people": [{"name": "Ada Voss", "rank": "chief officer"}],
        "weather": "dry, wind force 2",
        "done_by": "crew",
    }
    if "done_by" in kind.round:
        given["report"] = SimpleUploadedFile("their report.pdf", REPORT, "application/pdf")
    return round_open(vessel=cast.vessel, kit=kit, actor=cast.officer, at=AT, **{**given, **kind.round})


def draft_of(kind: Kind) -> dict[str, str]:
    return {
        **{check.name: "on" for check in CHECKS},
        "tested_on": TODAY.isoformat(),
        "tested_at": "10:40",
        "brake_state": "dry",
        "lining_1": "10.8",
        "lining_2": "10.7",
        "lining_3": "10.9",
        "lining_unit": "mm",
        "lining_condition": "sound",
        "drum_surface": "smooth",
        **({} if kind.drum.get("brake_kind") == "disc" else {"band_rest": "clear"}),
        "setting_unit": kind.setting_unit,
        "old_mark": kind.marks[0],
        "final_mark": kind.marks[1],
        "mark_fixed": "welded steel tag",
        "outcome": "set_in_band",
    }


def submitted(cast: Cast, kind: Kind) -> Submission:
    """Registered, tested, confirmed, released and sent, each by the person whose part it is."""
    drum = register_drum(cast, kind)
    round_ = open_round(cast, kind, register_kit(cast, kind))
    test = drum_test_start(drum=drum, round=round_, actor=cast.officer, at=AT)
    test = draft_save(test=test, values=draft_of(kind), revision=test.draft_revision, actor=cast.officer, at=AT)
    as_found, first, second = kind.readings
    for phase, mark, gauge in (
        ("as_found_untouched", kind.marks[0], as_found),
        ("verification", kind.marks[1], first),
        ("verification", kind.marks[1], second),
    ):
        reading_add(
            test=test,
            phase=phase,
            mark_text=mark,
            gauge_text=gauge,
            slipped=True,
            reapplied=phase == "verification",
            actor=cast.officer,
            at=AT,
        )
    test = DrumTest.objects.whole().get(pk=test.pk)
    instruments_confirm(test=test, name="Ines Halloran", rank="chief engineer", actor=cast.engineer, at=AT)
    master_release(test=test, name="Tomas Brandt", rank="master", actor=cast.master, at=AT)
    return drum_test_submit(
        test=test, declared_name="Ada Voss", declared_rank="chief officer", actor=cast.officer, at=AT
    )
