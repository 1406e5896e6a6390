"""Two reviewers at the same moment, on real transactions: one decides, the other is told."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from django.db import connection

from fleet.certificates.models import Certificate
from fleet.certificates.numbers import number_take
from fleet.core import pdf
from fleet.records.models import Decision, DrumTest, State
from fleet.review.services import AlreadyDecided, submission_approve, submission_return
from tests.cast import make_cast, person_with_role
from tests.certificates.records import drum_on, ship_of, submitted
from tests.factories import CompanyFactory

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*acts: Callable[[], Any]) -> list[Any]:
    """Start every act at the same moment, each on a connection of its own; results or exceptions."""
    together = Barrier(len(acts))

    def run(act: Callable[[], Any]) -> Any:
        try:
            together.wait(timeout=10)
            return act()
        except Exception as error:
            return error
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as pool:
        return list(pool.map(run, acts))


@pytest.fixture(autouse=True)
def quick_paper(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pdf, "render_pdf", lambda *args, **kwargs: b"%PDF-1.7 %%EOF")


def test_of_two_approvals_one_wins_and_the_other_is_told() -> None:
    cast = make_cast()
    submission = submitted(ship_of(cast.vessel))
    other = person_with_role(cast.company, "superintendent", cast.vessel)
    outcomes = at_once(
        lambda: submission_approve(submission=submission, actor=cast.superintendent),
        lambda: submission_approve(submission=submission, actor=other),
    )
    assert sorted(type(outcome).__name__ for outcome in outcomes) == ["AlreadyDecided", "Decision"]
    assert Certificate.objects.count() == 1


def test_approval_against_return_ends_in_one_of_them() -> None:
    cast = make_cast()
    submission = submitted(ship_of(cast.vessel))
    other = person_with_role(cast.company, "superintendent", cast.vessel)
    outcomes = at_once(
        lambda: submission_approve(submission=submission, actor=cast.superintendent),
        lambda: submission_return(submission=submission, sentence="Again, please.", actor=other),
    )
    assert sum(isinstance(outcome, Decision) for outcome in outcomes) == 1
    assert sum(isinstance(outcome, AlreadyDecided) for outcome in outcomes) == 1
    decision = Decision.objects.get()
    test = DrumTest.objects.get(pk=submission.test_id)
    assert (test.state == State.APPROVED) == (decision.kind == "approved")
    assert Certificate.objects.count() == (1 if decision.kind == "approved" else 0)


def test_numbers_taken_at_once_are_all_different_and_without_a_gap() -> None:
    from django.db import transaction

    company = CompanyFactory(short_code="KS")

    def take() -> str:
        with transaction.atomic():
            return number_take(company=company, year=2026)

    numbers = at_once(*[take] * 6)
    assert sorted(numbers) == [f"KS-2026-{n:04d}" for n in range(1, 7)]


def test_two_drums_approved_at_once_get_two_numbers() -> None:
    cast = make_cast()
    ship = ship_of(cast.vessel)
    one, two = submitted(ship, drum_on(cast.vessel)), submitted(ship, drum_on(cast.vessel))
    outcomes = at_once(
        lambda: submission_approve(submission=one, actor=cast.superintendent),
        lambda: submission_approve(submission=two, actor=cast.superintendent),
    )
    assert all(isinstance(outcome, Decision) for outcome in outcomes), outcomes
    assert len(set(Certificate.objects.values_list("number", flat=True))) == 2
