"""Workers killed in the middle of submit, approve and issue, on both databases: see tests/faults."""

import os
import subprocess
import sys

from tests.shape import ROOT
from tests.soak.part import Part, Report


def run(first_seed: int, count: int) -> Report:
    """Kill a worker twice for each of so many tests, at places chosen by the seed; both databases side by side."""
    environ = {**os.environ, "FLEET_KILLS": str(count), "FLEET_KILLS_SEED": str(first_seed)}
    done = subprocess.run(
        [sys.executable, "manage.py", "test", "tests/faults", "-q"],
        cwd=ROOT,
        env=environ,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
    )
    said = done.stdout.splitlines()
    lines = [line for line in said if "workers killed" in line or line.endswith(" failed") or "NOT RUN" in line]
    return Report(lines=tuple(lines or said[-5:]), holds=done.returncode == 0 and len(lines) > 1)


PART = Part(
    name="killed-workers",
    what="a worker killed in submit, approve or issue loses nothing and does nothing twice; two kills for each test",
    first_seed=40_000,
    count=100,
    run=run,
)
