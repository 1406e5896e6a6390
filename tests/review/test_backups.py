"""A backup put back is what it was made of, on the database it came from; a damaged one changes nothing."""

import json
import tarfile
import threading
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connections

from fleet.core.audit import audit_write
from fleet.core.models import AuditEntry
from fleet.records.models import Submission
from fleet.review import backups
from fleet.vessels.models import Vessel
from tests.cast import Cast
from tests.certificates.records import Ship, certified

pytestmark = pytest.mark.django_db(transaction=True)


def everything() -> dict[str, list[Any]]:
    return {
        model._meta.label: sorted(
            json.dumps({name: str(value) for name, value in row.items()}, sort_keys=True)
            for row in model._base_manager.values()
        )
        for model in backups._models()
    }


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def run(*arguments: Any) -> str:
    out = StringIO()
    call_command(*arguments, stdout=out)
    return out.getvalue()


def test_a_backup_put_back_is_what_it_was_made_of(cast: Cast, ship: Ship, media_root: Path, tmp_path: Path) -> None:
    certified(ship, cast.superintendent)
    (media_root / "photos").mkdir(parents=True, exist_ok=True)
    (media_root / "photos" / "mark.jpg").write_bytes(b"\xff\xd8 a mark")
    before, kept = everything(), files(media_root)
    saved = tmp_path / "fleet.tar.gz"
    run("backup", saved)

    Vessel.objects.update(name="Renamed since")
    audit_write(actor=cast.officer, action="something later", subject=cast.vessel, company_id=cast.company.pk)
    (media_root / "photos" / "mark.jpg").unlink()
    said = run("restore", saved, "--replace")

    assert everything() == before
    assert files(media_root) == kept
    assert f"{cast.company.name}: unbroken" in said
    # The next entry follows on: numbers given by the database go on where they were.
    audit_write(actor=cast.officer, action="after it all", subject=cast.vessel, company_id=cast.company.pk)
    assert AuditEntry.objects.filter(action="after it all").count() == 1
    assert f"{cast.company.name}: unbroken" in run("audit_verify")


def test_a_backup_made_while_people_write_is_whole(cast: Cast, tmp_path: Path) -> None:
    stop = threading.Event()

    def write() -> None:
        try:
            while not stop.is_set():
                audit_write(actor=cast.officer, action="busy", subject=cast.vessel, company_id=cast.company.pk)
        finally:
            connections.close_all()

    busy = threading.Thread(target=write)
    busy.start()
    try:
        while AuditEntry.objects.filter(action="busy").count() < 5:
            pass
        saved = tmp_path / "busy.tar.gz"
        run("backup", saved)
    finally:
        stop.set()
        busy.join()
    written = AuditEntry.objects.count()
    said = run("restore", saved, "--replace")
    assert 5 <= AuditEntry.objects.count() <= written
    assert f"{cast.company.name}: unbroken" in said


def test_a_database_that_holds_something_is_not_overwritten_unasked(cast: Cast, tmp_path: Path) -> None:
    saved = tmp_path / "fleet.tar.gz"
    run("backup", saved)
    with pytest.raises(CommandError, match="not empty"):
        run("restore", saved)
    with pytest.raises(CommandError, match="there already"):
        run("backup", saved)


def repacked(saved: Path, target: Path, change: str, content: bytes | None) -> None:
    """The same archive with one member changed, or left out."""
    folder = target.with_suffix(".folder")
    with tarfile.open(saved) as archive:
        archive.extractall(folder, filter="data")
    if content is None:
        (folder / change).unlink()
    else:
        (folder / change).write_bytes(content)
    with tarfile.open(target, "w:gz") as archive:
        for path in sorted(path for path in folder.rglob("*") if path.is_file()):
            archive.add(path, path.relative_to(folder).as_posix())


@pytest.mark.parametrize(
    ("change", "content", "said"),
    [
        (backups.ROWS, b"", "missing or damaged"),
        (backups.ROWS, None, "missing or damaged"),
        (backups.MANIFEST, b"{}", "no whole backup"),
        (backups.MANIFEST, None, "no whole backup"),
    ],
)
def test_a_damaged_backup_is_refused_and_changes_nothing(
    cast: Cast, tmp_path: Path, change: str, content: bytes | None, said: str
) -> None:
    saved, damaged = tmp_path / "fleet.tar.gz", tmp_path / "damaged.tar.gz"
    run("backup", saved)
    repacked(saved, damaged, change, content)
    before = everything()
    with pytest.raises(CommandError, match=said):
        run("restore", damaged, "--replace")
    assert everything() == before


def test_half_a_file_and_another_kind_of_file_are_refused(cast: Cast, tmp_path: Path) -> None:
    saved, half, other = (tmp_path / name for name in ("fleet.tar.gz", "half.tar.gz", "other.tar.gz"))
    run("backup", saved)
    half.write_bytes(saved.read_bytes()[:-200])
    other.write_text("not an archive")
    for path in (half, other, tmp_path / "nowhere"):
        with pytest.raises(CommandError, match="no whole backup"):
            run("restore", path, "--replace")


def test_rows_that_were_tampered_with_are_not_loaded(
    cast: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    saved = tmp_path / "fleet.tar.gz"
    monkeypatch.setattr(backups, "_heads", lambda: {"someone": [1, "else"]})
    run("backup", saved)
    monkeypatch.undo()
    before = everything()
    with pytest.raises(CommandError, match="not those it was made of"):
        run("restore", saved, "--replace")
    assert everything() == before
    assert Submission.objects.count() == 0
