"""The certificate's PDF: made of the snapshot alone, with the same digits, carrying the same data."""

import io
import json
import re
import shutil
import subprocess
from datetime import date
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from django.conf import settings
from django.utils import translation

from fleet.certificates.models import Certificate
from fleet.certificates.paper import certificate_context, certificate_html
from fleet.certificates.services import certificate_pdf_bytes
from fleet.certificates.snapshot import address_pieces, read_snapshot
from fleet.core import pdf
from fleet.core.qr import qr_svg
from fleet.drums.models import Drum
from fleet.vessels.models import BaseLoadKind, Vessel
from tests.cast import Cast
from tests.certificates.records import Ship, certified, drum_on
from tests.factories import DrumParticularsFactory, RoundFactory

pytestmark = [pytest.mark.django_db, pytest.mark.pdf]

# A record from before loads had an uncertainty.
WITHOUT_TRUST: dict[str, Any] = {"trust": None, "setting_again": None, "setting_analysis": None}


def raw_text(content: bytes) -> str:
    program = shutil.which("pdftotext")
    assert program, "pdftotext comes with poppler-utils"
    return subprocess.run([program, "-", "-"], input=content, capture_output=True, check=True).stdout.decode()


def text_of(content: bytes) -> str:
    return re.sub(r"\s+", " ", raw_text(content))


def pages_with(certificate: Certificate, **record: Any) -> list[str]:
    """The words of each page, with something else in the record."""
    snapshot = read_snapshot(certificate)
    snapshot["record"] |= record
    content = pdf.render_pdf(certificate_html(snapshot), title="", variant="pdf/a-3a")
    return [re.sub(r"\s+", " ", page) for page in raw_text(content).split("\f")[:-1]]


def photos(number: int) -> list[dict[str, str]]:
    return [
        {"id": str(n), "kind": "mark", "caption": f"mark at the stop plate {n}", "sha256": f"{n:064x}"}
        for n in range(1, number + 1)
    ]


@pytest.fixture
def certificate(cast: Cast, ship: Ship) -> Certificate:
    return certified(ship, cast.superintendent)


def test_the_paper_is_made_of_the_snapshot_alone(certificate: Certificate) -> None:
    first = certificate_pdf_bytes(certificate)
    Vessel.objects.update(name="Another name")
    Drum.objects.update(name="Another drum")
    with translation.override("de"):
        assert certificate_pdf_bytes(Certificate.objects.get(pk=certificate.pk)) == first


def test_the_text_has_the_digits_of_the_snapshot(certificate: Certificate) -> None:
    text = text_of(certificate_pdf_bytes(certificate))
    snapshot = read_snapshot(certificate)
    record, results = snapshot["record"], snapshot["record"]["results"]
    wanted = [
        certificate.number,
        certificate.code,
        results["as_left_share_shown"],
        results["as_left_load_shown"],
        results["as_left_load_tf_shown"],
        results["as_found_share_shown"],
        results["spread_shown"],
        results["setting"]["shown"],
        record["target"]["reading_shown"],
        record["stop"]["reading_shown"],
        record["vessel"]["imo_number"],
        *(line["shown"] for line in record["working"]),
        *(value["shown"] for line in record["working"] for value in line["values"]),
        *(row["load_shown"] for row in record["readings"]),
        *(row["share_shown"] for row in record["readings"]),
        *(row["gauge_text"] for row in record["readings"]),
        *record["lining_shown"],
    ]
    assert [words for words in wanted if words not in text] == []


def test_the_result_is_one_sentence_with_its_conditions(certificate: Certificate) -> None:
    context = certificate_context(read_snapshot(certificate))
    assert context["result"] == (
        "The brake rendered, when tested, dry, on 20 November 2026, at 59.7 % of the ship design MBL: 380.6 kN, "
        "38.81 t (tonne-force); marker distance 49 mm, layer 1 of the tension part, line leaving over the top of "
        "the drum."
    )


def test_one_slip_can_be_redone_with_a_pocket_calculator(certificate: Certificate) -> None:
    # The constructed case C4: 382.2 kN at 173.24 bar, so 172 bar stands for 382.2 × 172 ÷ 173.24 = 379.46…
    check = certificate_context(read_snapshot(certificate))["slip_check"]
    load, gauge, target = (float(check[name].split()[0]) for name in ("target_load", "gauge", "target_reading"))
    assert f"{load * gauge / target:.1f} kN" == check["load"] == "379.5 kN"


def test_what_it_is_not_is_printed_on_it(certificate: Certificate) -> None:
    text = text_of(certificate_pdf_bytes(certificate))
    for words in (
        "not a class or maker's certificate",
        "Not a permission to moor",
        "operator's setting, not from a standard",
        "9.80665",
        "claims no accreditation",
        "The uncertainty is that of the measurement",
    ):
        assert words in text


def test_everyone_who_answers_for_it_stands_on_it_with_rank_and_date(certificate: Certificate, ship: Ship) -> None:
    acts = certificate_context(read_snapshot(certificate))["acts"]
    assert [(act.name, act.rank) for act in acts[:3]] == [
        (ship.officer.name, "chief officer"),
        (ship.engineer.name, "chief engineer"),
        (ship.master.name, "master"),
    ]
    assert all("November 2026" in act.when for act in acts)
    assert [act.what for act in acts][3] == "approved ashore"


def test_the_attachment_is_the_snapshot_and_says_what_it_is(certificate: Certificate) -> None:
    with pikepdf.open(io.BytesIO(certificate_pdf_bytes(certificate))) as document:
        names = list(document.attachments)
        attached = document.attachments[names[0]]
        file = attached.get_file()
        assert names == [f"{certificate.number}.json", "audit-proof.json"]
        assert file.read_bytes() == bytes(certificate.snapshot)
        assert str(attached.obj.AFRelationship) == "/Data"
        assert json.loads(file.read_bytes())["certificate"]["number"] == certificate.number
        assert str(document.Root.Lang) == "en"
        assert str(document.docinfo.Title) == f"Brake rendering test certificate {certificate.number}"
        with document.open_metadata() as metadata:
            assert metadata["pdfaid:part"] == "3"
            assert metadata["pdfaid:conformance"] == "A"
        assert "/OutputIntents" in document.Root
        assert "/MarkInfo" in document.Root
        assert "/JavaScript" not in document.Root.get("/Names", {})
        assert not document.is_encrypted
        fonts = [font for page in document.pages for font in page.Resources.Font.values()]
        assert fonts
        assert all("/FontFile2" in font.DescendantFonts[0].FontDescriptor for font in fonts)


def test_an_ordinary_certificate_is_one_page_and_one_for_its_uncertainty(certificate: Certificate) -> None:
    first, second = pages_with(certificate)
    heading = "How far the load can be trusted"
    for words in ("How to verify", certificate.code, "What this is, and what it is not"):
        assert (words in first, words in second) == (True, False)
    assert (heading in first, heading in second) == (False, True)
    assert second.rstrip().count(f"End of certificate {certificate.number}") == 1


def test_how_to_verify_stays_on_the_first_page_however_much_follows(cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    certified(ship, cast.superintendent, drum, tested_on=date(2025, 11, 20))
    # The same readings as the year before: the catalogue asks, and the answer is printed.
    certificate = certified(ship, cast.superintendent, drum, remarks="A long remark of the ship. " * 14)
    first_page = text_of(certificate_pdf_bytes(certificate)).split("page 1 of")[0]
    assert certificate.code in first_page
    assert "Photo seen; it is right." in text_of(certificate_pdf_bytes(certificate))


def test_the_hash_of_a_photo_stands_on_the_one_page(certificate: Certificate) -> None:
    (page,) = pages_with(certificate, findings=[], photos=photos(1), **WITHOUT_TRUST)
    assert photos(1)[0]["sha256"] in page
    assert f"End of certificate {certificate.number}" in page
    assert "Continuation" not in page


def test_what_does_not_fit_goes_together_to_a_page_that_says_it_is_a_continuation(certificate: Certificate) -> None:
    outcome = {**read_snapshot(certificate)["record"]["outcome"], "remarks": "A long remark of the ship. " * 14}
    finding = {"code": "x", "level": "note", "sentence": "The lining is new.", "ship_reply": "Renewed in dock."}
    first, second = pages_with(certificate, outcome=outcome, findings=[finding], photos=photos(3))
    heading = f"Continuation of certificate {certificate.number}: uncertainty, remarks, findings, photos"
    assert heading not in first
    assert second.startswith(heading)
    together = ["A long remark", "Renewed in dock.", *(row["sha256"] for row in photos(3)), "End of certificate"]
    assert [words for words in together if words in first or words not in second] == []


@pytest.mark.parametrize(
    ("address", "pieces"),
    [
        (
            "http://localhost:8000/verify/7Q2M-0XKD-9RTV-41MN/",
            ["http://localhost:8000/", "verify/", "7Q2M-0XKD-9RTV-41MN/"],
        ),
        ("https://ship.example", ["https://ship.example"]),
    ],
)
def test_an_address_is_cut_after_its_slashes_only(address: str, pieces: list[str]) -> None:
    assert address_pieces(address) == pieces


@pytest.mark.parametrize(
    ("site", "lines"),
    [
        ("http://localhost:8000", 1),
        ("https://brakes.ship.example:8443", 1),
        ("https://brake-tests.inner-harbour-shipping-and-towage.example", 2),
    ],
)
def test_the_address_reads_as_one_word_or_ends_a_line_after_a_slash(
    cast: Cast, ship: Ship, settings: Any, site: str, lines: int
) -> None:
    settings.SITE_URL = site
    certificate = certified(ship, cast.superintendent)
    address = read_snapshot(certificate)["certificate"]["verify_address"]
    text = raw_text(certificate_pdf_bytes(certificate))
    assert f"{site}/" in text
    assert address in text.replace("/\n", "/")
    assert (address in text) == (lines == 1)


@pytest.mark.parametrize(
    ("kind", "name"),
    [
        (BaseLoadKind.LINE_MBL, "MBL of the line from the mooring plan"),
        (BaseLoadKind.FITTINGS, "derived from the fittings"),
    ],
)
def test_another_base_load_is_never_called_ship_design_mbl(cast: Cast, ship: Ship, kind: str, name: str) -> None:
    Vessel.objects.filter(pk=cast.vessel.pk).update(base_load_kind=kind, base_load_document="mooring plan 1998, page 4")
    cast.vessel.refresh_from_db()
    html = certificate_html(read_snapshot(certified(ship, cast.superintendent)))
    assert name in html
    assert "mooring plan 1998, page 4" in html
    assert "SDMBL" not in html
    assert "ship design MBL" not in html.replace("is not the ship design MBL", "")  # a finding says so


def test_a_yards_report_is_named_with_its_hash(cast: Cast, ship: Ship) -> None:
    round_ = RoundFactory(
        vessel=cast.vessel,
        done_by="yard",
        done_by_name="Northern Dock",
        report="reports/x.pdf",
        report_name="ND 26-7.pdf",
        report_sha256="ab" * 32,
    )
    html = certificate_html(read_snapshot(certified(ship, cast.superintendent, round=round_)))
    assert "Northern Dock" in html
    assert "ND 26-7.pdf" in html
    assert "ab" * 32 in html


def test_an_undivided_drum_names_its_layer(cast: Cast, ship: Ship) -> None:
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel, drum__kind="undivided", reference_layer=3).drum
    readings = tuple(
        (phase, "49", gauge, True, True) for phase, gauge in (("verification", "211"), ("verification", "212"))
    )
    snapshot = read_snapshot(certified(ship, cast.superintendent, drum, readings=readings))
    assert "layer 3 of the undivided drum" in certificate_context(snapshot)["result"]


def test_what_people_typed_cannot_become_markup(cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel, drum__name="<b>Bow</b> & 'co'")
    html = certificate_html(read_snapshot(certified(ship, cast.superintendent, drum, mark_fixed="<script>x</script>")))
    assert "<script>" not in html
    assert "&lt;b&gt;Bow&lt;/b&gt;" in html


def test_the_map_of_elements_quotes_what_is_printed_and_names_what_is_kept(certificate: Certificate) -> None:
    """docs/certificate-elements.md: words in quotes stand on the paper, paths in code in its snapshot."""
    document = (settings.BASE_DIR / "docs" / "certificate-elements.md").read_text()
    rows = [line.split("|")[2:4] for line in document.splitlines() if re.match(r"\| [a-p]\) ", line)]
    assert len(rows) == 16
    snapshot = read_snapshot(certificate)
    finding = {"code": "x", "level": "note", "sentence": "The lining is new.", "ship_reply": "Renewed in dock."}
    crowded = " ".join(pages_with(certificate, findings=[finding] * 9, photos=photos(3)))
    printed = text_of(certificate_pdf_bytes(certificate)) + crowded
    quoted = [words for shown, _kept in rows for words in re.findall(r'"([^"]+)"', shown)]
    assert len(quoted) >= 6
    example = "at anchor, inner roads"
    assert [words for words in quoted if words != example and words not in printed] == []
    paths = [path for _shown, kept in rows for path in re.findall(r"`([a-z_.]+)`", kept)]
    assert [path for path in paths if not is_kept(snapshot, path)] == []


def is_kept(snapshot: dict[str, Any], path: str) -> bool:
    at: Any = snapshot
    for name in path.split("."):
        if not isinstance(at, dict) or name not in at:
            return False
        at = at[name]
    return True


def test_the_qr_code_reads_back_as_the_address(tmp_path: Path) -> None:
    """Read the drawn squares back into a matrix and compare with the encoder's own."""
    import segno

    address = "https://tests.ship.example/verify/7Q2M-0XKD-9RTV-41MN/"
    drawn = qr_svg(address)
    dark = {
        (x, int(y))
        for start, y, length in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", drawn)
        for x in range(int(start), int(start) + int(length))
    }
    wanted: set[tuple[Any, Any]] = {
        (x + 2, y + 2)
        for y, row in enumerate(segno.make(address, error="m", micro=False).matrix)
        for x, cell in enumerate(row)
        if cell
    }
    assert dark == wanted
    assert "style" not in drawn
