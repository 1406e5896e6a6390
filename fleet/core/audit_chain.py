"""The chain that audit entries form, one per company: linking new ones, and finding what was done to old ones."""

import uuid
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC

from fleet.core.canonical import canonical
from fleet.core.merkle import Tree, leaf_hash
from fleet.core.models import AuditEntry, AuditHead

SCHEMA = "audit-entry/1"
# The chain of what belongs to no company.
NO_COMPANY = uuid.UUID(int=0)


@dataclass(frozen=True)
class Place:
    """Where an entry stands: the head of its chain when it was the newest, and the proof that it is under it."""

    chain: uuid.UUID
    size: int
    leaf: bytes
    root: bytes
    path: tuple[bytes, ...]


Then = Callable[[AuditEntry, Place], None]


def chain_of(company_id: uuid.UUID | None) -> uuid.UUID:
    return company_id or NO_COMPANY


def canonical_of(entry: AuditEntry) -> bytes:
    """Everything the entry says, as bytes to hash."""
    return canonical(
        {
            "schema": SCHEMA,
            "chain": str(entry.chain),
            "sequence": entry.sequence,
            "previous_hash": entry.previous_hash,
            "at": entry.at.astimezone(UTC).isoformat(timespec="microseconds"),
            "utc_offset_minutes": entry.utc_offset_minutes,
            "company_id": _text(entry.company_id),
            "vessel_id": _text(entry.vessel_id),
            "actor_id": _text(entry.actor_id),
            "actor_name": entry.actor_name,
            "action": entry.action,
            "subject_kind": entry.subject_kind,
            "subject_id": _text(entry.subject_id),
            "subject_name": entry.subject_name,
            "reason": entry.reason,
            "before": entry.before,
            "after": entry.after,
            "came_from": entry.came_from,
        }
    )


def _text(value: uuid.UUID | None) -> str | None:
    return str(value) if value else None


def link(waiting: Sequence[tuple[AuditEntry, Then | None]]) -> None:
    """Add entries to their chains, in the order given, inside the caller's transaction.

    Chains are taken in one fixed order, and last of all in a transaction: whoever waits here holds nothing that the
    one in front still wants.
    """
    chains = sorted({chain_of(entry.company_id) for entry, _ in waiting}, key=str)
    for chain in chains:
        _link_one(chain, [pair for pair in waiting if chain_of(pair[0].company_id) == chain])


def _link_one(chain: uuid.UUID, waiting: Sequence[tuple[AuditEntry, Then | None]]) -> None:
    head = _held(chain)
    tree = tree_of(head)
    places = []
    for entry, _ in waiting:
        entry.chain, entry.sequence, entry.previous_hash = chain, tree.size + 1, head.last_hash
        entry.canonical = canonical_of(entry)
        leaf = leaf_hash(entry.canonical)
        entry.entry_hash = head.last_hash = leaf.hex()
        path, tree = tree.path_of_next, tree.grown(leaf)
        places.append(Place(chain, tree.size, leaf, tree.root, path))
    AuditEntry.objects.bulk_create([entry for entry, _ in waiting])
    head.size, head.peaks = tree.size, [peak.hex() for peak in tree.peaks]
    head.save(update_fields=["size", "last_hash", "peaks"])
    for (entry, then), place in zip(waiting, places, strict=True):
        if then is not None:
            then(entry, place)


def _held(chain: uuid.UUID) -> AuditHead:
    heads = AuditHead.objects.select_for_update()
    found = heads.filter(pk=chain).first()
    if found is None:
        # Two first entries at once: the second finds the row of the first.
        AuditHead.objects.bulk_create([AuditHead(chain=chain)], ignore_conflicts=True)
        found = heads.get(pk=chain)
    return found


def tree_of(head: AuditHead) -> Tree:
    return Tree(head.size, tuple(bytes.fromhex(peak) for peak in head.peaks))


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong with a chain: at which place, and what."""

    chain: uuid.UUID
    sequence: int
    what: str


@dataclass
class Walk:
    """One walk along a chain: how far it went, its tree, and the heads it passed that were asked for."""

    tree: Tree = field(default_factory=Tree)
    faults: list[Fault] = field(default_factory=list)


EDITED = "entry {sequence} says something else than what was hashed when it was written"
REHASHED = "the hash of entry {sequence} does not fit its content"
BROKEN = "entry {sequence} does not follow the entry before it"
MISSING = "entry {expected} is missing; the next that is there is {sequence}"
LEFT_OVER = "entry {sequence} stands where entry {expected} was expected"
TAIL = "the chain ends at entry {sequence}, but it had grown to {size}"
UNKNOWN_TAIL = "entries after {size} were added past the chain's head"
HEAD = "the head kept for {size} entries does not fit the entries"
WITNESS = "{name} was issued over {size} entries whose head was another"


def walk(
    chain: uuid.UUID,
    entries: Iterable[AuditEntry],
    *,
    head: AuditHead | None,
    witnesses: Mapping[int, Sequence[tuple[str, str]]],
) -> Walk:
    """Read a chain from its first entry on and note everything that does not fit.

    Args: entries in the order of their places; head: what the chain is said to have grown to; witnesses: size → names
    and roots (hexadecimal) that were written down elsewhere when the chain had that size.
    """
    found = Walk()
    previous = ""
    for entry in entries:
        for what in _faults_of(entry, expected=found.tree.size + 1, previous=previous):
            found.faults.append(Fault(chain, entry.sequence, what))
        previous = entry.entry_hash
        found.tree = found.tree.grown(leaf_hash(bytes(entry.canonical)))
        for name, root in witnesses.get(found.tree.size, ()):
            if root != found.tree.root.hex():
                what = WITNESS.format(name=name, size=found.tree.size)
                found.faults.append(Fault(chain, entry.sequence, what))
    found.faults.extend(_faults_at_end(chain, found.tree, head, previous, witnesses))
    return found


def _faults_of(entry: AuditEntry, *, expected: int, previous: str) -> Iterator[str]:
    stored = bytes(entry.canonical)
    if entry.sequence > expected:
        yield MISSING.format(expected=expected, sequence=entry.sequence)
    elif entry.sequence < expected:
        yield LEFT_OVER.format(expected=expected, sequence=entry.sequence)
    if canonical_of(entry) != stored or entry.chain != chain_of(entry.company_id):
        yield EDITED.format(sequence=entry.sequence)
    if leaf_hash(stored).hex() != entry.entry_hash:
        yield REHASHED.format(sequence=entry.sequence)
    if entry.previous_hash != previous:
        yield BROKEN.format(sequence=entry.sequence)


def _faults_at_end(
    chain: uuid.UUID,
    tree: Tree,
    head: AuditHead | None,
    previous: str,
    witnesses: Mapping[int, Sequence[tuple[str, str]]],
) -> Iterator[Fault]:
    size = head.size if head else 0
    if tree.size < size:
        yield Fault(chain, tree.size, TAIL.format(sequence=tree.size, size=size))
    elif tree.size > size:
        yield Fault(chain, tree.size, UNKNOWN_TAIL.format(size=size))
    elif head and (tree_of(head) != tree or head.last_hash != previous):
        yield Fault(chain, tree.size, HEAD.format(size=size))
    for seen, rows in witnesses.items():
        if seen > tree.size:
            for name, _ in rows:
                yield Fault(chain, tree.size, WITNESS.format(name=name, size=seen))
