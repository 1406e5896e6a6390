"""Every kind of setting, brake, target and tester can be registered, tested, approved and certified."""

import hashlib
import re
import subprocess
from datetime import timedelta
from math import sqrt

import pytest
from django.test import Client
from django.urls import reverse

from fleet.calculation import units
from fleet.certificates.models import Certificate
from fleet.certificates.recheck import recheck
from fleet.certificates.recheck_lines import SIGNATURE
from fleet.certificates.services import certificate_pdf_bytes
from fleet.drums.models import BrakeKind, SettingKind, TargetBasis
from fleet.records.canonical import read_content
from fleet.records.draft import parse_draft, read_quantity
from fleet.records.models import DoneBy, State, Submission
from fleet.review.services import submission_approve
from tests.cast import Cast
from tests.every_kind import AT, JACK, REPORT, Kind, force_row, submitted, table_row, typed
from tests.factories import DrumParticularsFactory, DrumTestFactory

pytestmark = [pytest.mark.django_db, pytest.mark.pdf]

SDMBL = 637_000.0
RADIUS = (0.610 + 0.036) / 2
AREA, ARM = 0.007126, 1.0


def certified(cast: Cast, kind: Kind) -> tuple[Submission, Certificate, str]:
    """The submission, its certificate, and the certificate's words as pdftotext reads them."""
    submission = submitted(cast, kind)
    answers = {row.code: "Looked at; it is right." for row in submission.findings.all() if row.level != "note"}
    submission_approve(
        submission=submission, finding_answers=answers, actor=cast.superintendent, at=AT + timedelta(days=1)
    )
    submission.test.refresh_from_db()
    assert submission.test.state == State.APPROVED
    certificate = Certificate.objects.get(submission=submission)
    paper = certificate_pdf_bytes(certificate)
    done = subprocess.run(["pdftotext", "-raw", "-", "-"], input=paper, capture_output=True, check=True)
    # Whatever the kind: all but the signature, which this paper does not have yet, is found right from the file alone.
    assert [line for line in recheck(paper, authorities=[]).lines if not line.agrees and line.part != SIGNATURE] == []
    return submission, certificate, " ".join(done.stdout.decode().split())


def agrees(submission: Submission, text: str, *, slips: tuple[float, float], target: str) -> None:
    """The loads of both slips, their mean as left, and the target, against figures worked out in the test."""
    mean = sum(slips) / 2
    assert submission.as_left_load_n == pytest.approx(mean, rel=1e-9)
    assert submission.as_left_share == pytest.approx(mean / SDMBL, rel=1e-9)
    shown = [units.digits(slip, "kN") for slip in slips]
    wanted = [*shown, units.display(mean, "kN"), units.display(mean, "tf"), target]
    assert [words for words in wanted if words not in text] == []


SETTINGS = {
    SettingKind.MARKER_DISTANCE: ("mm", ("53.8", "49"), "shorter", "49 mm"),
    SettingKind.SPINDLE_TORQUE: ("N_m", ("180", "215"), "longer", "215 N·m"),
    SettingKind.SPRING_LENGTH: ("mm", ("142", "131.5"), "shorter", "131.5 mm"),
    SettingKind.APPLIED_PRESSURE: ("bar", ("58", "66"), "longer", "66 bar"),
    SettingKind.SHIMS: ("count", ("3", "5"), "longer", "5"),
}


def test_every_setting_kind_and_brake_kind_has_its_case() -> None:
    assert set(SETTINGS) == set(SettingKind)
    assert set(BASES) == set(TargetBasis)


@pytest.mark.parametrize("setting", SETTINGS, ids=str)
def test_a_brake_set_in_any_way_is_certified_with_its_setting_in_words(
    cast: Cast, client: Client, setting: SettingKind
) -> None:
    unit, marks, tighter, shown = SETTINGS[setting]
    kind = Kind(drum={"setting_kind": setting, "tighter_is": tighter}, setting_unit=unit, marks=marks)
    submission, _, text = certified(cast, kind)
    assert f"{setting.label} {shown}," in text
    assert (submission.setting_text, submission.setting_unit) == (marks[1], unit)
    agrees(
        submission,
        text,
        slips=(172e5 * AREA * ARM / RADIUS, 174e5 * AREA * ARM / RADIUS),
        target=units.display(0.6 * SDMBL * RADIUS / (AREA * ARM), "bar"),
    )
    client.force_login(cast.officer)
    drum = submission.test.drum_id
    for page in ("records:prepare", "records:history"):
        assert str(setting.label) in client.get(reverse(page, args=[drum])).content.decode()
    # Every kind of setting is followed over the years, in its own unit.
    years = client.get(reverse("drift:years", args=[drum])).content.decode()
    assert units.label(unit) in years


@pytest.mark.parametrize("brake", list(BrakeKind), ids=str)
def test_a_brake_of_any_kind_is_certified_and_named(cast: Cast, client: Client, brake: BrakeKind) -> None:
    setting = SettingKind.MARKER_DISTANCE if brake == BrakeKind.BAND else SettingKind.SPRING_LENGTH
    _, marks, tighter, _ = SETTINGS[setting]
    kind = Kind(drum={"brake_kind": brake, "setting_kind": setting, "tighter_is": tighter}, marks=marks)
    submission, certificate, text = certified(cast, kind)
    assert str(brake.label) in text
    client.force_login(cast.superintendent)
    for page, key in (("certificates:certificate", certificate.pk), ("records:record", submission.test_id)):
        assert str(brake.label) in client.get(reverse(page, args=[key])).content.decode()


def test_nobody_is_asked_how_the_band_of_a_disc_brake_rests(cast: Cast, client: Client) -> None:
    client.force_login(cast.officer)
    asked = {}
    for brake in ("band", "disc"):
        drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel, drum__brake_kind=brake).drum
        test = DrumTestFactory(round__vessel=cast.vessel, drum=drum, created_by=cast.officer)
        page = client.get(reverse("records:test", args=[test.pk])).content.decode()
        missing = [item.field for item in parse_draft(test).missing]
        asked[brake] = ("Band when open" in page, "Clearance of the open band" in page, "band_rest" in missing)
    assert asked == {"band": (True, True, True), "disc": (False, False, False)}


def test_shims_are_counted_in_whole_numbers() -> None:
    assert read_quantity("4", "count").si == 4.0
    with pytest.raises(ValueError, match="whole number"):
        read_quantity("2.5", "count")


GEOMETRY = (172e5 * AREA * ARM / RADIUS, 174e5 * AREA * ARM / RADIUS)
BASES = {
    TargetBasis.GEOMETRY: (Kind(), GEOMETRY, units.display(0.6 * SDMBL * RADIUS / (AREA * ARM), "bar")),
    # Straight between 160 bar, 360 kN and 240 bar, 528 kN: 2.1 kN a bar.
    TargetBasis.MAKERS_TABLE: (
        Kind(
            particulars={
                "target_basis": TargetBasis.MAKERS_TABLE,
                "maker_table": [table_row("80", "186"), table_row("160", "360"), table_row("240", "528")],
                "maker_table_jack": "J-1",
                "maker_table_document": "winch manual, page 31",
            },
            readings=("145", "170", "171"),
        ),
        (381_000.0, 383_100.0),
        units.display((160 + (382.2 - 360) / 2.1) * 1e5, "bar"),
    ),
    # Straight between 150 bar, 106 kN and 250 bar, 176 kN: 0.7 kN a bar; times the arm, over the line's radius.
    TargetBasis.FORCE_CALIBRATED_JACK: (
        Kind(
            particulars={"target_basis": TargetBasis.FORCE_CALIBRATED_JACK},
            jacks=(
                {
                    "stated_area": None,
                    "stated_area_document": "",
                    "bore": None,
                    "force_table": [force_row("50", "35"), force_row("150", "106"), force_row("250", "176")],
                    "force_table_document": "force calibration 14",
                },
            ),
        ),
        ((106 + 0.7 * 22) * 1e3 * ARM / RADIUS, (106 + 0.7 * 24) * 1e3 * ARM / RADIUS),
        units.display((150 + (382.2 * RADIUS / ARM - 106) / 0.7) * 1e5, "bar"),
    ),
    TargetBasis.LOAD_CELL: (
        Kind(
            particulars={"target_basis": TargetBasis.LOAD_CELL},
            gauge=("kN", "600", "2"),
            readings=("340", "380", "384"),
        ),
        (380_000.0, 384_000.0),
        "382.2 kN",
    ),
}


@pytest.mark.parametrize("basis", BASES, ids=str)
def test_a_target_found_in_any_way_leads_to_a_certificate_that_names_it(cast: Cast, basis: TargetBasis) -> None:
    kind, slips, target = BASES[basis]
    submission, _, text = certified(cast, kind)
    assert str(basis.label) in text
    agrees(submission, text, slips=slips, target=target)


@pytest.mark.parametrize(
    ("basis", "document"),
    [
        (TargetBasis.MAKERS_TABLE, "winch manual, page 31"),
        (TargetBasis.FORCE_CALIBRATED_JACK, "force calibration 14"),
    ],
)
def test_the_table_behind_a_target_is_named_by_its_document(cast: Cast, basis: TargetBasis, document: str) -> None:
    assert document in certified(cast, BASES[basis][0])[2]


def test_the_makers_table_is_named_with_the_one_jack_it_is_for(cast: Cast, client: Client) -> None:
    submission, certificate, text = certified(cast, BASES[TargetBasis.MAKERS_TABLE][0])
    assert read_content(submission)["maker_table_jack"] == "J-1"
    assert "winch manual, page 31, for the jack with serial number J-1 only" in text
    client.force_login(cast.superintendent)
    pages = {
        reverse("records:record", args=[submission.test_id]): "for the jack with serial number J-1 only",
        reverse("certificates:certificate", args=[certificate.pk]): "for the jack with serial number J-1 only",
        reverse("review:review", args=[submission.pk]): "jack the maker&#x27;s table is for",
    }
    assert [page for page, said in pages.items() if said not in client.get(page).content.decode()] == []


def test_two_unequal_jacks_add_up_each_with_its_own_area_and_arm(cast: Cast) -> None:
    small = {**JACK, "stated_area": typed("42.1 cm2"), "bore": typed("73.2 mm")}
    kind = Kind(jacks=({}, small), arms=(None, "900 mm"), readings=("98", "112", "114"))
    submission, _, text = certified(cast, kind)
    lever = 0.007126 * 1.0 + 0.00421 * 0.9
    agrees(
        submission,
        text,
        slips=(112e5 * lever / RADIUS, 114e5 * lever / RADIUS),
        target=units.display(0.6 * SDMBL * RADIUS / lever, "bar"),
    )
    for words in ("serial J-1", "serial J-2", "71.26 cm²", "42.10 cm²", "1000 mm", "900 mm"):
        assert words in text


@pytest.mark.parametrize(("nesting", "rise"), [("line_on_line", 1.0), ("nested", sqrt(3) / 2)])
def test_an_undivided_drum_is_set_for_its_third_layer(cast: Cast, nesting: str, rise: float) -> None:
    """Each layer above the first lies one line higher, or √3/2 of one in the grooves of the layer below."""
    radius = RADIUS + 2 * 0.036 * rise
    first, second = (211, 213) if rise == 1 else (206, 208)
    kind = Kind(
        drum={"kind": "undivided"},
        particulars={"reference_layer": 3, "nesting": nesting},
        gauge=("bar", "315", "1"),
        readings=("186", str(first), str(second)),
    )
    submission, _, text = certified(cast, kind)
    assert "layer 3 of the undivided drum" in text
    agrees(
        submission,
        text,
        slips=(first * 1e5 * AREA * ARM / radius, second * 1e5 * AREA * ARM / radius),
        target=units.display(0.6 * SDMBL * radius / (AREA * ARM), "bar"),
    )


@pytest.mark.parametrize("tester", [DoneBy.YARD, DoneBy.MAKER_SERVICE, DoneBy.CLASS_WITNESSED], ids=str)
def test_a_test_by_others_carries_their_name_and_their_report(cast: Cast, client: Client, tester: DoneBy) -> None:
    kind = Kind(round={"done_by": tester, "done_by_name": "North basin workshop"})
    submission, certificate, text = certified(cast, kind)
    assert f"{tester.label}: North basin workshop" in text
    assert "their report.pdf" in text
    # A long hash may be broken over two lines.
    assert hashlib.sha256(REPORT).hexdigest() in re.sub(r"\s", "", text)
    client.force_login(cast.superintendent)
    answer = client.get(reverse("records:round_report", args=[submission.test.round_id]))
    assert b"".join(answer.streaming_content) == REPORT  # type: ignore[attr-defined]
    page = client.get(reverse("certificates:certificate", args=[certificate.pk])).content.decode()
    assert "North basin workshop" in page
