"""The worksheet: one A4 page, black only, the page's own digits, and nothing written where a reading belongs."""

import io
import re
import subprocess
from datetime import date

import pikepdf
import pytest
from django.test import Client
from PIL import Image

from fleet.core.typed import Typed
from fleet.drums.models import BrakeKind, Drum
from fleet.gauges.models import Kit
from tests.cast import Cast
from tests.factories import BrakeEventFactory, DrumParticularsFactory, JackFactory, KitFactory
from tests.records.sent import send
from tests.records.ship import Ship, make_ship, on_basis
from tests.records.test_prepare_page import BASES, look

pytestmark = [pytest.mark.django_db, pytest.mark.pdf, pytest.mark.usefixtures("today")]


@pytest.fixture
def ship(cast: Cast) -> Ship:
    return make_ship(cast.vessel)


@pytest.fixture
def officer(client: Client, cast: Cast) -> Client:
    client.force_login(cast.officer)
    return client


def sheet(client: Client, drum: Drum, kit: Kit | None = None) -> bytes:
    answer = client.get(f"/drums/{drum.pk}/worksheet.pdf", {"kit": str(kit.pk)} if kit else {})
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    return answer.content


def text_of(content: bytes) -> str:
    """The words in the order they were set: a table row by row, a column of text as one."""
    done = subprocess.run(["pdftotext", "-raw", "-", "-"], input=content, capture_output=True, check=True)
    return re.sub(r"\s+", " ", done.stdout.decode())


def pages(content: bytes) -> int:
    with pikepdf.open(io.BytesIO(content)) as pdf:
        return len(pdf.pages)


@pytest.mark.parametrize("basis", BASES)
def test_it_is_one_a4_page_for_every_way_to_find_the_target(officer: Client, cast: Cast, basis: str) -> None:
    drum, kit = on_basis(cast.vessel, basis)
    content = sheet(officer, drum, kit)
    with pikepdf.open(io.BytesIO(content)) as pdf:
        assert len(pdf.pages) == 1
        width, height = (float(side) for side in pdf.pages[0].mediabox[2:])
    # ISO 216: A4 is 210 mm × 297 mm; a point is 1/72 inch of 25.4 mm.
    assert (round(width / 72 * 25.4), round(height / 72 * 25.4)) == (210, 297)


def test_the_longest_sheet_still_fits_one_page(officer: Client, cast: Cast) -> None:
    jacks = [JackFactory(vessel=cast.vessel, name=f"Jack of the port locker {n}") for n in (1, 2)]
    kit = KitFactory(vessel=cast.vessel, name="Kit of the forward mooring store, red box", jacks=jacks)
    drum = DrumParticularsFactory(
        drum__winch__vessel=cast.vessel,
        drum__name="Main deck forward, starboard, inner drum of two",
        drum__kind="undivided",
        drum__mark_from="machined edge of the stop plate under the spindle's inner bearing",
        drum__mark_to="end face of the spindle nut, measured on the side away from the drum",
        drum__line_off="bottom",
        reference_layer=3,
    ).drum
    send(drum, date(2026, 6, 1))
    BrakeEventFactory(drum=drum, happened_on=date(2026, 9, 3))
    content = sheet(officer, drum, kit)
    assert pages(content) == 1
    assert "No as-found reading: start well slack." in text_of(content)


def test_it_carries_the_digits_of_the_page(officer: Client, ship: Ship) -> None:
    on_page, on_paper = look(officer, ship.drums[0]), text_of(sheet(officer, ship.drums[0]))
    for digits in (
        "STOP at 187 bar",
        "187.5 bar is the limit; STOP is the division mark below it.",
        "382.2 kN",
        "38.97 t (tonne-force)",
        "173.2 bar",
        "173 bar",
        "381.7 kN",
        "59.9 %",
        "637 kN",
        "610 mm",
        "71.26 cm²",
        "in date until 1 Jun 2027",
    ):
        assert digits in on_page, digits
        assert digits in on_paper, digits
    for row in (("185", "408.1", "64.1"), ("155", "342.0", "53.7")):
        assert re.search(r"\s".join(map(re.escape, row)), on_paper), row


def test_it_names_the_drum_the_instruments_the_checks_and_the_cautions(officer: Client, ship: Ship) -> None:
    text = text_of(sheet(officer, ship.drums[0]))
    for said in (
        "F1",
        f"IMO {ship.vessel.imo_number}",
        "permit 26-114",
        f"number {ship.kit.gauge.serial_number}",
        "The drum is clutched out",
        "jack pushes up here",
        "Released and re-applied",
        "Mark fixed by",
        "Instruments: chief engineer",
        "Never feel for a leak by hand",
        "Working paper, not a certificate and not permission to moor.",
        "page 1 of 1",
    ):
        assert said in text, said


def test_only_a_band_brakes_sheet_asks_for_the_clearance_of_the_open_band(officer: Client, cast: Cast) -> None:
    band, disc = make_ship(cast.vessel), make_ship(cast.sister, brake_kind=BrakeKind.DISC)
    officer.force_login(cast.superintendent)
    assert "Open band clearance" in text_of(sheet(officer, band.drums[0]))
    on_disc = text_of(sheet(officer, disc.drums[0]))
    assert "Lining, mm" in on_disc
    assert "Open band" not in on_disc


def test_nothing_is_written_where_a_reading_belongs(officer: Client, ship: Ship) -> None:
    text = text_of(sheet(officer, ship.drums[0]))
    table = text[text.index("Rest, min") : text.index("marker distance: from")]
    assert re.sub(r"\s+", " ", table.removeprefix("Rest, min Remarks")).strip() == "1 2 3 4 5 6 7 8"


def test_it_is_black_only(officer: Client, ship: Ship) -> None:
    done = subprocess.run(
        ["pdftoppm", "-r", "60", "-png"], input=sheet(officer, ship.drums[0]), capture_output=True, check=True
    )
    picture = Image.open(io.BytesIO(done.stdout)).convert("RGB")
    coloured = [pixel for _count, pixel in picture.getcolors(1 << 24) if max(pixel) - min(pixel) > 3]
    assert coloured == []


def test_a_kit_that_stops_before_the_target_is_warned_of_on_paper_too(officer: Client, ship: Ship) -> None:
    ship.kit.footing.allowed_load = Typed.read("100", "kN")
    ship.kit.footing.save()
    assert "Do not test with this kit: STOP, 140.3 bar, comes before the target, 173.2 bar." in text_of(
        sheet(officer, ship.drums[0])
    )


def test_where_no_pdf_can_be_made_the_page_says_what_to_do(
    officer: Client, ship: Ship, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fleet.core.pdf import PdfUnavailable
    from fleet.records import prepare_views

    def no_pango(*_arguments: object, **_more: object) -> bytes:
        raise PdfUnavailable("the Pango library is missing")

    monkeypatch.setattr(prepare_views, "render_pdf", no_pango)
    answer = officer.get(f"/drums/{ship.drums[0].pk}/worksheet.pdf")
    assert answer.status_code == 503
    assert "the Pango library is missing" in answer.content.decode()
    assert f"/drums/{ship.drums[0].pk}/prepare/" in answer.content.decode()
