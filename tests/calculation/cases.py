"""Reads the reference numbers of tests/cases."""

import json
from pathlib import Path
from typing import Any

CASES = Path(__file__).parent.parent / "cases"


def load(name: str) -> Any:
    return json.loads((CASES / f"{name}.json").read_text(encoding="utf-8"))
