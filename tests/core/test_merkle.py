"""The hash tree against the test vectors of its reference implementation and against the definition in RFC 9162."""

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.core.merkle import EMPTY_ROOT, Tree, is_included, leaf_hash, path_of, root_of

# Inputs and heads of the Certificate Transparency reference tests for RFC 6962, whose hashes RFC 9162 keeps; the
# figures are from memory and agree with the definition below.
INPUTS = [
    bytes.fromhex(text)
    for text in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]
HEADS = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]


def by_definition(entries: list[bytes]) -> bytes:
    """MTH of RFC 9162, 2.1.1, word for word."""
    if not entries:
        return hashlib.sha256(b"").digest()
    if len(entries) == 1:
        return hashlib.sha256(b"\x00" + entries[0]).digest()
    split = 1
    while split * 2 < len(entries):
        split *= 2
    left, right = by_definition(entries[:split]), by_definition(entries[split:])
    return hashlib.sha256(b"\x01" + left + right).digest()


@pytest.mark.parametrize("size", range(1, 9))
def test_the_heads_are_those_of_the_reference_tests(size: int) -> None:
    leaves = [leaf_hash(entry) for entry in INPUTS[:size]]
    assert root_of(leaves).hex() == HEADS[size - 1] == by_definition(INPUTS[:size]).hex()


def test_a_tree_without_entries_has_the_hash_of_nothing() -> None:
    assert Tree().root == EMPTY_ROOT == by_definition([])


@given(st.lists(st.binary(max_size=4), min_size=1, max_size=40))
def test_a_tree_that_grows_is_the_tree_by_definition_and_proves_its_newest_leaf(entries: list[bytes]) -> None:
    tree = Tree()
    for number, entry in enumerate(entries):
        path, tree = tree.path_of_next, tree.grown(leaf_hash(entry))
        assert tree.root == by_definition(entries[: number + 1])
        assert is_included(leaf=leaf_hash(entry), index=number, size=number + 1, path=path, root=tree.root)
        assert path == path_of(number, [leaf_hash(one) for one in entries[: number + 1]])


@given(st.integers(1, 40), st.data())
def test_a_path_proves_its_leaf_at_its_place_and_nothing_else(size: int, data: st.DataObject) -> None:
    leaves = [leaf_hash(bytes([number])) for number in range(size)]
    index = data.draw(st.integers(0, size - 1))
    path, root = path_of(index, leaves), by_definition([bytes([number]) for number in range(size)])
    good = {"leaf": leaves[index], "index": index, "size": size, "path": path, "root": root}
    assert is_included(**good)
    assert not is_included(**{**good, "leaf": leaf_hash(b"another")})
    assert not is_included(**{**good, "path": (*path, b"\x00" * 32)})
    assert not is_included(**{**good, "index": size})
    for other in range(size):
        assert is_included(**{**good, "index": other}) is (other == index)
    if path:
        assert not is_included(**{**good, "path": path[:-1]})


def test_there_is_no_path_outside_the_tree() -> None:
    with pytest.raises(IndexError):
        path_of(1, [leaf_hash(b"only")])
