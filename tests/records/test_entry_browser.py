"""A whole entry by three people in a browser as wide as a phone; what a browser adds, and what it may not lose."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.sessions.models import Session
from django.urls import reverse

from fleet.records.draft import CHECKS
from fleet.records.drafts import draft_save
from fleet.records.models import DrumTest, Reading, Submission
from fleet.vessels.models import Policy
from tests.cast import Cast
from tests.factories import DrumParticularsFactory
from tests.records.scenario import GOOD_READINGS, filled_test, round_for

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.django_db(transaction=True)
SignIn = Callable[["Page", Any], "Page"]


def begin(cast: Cast) -> DrumTest:
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel, author=cast.officer).drum
    return DrumTest.objects.create(round=round_for(cast), drum=drum, created_by=cast.officer)


def saved(page: "Page", test: DrumTest, **fields: str) -> None:
    """Wait until the page says that it is saved, and the draft holds these words."""
    for _attempt in range(40):
        test.refresh_from_db()
        if all(test.draft.get(name) == value for name, value in fields.items()):
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"not saved: {fields}, there is {test.draft}")


def path_of(name: str, key: Any) -> str:
    return reverse(f"records:{name}", args=[key])


def no_sideways_scroll(page: "Page") -> None:
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0


def no_serious_violation(page: "Page") -> None:
    found = Axe().run(page).response["violations"]
    serious = [f"{row['id']}: {row['nodes'][0]['html']}" for row in found if row["impact"] in {"serious", "critical"}]
    assert serious == []


def test_a_whole_entry_by_three_people_on_a_phone(page: "Page", new_page: Any, signed_in: SignIn, cast: Cast) -> None:
    round_ = round_for(cast)
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel, author=cast.officer).drum
    signed_in(page, cast.officer)
    page.goto(path_of("test_start", drum.pk))
    no_sideways_scroll(page)
    page.get_by_role("button", name="Begin the test").click()
    test = DrumTest.objects.get()
    assert test.round == round_
    assert page.get_by_label("Write what gauge").count() == 0

    for check in CHECKS:
        page.get_by_label(str(check.label)).check()
    page.get_by_label("Write what gauge").wait_for()
    page.get_by_label("Date of the test").fill("2026-11-20")
    page.get_by_label("Time, ship's time").fill("10:40")
    page.get_by_label("dry", exact=True).check()
    for place, thickness in (("First", "10,8"), ("Second", "10.7"), ("Third", "10.9")):
        page.get_by_label(f"{place} place").fill(thickness)
    page.get_by_label("sound").check()
    page.get_by_label("smooth").check()
    page.get_by_label("the band stands clear").check()
    saved(page, test, lining_1="10,8", lining_3="10.9", band_rest="clear", tested_on="2026-11-20")

    labels = {
        "as_found_untouched": "as found, untouched",
        "adjusting": "adjusting",
        "verification": "verification",
    }
    for number, (phase, mark, gauge, _slipped, reapplied) in enumerate(GOOD_READINGS, start=1):
        page.get_by_label(labels[phase], exact=True).check()
        page.locator("#id_mark_text").fill(mark)
        page.locator("#id_gauge_text").fill(gauge)
        if reapplied:
            page.get_by_label("Released fully and re-applied").check()
        page.get_by_role("button", name="It slipped").click()
        page.locator(f"#answer:has-text('Slipped at {gauge} bar')").wait_for()
        assert page.locator("table.readings tbody tr").count() == number
        assert page.locator("#id_gauge_text").input_value() == ""
    assert "Verification slips: 2" in page.locator("#answer").inner_text()
    no_sideways_scroll(page)

    page.get_by_label("Setting as left").fill("49")
    page.get_by_label("How the mark is fixed").fill("steel tag welded beside the spindle")
    page.get_by_label("set in band").check()
    saved(page, test, final_mark="49", outcome="set_in_band")
    no_serious_violation(page)
    page.get_by_role("button", name="Save, then check and release").click()
    page.get_by_text("The record is complete. It waits for those who stand for it").wait_for()
    no_sideways_scroll(page)
    no_serious_violation(page)

    for user, button in ((cast.engineer, "Gauge and jack are fit: confirm"), (cast.master, "Release these figures")):
        theirs = signed_in(new_page(), user)
        theirs.goto(path_of("check", test.pk))
        theirs.get_by_role("button", name=button).click()
        theirs.get_by_text(f"Given by {user.rank} {user.name}").wait_for()

    page.reload()
    page.get_by_role("button", name="Submit the test to shore").click()
    page.locator(".lead .state", has_text="accepted aboard, shore review pending").wait_for()
    submission = Submission.objects.get()
    assert submission.sha256[:12] in page.content()
    assert submission.as_left_share == pytest.approx(0.6, abs=0.01)
    page.get_by_role("link", name="The record as sent").click()
    no_sideways_scroll(page)
    no_serious_violation(page)


def step_now(page: "Page") -> str:
    return page.locator("#test-steps [aria-current=step]").inner_text().split("\n")[-1]


def test_lead_steps_and_readings_follow_what_is_saved_in_the_background(
    page: "Page", new_page: Any, signed_in: SignIn, cast: Cast
) -> None:
    test = begin(cast)
    signed_in(page, cast.officer)
    page.goto(path_of("test", test.pk))
    page.evaluate("window.loadedOnce = true")
    lead = page.locator("#test-lead")
    guarding = [check for check in CHECKS if check.blocks_readings]
    assert f"confirm the {len(guarding)} checks that are still open" in lead.inner_text()
    assert step_now(page) == "Checks"
    for check in guarding[:-1]:
        page.get_by_label(str(check.label)).check()
    page.locator("#test-lead:has-text('confirm the check that is still open')").wait_for()
    assert page.locator("#id_gauge_text").count() == 0
    page.get_by_label(str(guarding[-1].label)).check()
    page.locator("#test-lead:has-text('write down the state of lining')").wait_for()
    page.locator("#id_gauge_text").wait_for()
    assert step_now(page) == "Lining and band"
    assert page.locator("#test-steps li.done").count() == 1

    page.get_by_label("dry", exact=True).check()
    for place in ("First", "Second", "Third"):
        page.get_by_label(f"{place} place").fill("10.8")
    page.get_by_label("smooth").check()
    page.locator("#test-lead:has-text('the first reading')").wait_for()
    assert step_now(page) == "Readings"
    page.get_by_label("verification", exact=True).check()
    page.locator("#id_mark_text").fill("49")
    page.locator("#id_gauge_text").fill("172")
    page.get_by_role("button", name="It slipped").click()
    page.locator("#test-lead:has-text('1 of 2 verification slips')").wait_for()
    page.get_by_label("verification", exact=True).check()
    page.locator("#id_mark_text").fill("49")
    page.locator("#id_gauge_text").fill("174")
    page.get_by_role("button", name="It slipped").click()
    page.locator("#test-lead:has-text('measure the setting as left')").wait_for()
    assert step_now(page) == "Setting and photos"
    assert page.evaluate("window.loadedOnce") is True


def test_readings_opened_by_somebody_else_open_here_with_the_next_save(
    page: "Page", signed_in: SignIn, cast: Cast
) -> None:
    test = begin(cast)
    signed_in(page, cast.officer)
    page.goto(path_of("test", test.pk))
    draft_save(test=test, values={check.name: "on" for check in CHECKS}, revision=0, actor=cast.master)
    page.get_by_label("Remarks").fill("calm")
    page.get_by_label("Remarks").blur()
    page.locator("#id_gauge_text").wait_for()
    assert "checks that are still open" not in page.locator("#test-lead").inner_text()


def test_pressing_twice_is_one_reading(page: "Page", signed_in: SignIn, cast: Cast) -> None:
    test = begin(cast)
    draft_save(test=test, values={check.name: "on" for check in CHECKS}, revision=0, actor=cast.officer)
    signed_in(page, cast.officer)
    page.goto(path_of("test", test.pk))
    page.get_by_label("adjusting", exact=True).check()
    page.locator("#id_mark_text").fill("50")
    page.locator("#id_gauge_text").fill("170")
    page.locator("#it-slipped").dblclick()
    page.locator("#answer:has-text('Slipped at 170 bar')").wait_for()
    page.wait_for_timeout(400)
    assert Reading.objects.count() == 1


def test_without_scripts_everything_can_be_entered(new_page: Any, signed_in: SignIn, cast: Cast) -> None:
    test = begin(cast)
    page = signed_in(new_page(java_script_enabled=False), cast.officer)
    page.goto(path_of("test", test.pk))
    for check in CHECKS:
        page.get_by_label(str(check.label)).check()
    page.get_by_label("Remarks").fill("typed before the save")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_label("adjusting", exact=True).check()
    page.locator("#id_mark_text").fill("50")
    page.locator("#id_gauge_text").fill("bad")
    page.get_by_label("How the mark is fixed").fill("welded tag")
    page.get_by_role("button", name="It held").click()
    assert page.locator("#id_gauge_text").input_value() == "bad"
    page.locator("#id_gauge_text").fill("170")
    page.get_by_role("button", name="It held").click()
    reading = Reading.objects.get()
    assert (reading.gauge_text, reading.slipped) == ("170", False)
    test.refresh_from_db()
    assert (test.draft["remarks"], test.draft["mark_fixed"]) == ("typed before the save", "welded tag")


def test_two_tabs_see_each_others_words_before_one_overwrites(
    page: "Page", new_page: Any, signed_in: SignIn, cast: Cast
) -> None:
    test = begin(cast)
    signed_in(page, cast.officer)
    other = signed_in(new_page(), cast.master)
    for tab in (page, other):
        tab.goto(path_of("test", test.pk))
    other.get_by_label("Remarks").fill("calm, dry")
    other.get_by_label("Remarks").blur()
    saved(other, test, remarks="calm, dry")
    page.get_by_label("Remarks").fill("gusts")
    page.get_by_label("Remarks").blur()
    page.get_by_text(f"Not saved: {cast.master.name} wrote other words").wait_for()
    row = page.locator("#saved tbody tr").inner_text()
    assert "calm, dry" in row
    assert "gusts" in row
    test.refresh_from_db()
    assert test.draft["remarks"] == "calm, dry"
    page.get_by_role("button", name="Save mine on top of theirs").click()
    page.get_by_text("Saved").first.wait_for()
    saved(page, test, remarks="gusts")


def sign_in_again(page: "Page", user: Any) -> None:
    page.locator("input[type=email]").fill(user.email)
    page.locator("input[type=password]").fill("a-long-password-1")
    page.get_by_role("button", name="Sign in", exact=True).click()


def test_a_save_after_the_sign_in_ran_out_loses_nothing(page: "Page", signed_in: SignIn, cast: Cast) -> None:
    test = begin(cast)
    signed_in(page, cast.officer)
    page.goto(path_of("test", test.pk))
    Session.objects.all().delete()
    page.get_by_label("Remarks").fill("written while signed out")
    page.get_by_label("Remarks").blur()
    page.get_by_text("You are signed out, so this was not saved.").wait_for()
    assert page.get_by_label("Remarks").input_value() == "written while signed out"
    page.get_by_role("link", name="Sign in again").click()
    sign_in_again(page, cast.officer)
    page.get_by_text("nothing was sent yet").wait_for()
    assert page.get_by_label("Remarks").input_value() == "written while signed out"
    test.refresh_from_db()
    assert "remarks" not in test.draft
    page.get_by_role("button", name="Save", exact=True).click()
    saved(page, test, remarks="written while signed out")


def test_the_plain_button_after_the_sign_in_ran_out_brings_the_form_back(
    page: "Page", signed_in: SignIn, cast: Cast
) -> None:
    """The same for another form, of another app: the policy."""
    signed_in(page, cast.superintendent)
    page.goto(reverse("vessels:policy_new"))
    page.get_by_label("Reason").fill("Band narrowed after the audit")
    Session.objects.all().delete()
    page.locator("main form button").last.click()
    sign_in_again(page, cast.superintendent)
    page.get_by_text("nothing was sent yet").wait_for()
    assert page.get_by_label("Reason").input_value() == "Band narrowed after the audit"
    assert not Policy.objects.exists()


def test_another_person_at_the_same_browser_sees_nothing(page: "Page", signed_in: SignIn, cast: Cast) -> None:
    test = begin(cast)
    signed_in(page, cast.officer)
    page.goto(path_of("test", test.pk))
    page.get_by_label("Remarks").fill("my own words")
    Session.objects.all().delete()
    page.get_by_role("button", name="Save", exact=True).click()
    sign_in_again(page, cast.master)
    page.get_by_role("heading", name="Test of").wait_for()
    assert page.get_by_label("Remarks").input_value() == ""
    assert "my own words" not in page.content()


def test_when_nothing_answers_the_page_says_so_and_saves_later(page: "Page", signed_in: SignIn, cast: Cast) -> None:
    test = begin(cast)
    signed_in(page, cast.officer)
    page.goto(path_of("test", test.pk))
    page.context.set_offline(True)
    page.get_by_label("Remarks").fill("no link")
    page.get_by_label("Remarks").blur()
    page.get_by_text("Not saved: no answer from the other end.").wait_for()
    page.context.set_offline(False)
    page.get_by_label("Who was told").fill("duty officer")
    page.get_by_label("Who was told").blur()
    saved(page, test, remarks="no link", who_was_told="duty officer")


def test_the_two_large_fields_of_a_reading_are_laid_out_as_fields_not_as_the_ships_plan(
    new_page: Any, signed_in: SignIn, cast: Cast
) -> None:
    test = filled_test(cast)
    page = signed_in(new_page(1280), cast.officer)
    display = "getComputedStyle(document.querySelector('%s')).display"
    page.goto(path_of("reading_edit", test.readings.all()[0].pk))
    assert page.evaluate(display % ".field.deck") == "block"
    page.goto(path_of("test", test.pk))
    assert page.evaluate(display % ".field.deck") == "block"
    page.goto(reverse("records:deck", args=[cast.vessel.pk]))
    assert page.locator(".ship-deck svg.plan").bounding_box()["width"] > 200


@pytest.mark.parametrize("width", [390, 1280])
def test_the_pages_fit_and_can_be_used_by_everyone(new_page: Any, signed_in: SignIn, cast: Cast, width: int) -> None:
    test = filled_test(cast, draft={"brake_state": "wet", "lining_1": "18,2,3"})
    page = signed_in(new_page(width), cast.officer)
    for name, key in (
        ("test", test.pk),
        ("check", test.pk),
        ("round_submit", test.round_id),
        ("reading_edit", test.readings.all()[0].pk),
    ):
        page.goto(path_of(name, key))
        no_sideways_scroll(page)
        no_serious_violation(page)
