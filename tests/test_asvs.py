"""The table of security requirements: every test that it names is there, and every test that claims one is in it."""

import ast
import re
from pathlib import Path

from tests.shape import ROOT

TABLE = ROOT / "docs" / "asvs.md"
NAMED = re.compile(r"`(tests/[\w/]+\.py)(?:::(test_\w+))?`")
ROW = re.compile(r"^\| (\d+\.\d+\.\d+) \|.*\|$", re.MULTILINE)


def claims_of(path: Path) -> dict[str, set[str]]:
    """Test → the requirements that it says it proves."""
    found: dict[str, set[str]] = {}
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
            found[node.name] = {
                argument.value
                for mark in node.decorator_list
                if isinstance(mark, ast.Call) and isinstance(mark.func, ast.Attribute) and mark.func.attr == "asvs"
                for argument in mark.args
                if isinstance(argument, ast.Constant) and isinstance(argument.value, str)
            }
    return found


def test_every_test_in_the_table_is_there() -> None:
    named = NAMED.findall(TABLE.read_text(encoding="utf-8"))
    assert len(named) > 20
    missing = [
        f"{path}::{test}"
        for path, test in named
        if not (ROOT / path).is_file() or (test and test not in claims_of(ROOT / path))
    ]
    assert missing == []


def test_every_requirement_that_a_test_names_has_its_row_with_that_file() -> None:
    rows = {match[1]: match[0] for match in ROW.finditer(TABLE.read_text(encoding="utf-8"))}
    wrong = [
        f"{number}: {path.relative_to(ROOT).as_posix()}"
        for path in sorted((ROOT / "tests").rglob("test_*.py"))
        if "mark.asvs(" in path.read_text(encoding="utf-8")
        for numbers in claims_of(path).values()
        for number in numbers
        if path.relative_to(ROOT).as_posix() not in rows.get(number, "")
    ]
    assert wrong == []


def test_no_requirement_has_two_rows() -> None:
    numbers = [match[1] for match in ROW.finditer(TABLE.read_text(encoding="utf-8"))]
    assert len(numbers) == len(set(numbers))
