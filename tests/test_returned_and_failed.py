"""The unhappy ways in a browser: a test sent back and put right, and a brake that could not be set."""

import re
from collections.abc import Callable
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from django.utils import timezone

from fleet.certificates.models import Certificate
from fleet.records.models import Round, State, Submission
from tests.cast import Cast
from tests.records.ship import make_ship
from tests.walk import (
    act,
    enter_readings,
    follow,
    heading_is,
    open_review,
    press,
    save_and_check,
    send_ashore,
    tick_and_describe,
    words_on,
    write,
)

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.django_db(transaction=True)
SignIn = Callable[["Page", Any], "Page"]

DRUM = "F1"
SENTENCE = "Photo and text differ: measure the setting again and write what the rule shows."
ANSWER = "Measured again: 49 mm; the text was wrong."
GOOD = (
    ("as found, untouched", "53.8", "157", True, False),
    ("verification", "49", "172", True, True),
    ("verification", "49", "174", True, True),
)
WEAK = (("adjusting", "40", "101", True, True), ("adjusting", "30", "104", True, True))


@pytest.fixture
def at_work(cast: Cast) -> Round:
    """A vessel whose gear is entered and whose round is open since yesterday."""
    started = timezone.localdate() - timedelta(days=1)
    ship = make_ship(cast.vessel)
    Round.objects.filter(pk=ship.round.pk).update(started_on=started)
    return ship.round


def begin(page: "Page", readings: Any) -> None:
    """The officer begins the drum's test from the deck and enters everything up to the outcome."""
    page.goto("/")
    follow(page, "Prepare")
    follow(page, "Go to the test")
    press(page, "Begin the test")
    tick_and_describe(page, timezone.localdate() - timedelta(days=1))
    enter_readings(page, readings, "bar")


def end(page: "Page", outcome: str, *words: tuple[str, str]) -> None:
    write(page, *words)
    page.get_by_label(outcome).check()
    save_and_check(page, DRUM)


def the_ship_stands_for_it(new_page: Callable[..., "Page"], signed_in: SignIn, cast: Cast) -> None:
    for user, button in ((cast.engineer, "Gauge and jack are fit: confirm"), (cast.master, "Release these figures")):
        act(signed_in(new_page(), user), user, DRUM, button)


def test_a_returned_test_is_put_right_and_approved_as_version_2(
    page: "Page", desktop_page: "Page", new_page: Callable[..., "Page"], signed_in: SignIn, cast: Cast, at_work: Round
) -> None:
    officer, office = signed_in(page, cast.officer), signed_in(desktop_page, cast.superintendent)
    begin(officer, GOOD)
    end(officer, "set in band", ("Setting as left", "47"), ("How the mark is fixed", "welded steel tag"))
    the_ship_stands_for_it(new_page, signed_in, cast)
    send_ashore(officer)

    office.goto("/")
    open_review(office, DRUM)
    press(office, "Return to the ship")
    office.locator("[data-error-summary]").wait_for()
    write(office, ("What the ship should do", SENTENCE))
    press(office, "Return to the ship")
    heading_is(office, "Today")

    officer.goto("/")
    assert SENTENCE in words_on(officer), "the deck says why the test came back"
    officer.get_by_role("link", name=re.compile(rf": {DRUM}$")).first.click()
    officer.get_by_text(SENTENCE).first.wait_for()
    assert officer.get_by_label("Setting as left").input_value() == "47"
    assert f"Shore sent it back: “{SENTENCE}”" in officer.locator(".lead").first.inner_text()
    write(officer, ("Setting as left", "49"))
    press(officer, "Save, then check and release")
    follow(officer, "Shore sent it back: answer in one line what was done about it.")
    assert f"Shore sent it back: “{SENTENCE}”" in officer.locator(".lead").first.inner_text()
    assert "answer in one line" in officer.locator("#test-lead").inner_text()
    write(officer, ("Answer to shore", ANSWER))
    press(officer, "Save, then check and release")
    assert f"Shore sent it back: “{SENTENCE}”" in officer.locator(".lead").first.inner_text()
    assert ANSWER in officer.locator(".lead").first.inner_text()
    officer.get_by_text("The record was changed since, so it must be given again.").first.wait_for()
    the_ship_stands_for_it(new_page, signed_in, cast)
    send_ashore(officer)

    office.goto("/")
    open_review(office, DRUM)
    words = words_on(office)
    assert "version 2" in words
    assert ANSWER in words, "the reviewer sees what the ship did"
    assert SENTENCE in words, "the reviewer sees why there is another version"
    assert re.search(r"marker distance as left\s+49 mm\s+47 mm", words), "what changed stands beside what stood"
    press(office, "Approve and issue")
    heading_is(office, "Certificate")

    versions = Submission.objects.order_by("version")
    assert [(row.version, row.setting_text) for row in versions] == [(1, "47"), (2, "49")]
    assert Certificate.objects.get().submission == versions[1]
    officer.goto("/")
    follow(officer, "History")
    history = words_on(officer)
    assert "version 1" in history
    assert "version 2" in history
    assert f"returned: {SENTENCE}" in history


def test_a_failed_brake_is_kept_as_a_record_without_certificate_and_stays_beside_the_good_one(
    page: "Page", desktop_page: "Page", new_page: Callable[..., "Page"], signed_in: SignIn, cast: Cast, at_work: Round
) -> None:
    officer, office = signed_in(page, cast.officer), signed_in(desktop_page, cast.superintendent)
    begin(officer, WEAK)
    end(
        officer,
        "brake defective, drum out of use",
        ("Defect reference", "DR-26-031"),
        ("Who was told", "technical superintendent, by mail"),
    )
    the_ship_stands_for_it(new_page, signed_in, cast)
    send_ashore(officer)
    office.goto("/")
    open_review(office, DRUM)
    words = words_on(office)
    assert "DR-26-031" in words
    assert "No certificate is issued on it" in words
    answer_findings_and_approve(office, "Approve the record of failure")
    assert Submission.objects.get().test.state == State.APPROVED
    assert not Certificate.objects.exists()
    officer.goto("/")
    assert "The drum is out of use." in words_on(officer)

    begin(officer, GOOD)
    end(officer, "set in band", ("Setting as left", "49"), ("How the mark is fixed", "welded steel tag"))
    the_ship_stands_for_it(new_page, signed_in, cast)
    send_ashore(officer)
    office.goto("/")
    open_review(office, DRUM)
    answer_findings_and_approve(office, "Approve and issue")
    certificate = Certificate.objects.get()

    officer.goto("/")
    follow(officer, "History")
    history = words_on(officer)
    assert "defective, out of use" in history
    assert certificate.number in history
    office.goto("/")
    follow(office, "Certificates")
    follow(office, cast.vessel.name)
    assert "One certificate. One record of failure stands beside." in words_on(office)


def answer_findings_and_approve(page: "Page", button: str) -> None:
    """Every finding that asks for it gets an answer; then the decision is taken."""
    form = page.locator("form").filter(has=page.get_by_role("button", name=button))
    for field in form.get_by_role("textbox").all():
        field.fill("Seen; it agrees with what the ship told us.")
    press(page, button)
    page.wait_for_url(lambda url: "/review/" not in url or "/today/" in url)
    assert page.locator("[data-error-summary]").count() == 0
