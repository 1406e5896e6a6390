"""The whole installation as one file, and back: rows and files, readable by either database.

The rows are taken at one moment, so people may go on writing meanwhile. Files are only ever added, so taking them after
the rows keeps every file that the rows name.
"""

import hashlib
import json
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path, PurePosixPath
from typing import IO, Any
from uuid import UUID

from django.apps import apps
from django.conf import settings
from django.core import serializers
from django.core.management.color import no_style
from django.db import connection, models, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.utils.duration import duration_iso_string

from fleet.core.audit_guard import lift_guard, raise_guard
from fleet.core.models import AuditHead

SCHEMA = "fleet-backup/1"
ROWS, FILES, MANIFEST = "rows.jsonl", "files", "manifest.json"
# Made anew by every database, or worth nothing after a restore: whoever was signed in signs in again.
LEFT_OUT = {"contenttypes.ContentType", "auth.Permission", "sessions.Session", "core.Counted"}
AT_ONCE = 500


class BackupRefused(Exception):
    """Why a backup cannot be read or put back; a sentence for the person at the keyboard."""


@dataclass(frozen=True)
class Contents:
    """What a backup holds."""

    rows: int
    files: int


def backup_write(target: Path, *, at: datetime) -> Contents:
    """Write everything into one compressed file; the target appears only when it is whole."""
    media = Path(settings.MEDIA_ROOT)
    part = target.with_name(f".{target.name}.part")
    try:
        with tempfile.TemporaryDirectory(prefix="fleet-backup-") as folder, tarfile.open(part, "w:gz") as archive:
            rows = Path(folder) / ROWS
            with rows.open("w", encoding="utf-8") as sink, _one_moment():
                count = _write_rows(sink)
                heads = _heads()
                migrations = _migrations()
            hashes = {ROWS: _sha256(rows)}
            archive.add(rows, ROWS)
            for path in sorted(path for path in media.rglob("*") if path.is_file()) if media.is_dir() else []:
                name = f"{FILES}/{path.relative_to(media).as_posix()}"
                hashes[name] = _sha256(path)
                archive.add(path, name)
            manifest = Path(folder) / MANIFEST
            manifest.write_text(
                json.dumps(
                    {
                        "schema": SCHEMA,
                        "made_at": at.isoformat(),
                        "rows": count,
                        "migrations": migrations,
                        "heads": heads,
                        "sha256": hashes,
                    },
                    indent=1,
                )
            )
            archive.add(manifest, MANIFEST)
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
    return Contents(count, len(hashes) - 1)


def backup_restore(source: Path, *, replace: bool = False) -> Contents:
    """Put a backup back, all or nothing as far as the rows go. Raises BackupRefused, and has changed nothing then."""
    with tempfile.TemporaryDirectory(prefix="fleet-restore-") as folder:
        manifest = _unpack(source, Path(folder))
        if manifest["migrations"] != _migrations():
            raise BackupRefused(
                "The backup was made by another version. Restore it with that version, then bring the database up to "
                "date with: python manage.py migrate"
            )
        if not replace and _holds_something():
            raise BackupRefused("This database is not empty. Give --replace to put the backup in the place of it all.")
        with transaction.atomic(), _guard_lifted():
            _clear()
            _load(Path(folder) / ROWS)
            if _heads() != manifest["heads"]:
                raise BackupRefused("The chains of audit entries in the backup are not those it was made of.")
            files = _put_files(Path(folder) / FILES, Path(settings.MEDIA_ROOT))
        return Contents(int(manifest["rows"]), files)


@contextmanager
def _one_moment() -> Iterator[None]:
    """Reads that all see the same moment, and keep nobody from writing."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
        else:
            # Not through atomic(), which begins a transaction that writes.
            cursor.execute("BEGIN DEFERRED")
        try:
            yield
        finally:
            cursor.execute("ROLLBACK")


@contextmanager
def _guard_lifted() -> Iterator[None]:
    lift_guard(connection)
    yield
    raise_guard(connection)


def _models() -> list[type[models.Model]]:
    return [model for model in apps.get_models() if model._meta.label not in LEFT_OUT and model._meta.managed]


def _write_rows(sink: IO[str]) -> int:
    count = 0
    for model in _models():
        rows = model._base_manager.order_by("pk").iterator(chunk_size=AT_ONCE)
        # Not Django's own JSON: it cuts a time to milliseconds, and an audit entry's hash covers microseconds.
        for row in serializers.get_serializer("python")().serialize(rows):
            sink.write(json.dumps(row, default=_plain, ensure_ascii=False, separators=(",", ":")) + "\n")
            count += 1
    return count


def _plain(value: Any) -> str:
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        return duration_iso_string(value)
    if isinstance(value, Decimal | UUID):
        return str(value)
    raise TypeError(f"cannot keep {type(value)}")


def _heads() -> dict[str, list[Any]]:
    heads = AuditHead.objects.order_by("chain").values_list("chain", "size", "last_hash")
    return {str(chain): [size, last] for chain, size, last in heads}


def _migrations() -> list[str]:
    ours = {config.label for config in apps.get_app_configs()}
    applied = MigrationRecorder(connection).applied_migrations()
    return sorted(f"{app}.{name}" for app, name in applied if app in ours)


def _sha256(path: Path) -> str:
    with path.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()


def _unpack(source: Path, folder: Path) -> dict[str, Any]:
    try:
        with tarfile.open(source, "r:gz") as archive:
            archive.extractall(folder, filter="data")
        manifest: dict[str, Any] = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        if manifest["schema"] != SCHEMA:
            raise BackupRefused("This backup is of a kind that this version does not know.")
        expected = dict(manifest["sha256"])
    except (OSError, EOFError, ValueError, KeyError, TypeError, tarfile.TarError) as error:
        raise BackupRefused(f"This is no whole backup: {error}.") from error
    found = {
        PurePosixPath(path.relative_to(folder)).as_posix(): _sha256(path)
        for path in folder.rglob("*")
        if path.is_file()
    }
    found.pop(MANIFEST)
    wrong = sorted(name for name in {*found, *expected} if found.get(name) != expected.get(name))
    if wrong:
        raise BackupRefused(f"Parts of the backup are missing or damaged: {', '.join(wrong[:5])}.")
    return manifest


def _holds_something() -> bool:
    return any(model._base_manager.exists() for model in _models())


def _clear() -> None:
    with connection.cursor() as cursor:
        for model in _models():
            tables = [model._meta.db_table, *(field.m2m_db_table() for field in model._meta.local_many_to_many)]
            for table in tables:
                cursor.execute(f"DELETE FROM {connection.ops.quote_name(table)}")


def _load(rows: Path) -> None:
    with rows.open(encoding="utf-8") as source:
        for row in serializers.deserialize("python", (json.loads(line) for line in source)):
            row.save()
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), _models()):
            cursor.execute(statement)


def _put_files(source: Path, media: Path) -> int:
    count = 0
    for path in sorted(path for path in source.rglob("*") if path.is_file()) if source.is_dir() else []:
        target = media / path.relative_to(source)
        target.parent.mkdir(parents=True, exist_ok=True)
        part = target.with_name(f".{target.name}.part")
        part.write_bytes(path.read_bytes())
        part.replace(target)
        count += 1
    return count
