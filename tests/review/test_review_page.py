"""One submission on the reviewer's page, and the decision made there."""

import re
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from fleet.certificates.models import Certificate
from fleet.records.models import DrumTest, State, Submission
from fleet.records.submissions import drum_test_reopen
from tests.cast import Cast, person_with_role
from tests.certificates.records import SENT, Ship, approved, certified, drum_on, failed, send, submitted
from tests.factories import MembershipFactory

pytestmark = pytest.mark.django_db
ASKED = (("equal_readings", "ask", "Two readings are equal to every digit. Was each read anew?"),)


def words(response: Any) -> str:
    return " ".join(response.content.decode().split())


def to(name: str, submission: Submission) -> str:
    return reverse(f"review:{name}", args=[submission.pk])


@pytest.fixture
def submission(ship: Ship) -> Submission:
    return submitted(ship)


@pytest.mark.parametrize(
    ("role", "look", "decide"),
    [
        ("superintendent", 200, 302),
        ("manager", 200, 403),
        ("officer", 403, 403),
        ("engineer", 403, 403),
        ("master", 403, 403),
        ("auditor", 403, 403),
        ("administrator", 403, 403),
    ],
)
def test_who_may_look_and_who_may_decide(
    client: Client, cast: Cast, submission: Submission, role: str, look: int, decide: int
) -> None:
    client.force_login(cast.people[role])
    assert client.get(to("review", submission)).status_code == look
    assert client.post(to("approve", submission), {"sentence": ""}).status_code == decide
    other = submitted_again(submission)
    assert client.post(to("return", other), {"sentence": "Again."}).status_code == decide


def submitted_again(submission: Submission) -> Submission:
    """Another submission of the same ship, so that both decisions can be tried."""
    from tests.certificates.records import ship_of

    return submitted(ship_of(submission.test.round.vessel))


def test_outsiders_get_nothing(client: Client, cast: Cast, submission: Submission) -> None:
    assert cast.sister_officer is not None
    assert cast.nobody is not None
    for person in [*cast.foreign.values(), cast.sister_officer, cast.nobody]:
        client.force_login(person)
        assert client.get(to("review", submission)).status_code == 404
        assert client.post(to("approve", submission)).status_code == 404
        assert client.post(to("return", submission), {"sentence": "x"}).status_code == 404
        assert client.post(reverse("review:withdraw", args=[submission.test_id]), {"reason": "x"}).status_code == 404
    assert DrumTest.objects.get(pk=submission.test_id).state == State.SUBMITTED


def test_a_shore_role_elsewhere_does_not_open_a_ship_seen_by_another_role(
    client: Client, cast: Cast, submission: Submission
) -> None:
    MembershipFactory(user=cast.auditor, company=cast.foreign_company, role="superintendent")
    client.force_login(cast.auditor)
    assert client.get(to("review", submission)).status_code == 403


def test_deciding_needs_a_sent_form(client: Client, cast: Cast, submission: Submission) -> None:
    client.force_login(cast.superintendent)
    for address in (to("approve", submission), to("return", submission)):
        assert client.get(address).headers["location"] == to("review", submission)
    submission.test.refresh_from_db()
    assert submission.test.state == State.SUBMITTED


def test_approving_leads_to_the_certificate(client: Client, cast: Cast, submission: Submission) -> None:
    client.force_login(cast.superintendent)
    response = client.post(to("approve", submission), {"sentence": "Good."})
    certificate = Certificate.objects.get()
    assert response.headers["Location"] == reverse("certificates:certificate", args=[certificate.pk])


def test_an_approved_failure_leads_back_to_the_queue(client: Client, cast: Cast, ship: Ship) -> None:
    failure = failed(ship)
    client.force_login(cast.superintendent)
    shown = words(client.get(to("review", failure)))
    assert "Approve as a record of failure" in shown
    assert client.post(to("approve", failure)).headers["Location"] == reverse("review:today")
    assert not Certificate.objects.exists()


def test_an_unanswered_finding_keeps_the_page_with_what_was_typed(client: Client, cast: Cast, ship: Ship) -> None:
    submission = submitted(ship, findings=ASKED)
    client.force_login(cast.superintendent)
    response = client.post(to("approve", submission), {"answer_equal_readings": "", "sentence": "Kept <words>"})
    shown = words(response)
    assert response.status_code == 200
    assert "Answer this finding before you approve." in shown
    assert 'href="#approve_answer_equal_readings"' in shown
    assert escape("Kept <words>") in shown
    assert not Certificate.objects.exists()


def test_an_answered_finding_goes_with_the_decision(client: Client, cast: Cast, ship: Ship) -> None:
    submission = submitted(ship, findings=ASKED)
    client.force_login(cast.superintendent)
    client.post(to("approve", submission), {"answer_equal_readings": "Yes, see photo."})
    assert submission.decisions.get().finding_answers == {"equal_readings": "Yes, see photo."}


def test_returning_without_a_sentence_says_what_to_write(client: Client, cast: Cast, submission: Submission) -> None:
    client.force_login(cast.superintendent)
    response = client.post(to("return", submission), {"sentence": "  "})
    assert response.status_code == 200
    assert "the ship sees it and acts on it" in words(response)
    assert DrumTest.objects.get(pk=submission.test_id).state == State.SUBMITTED


def test_the_second_reviewer_gets_told_with_409(client: Client, cast: Cast, submission: Submission) -> None:
    approved(submission, cast.superintendent)
    client.force_login(person_with_role(cast.company, "superintendent", cast.vessel))
    for name in ("approve", "return"):
        response = client.post(to(name, submission), {"sentence": "x"})
        assert response.status_code == 409
        assert f"{cast.superintendent.name} decided on this already" in words(response)
        assert "Your decision was not recorded." in words(response)


def test_the_submitter_sees_no_form_and_cannot_send_one(client: Client, cast: Cast, ship: Ship) -> None:
    MembershipFactory(user=ship.officer, company=cast.company, role="superintendent")
    submission = submitted(ship)
    client.force_login(ship.officer)
    shown = words(client.get(to("review", submission)))
    assert "You took part in this test yourself" in shown
    assert to("approve", submission) not in shown
    response = client.post(to("approve", submission))
    assert response.status_code == 403
    assert "another superintendent must decide" in words(response)


def test_the_manager_looks_on(client: Client, cast: Cast, submission: Submission) -> None:
    client.force_login(cast.manager)
    shown = words(client.get(to("review", submission)))
    assert "A superintendent decides; you may look on." in shown
    assert to("approve", submission) not in shown


def test_it_stands_beside_the_last_approved_test_with_differences_marked(
    client: Client, cast: Cast, ship: Ship
) -> None:
    drum = drum_on(cast.vessel)
    certified(ship, cast.superintendent, drum, tested_on=date(2025, 11, 20), final_mark="47,5")
    submission = submitted(ship, drum)
    client.force_login(cast.superintendent)
    response = client.get(to("review", submission))
    assert "Beside the test of 20 November 2025" in words(response)
    rows = {row.label: row for group in response.context["groups"] for row in group.rows}
    left = rows["marker distance as left"]
    assert (left.now, left.before, left.differs) == ("49 mm", "47,5 mm", True)
    assert not rows["ship design MBL"].differs


def test_what_differs_comes_first_and_what_stayed_the_same_is_folded_away(
    client: Client, cast: Cast, ship: Ship
) -> None:
    drum = drum_on(cast.vessel)
    certified(ship, cast.superintendent, drum, tested_on=date(2025, 11, 20), final_mark="47,5")
    client.force_login(cast.superintendent)
    shown = words(client.get(to("review", submitted(ship, drum))))
    beside = shown.split("Beside the test of 20 November 2025")[1].split("<h2>Working</h2>")[0]
    open_part, folded = beside.split("<details>")
    same = re.search(r"<summary>What stayed the same \((\d+)\)</summary>", folded)
    assert same
    assert int(same[1]) == folded.count('<th scope="row">') > 15
    differing = [">marker distance as left</th>", ">tested</th>"]
    alike = [">ship design MBL</th>", ">target reading</th>", ">weather</th>"]
    assert [row for row in differing if row not in open_part or row in folded] == []
    assert [row for row in alike if row in open_part or row not in folded] == []


def test_without_an_earlier_test_every_figure_lies_open(client: Client, cast: Cast, submission: Submission) -> None:
    client.force_login(cast.superintendent)
    shown = words(client.get(to("review", submission)))
    figures = shown.split("<h2>The figures</h2>")[1].split("<h2>Working</h2>")[0]
    assert ">ship design MBL</th>" in figures
    assert "<details>" not in figures
    assert "What stayed the same" not in shown


def test_the_decision_is_one_press_from_the_top(client: Client, cast: Cast, submission: Submission) -> None:
    client.force_login(cast.superintendent)
    shown = words(client.get(to("review", submission)))
    link = '<a class="button" href="#decide">'
    assert shown.index(link) < shown.index("Slips and holds") < shown.index('id="decide"')
    client.force_login(cast.manager)
    assert link not in words(client.get(to("review", submission)))


def test_a_failed_test_is_an_earlier_test_too_and_an_undecided_one_is_not(
    client: Client, cast: Cast, ship: Ship
) -> None:
    drum = drum_on(cast.vessel)
    approved(failed(ship, drum, tested_on=date(2026, 10, 1)), cast.superintendent)
    submitted(ship, drum, tested_on=date(2026, 11, 1))
    submission = submitted(ship, drum)
    client.force_login(cast.superintendent)
    assert client.get(to("review", submission)).context["previous"].tested_on == date(2026, 10, 1)


def test_an_amendment_shows_what_the_ship_changed(client: Client, cast: Cast, ship: Ship) -> None:
    first = submitted(ship)
    drum_test_reopen(test=first.test, reason="The lining was read wrongly.", actor=ship.officer)
    test = DrumTest.objects.get(pk=first.test_id)
    test.draft |= {"lining_1": "8,1", "answer_to_shore": "Read again with a depth gauge."}
    test.save()
    second = send(test, ship, at=SENT.replace(day=22))
    client.force_login(cast.superintendent)
    response = client.get(to("review", second))
    assert "The lining was read wrongly." in words(response)
    assert "The ship's answer: Read again with a depth gauge." in words(response)
    assert [(row.label, row.now) for row in response.context["amended"]] == [
        ("lining at three places", "8,1 mm, 9.6 mm, 9.7 mm")
    ]
    old = words(client.get(to("review", first)))
    assert "The ship has sent a newer version." in old
    assert to("approve", first) not in old


def test_what_was_typed_is_shown_as_typed(client: Client, cast: Cast, ship: Ship) -> None:
    submission = submitted(ship, old_mark="53,50", remarks="wind rose at <11>")
    client.force_login(cast.superintendent)
    shown = words(client.get(to("review", submission)))
    assert "53,50" in shown
    assert escape("wind rose at <11>") in shown


def test_the_page_shows_the_same_digits_as_the_record(client: Client, cast: Cast, submission: Submission) -> None:
    client.force_login(cast.superintendent)
    shown = words(client.get(to("review", submission)))
    for digits in ("380.6 kN", "38.81 t (tonne-force)", "59.7 %", "51.3 %", "173.2 bar", "379.5", "381.7"):
        assert digits in shown


def test_readings_and_earlier_tests_do_not_add_queries(
    client: Client, cast: Cast, ship: Ship, django_assert_max_num_queries: Any
) -> None:
    drum = drum_on(cast.vessel)
    for year in (2022, 2023, 2024, 2025):
        certified(ship, cast.superintendent, drum, tested_on=date(year, 11, 20))
    submission = submitted(ship, drum, findings=ASKED)
    client.force_login(cast.superintendent)
    with django_assert_max_num_queries(30):
        client.get(to("review", submission))


def test_withdrawing_asks_for_the_reason_first(client: Client, cast: Cast, ship: Ship) -> None:
    certificate = certified(ship, cast.superintendent)
    url = reverse("review:withdraw", args=[certificate.submission.test_id])
    client.force_login(cast.superintendent)
    assert certificate.number in words(client.get(url))
    assert "Say why this is withdrawn" in words(client.post(url, {"reason": ""}))
    certificate.refresh_from_db()
    assert certificate.state == "issued"
    response = client.post(url, {"reason": "gauge failed its calibration"})
    assert response.headers["Location"] == reverse("certificates:vessel_certificates", args=[cast.vessel.pk])
    certificate.refresh_from_db()
    assert certificate.state == "withdrawn"
    assert client.post(url, {"reason": "again"}).status_code == 409


@pytest.mark.parametrize("role", ["manager", "officer", "master", "engineer", "auditor", "administrator"])
def test_only_a_superintendent_withdraws(client: Client, cast: Cast, ship: Ship, role: str) -> None:
    test = certified(ship, cast.superintendent).submission.test
    client.force_login(cast.people[role])
    assert client.post(reverse("review:withdraw", args=[test.pk]), {"reason": "x"}).status_code == 403
