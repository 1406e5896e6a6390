"""Forms and inputs of `compute` that nobody sends in good faith: see tests/access/test_hostile_forms.py and
tests/calculation/test_compute_by_schema.py."""

import os
import subprocess
import sys

from tests.shape import ROOT
from tests.soak.part import Part, Report

FILES = ("tests/access/test_hostile_forms.py", "tests/calculation/test_compute_by_schema.py")
INPUTS_FOR_EACH_FORM = 100


def run(first_seed: int, count: int) -> Report:
    """So many forms at each address, and a hundred times as many inputs for each test of the schema; on SQLite."""
    environ = {
        **os.environ,
        "FLEET_HOSTILE": str(count),
        "FLEET_HOSTILE_SEED": str(first_seed),
        "FLEET_DRAWN": str(count * INPUTS_FOR_EACH_FORM),
        "FLEET_TEST_DATABASES": "sqlite",
    }
    done = subprocess.run(
        [sys.executable, "manage.py", "test", *FILES, "-s", "-q"],
        cwd=ROOT,
        env=environ,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
    )
    said = done.stdout.splitlines()
    lines = [line.strip() for line in said if "hostile forms" in line or "inputs of compute" in line]
    return Report(lines=tuple(lines or said[-5:]), holds=done.returncode == 0 and len(lines) == 2)


PART = Part(
    name="hostile-input",
    what="no form and no input of compute breaks anything, gets a script into a page or is lost",
    first_seed=50_000,
    count=100,
    run=run,
)
