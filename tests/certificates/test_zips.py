import io
import zipfile

import pytest

from fleet.certificates.zips import safe_name, zip_answer, zip_file


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("C0-2026-0001.pdf", "C0-2026-0001.pdf"),
        ("../../etc/passwd", "etc-passwd"),
        ("..", "file"),
        ("Ærø & Søn.pdf", "r-Sn.pdf"),
        ("a\\b:c\x00.csv", "a-b-c-.csv"),
        ("", "file"),
    ],
)
def test_a_name_can_lead_nowhere(name: str, safe: str) -> None:
    assert safe_name(name) == safe


def test_an_archive_holds_what_it_was_given_and_tells_no_time() -> None:
    with zip_file([("certificates/A-1.pdf", b"one"), ("../x.csv", b"two")]) as made, zipfile.ZipFile(made) as archive:
        assert archive.testzip() is None
        assert {name: archive.read(name) for name in archive.namelist()} == {
            "certificates/A-1.pdf": b"one",
            "file/x.csv": b"two",
        }
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_the_same_entries_are_the_same_bytes() -> None:
    entries = [("a.txt", b"a" * 1000)]
    with zip_file(entries) as one, zip_file(entries) as two:
        assert one.read() == two.read()


@pytest.mark.django_db
def test_the_answer_is_a_download_that_no_cache_keeps() -> None:
    answer = zip_answer([("a.txt", b"a")], name="Merrow Bay-2026.zip")
    assert answer["Content-Type"] == "application/zip"
    assert answer["Content-Disposition"] == 'attachment; filename="Merrow-Bay-2026.zip"'
    assert "no-store" in answer["Cache-Control"]
    assert zipfile.is_zipfile(io.BytesIO(answer.getvalue()))
    answer.close()
