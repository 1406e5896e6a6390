"""Papers as bytes: same input, same bytes; our own fonts, our own files, and nothing from elsewhere."""

import io
import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pikepdf
import pytest
from django.template.loader import render_to_string

from fleet.core.pdf import PdfAttachment, render_pdf
from tests.shape import FLEET, imports_package, python_files

pytestmark = pytest.mark.pdf
WHEN = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
HTML = """<!doctype html><html lang="en"><head><title>x</title></head><body>
<p class="running running-title">Worksheet of drum F1</p>
<p class="running running-page">page <span class="this-page"></span> of <span class="all-pages"></span></p>
<h1>Brake rendering load 382.2 kN</h1><p>cm² kgf/cm² µ θ → — ≥</p>
<svg width="100" height="20" font-family="DejaVu Sans, sans-serif"><text y="15">port</text></svg>
</body></html>"""
DATA = PdfAttachment(
    name="record.json",
    content=b'{"share":0.6}',
    description="the record",
    mime_type="application/json",
    relationship="Data",
)

OTHER_PROCESS = """
import os, sys, hashlib
os.environ["DJANGO_SETTINGS_MODULE"] = "fleet.settings"
import django
django.setup()
from tests.core.test_pdf import DATA, HTML, WHEN
from fleet.core.pdf import render_pdf
sys.stdout.write(hashlib.sha256(
    render_pdf(HTML, title="A paper", variant="pdf/a-3a", attachments=[DATA], created=WHEN)).hexdigest())
"""


def opened(content: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(content))


def text_of(content: bytes) -> str:
    done = subprocess.run(["pdftotext", "-layout", "-", "-"], input=content, capture_output=True, check=True)
    return done.stdout.decode()


def font_names(content: bytes) -> dict[str, bool]:
    """Every font's name and whether its program is carried inside."""
    found = {}
    pdf = opened(content)
    for item in pdf.objects:
        if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/FontDescriptor":
            carried = any(key in item for key in ("/FontFile", "/FontFile2", "/FontFile3"))
            found[str(item["/FontName"])] = carried
    return found


def test_the_same_paper_gives_the_same_bytes_in_another_process_without_any_font_of_the_host(tmp_path: Path) -> None:
    import hashlib

    here = render_pdf(HTML, title="A paper", variant="pdf/a-3a", attachments=[DATA], created=WHEN)
    empty = tmp_path / "fonts.conf"
    empty.write_text(
        '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">'
        f"<fontconfig><cachedir>{tmp_path}</cachedir></fontconfig>"
    )
    environment = {**os.environ, "FONTCONFIG_FILE": str(empty), "PYTHONHASHSEED": "7"}
    done = subprocess.run(
        [sys.executable, "-c", OTHER_PROCESS],
        env=environment,
        capture_output=True,
        text=True,
        cwd=FLEET.parent,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout == hashlib.sha256(here).hexdigest()


def test_another_moment_gives_other_bytes() -> None:
    later = WHEN.replace(hour=10)
    assert render_pdf(HTML, title="A", created=WHEN) == render_pdf(HTML, title="A", created=WHEN)
    assert render_pdf(HTML, title="A", created=WHEN) != render_pdf(HTML, title="A", created=later)


@pytest.mark.parametrize("variant", [None, "pdf/a-3b", "pdf/a-3a", "pdf/ua-1"])
def test_every_font_is_ours_and_carried_inside(variant: str | None) -> None:
    fonts = font_names(render_pdf(HTML, title="A paper", variant=variant, created=WHEN))
    assert fonts
    assert all(fonts.values())
    assert all("DejaVu-Sans" in name or "DejaVuSans" in name for name in fonts), fonts


@pytest.mark.parametrize(("variant", "conformance"), [("pdf/a-3b", "B"), ("pdf/a-3a", "A")])
def test_the_archive_claim_and_its_parts_are_there(variant: str, conformance: str) -> None:
    pdf = opened(render_pdf(HTML, title="A paper", variant=variant, attachments=[DATA], created=WHEN))
    with pdf.open_metadata() as metadata:
        assert metadata["pdfaid:part"] == "3"
        assert metadata["pdfaid:conformance"] == conformance
        assert metadata["dc:title"] == "A paper"
    assert pdf.Root["/OutputIntents"][0]["/DestOutputProfile"] is not None
    assert not pdf.is_encrypted
    assert "/JavaScript" not in pdf.Root.get("/Names", {})
    file = pdf.Root["/AF"][0]
    assert file["/AFRelationship"] == "/Data"
    assert file["/UF"] == "record.json"
    stream = file["/EF"]["/F"]
    assert stream["/Subtype"] == "/application/json"
    assert stream.read_bytes() == DATA.content


def test_an_accessible_paper_is_tagged_and_names_its_language() -> None:
    pdf = opened(render_pdf(HTML, title="A paper", variant="pdf/ua-1", created=WHEN))
    assert pdf.Root["/MarkInfo"]["/Marked"]
    assert pdf.Root["/Lang"] == "en"
    assert "/StructTreeRoot" in pdf.Root


def test_the_page_frame_runs_on_every_page() -> None:
    long = HTML.replace("</body>", "<p>row</p>" * 200 + "</body>")
    pages = text_of(render_pdf(long, title="A", created=WHEN)).split("\f")[:-1]
    assert len(pages) > 1
    for number, page in enumerate(pages, start=1):
        assert "Worksheet of drum F1" in page
        assert f"page {number} of {len(pages)}" in page
        assert page.count("Worksheet of drum F1") == 1


@pytest.mark.parametrize(
    "address",
    [
        "https://example.org/a.png",
        "http://127.0.0.1/a.png",
        "file:///etc/hostname",
        "../../settings.py",
        "/static/../settings.py",
        "https://paper.invalid/static/%2e%2e/settings.py",
        "given/other.png",
        "fonts/none.ttf",
        "data:image/png;base64,AAAA",
    ],
)
def test_nothing_is_fetched_from_elsewhere_and_a_missing_file_stops_the_paper(address: str) -> None:
    from weasyprint.urls import FatalURLFetchingError

    with pytest.raises(FatalURLFetchingError):
        render_pdf(HTML.replace("</body>", f'<img src="{address}" alt="a"></body>'), title="A", created=WHEN)


def test_a_picture_that_was_given_is_on_the_paper() -> None:
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (4, 4), "red").save(out, "PNG")
    html = HTML.replace("</body>", '<img src="given/mark.png" alt="mark"></body>')
    pdf = opened(render_pdf(html, title="A", created=WHEN, pictures={"mark.png": out.getvalue()}))
    assert len(pdf.pages[0].get_images()) == 1


def test_the_base_of_papers_is_a_whole_document() -> None:
    content = render_pdf(render_to_string("core/paper.html"), title="A", created=WHEN)
    assert "page 1 of 1" in text_of(content)
    assert "Not permission to moor" in text_of(content)


def test_one_file_imports_the_renderer_and_only_when_asked() -> None:
    assert [path.name for path in python_files() if imports_package(path, "weasyprint")] == ["pdf.py"]
    code = "import sys, fleet.core.pdf; sys.exit('weasyprint' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=FLEET.parent, check=False).returncode == 0
