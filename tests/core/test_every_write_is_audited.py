"""Read from the code: whoever opens a transaction to write also leaves an audit entry."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.shape import FLEET, ROOT, python_files

ENTRY = "audit_write"
# Rows taken out of records and thrown away at will: the act on the record has the entry.
DERIVED = {"history_point_keep", "history_point_forget", "history_points_renew"}
APPS = ("accounts", "vessels", "drums", "gauges", "records", "certificates", "review", "drift")


def functions() -> Iterator[tuple[Path, ast.FunctionDef]]:
    for path in python_files():
        if path.relative_to(FLEET).parts[0] not in APPS or {"migrations", "management"}.intersection(path.parts):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                yield path, node


def called(node: ast.AST) -> set[str]:
    """Names of the functions that a function calls, whatever object they hang on."""
    found = set()
    for part in ast.walk(node):
        if isinstance(part, ast.Call):
            of = part.func
            if isinstance(of, ast.Name):
                found.add(of.id)
            elif isinstance(of, ast.Attribute):
                found.add(of.attr)
    return found


def opens_a_transaction(node: ast.FunctionDef) -> bool:
    return "audited" in {name for part in (*node.decorator_list, *node.body) for name in called(part)}


@cache
def calls_of_all() -> dict[str, set[str]]:
    calls: dict[str, set[str]] = defaultdict(set)
    for _, node in functions():
        calls[node.name] |= called(node)
    for path in (FLEET / "core").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                calls[node.name] |= called(node)
    return calls


def reaches(name: str, goal: str, calls: dict[str, set[str]]) -> bool:
    seen, waiting = {name}, [name]
    while waiting:
        for step in calls.get(waiting.pop(), ()):
            if step == goal:
                return True
            if step not in seen and step in calls:
                seen.add(step)
                waiting.append(step)
    return False


WRITERS = sorted({node.name for _, node in functions() if opens_a_transaction(node)} - DERIVED)


@pytest.mark.parametrize("name", WRITERS)
def test_who_writes_leaves_an_entry(name: str) -> None:
    assert reaches(name, ENTRY, calls_of_all())


def test_a_writer_without_an_entry_is_seen() -> None:
    writer = ast.parse("@audited()\ndef gauge_lend(*, gauge):\n    hold(gauge)\n    gauge.save()\n").body[0]
    assert isinstance(writer, ast.FunctionDef)
    assert opens_a_transaction(writer)
    assert not reaches("gauge_lend", ENTRY, {**calls_of_all(), "gauge_lend": called(writer)})


WRITES = {"save", "create", "bulk_create", "bulk_update", "update", "delete", "get_or_create", "update_or_create"}


def test_no_view_or_form_writes_rows_itself() -> None:
    found = [
        f"{path.relative_to(ROOT).as_posix()}:{part.lineno}"
        for path, node in functions()
        if "views" in path.relative_to(FLEET).as_posix() or "forms" in path.relative_to(FLEET).as_posix()
        for part in ast.walk(node)
        if isinstance(part, ast.Call)
        and isinstance(part.func, ast.Attribute)
        and part.func.attr in WRITES
        and isinstance(part.func.value, ast.Attribute)
        and part.func.value.attr == "objects"
    ]
    assert found == []


def test_there_are_services_to_speak_of() -> None:
    assert len(WRITERS) > 40
