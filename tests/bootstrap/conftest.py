"""A scratch copy of the project's first step: manage.py and locks that pip satisfies without a network."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import pytest

from tests.shape import ROOT

# What a person's shell would not have; each test says what it wants of them.
OWN_VARIABLES = {"FLEET_ENV", "FLEET_REQUIRE", "FLEET_TEST_REPORT", "FLEET_TEST_DATABASES", "FLEET_VAR", "DATABASE_URL"}
# pip reads it as a lock with nothing in it.
EMPTY_LOCK = "# nothing yet\n"
# Stands in for the suite: it shows which interpreter runs it, with which arguments, and ends as told.
STAND_IN_RUN = """
import os, sys
from pathlib import Path
def run_tests(arguments):
    print(Path(sys.prefix).name, os.environ["FLEET_ENV"], *arguments)
    return 7
"""


@dataclass
class Copy:
    """A scratch copy of manage.py with its locks."""

    root: Path

    def run(self, *arguments: str, **environ: str) -> subprocess.CompletedProcess[str]:
        """Run its manage.py as a person would, with the plain interpreter."""
        kept = {name: value for name, value in os.environ.items() if name not in OWN_VARIABLES}
        return subprocess.run(
            [plain_python(), "manage.py", *arguments],
            cwd=self.root,
            env={**kept, **environ},
            capture_output=True,
            text=True,
            stdin=subprocess.DEVNULL,
            timeout=180,
        )

    @property
    def stamp(self) -> Path:
        return self.root / ".venv" / "fleet-stamp"

    def load(self) -> ModuleType:
        """Its manage.py as a module, so that a test can look at single steps."""
        spec = importlib.util.spec_from_file_location("scratch_manage", self.root / "manage.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        return module


def plain_python() -> str:
    """The interpreter the environment was made with, as a person would have it on the search path."""
    return str(getattr(sys, "_base_executable", sys.executable))


def lay_out(root: Path) -> Copy:
    """Lay the scratch copy's files down."""
    (root / "tests").mkdir(parents=True)
    shutil.copy(ROOT / "manage.py", root)
    (root / "requirements.lock").write_text(EMPTY_LOCK, encoding="utf-8")
    (root / "tests" / "requirements.lock").write_text(EMPTY_LOCK, encoding="utf-8")
    (root / "tests" / "__init__.py").touch()
    (root / "tests" / "run.py").write_text(STAND_IN_RUN, encoding="utf-8")
    return Copy(root)


@pytest.fixture
def copy(tmp_path: Path) -> Copy:
    """A scratch copy without an environment."""
    return lay_out(tmp_path / "copy")


@pytest.fixture(scope="session")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Copy:
    """A scratch copy whose environment was made once; tests take a copy of it."""
    made = lay_out(tmp_path_factory.mktemp("prepared") / "copy")
    done = made.run("test")
    assert done.returncode == 7, done.stderr
    return made


@pytest.fixture
def ready_copy(prepared: Copy, tmp_path: Path) -> Copy:
    """A scratch copy with an environment ready for testing."""
    return Copy(Path(shutil.copytree(prepared.root, tmp_path / "ready", symlinks=True)))


@pytest.fixture
def wheel(tmp_path: Path) -> Path:
    """A package of one line, to be installed without a network."""
    path = tmp_path / "wheels" / "tiny-1.0-py3-none-any.whl"
    path.parent.mkdir()
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("tiny.py", "WORD = 'installed'\n")
        archive.writestr("tiny-1.0.dist-info/METADATA", "Metadata-Version: 2.1\nName: tiny\nVersion: 1.0\n")
        archive.writestr("tiny-1.0.dist-info/WHEEL", "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n")
        archive.writestr("tiny-1.0.dist-info/RECORD", "")
    return path
