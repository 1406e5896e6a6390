"""The public command as people and scripts run it: bytes in, one JSON object out, an exit code."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from fleet.calculation.compute import compute_json
from tests.calculation.test_compute import GOOD, WITH_READING
from tests.calculation.test_compute_trust import FULL

ROOT = Path(__file__).parents[2]


def run(*arguments: str, given: bytes = b"", **environment: str) -> tuple[dict[str, Any], int]:
    bare = {
        name: value
        for name, value in os.environ.items()
        if name not in ("DATABASE_URL", "FLEET_SECRET_KEY", "FLEET_MODE")
    }
    done = subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "compute", *arguments],
        input=given,
        capture_output=True,
        cwd=ROOT,
        env={**bare, "FLEET_ENV": "given", **environment},
        timeout=60,
        check=False,
    )
    assert done.stderr == b""
    assert done.stdout.endswith(b"}\n")
    return json.loads(done.stdout), done.returncode


def test_standard_input_is_the_default_and_a_dash_says_the_same() -> None:
    text = json.dumps(WITH_READING)
    expected = compute_json(text)
    assert expected[1] == 0
    assert run(given=text.encode()) == expected
    assert run("--input", "-", given=text.encode()) == expected


def test_a_file_can_be_named(tmp_path: Path) -> None:
    file = tmp_path / "drum.json"
    file.write_text(json.dumps(GOOD), encoding="utf-8")
    assert run("--input", str(file)) == compute_json(json.dumps(GOOD))


def test_how_far_it_can_be_trusted_comes_out_too() -> None:
    assert run(given=json.dumps(FULL).encode()) == compute_json(json.dumps(FULL))


def test_a_bad_input_is_answered_on_standard_output_with_code_2() -> None:
    answer, code = run(given=b'{"sdmbl": {"value": NaN, "unit": "kN"}, "\xc3\xa9": 1}')
    assert code == 2
    assert {error["field"] for error in answer["errors"]} >= {"sdmbl.value", "é", "lever_arm"}


def test_bytes_that_are_no_text_are_answered_the_same_way() -> None:
    answer, code = run(given=b"\xff\x00")
    assert (code, [error["field"] for error in answer["errors"]]) == (2, [""])


@pytest.mark.parametrize("name", ["missing.json", ".", "bad\udcffname.json"])
def test_a_file_that_cannot_be_read_is_an_error_of_the_input(name: str, tmp_path: Path) -> None:
    answer, code = run("--input", str(tmp_path / name))
    assert code == 2
    assert [error["field"] for error in answer["errors"]] == ["input"]
    assert answer["errors"][0]["message"].startswith("This file cannot be read: ")


@pytest.mark.parametrize("mode", ["local", "production"])
def test_it_needs_no_database_and_no_secret(mode: str, tmp_path: Path) -> None:
    nowhere = f"sqlite:///{tmp_path}/no/such/folder/fleet.sqlite3"
    got = run(given=json.dumps(GOOD).encode(), DATABASE_URL=nowhere, FLEET_MODE=mode, FLEET_VAR=str(tmp_path / "var"))
    assert got == compute_json(json.dumps(GOOD))


def test_it_speaks_plain_ascii_whatever_the_locale() -> None:
    answer, code = run(given='{"größe": 1}'.encode(), LC_ALL="C", PYTHONIOENCODING="ascii")
    assert code == 2
    assert answer["errors"][0]["field"] == "größe"
