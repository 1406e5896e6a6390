"""A whole practice test on a phone, by pressing what the pages offer; the pages without JavaScript too."""

import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from fleet.practice.deck_checks import DECK_CHECKS
from fleet.practice.moves import read
from fleet.practice.run import play
from tests.cast import Cast
from tests.practice.player import Form, player
from tests.walk import press

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.django_db(transaction=True)
SignIn = Callable[["Page", Any], "Page"]
BUTTONS = {
    "side": "Place the jack there",
    "checks": "These checks stand",
    "lining": "Go on",
    "reads": "Check my figure",
    "release": "Release the brake fully",
    "mark": "Apply the brake to this mark",
    "stroke": "One stroke",
    "strokes": "Five strokes",
    "slipped": "It slipped",
    "held": "It held",
    "done": "The brake is set: measure and fix the mark",
    "fix": "Leave it so, and see how close it came",
}
LABELS = {
    "reads": "What must this gauge show",
    "gauge": "Write what the gauge shows",
    "mark": "Set the brake to marker distance",
    "final_mark": "Setting as left",
}
CHECK_LABELS = {f"check_{check.name}": str(check.label) for check in DECK_CHECKS}


def do(page: "Page", form: Form, address: str) -> None:
    """Fill in one form as a person would, press its button, and wait for the address that follows."""
    for name, value in form.items():
        if name in CHECK_LABELS:
            page.get_by_label(CHECK_LABELS[name]).check()
        elif name in LABELS:
            page.get_by_label(re.compile(f"^{LABELS[name]}")).fill(value)
        elif name != "act":
            page.locator(f'input[name={name}][value="{value}"]').check()
    press(page, BUTTONS[form["act"]])
    page.wait_for_url(lambda url: url.split("#")[0].endswith(f"run={address}"))


def no_serious_violation(page: "Page") -> None:
    found = Axe().run(page).response["violations"]
    serious = [f"{row['id']}: {row['nodes'][0]['html']}" for row in found if row["impact"] in {"serious", "critical"}]
    assert serious == []


def quick_forms() -> list[tuple[Form, str]]:
    """A whole test of a brake that is found in the band, with the address after each form."""
    played = player(1, 5)
    forms: list[tuple[Form, str]] = []
    send = played.send

    def noted(**form: str) -> Any:
        done = send(**form)
        forms.append((form, played.address.text))
        return done

    played.send = noted  # type: ignore[method-assign]
    played.by_the_book()
    assert played.run.stage == "end"
    return forms


def test_a_whole_practice_test_on_a_phone(page: "Page", signed_in: SignIn, cast: Cast) -> None:
    signed_in(page, cast.officer).goto("/")
    page.get_by_role("link", name="Practice", exact=True).click()
    page.get_by_text("Begin with level 1").wait_for()
    page.goto("/practice/run/?run=1-5-0")
    address = "1-5-0"
    for form, address in quick_forms():
        do(page, form, address)
        if form["act"] in {"side", "lining", "slipped"}:
            no_serious_violation(page)
            wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
            assert wide <= 0
    page.get_by_role("heading", name="How close it came").wait_for()
    assert page.locator(".practice-banner").is_visible()
    truth = play(read(address))
    assert truth.mistakes == []
    page.get_by_text("Nothing. The order of the test was kept").wait_for()
    no_serious_violation(page)
    page.get_by_role("link", name="Again with the same brake").click()
    page.wait_for_url(lambda url: url.endswith("run=1-5-1"))


def test_the_pages_go_on_without_javascript(new_page: Callable[..., "Page"], signed_in: SignIn, cast: Cast) -> None:
    page = signed_in(new_page(java_script_enabled=False), cast.officer)
    page.goto("/practice/run/?run=1-5-0")
    for form, address in quick_forms()[:8]:
        do(page, form, address)
    page.get_by_text("The brake holds.").wait_for()


def test_back_and_another_tab_go_on_from_where_they_stand(page: "Page", signed_in: SignIn, cast: Cast) -> None:
    forms = quick_forms()
    signed_in(page, cast.officer)
    at_the_pump = forms[3][1]
    page.goto(f"/practice/run/?run={at_the_pump}")
    other = page.context.new_page()
    other.goto(f"/practice/run/?run={at_the_pump}")
    do(page, *forms[4])
    other.get_by_text("No pressure on.").first.wait_for()
    do(other, *forms[4])
    shown = [tab.locator(".gauge-now .figure").inner_text() for tab in (page, other)]
    assert shown[0] == shown[1] != "0.0 bar"
