"""A worker killed (SIGKILL) in the middle of submit, approve and issue: what was acknowledged is there once, whole.

The place is chosen by a seed among all statements of the act, its commits, and the moment just after each. The suite
tries a fixed few; `FLEET_KILLS` sets another number of tests, each killed in both acts, as the long run does.
"""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

from fleet.certificates.models import Certificate
from fleet.core.canonical import sha256_of
from fleet.core.models import AuditEntry
from fleet.records.models import Decision, DecisionKind, DrumTest, State, Submission
from fleet.review.chains import chain_reports
from tests.cast import Cast
from tests.certificates.records import SENT, Ship, drafted, release, ship_of
from tests.shape import ROOT

pytestmark = pytest.mark.django_db(transaction=True)

KILLS = int(os.environ.get("FLEET_KILLS", "2"))
SEED = int(os.environ.get("FLEET_KILLS_SEED", "20261120"))


@pytest.fixture
def worker(tmp_path: Path, media_root: Path) -> Iterator[Callable[..., dict[str, Any]]]:
    """Hands one act to the worker and returns how it ended."""
    of = connection.settings_dict
    address = f"sqlite:///{of['NAME']}"
    if connection.vendor == "postgresql":
        address = f"postgres://{of['USER']}:{of['PASSWORD']}@{of['HOST']}:{of['PORT']}/{of['NAME']}"
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.faults.worker"],
        cwd=ROOT,
        env={**os.environ, "DATABASE_URL": address, "FLEET_VAR": str(media_root.parent)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdin is not None
    assert process.stdout is not None

    def ask(act: str, row: Any, actor: Any, *, die: int = 0, when: str = "before") -> dict[str, Any]:
        order = {"act": act, "id": str(row.pk), "actor": str(actor.pk), "die": die, "when": when}
        process.stdin.write(json.dumps(order) + "\n")  # type: ignore[union-attr]
        process.stdin.flush()  # type: ignore[union-attr]
        answer: dict[str, Any] = json.loads(process.stdout.readline())  # type: ignore[union-attr]
        return answer

    yield ask
    process.stdin.close()
    process.wait(timeout=20)
    process.stdout.close()


def released(ship: Ship, number: int) -> DrumTest:
    test = drafted(ship)
    release(test, ship, at=SENT + timedelta(seconds=number))
    return test


def place(chance: random.Random, statements: int) -> tuple[int, str]:
    """Anywhere in the act, and every third time about its last commits, where most could go wrong."""
    first = max(1, statements - 4) if chance.random() < 1 / 3 else 1
    return chance.randint(first, statements), chance.choice(["before", "after"])


def what_does_not_hold() -> list[str]:
    """Every promise about records and certificates, read from the tables as they are."""
    wrong = [
        f"certificate {row.number} without an approval"
        for row in Certificate.objects.all()
        if not Decision.objects.filter(submission=row.submission_id, kind=DecisionKind.APPROVED).exists()
    ]
    for row in Certificate.objects.exclude(pdf=""):
        with row.pdf.open("rb") as content:
            if sha256_of(content.read()) != row.pdf_sha256:
                wrong.append(f"the paper of {row.number} is not the one that was stored")
    entries = AuditEntry.objects.values_list("subject_id", "action")
    said = set(entries)
    for row in DrumTest.objects.exclude(state=State.DRAFT):
        if row.submissions.count() != 1:
            wrong.append(f"{row} was recorded {row.submissions.count()} times")
        if (row.pk, "drum test submitted") not in said:
            wrong.append(f"{row} was sent without an audit entry")
        if row.state == State.APPROVED:
            if (row.pk, "submission approved") not in said:
                wrong.append(f"{row} was approved without an audit entry")
            if Certificate.objects.filter(submission__test=row).count() != 1:
                wrong.append(f"{row} is approved and has not exactly one certificate")
    wrong += [
        f"{row} is a draft with a submission"
        for row in DrumTest.objects.filter(state=State.DRAFT, submissions__isnull=False)
    ]
    wrong += [fault.what for report in chain_reports() for fault in report.faults]
    return wrong


def test_a_killed_worker_loses_nothing_and_does_nothing_twice(
    cast: Cast, worker: Callable[..., dict[str, Any]], capsys: pytest.CaptureFixture[str]
) -> None:
    ship = ship_of(cast.vessel)
    chance = random.Random(SEED)
    lengths: dict[str, int] = {}
    killed = {"submit": 0, "approve": 0}
    after_the_commit = 0
    for number in range(KILLS + 1):
        test = released(ship, number)
        for act, actor in (("submit", ship.officer), ("approve", cast.superintendent)):
            row: DrumTest | Submission = test if act == "submit" else test.submissions.get()
            if number == 0:
                # Once undisturbed, to learn how many places there are.
                first = worker(act, row, actor)
                assert first["acknowledged"], first
                lengths[act] = first["statements"]
                continue
            end = worker(act, row, actor, die=chance.randint(1, lengths[act]), when=chance.choice(["before", "after"]))
            killed[act] += end["killed"]
            assert what_does_not_hold() == []
            test.refresh_from_db()
            done = test.state == (State.SUBMITTED if act == "submit" else State.APPROVED)
            assert done or not end.get("acknowledged")
            after_the_commit += bool(end["killed"] and done)
            if not done:
                # The person presses again.
                assert worker(act, row, actor)["acknowledged"]
                test.refresh_from_db()
        test.refresh_from_db()
        assert test.state == State.APPROVED
        assert what_does_not_hold() == []
    assert killed["submit"] + killed["approve"] >= KILLS
    with capsys.disabled():
        if "FLEET_KILLS" in os.environ:
            print(
                f"\n{sum(killed.values())} workers killed ({killed}), {after_the_commit} after the commit; nothing lost"
            )
