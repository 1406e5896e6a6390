"""The record as it was sent: every version, what differs between two, what shore said; and opening it again."""

import re
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.accounts.models import Role
from fleet.records.canonical import read_content
from fleet.records.drafts import draft_save
from fleet.records.models import Decision, DrumTest, State, Submission
from fleet.records.submissions import drum_test_reopen
from tests.cast import Cast
from tests.factories import PolicyFactory
from tests.records.scenario import confirm_and_submit, filled_test, submitted

REASON = "The setting was read from the wrong edge."
ANSWER = "Measured again from the right edge; photo added."


def sign_in(client: Client, user: Any) -> Client:
    client.force_login(user)
    return client


def record(client: Client, test: DrumTest, query: str = "") -> str:
    answer = client.get(reverse("records:record", args=[test.pk]) + query)
    assert answer.status_code == 200
    return answer.content.decode()


def amended(cast: Cast) -> DrumTest:
    """A test sent, opened again for a reason, changed in one field and sent again."""
    test = submitted(cast).test
    test = drum_test_reopen(test=test, reason=REASON, actor=cast.superintendent)
    draft_save(
        test=test,
        values={"final_mark": "48.5", "answer_to_shore": ANSWER},
        revision=test.draft_revision,
        actor=cast.officer,
    )
    confirm_and_submit(cast, DrumTest.objects.whole().get(pk=test.pk))
    return test


@pytest.mark.parametrize("role", list(Role.values))
def test_everyone_of_the_ship_and_its_company_reads_the_record(client: Client, cast: Cast, role: str) -> None:
    test = submitted(cast).test
    html = record(sign_in(client, cast.people[role]), test)
    assert ("Open again for an amendment" in html) == (role == Role.SUPERINTENDENT)


def test_there_is_no_record_before_something_was_sent(client: Client, cast: Cast) -> None:
    test = filled_test(cast)
    sign_in(client, cast.officer)
    assert client.get(reverse("records:record", args=[test.pk])).status_code == 404


def test_the_record_is_read_from_what_was_sent_not_from_the_register(client: Client, cast: Cast) -> None:
    submission = submitted(cast)
    cast.vessel.name = "Renamed since"
    cast.vessel.save()
    draft = submission.test
    draft.draft = {**draft.draft, "remarks": "written later"}
    draft.save()
    html = record(sign_in(client, cast.officer), submission.test)
    assert "written later" not in html
    assert re.search(r"<dt>Vessel</dt><dd>Vessel \d+", html)
    assert submission.sha256[:12] in html
    assert "chief officer Ada Voss" in html
    assert "master Tomas Brandt" in html
    # The working ends in the target of the constructed case: 637 kN, 60 %, 173.2 bar.
    assert "173.2 bar" in html


def test_days_are_said_in_words_and_each_reading_once(client: Client, cast: Cast) -> None:
    PolicyFactory(company=cast.company, valid_from=date(2025, 9, 27))
    submission = submitted(cast)
    assert read_content(submission)["tested"]["on"] == "2026-11-20"
    html = record(sign_in(client, cast.officer), submission.test)
    assert "tested 20 November 2026" in html
    assert f"{cast.company} from 27 September 2025" in html
    assert "<dt>Tested</dt><dd>20 November 2026 10:40" in html
    shown = re.sub(r"<[^>]*>", " ", html)
    assert not re.search(r"\b\d{4}-\d\d-\d\d\b", shown)
    # The first reading held its mark 53.8 at 157 bar; its load is said once, in the table of the result.
    (load,) = (row["load_shown"] for row in read_content(submission)["readings"] if row["gauge_text"] == "157")
    assert shown.count(load) == 1
    assert shown.count("as found, untouched") == 2, "once in the result, once in the table"
    assert shown.count("released and re-applied") == 3


def test_the_angle_of_a_lever_off_square_stands_on_the_record(client: Client, cast: Cast) -> None:
    with_angle = submitted(cast, draft={"lever_angle": "2,5"}).test
    html = record(sign_in(client, cast.officer), with_angle)
    assert "<dt>Lever off square to the jack</dt><dd>2,5 °</dd>" in html
    assert "off square" not in record(client, submitted(cast).test)


def test_two_versions_stand_beside_each_other_with_their_differences(client: Client, cast: Cast) -> None:
    test = amended(cast)
    html = record(sign_in(client, cast.superintendent), test)
    assert "Record of" in html
    assert "version 2" in html
    assert REASON in html
    html = record(client, test, "?version=2&beside=1")
    row = re.search(
        r'Setting as left.*?<td data-label="Version 1">(.*?)</td><td data-label="Version 2">(.*?)</td>', html
    )
    assert row
    assert (row[1], row[2]) == ("49 mm", "48.5 mm")
    assert re.search(r"<td>48\.5|48\.5 mm</td><td><span class=\"differs\">differs", html)
    assert "the same" in html


def test_the_ships_answer_to_shore_stands_beside_the_reason_of_its_version(client: Client, cast: Cast) -> None:
    test = amended(cast)
    sign_in(client, cast.auditor)
    html = " ".join(record(client, test).split())
    assert f"Reason for this version: {REASON}</p><p>The ship's answer: {ANSWER}</p>" in html
    assert f"<dt>The ship&#x27;s answer to shore</dt><dd>{ANSWER}</dd>" in html
    # The list of versions says it on every version's page; version 1 itself answers nothing.
    assert record(client, test, "?version=1").count(ANSWER) == 1


def test_an_older_version_is_shown_as_it_was(client: Client, cast: Cast) -> None:
    test = amended(cast)
    html = record(sign_in(client, cast.auditor), test, "?version=1")
    assert "49 mm" in html
    assert "48.5 mm" not in html
    assert client.get(reverse("records:record", args=[test.pk]) + "?version=7").status_code == 404
    assert client.get(reverse("records:record", args=[test.pk]) + "?version=1&beside=x").status_code == 404


def test_the_ship_reads_first_why_it_was_given_back(client: Client, cast: Cast) -> None:
    test = submitted(cast).test
    drum_test_reopen(test=test, reason=REASON, actor=cast.superintendent)
    sign_in(client, cast.officer)
    for name in ("record", "check", "test"):
        html = client.get(reverse(f"records:{name}", args=[test.pk])).content.decode()
        assert html.index(REASON) < html.index("<h2"), name


def test_opening_again_needs_a_reason_and_keeps_what_was_sent(client: Client, cast: Cast) -> None:
    test = submitted(cast).test
    sign_in(client, cast.superintendent)
    url = reverse("records:reopen", args=[test.pk])
    html = client.post(url, {"reason": " "}).content.decode()
    assert 'id="id_reason_error"' in html
    assert client.post(url, {"reason": REASON}).status_code == 302
    test.refresh_from_db()
    assert (test.state, test.state_reason) == (State.RETURNED, REASON)
    assert Decision.objects.get().sentence == REASON
    assert Submission.objects.count() == 1
    # Pressed a second time it is refused, with the reason still typed.
    html = client.post(url, {"reason": REASON}).content.decode()
    assert "Only a test that was sent or approved" in html


def test_a_record_asks_as_often_with_three_versions_as_with_one(
    client: Client, cast: Cast, django_assert_max_num_queries: Any
) -> None:
    test = submitted(cast).test
    sign_in(client, cast.superintendent)
    url = reverse("records:record", args=[test.pk])
    client.get(url)
    with django_assert_max_num_queries(40) as few:
        client.get(url)
    for mark in ("48.5", "48"):
        test = drum_test_reopen(test=test, reason=REASON, actor=cast.superintendent)
        values = {"final_mark": mark, "answer_to_shore": ANSWER}
        draft_save(test=test, values=values, revision=test.draft_revision, actor=cast.officer)
        confirm_and_submit(cast, DrumTest.objects.whole().get(pk=test.pk))
    with django_assert_max_num_queries(len(few.captured_queries)):
        client.get(url)
