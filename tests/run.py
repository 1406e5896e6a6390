"""The test run behind `python3 manage.py test`: the whole suite on SQLite and on PostgreSQL.

Standard library only, and apart from manage.py because it is a tool of the tests and is not shipped with the product.
Each database gets a pytest process of its own, side by side: the two keep two cores busy, and each stays as plain to
read as pytest itself. Django is not imported here.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from tests.machine import lacks
from tests.postgresql import postgresql_server

ROOT = Path(__file__).resolve().parent.parent
DATABASES = ("sqlite", "postgresql")
NOTHING_COLLECTED = 5
# Set for the second run: what touches no database comes out the same there and is not run again.
DATABASE_TESTS_ONLY = "FLEET_DATABASE_TESTS_ONLY"
# With these a person sits at the keyboard, so the runs follow one another.
INTERACTIVE = {"--pdb", "--trace", "-s", "--capture=no"}


@dataclass
class Counts:
    """How many tests ended how, both databases together."""

    passed: int = 0
    failed: int = 0
    skipped: int = 0

    def add(self, report: Path) -> None:
        """Add a run's own count; a run that ended without one failed before its first test."""
        try:
            counted = json.loads(report.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            self.failed += 1
            return
        self.passed += counted["passed"]
        self.failed += counted["failed"]
        self.skipped += counted["skipped"]

    def line(self) -> str:
        """The closing line."""
        skipped = f", {self.skipped} skipped" if self.skipped else ""
        return f"{self.passed} passed, {self.failed} failed{skipped}"


def wanted_databases() -> tuple[str, ...]:
    """What FLEET_TEST_DATABASES asks for; both unless it says otherwise."""
    text = os.environ.get("FLEET_TEST_DATABASES", "").strip().lower() or "both"
    if text not in (*DATABASES, "both"):
        raise SystemExit(f"FLEET_TEST_DATABASES must be sqlite, postgresql or both, not {text!r}.")
    return DATABASES if text == "both" else (text,)


def not_run(wanted: Sequence[str]) -> dict[str, str]:
    """What this run leaves out: marker → words, for the last line."""
    left_out = lacks()
    if "postgresql" not in wanted:
        left_out["postgresql"] = "PostgreSQL suite (left out by FLEET_TEST_DATABASES)"
    if "sqlite" not in wanted:
        left_out["sqlite"] = "SQLite suite (left out by FLEET_TEST_DATABASES)"
    return left_out


def run_tests(arguments: Sequence[str]) -> int:
    """Run pytest with all its arguments on each database; returns the exit code."""
    wanted = wanted_databases()
    left_out = not_run(wanted)
    last_line = f"NOT RUN: {', '.join(left_out.values())}" if left_out else ""
    if left_out and os.environ.get("FLEET_REQUIRE") == "all":
        print(f"FLEET_REQUIRE=all asks for the whole suite, and it can't run whole here.\n{last_line}", flush=True)
        return 1
    databases = [name for name in wanted if name not in left_out]
    if not databases:
        print(last_line, flush=True)
        return 1

    signal.signal(signal.SIGTERM, stop_cleanly)
    counts = Counts()
    with contextlib.ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="fleet-tests-")))
        runs: list[Run] = []
        addresses = {"sqlite": "", "postgresql": ""}
        if "postgresql" in databases:
            addresses["postgresql"] = stack.enter_context(postgresql_server())
        side_by_side = len(databases) > 1 and not INTERACTIVE.intersection(arguments)
        try:
            for name in databases:
                run = Run(
                    name, arguments, addresses[name], folder, shown=not runs or not side_by_side, again=bool(runs)
                )
                stack.callback(run.stop)
                runs.append(run)
                if not side_by_side:
                    run.finish()
            codes = [run.finish() for run in runs]
        except KeyboardInterrupt:
            codes = [run.interrupted() for run in runs]
        for run in runs:
            counts.add(run.report)
    code = exit_code(codes)
    if code == 0 and counts.skipped and os.environ.get("FLEET_REQUIRE") == "all":
        print("FLEET_REQUIRE=all asks for the whole suite, and tests were skipped.", flush=True)
        code = 1
    print("\n".join(line for line in (counts.line(), last_line) if line), flush=True)
    return code


def stop_cleanly(_number: int, _frame: FrameType | None) -> None:
    """End by way of every clean-up, so that no server is left behind."""
    raise SystemExit(128 + signal.SIGTERM)


def exit_code(codes: Sequence[int]) -> int:
    """The first real failure; "nothing collected" only where no database had a test to run."""
    failed = [code for code in codes if code not in (0, NOTHING_COLLECTED)]
    if failed:
        return failed[0]
    return 0 if 0 in codes else NOTHING_COLLECTED


class Run:
    """One pytest process on one database; its output is kept back unless it is the one shown."""

    def __init__(
        self, name: str, arguments: Sequence[str], address: str, folder: Path, *, shown: bool, again: bool = False
    ) -> None:
        self.report = folder / f"{name}.json"
        self.output = None if shown else folder / f"{name}.txt"
        self.title = f"\n=== The same suite on {name} ===" if not shown else ""
        # Nothing a test writes may land in the folder of a person's own database.
        environ = {**os.environ, "FLEET_TEST_REPORT": str(self.report), "FLEET_VAR": str(folder / name)}
        environ["DATABASE_URL"] = address or f"sqlite:///{(folder / name / 'fleet.sqlite3').as_posix()}"
        if again:
            environ[DATABASE_TESTS_ONLY] = "yes"
        command = [sys.executable, "-m", "pytest", "-o", f"cache_dir=.pytest_cache/{name}"]
        if name == "postgresql":
            # Made anew and left where it is: the whole server is thrown away at the end.
            command += ["--create-db", "--reuse-db"]
        if self.output and sys.stdout.isatty():
            command.append("--color=yes")
        sys.stdout.flush()
        with contextlib.ExitStack() as stack:
            stdout = stack.enter_context(self.output.open("wb")) if self.output else None
            self.process = subprocess.Popen(
                [*command, *arguments],
                cwd=ROOT,
                env=environ,
                stdin=subprocess.DEVNULL if self.output else None,
                stdout=stdout,
                stderr=subprocess.STDOUT if self.output else None,
            )

    def finish(self) -> int:
        """Wait for the end, and show what was kept back."""
        code = self.process.wait()
        if self.output:
            print(self.title, flush=True)
            with self.output.open("rb") as kept:
                shutil.copyfileobj(kept, sys.stdout.buffer)
            sys.stdout.flush()
            self.output = None
        return code

    def interrupted(self) -> int:
        """Let pytest, which got the same Ctrl-C, finish its own clean-up."""
        with contextlib.suppress(subprocess.TimeoutExpired, KeyboardInterrupt):
            self.process.wait(timeout=20)
        self.stop()
        self.finish()
        return 130

    def stop(self) -> None:
        """End the process if it still runs."""
        if self.process.poll() is None:
            self.process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.process.wait(timeout=10)
            if self.process.poll() is None:
                self.process.kill()
                self.process.wait()
