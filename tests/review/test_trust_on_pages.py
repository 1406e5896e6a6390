"""How far the load can be trusted, on the pages of ship and shore: with the record's own digits, and never invented."""

import re
from datetime import date
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.accounts.models import User
from fleet.certificates.models import Certificate
from fleet.core.canonical import canonical
from fleet.records.assess import assess
from fleet.records.canonical import read_content
from fleet.records.models import DrumTest, Submission
from fleet.records.record_rows import beside, sections_of
from fleet.review.comparison import compare
from tests.cast import Cast
from tests.certificates.records import certified, ship_of
from tests.factories import DrumParticularsFactory
from tests.records.scenario import GOOD_READINGS, filled_test, submitted
from tests.records.sent import send

pytestmark = pytest.mark.django_db
HEADING = "How far this figure can be trusted"
WHISKER = "With its uncertainty, 95 %:"


def page(client: Client, reader: User, url: str) -> str:
    client.force_login(reader)
    answer = client.get(url)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", unescape(answer.content.decode()))


def without_trust(submission: Submission) -> None:
    """As sent before loads had an uncertainty."""
    content = {name: part for name, part in read_content(submission).items() if name not in {"trust", "setting_again"}}
    Submission.objects.filter(pk=submission.pk).update(content=canonical(content))


def assert_says_all(html: str, known: dict[str, Any], again: dict[str, Any]) -> None:
    wanted = [HEADING, WHISKER, known["meaning"], again["sentence"]]
    wanted += [known[name] for name in ("share_shown", "load_shown", "U_shown", "probability_shown", "rule_label")]
    wanted += [f"k = {known['k_shown']}", f"as read: {known['as_read_share_shown']}", *known["whisker_shown"]]
    for row in known["rows"]:
        wanted += [row["name"][1:], row["contribution_shown"], row["share_shown"], row["distribution_label"]]
    assert [words for words in wanted if words not in html] == []
    # Opens without JavaScript.
    assert "<details" in html[html.index(HEADING) :]


def test_the_check_page_says_it_of_a_draft_as_the_record_will(client: Client, cast: Cast) -> None:
    test = filled_test(cast)
    content = assess(test).content
    assert content is not None
    html = page(client, cast.officer, reverse("records:check", args=[test.pk]))
    assert content["trust"]["sentence"] in html  # what to do now; a record that was sent only says how it is
    assert_says_all(html, content["trust"], content["setting_again"])


def test_the_record_says_what_was_sent(client: Client, cast: Cast) -> None:
    submission = submitted(cast)
    content = read_content(submission)
    html = page(client, cast.officer, reverse("records:record", args=[submission.test_id]))
    assert_says_all(html, content["trust"], content["setting_again"])


def test_the_record_shows_the_setting_for_exactly_the_target_once(client: Client, cast: Cast) -> None:
    submission = submitted(cast)
    content = read_content(submission)
    at_target = content["setting_analysis"]
    html = page(client, cast.officer, reverse("records:record", args=[submission.test_id]))
    row = html[html.index("for exactly the target, an estimate") :]
    for words in ("target_setting_shown", "target_setting_interval_shown", "slope_shown", "slope_interval_shown"):
        assert at_target[words] in row[: row.index("</div>")]
    assert html.count(at_target["target_setting_interval_shown"]) == 1
    (kept,) = [one for one in sections_of(content)[0].rows if one.key == "at_target"]
    assert at_target["target_setting_interval_shown"] in kept.shown
    assert at_target["slope_interval_shown"] in kept.note


def test_the_review_says_it_first_and_in_full(client: Client, cast: Cast) -> None:
    submission = submitted(cast)
    content = read_content(submission)
    html = page(client, cast.superintendent, reverse("review:review", args=[submission.pk]))
    assert_says_all(html, content["trust"], content["setting_again"])
    lead = html[html.index('<div class="lead') :]
    assert f"Best estimate {content['trust']['share_shown']} of the ship design MBL" in lead[: lead.index("</div>")]


def test_the_certificates_page_and_the_verification_say_it(client: Client, cast: Cast) -> None:
    certificate: Certificate = certified(ship_of(cast.vessel), cast.superintendent)
    content = read_content(certificate.submission)
    html = page(client, cast.superintendent, reverse("certificates:certificate", args=[certificate.pk]))
    assert_says_all(html, content["trust"], content["setting_again"])
    verified = page(client, cast.superintendent, reverse("certificates:verify", args=[certificate.code]))
    assert f"{content['trust']['load_shown']} ± {content['trust']['U_shown']}" in verified
    assert content["trust"]["meaning"] in verified


def test_an_older_record_shows_its_strip_and_nothing_more(client: Client, cast: Cast) -> None:
    submission = submitted(cast)
    without_trust(submission)
    for reader, url in (
        (cast.officer, reverse("records:record", args=[submission.test_id])),
        (cast.superintendent, reverse("review:review", args=[submission.pk])),
    ):
        html = page(client, reader, url)
        assert 'class="pic strip"' in html
        for words in (HEADING, WHISKER, "Best estimate", "Finding the mark again", "best estimate"):
            assert words not in html


def entry_page(client: Client, cast: Cast, slips: int) -> tuple[DrumTest, str]:
    test = filled_test(cast, readings=GOOD_READINGS[: 2 + slips])
    return test, page(client, cast.officer, reverse("records:test", args=[test.pk]))


def test_the_test_page_says_it_from_the_first_verification_slip_on(client: Client, cast: Cast) -> None:
    test, html = entry_page(client, cast, 1)
    trust = assess(test).trust
    assert trust is not None
    assert trust.conformity.sentence.text in html
    assert WHISKER in html
    assert "what the uncertainty is made of" in html


def test_the_test_page_says_nothing_of_it_before(client: Client, cast: Cast) -> None:
    _test, html = entry_page(client, cast, 0)
    assert 'class="pic strip"' in html
    for words in (WHISKER, "what the uncertainty is made of", "best estimate"):
        assert words not in html


def test_what_is_approved_of_other_drums_meanwhile_lapses_no_word_that_was_given(cast: Cast) -> None:
    test = filled_test(cast)
    before = assess(test)
    assert before.content is not None  # worked out now, before the sister's tests
    sister = DrumParticularsFactory(drum__winch__vessel=cast.vessel).drum
    for year, share in enumerate((None, 0.61, 0.59, 0.60)):
        send(sister, date(2022 + year, 11, 20), reapplied_share=share)
    after = assess(DrumTest.objects.whole().get(pk=test.pk))
    assert after.content is not None
    assert (before.content["setting_again"]["tests"], after.content["setting_again"]["tests"]) == (0, 3)
    assert before.content_sha256 == after.content_sha256


def test_two_versions_beside_each_other_name_their_best_estimates(client: Client, cast: Cast) -> None:
    submission = submitted(cast)
    content = read_content(submission)
    rows = {line.label: line for line in beside(content, {**content, "trust": None})}
    best = f"{content['trust']['share_shown']} ± {content['trust']['U_points_shown']}"
    assert rows["Best estimate"].first.startswith(best)
    assert rows["Best estimate"].second == ""
    assert rows["Verdict"].differs


def test_the_review_sets_it_beside_last_years(client: Client, cast: Cast) -> None:
    content = read_content(submitted(cast))
    group = compare(content, {**content, "trust": {**content["trust"], "U_points_shown": "4.4"}})[0]
    assert ("best estimate", True) in [(row.label, row.differs) for row in group.rows]
    older = compare(content, {**content, "trust": None})[0]
    assert [row.before for row in older.rows if row.label in {"best estimate", "verdict"}] == ["", ""]


@pytest.mark.parametrize(("state", "words"), [("dry", "as tested, dry, on that day"), ("wet", "as tested, not dry,")])
def test_what_the_whisker_is_names_the_brakes_state(cast: Cast, state: str, words: str) -> None:
    content = assess(filled_test(cast, draft={"brake_state": state})).content
    assert content is not None
    assert words in content["trust"]["meaning"]
