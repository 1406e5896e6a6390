"""A web worker's stand-in that is killed in the middle: does one act per child process, and dies where it is told.

Reads lines of JSON, {"act": …, "id": …, "actor": …, "die": n, "when": "before" | "after"}, and answers each with what
the child acknowledged and how it ended. `die` counts the statements sent to the database, commits among them; with 0
the child lives.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Callable
from typing import Any

import django
from django.conf import settings


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.settings")
    django.setup()
    # The paper itself is another matter: here its bytes only have to be stored once, and whole.
    from fleet.core import pdf

    pdf.render_pdf = lambda *args, **kwargs: b"%PDF-1.7 %%EOF"  # type: ignore[assignment]
    settings.STORAGES["default"] = {"BACKEND": "django.core.files.storage.FileSystemStorage"}
    for line in sys.stdin:
        order = json.loads(line)
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(reading)
            _child(order, writing)
        os.close(writing)
        with os.fdopen(reading) as acknowledged:
            said = acknowledged.read()
        _, status = os.waitpid(child, 0)
        killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
        print(json.dumps({"killed": killed, **json.loads(said or "{}")}), flush=True)


def _child(order: dict[str, Any], writing: int) -> None:
    from django.db import connection

    count = Count(order["die"], order["when"])
    try:
        connection.ensure_connection()
        connection.commit = count.around(connection.commit)  # type: ignore[method-assign]
        with connection.execute_wrapper(count.statement):
            ACTS[order["act"]](order["id"], order["actor"])
        answer = {"acknowledged": True, "statements": count.seen}
    except Exception as error:
        answer = {"acknowledged": False, "error": f"{type(error).__name__}: {error}"}
    os.write(writing, json.dumps(answer).encode())
    os._exit(0)


class Count:
    """Counts what goes to the database, and ends the process at the chosen place as the power would."""

    def __init__(self, die: int, when: str) -> None:
        self.die, self.when, self.seen = die, when, 0

    def statement(self, execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        return self.around(execute)(sql, params, many, context)

    def around(self, act: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*args: Any, **kwargs: Any) -> Any:
            self.seen += 1
            here = self.seen == self.die
            if here and self.when == "before":
                os.kill(os.getpid(), signal.SIGKILL)
            result = act(*args, **kwargs)
            if here:
                os.kill(os.getpid(), signal.SIGKILL)
            return result

        return counted


def _submit(key: str, actor: str) -> None:
    from fleet.accounts.models import User
    from fleet.records.models import DrumTest
    from fleet.records.submissions import drum_test_submit

    test = DrumTest.objects.get(pk=key)
    person = User.objects.get(pk=actor)
    drum_test_submit(test=test, declared_name=person.name, declared_rank="chief officer", actor=person)


def _approve(key: str, actor: str) -> None:
    from fleet.accounts.models import User
    from fleet.records.models import Submission
    from fleet.review.services import submission_approve

    submission = Submission.objects.get(pk=key)
    answers = {row.code: "Seen." for row in submission.findings.all() if row.level != "note"}
    submission_approve(submission=submission, finding_answers=answers, actor=User.objects.get(pk=actor))


ACTS = {"submit": _submit, "approve": _approve}


if __name__ == "__main__":
    main()
