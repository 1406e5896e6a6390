"""Files are given out so that a browser neither guesses, runs nor shares them; who gets them, the matrix asks."""

import zipfile
from io import BytesIO

import pytest
from django.http.response import HttpResponseBase
from django.urls import reverse

from fleet.records.models import Photo
from tests.access.addresses import addresses
from tests.access.asking import Asking, where
from tests.access.people import OUTSIDE
from tests.access.table import ARCHIVE, FILES, PAPER, PICTURE, TABLE

BEGINNINGS = {PICTURE: b"\xff\xd8", PAPER: b"%PDF-", ARCHIVE: b"PK"}
DRAWN = {
    "records:worksheet",
    "certificates:certificate_pdf",
    "certificates:tags",
    "certificates:round_summary",
    "certificates:vessel_zip",
    "certificates:inspection_pack",
}


def content(answer: HttpResponseBase) -> bytes:
    return b"".join(answer.streaming_content) if answer.streaming else bytes(answer.content)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "label", [pytest.param(label, marks=pytest.mark.pdf) if label in DRAWN else label for label in FILES]
)
def test_a_file_is_given_out_so_that_it_can_do_no_harm(asking: Asking, label: str) -> None:
    kind, shown = FILES[label]
    url = where(addresses()[label], TABLE[label], asking.world.ours)
    asker = next(asker for asker in asking.askers if asker.label == "our superintendent")
    answer, _found = asking.ask(asker, "get", url)
    assert answer.status_code == 200
    assert answer["Content-Type"].split(";")[0] == kind
    assert answer["Content-Disposition"].split(";")[0] == shown
    assert answer["X-Content-Type-Options"] == "nosniff"
    caching = answer.get("Cache-Control", "")
    assert "private" in caching
    assert "public" not in caching
    assert "default-src 'none'" in answer["Content-Security-Policy"]
    data = content(answer)
    assert data.startswith(BEGINNINGS[kind])
    if kind == ARCHIVE:
        assert zipfile.ZipFile(BytesIO(data)).testzip() is None


@pytest.mark.pdf
def test_an_archive_holds_this_vessels_papers_alone(asking: Asking) -> None:
    world = asking.world
    asker = next(asker for asker in asking.askers if asker.label == "our auditor")
    for label in ("certificates:vessel_zip", "certificates:inspection_pack"):
        answer, _found = asking.ask(asker, "get", where(addresses()[label], TABLE[label], world.ours))
        names = zipfile.ZipFile(BytesIO(content(answer))).namelist()
        assert any(world.ours.certificate.number in name for name in names)
        for other in (world.sisters, world.theirs):
            assert not any(other.certificate.number in name for name in names)


@pytest.mark.parametrize("query", ["", "?small"])
def test_an_auditor_sees_a_photo_once_it_was_sent(asking: Asking, query: str) -> None:
    ours = asking.world.ours
    sent = Photo.objects.create(
        test=ours.test_approved, kind="mark", file=ours.photo.file.name, sha256=ours.photo.sha256, author=ours.person
    )
    auditor = next(asker for asker in asking.askers if asker.label == "our auditor")
    for photo, status in ((ours.photo, 403), (sent, 200)):
        answer, _found = asking.ask(auditor, "get", reverse("records:photo", args=[photo.pk]) + query)
        assert answer.status_code == status
        assert content(answer).startswith(BEGINNINGS[PICTURE]) == (status == 200)
    for asker in asking.askers:
        if asker.kind == OUTSIDE:
            answer, _found = asking.ask(asker, "get", reverse("records:photo", args=[sent.pk]) + query)
            assert answer.status_code == 404, asker.label


def test_no_stored_file_is_reached_past_the_pages(asking: Asking) -> None:
    """Uploaded files have no address of their own."""
    ours = asking.world.ours
    for stored in (ours.photo.file, ours.drum.mark_picture, ours.calibration.document, ours.round.report):
        for prefix in ("/", "/media/", "/files/", "/static/"):
            for asker in asking.askers[:1]:
                answer, _found = asking.ask(asker, "get", f"{prefix}{stored.name}")
                assert answer.status_code == 404
