"""The locks install the same files everywhere and name no place to get them from."""

from __future__ import annotations

import re
import tomllib

import pytest

from tests.shape import ROOT

LOCKS = ["requirements.lock", "tests/requirements.lock"]
ENTRY = re.compile(r"^([a-z0-9][a-z0-9.-]*)==(\S+?)( ;.*)?$")


def entries(name: str) -> dict[str, tuple[str, list[str]]]:
    """Package → its version and hashes."""
    found: dict[str, tuple[str, list[str]]] = {}
    text = (ROOT / name).read_text(encoding="utf-8").replace("\\\n", " ")
    for line in text.splitlines():
        requirement, *hashes = re.split(r"\s+--hash=", line.strip())
        match = ENTRY.match(requirement)
        assert match, f"{name}: {line[:80]}"
        assert match[1] not in found, f"{name} has {match[1]} twice"
        found[match[1]] = (match[2], hashes)
    return found


@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_names_no_address_and_no_option(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert "://" not in text
    assert [line for line in text.splitlines() if line.startswith("-")] == []


@pytest.mark.parametrize("name", LOCKS)
def test_every_entry_of_a_lock_has_its_hashes(name: str) -> None:
    found = entries(name)
    assert len(found) > 20
    assert [package for package, (_, hashes) in found.items() if not hashes] == []
    for _, hashes in found.values():
        assert all(re.fullmatch(r"sha256:[0-9a-f]{64}", each) for each in hashes)


def test_both_locks_agree_where_they_meet() -> None:
    product, testing = (entries(name) for name in LOCKS)
    assert {name: testing[name] for name in testing if name in product} == {
        name: product[name] for name in testing if name in product
    }


def test_every_dependency_written_down_is_locked() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    for wanted, name in (
        (project["project"]["dependencies"], LOCKS[0]),
        (project["dependency-groups"]["test"], LOCKS[1]),
    ):
        locked = entries(name)
        plain = [re.split(r"[\[~<>=! ;]", each)[0].lower().replace("_", "-") for each in wanted]
        assert [each for each in plain if each not in locked] == []
