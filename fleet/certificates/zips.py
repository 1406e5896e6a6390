"""ZIP files made on disk, not in memory, with plain names and dates that do not tell when they were asked for."""

import re
import tempfile
import unicodedata
import zipfile
from collections.abc import Iterable
from typing import IO

from django.http import FileResponse

FIXED_DATE = (1980, 1, 1, 0, 0, 0)


def safe_name(text: str) -> str:
    """A file name of letters, digits, dots and hyphens only, so that no archive can write outside its folder."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"\.{2,}", ".", re.sub(r"[^A-Za-z0-9.]+", "-", plain)).strip("-.") or "file"


def zip_file(entries: Iterable[tuple[str, bytes]]) -> IO[bytes]:
    """Write the entries to a temporary file and hand it over at its start; it vanishes when closed."""
    out = tempfile.TemporaryFile()  # noqa: SIM115  closed by the response
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in entries:
            entry = zipfile.ZipInfo("/".join(safe_name(part) for part in name.split("/")), FIXED_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, content)
    out.seek(0)
    return out


def zip_answer(entries: Iterable[tuple[str, bytes]], *, name: str) -> FileResponse:
    """The archive as a download, streamed from disk."""
    answer = FileResponse(
        zip_file(entries), as_attachment=True, filename=safe_name(name), content_type="application/zip"
    )
    answer["Cache-Control"] = "private, no-store"
    return answer
