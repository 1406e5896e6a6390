"""A hash tree over entries that are only ever added: its head, and the proof that an entry is under a head.

Source: RFC 9162, 2.1.1 (hashes of leaves and nodes), 2.1.3.1 (inclusion proofs), 2.1.3.2 (their verification).
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

EMPTY_ROOT = hashlib.sha256(b"").digest()


def leaf_hash(data: bytes) -> bytes:
    """Hash of one entry; a leaf never hashes like a node."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Hash of two subtrees side by side."""
    return hashlib.sha256(b"\x01" + left + right).digest()


@dataclass(frozen=True)
class Tree:
    """A tree as far as it has grown: its size and the heads of its full subtrees, the largest (leftmost) first."""

    size: int = 0
    peaks: tuple[bytes, ...] = ()

    def grown(self, leaf: bytes) -> "Tree":
        """The tree with one more leaf; joins as many subtrees as have become full."""
        peaks, size = [*self.peaks, leaf], self.size
        while size & 1:
            right = peaks.pop()
            peaks[-1] = node_hash(peaks[-1], right)
            size >>= 1
        return Tree(self.size + 1, tuple(peaks))

    @property
    def root(self) -> bytes:
        """The head over everything so far."""
        if not self.peaks:
            return EMPTY_ROOT
        head = self.peaks[-1]
        for peak in reversed(self.peaks[:-1]):
            head = node_hash(peak, head)
        return head

    @property
    def path_of_next(self) -> tuple[bytes, ...]:
        """Inclusion proof of the leaf that comes next, in the tree it completes."""
        return tuple(reversed(self.peaks))


def path_of(index: int, leaves: Sequence[bytes]) -> tuple[bytes, ...]:
    """Inclusion proof of one leaf among all, nearest sibling first. Raises IndexError outside the tree."""
    if not 0 <= index < len(leaves):
        raise IndexError(f"no leaf {index} in a tree of {len(leaves)}")
    if len(leaves) == 1:
        return ()
    split = 1 << (len(leaves) - 1).bit_length() - 1
    if index < split:
        return (*path_of(index, leaves[:split]), root_of(leaves[split:]))
    return (*path_of(index - split, leaves[split:]), root_of(leaves[:split]))


def root_of(leaves: Sequence[bytes]) -> bytes:
    """The head over these leaf hashes."""
    tree = Tree()
    for leaf in leaves:
        tree = tree.grown(leaf)
    return tree.root


def is_included(*, leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes) -> bool:
    """Whether the path leads from this leaf at this place to the root of a tree of this size."""
    if not 0 <= index < size:
        return False
    place, last, found = index, size - 1, leaf
    for step in path:
        if last == 0:
            return False
        if place & 1 or place == last:
            found = node_hash(step, found)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            found = node_hash(found, step)
        place, last = place >> 1, last >> 1
    return last == 0 and found == root
