"""The chain of audit entries: whatever is done to the table behind the product's back, the walk along it finds."""

import threading
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import pairwise

import pytest
from django.db import connection, connections

from fleet.core.audit import audit_write, audited
from fleet.core.audit_chain import NO_COMPANY, Place, canonical_of, walk
from fleet.core.audit_guard import lift_guard, raise_guard
from fleet.core.merkle import Tree, is_included, leaf_hash
from fleet.core.models import AuditEntry, AuditHead
from tests.cast import Cast

pytestmark = pytest.mark.django_db


@contextmanager
def guard_lifted() -> Iterator[None]:
    """What somebody with the database's own rights can do."""
    lift_guard(connection)
    yield
    raise_guard(connection)


def sql(text: str, *values: object) -> None:
    with guard_lifted(), connection.cursor() as cursor:
        cursor.execute(text, values)


def write(cast: Cast, number: int, **more: object) -> None:
    audit_write(
        actor=cast.officer,
        action=f"act {number}",
        subject=cast.vessel,
        company_id=cast.company.pk,
        before={"b": 1.5, "a": None},
        after={"a": number, "ö": ["x", 60.0, 1e-7]},
        **more,  # type: ignore[arg-type]
    )


def faults(cast: Cast, **more: object) -> list[str]:
    chain = cast.company.pk
    rows = AuditEntry.objects.filter(chain=chain).order_by("sequence", "pk")
    head = AuditHead.objects.filter(pk=chain).first()
    found = walk(chain, rows, head=head, witnesses={}, **more)  # type: ignore[arg-type]
    return [fault.what for fault in found.faults]


@pytest.fixture
def five(cast: Cast) -> Cast:
    for number in range(1, 6):
        write(cast, number)
    return cast


def test_entries_of_a_company_follow_one_another(five: Cast) -> None:
    rows = list(AuditEntry.objects.filter(chain=five.company.pk).order_by("sequence"))
    first = rows[-5].sequence
    assert [row.sequence for row in rows[-5:]] == list(range(first, first + 5))
    assert all(after.previous_hash == before.entry_hash for before, after in pairwise(rows))
    assert faults(five) == []


def test_each_company_and_what_belongs_to_none_has_a_chain_of_its_own(cast: Cast) -> None:
    before = {head.pk: head.size for head in AuditHead.objects.all()}
    write(cast, 1)
    audit_write(actor=None, action="clock set", subject=cast.vessel, company_id=None)
    after = {head.pk: head.size for head in AuditHead.objects.all()}
    grown = {chain for chain, size in after.items() if size > before.get(chain, 0)}
    assert grown == {cast.company.pk, NO_COMPANY}


EDITS: dict[str, Callable[[Cast], None]] = {
    "edited": lambda cast: sql("UPDATE core_auditentry SET reason = 'because' WHERE action = 'act 3'"),
    "edited with its hash": lambda cast: forge(cast),
    "removed": lambda cast: sql("DELETE FROM core_auditentry WHERE action = 'act 3'"),
    "tail removed": lambda cast: sql("DELETE FROM core_auditentry WHERE action = 'act 5'"),
    "reordered": lambda cast: swap(),
    "inserted in the middle": lambda cast: insert(cast, 3),
    "inserted at the end": lambda cast: insert(cast, 6),
    "moved to another company": lambda cast: sql(
        "UPDATE core_auditentry SET company_id = %s WHERE action = 'act 4'", uuid_in_sql()
    ),
}


def uuid_in_sql() -> object:
    other = uuid.uuid4()
    return other if connection.vendor == "postgresql" else other.hex


def forge(cast: Cast) -> None:
    """An edit by somebody who knows how the hash of one entry is made."""
    row = AuditEntry.objects.get(action="act 3")
    row.reason = "because"
    row.canonical = canonical_of(row)
    row.entry_hash = leaf_hash(row.canonical).hex()
    with guard_lifted():
        row.save()


def swap() -> None:
    third, fourth = AuditEntry.objects.get(action="act 3"), AuditEntry.objects.get(action="act 4")
    places = third.sequence, fourth.sequence
    sql("UPDATE core_auditentry SET sequence = %s WHERE id = %s", 10_000, third.pk)
    sql("UPDATE core_auditentry SET sequence = %s WHERE id = %s", places[0], fourth.pk)
    sql("UPDATE core_auditentry SET sequence = %s WHERE id = %s", places[1], third.pk)


def insert(cast: Cast, number: int) -> None:
    """A row that fits the one before it, as far as a single row can."""
    before = AuditEntry.objects.get(action=f"act {number - 1}")
    later = AuditEntry.objects.filter(chain=before.chain, sequence__gt=before.sequence).order_by("-sequence")
    with guard_lifted():
        for row in later:
            row.sequence += 1
            row.save()
        made = AuditEntry.objects.get(pk=before.pk)
        made.pk, made.action = None, "never done"
        made.sequence, made.previous_hash = before.sequence + 1, before.entry_hash
        made.canonical = canonical_of(made)
        made.entry_hash = leaf_hash(made.canonical).hex()
        made.save(force_insert=True)


@pytest.mark.parametrize("edit", EDITS)
def test_what_was_done_behind_the_products_back_is_found(five: Cast, edit: str) -> None:
    assert faults(five) == []
    EDITS[edit](five)
    assert faults(five) != []


def test_a_chain_rewritten_from_the_edit_on_is_found_by_a_head_written_down_before(five: Cast) -> None:
    chain = five.company.pk
    rows = list(AuditEntry.objects.filter(chain=chain).order_by("sequence"))
    clean = walk(chain, rows, head=AuditHead.objects.get(pk=chain), witnesses={})
    witness = {clean.tree.size: [("certificate 1", clean.tree.root.hex())]}
    sql("UPDATE core_auditentry SET reason = 'because' WHERE action = 'act 3'")
    rewrite(chain)
    rows = list(AuditEntry.objects.filter(chain=chain).order_by("sequence"))
    head = AuditHead.objects.get(pk=chain)
    assert walk(chain, rows, head=head, witnesses={}).faults == []
    found = walk(chain, rows, head=head, witnesses=witness).faults
    assert ["certificate 1" in fault.what for fault in found] == [True]


def rewrite(chain: uuid.UUID) -> None:
    tree, last = Tree(), ""
    with guard_lifted():
        for row in AuditEntry.objects.filter(chain=chain).order_by("sequence"):
            row.previous_hash = last
            row.canonical = canonical_of(row)
            tree = tree.grown(leaf_hash(row.canonical))
            row.entry_hash = last = leaf_hash(row.canonical).hex()
            row.save()
    AuditHead.objects.filter(pk=chain).update(last_hash=last, peaks=[peak.hex() for peak in tree.peaks])


@audited()
def write_and_fail(cast: Cast, number: int) -> None:
    write(cast, number)
    raise ZeroDivisionError


def test_an_act_that_fails_leaves_no_entry_and_no_gap(cast: Cast) -> None:
    write(cast, 1)
    with pytest.raises(ZeroDivisionError):
        write_and_fail(cast, 2)
    with audited():
        write(cast, 3)
        with pytest.raises(ZeroDivisionError):
            write_and_fail(cast, 4)
    actions = list(AuditEntry.objects.filter(action__startswith="act").values_list("action", flat=True))
    assert actions == ["act 1", "act 3"]
    assert faults(cast) == []


def test_an_entry_is_told_its_place_and_the_proof_holds(five: Cast) -> None:
    places: list[Place] = []
    with audited():
        write(five, 6, then=lambda entry, place: places.append(place))
        write(five, 7)
    (place,) = places
    assert is_included(leaf=place.leaf, index=place.size - 1, size=place.size, path=place.path, root=place.root)


@pytest.mark.django_db(transaction=True)
def test_two_people_who_write_at_once_share_one_chain(cast: Cast) -> None:
    def many(start: int) -> None:
        try:
            for number in range(start, start + 10):
                write(cast, number)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=many, args=(start,)) for start in (100, 200, 300)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert AuditEntry.objects.filter(action__startswith="act").count() == 30
    assert faults(cast) == []
