"""Of many versions the newest of each test."""

from collections.abc import Iterable
from uuid import UUID

from fleet.records.models import Submission


def newest_versions(rows: Iterable[Submission]) -> list[Submission]:
    """Of each test only the newest version, in the order the tests first appear."""
    newest: dict[UUID, Submission] = {}
    for row in rows:
        held = newest.get(row.test_id)
        if held is None or row.version > held.version:
            newest[row.test_id] = row
    return list(newest.values())
