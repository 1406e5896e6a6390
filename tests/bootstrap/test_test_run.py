"""`manage.py test` runs pytest on both databases, adds up, and owns up to what did not run."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

import tests.run
from tests.machine import Need
from tests.run import Counts, exit_code, run_tests


class FakeRun:
    """Stands in for one pytest process; writes the counts it is told to."""

    ends: dict[str, tuple[int, dict[str, int] | None]] = {}
    started: list[tuple[str, tuple[str, ...], str]] = []
    again: dict[str, bool] = {}

    def __init__(
        self, name: str, arguments: list[str], address: str, folder: Path, *, shown: bool, again: bool = False
    ) -> None:
        self.again[name] = again
        self.started.append((name, tuple(arguments), address))
        self.code, counted = self.ends.get(name, (0, {"passed": 3, "failed": 0, "skipped": 0}))
        self.report = folder / f"{name}.json"
        if counted is not None:
            self.report.write_text(json.dumps(counted))

    def finish(self) -> int:
        return self.code

    def stop(self) -> None: ...


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """A machine that lacks what it is told to, and runs that end as told."""

    def make(lacking: dict[str, str] | None = None, **ends: tuple[int, dict[str, int] | None]) -> None:
        @contextmanager
        def server() -> Iterator[str]:
            yield "postgres://throwaway"

        monkeypatch.setattr(tests.run, "lacks", lambda: dict(lacking or {}))
        monkeypatch.setattr(tests.run, "postgresql_server", server)
        monkeypatch.setattr(tests.run, "Run", FakeRun)
        monkeypatch.setattr(tests.run.signal, "signal", lambda *_: None)
        monkeypatch.setattr(FakeRun, "ends", ends)
        monkeypatch.setattr(FakeRun, "started", [])
        for name in ("FLEET_REQUIRE", "FLEET_TEST_DATABASES"):
            monkeypatch.delenv(name, raising=False)

    return make


def last_lines(capsys: pytest.CaptureFixture[str], number: int) -> list[str]:
    return capsys.readouterr().out.splitlines()[-number:]


def test_both_databases_get_all_the_arguments_and_the_counts_are_summed(
    machine: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    machine(postgresql=(0, {"passed": 5, "failed": 0, "skipped": 0}))
    assert run_tests(["tests/core", "-k", "audit"]) == 0
    assert FakeRun.started == [
        ("sqlite", ("tests/core", "-k", "audit"), ""),
        ("postgresql", ("tests/core", "-k", "audit"), "postgres://throwaway"),
    ]
    assert last_lines(capsys, 1) == ["8 passed, 0 failed"]
    # What touches no database runs in the first alone.
    assert FakeRun.again == {"sqlite": False, "postgresql": True}


def test_what_the_machine_lacks_stands_in_the_very_last_line(
    machine: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    machine({"browser": "browser tests (Chromium)", "postgresql": "PostgreSQL suite (server programs)"})
    assert run_tests([]) == 0
    assert [name for name, _, _ in FakeRun.started] == ["sqlite"]
    assert last_lines(capsys, 2) == [
        "3 passed, 0 failed",
        "NOT RUN: browser tests (Chromium), PostgreSQL suite (server programs)",
    ]


def test_when_everything_is_required_any_lack_fails(
    machine: Callable[..., None], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    machine({"pdf": "PDF tests (Pango)"})
    monkeypatch.setenv("FLEET_REQUIRE", "all")
    assert run_tests([]) != 0
    assert last_lines(capsys, 1) == ["NOT RUN: PDF tests (Pango)"]


def test_when_everything_is_required_a_skipped_test_fails(
    machine: Callable[..., None], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    machine(sqlite=(0, {"passed": 5, "failed": 0, "skipped": 1}))
    monkeypatch.setenv("FLEET_REQUIRE", "all")
    assert run_tests([]) != 0
    assert last_lines(capsys, 1) == ["8 passed, 0 failed, 1 skipped"]


def test_a_choice_of_one_database_counts_as_not_run(
    machine: Callable[..., None], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    machine()
    monkeypatch.setenv("FLEET_TEST_DATABASES", "sqlite")
    assert run_tests([]) == 0
    assert [name for name, _, _ in FakeRun.started] == ["sqlite"]
    assert last_lines(capsys, 1) == ["NOT RUN: PostgreSQL suite (left out by FLEET_TEST_DATABASES)"]


def test_an_unknown_database_is_refused(machine: Callable[..., None], monkeypatch: pytest.MonkeyPatch) -> None:
    machine()
    monkeypatch.setenv("FLEET_TEST_DATABASES", "oracle")
    with pytest.raises(SystemExit, match="must be sqlite, postgresql or both"):
        run_tests([])


def test_a_failure_on_either_database_fails_the_run(
    machine: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    machine(postgresql=(1, {"passed": 2, "failed": 1, "skipped": 0}))
    assert run_tests([]) == 1
    assert last_lines(capsys, 1) == ["5 passed, 1 failed"]


def test_a_run_that_ended_without_its_counts_is_a_failure(
    machine: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    machine(sqlite=(4, None))
    assert run_tests([]) == 4
    assert last_lines(capsys, 1) == ["3 passed, 1 failed"]


@pytest.mark.parametrize(
    ("codes", "expected"), [([0, 0], 0), ([0, 5], 0), ([5, 5], 5), ([5, 1], 1), ([0, 2], 2), ([3, 1], 3)]
)
def test_the_exit_code_is_the_first_failure(codes: list[int], expected: int) -> None:
    assert exit_code(codes) == expected


def test_a_need_names_only_the_parts_that_are_missing() -> None:
    need = Need("pdf", "PDF tests", {"Pango": lambda: False, "qpdf": lambda: True})
    assert need.lacking() == ["Pango"]


def test_a_report_that_can_not_be_read_counts_as_failed(tmp_path: Path) -> None:
    counts = Counts(passed=2)
    (tmp_path / "broken.json").write_text("{")
    counts.add(tmp_path / "broken.json")
    assert counts.line() == "2 passed, 1 failed"


@pytest.mark.postgresql
def test_the_run_on_postgresql_is_on_a_server_of_its_own() -> None:
    from django.db import connection

    assert connection.vendor == "postgresql"
    assert connection.settings_dict["HOST"] == "127.0.0.1"
    if "FLEET_TEST_REPORT" in os.environ:
        assert connection.settings_dict["USER"] == "fleet"
