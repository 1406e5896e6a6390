"""What this machine has of the programs the suite needs beyond Python.

Standard library only: the test run asks before Django or pytest is imported, and so does conftest.py.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from manage import missing_pango_libraries


def chromium_program() -> str | None:
    """The browser the browser tests drive: FLEET_CHROMIUM, or the first one installed."""
    names = (os.environ.get("FLEET_CHROMIUM"), "chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
    return next((found for name in names if name and (found := shutil.which(name))), None)


def postgresql_programs() -> Path | None:
    """The folder of the newest PostgreSQL server programs; Debian keeps them off the search path."""
    folders = sorted(
        (path for path in Path("/usr/lib/postgresql").glob("*/bin") if path.parent.name.isdigit()),
        key=lambda path: int(path.parent.name),
        reverse=True,
    )
    on_path = shutil.which("initdb")
    if on_path:
        folders.append(Path(on_path).resolve().parent)
    return next(
        (folder for folder in folders if all(shutil.which(p, path=folder) for p in ("initdb", "postgres"))), None
    )


def postgresql_account() -> str | None:
    """Whom the server must run as: the server refuses root, so root lends it to the package's own account."""
    return "postgres" if hasattr(os, "geteuid") and os.geteuid() == 0 else None


def has_postgresql_account() -> bool:
    """Whether the account the server must run as exists."""
    account = postgresql_account()
    if account is None:
        return True
    import pwd  # not on Windows, where the account is never needed

    return any(entry.pw_name == account for entry in pwd.getpwall())


@dataclass(frozen=True)
class Need:
    """A part of the suite, the pytest marker of its tests, and what it asks of the machine."""

    marker: str
    title: str
    parts: dict[str, Callable[[], bool]]

    def lacking(self) -> list[str]:
        """The names of the parts this machine lacks."""
        return [name for name, is_there in self.parts.items() if not is_there()]


NEEDS = (
    Need("browser", "browser tests", {"Chromium": lambda: chromium_program() is not None}),
    Need(
        "pdf",
        "PDF tests",
        {
            "Pango": lambda: not missing_pango_libraries(),
            "pdftotext": lambda: shutil.which("pdftotext") is not None,
            "qpdf": lambda: shutil.which("qpdf") is not None,
            "pdfsig": lambda: shutil.which("pdfsig") is not None,
            "certutil": lambda: shutil.which("certutil") is not None,
        },
    ),
    Need(
        "postgresql",
        "PostgreSQL suite",
        {
            "server programs": lambda: postgresql_programs() is not None,
            "the account postgres": has_postgresql_account,
        },
    ),
)


def lacks() -> dict[str, str]:
    """What can't run here: marker → words for a person."""
    found = {need.marker: (need.title, need.lacking()) for need in NEEDS}
    return {marker: f"{title} ({', '.join(parts)})" for marker, (title, parts) in found.items() if parts}
