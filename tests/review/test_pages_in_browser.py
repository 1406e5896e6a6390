"""The shore's and the auditor's pages as people see them: nothing runs off a phone, nothing shuts anyone out."""

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse

from fleet.certificates.models import Certificate
from fleet.core import pdf
from tests.cast import Cast, make_cast
from tests.certificates.records import READINGS, approved, drum_on, failed, ship_of, submitted
from tests.factories import RetestOrderFactory

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.django_db(transaction=True)
WIDTHS = [390, 1280]
ASKED = (("equal_readings", "ask", "Two readings are equal to every digit. Was each read anew?"),)


@pytest.fixture
def quick_paper(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pdf, "render_pdf", lambda *args, **kwargs: b"%PDF-1.7 %%EOF")


@pytest.fixture
def fleet_at_work(transactional_db: None, quick_paper: None) -> tuple[Cast, dict[str, str]]:
    """One vessel with a history, a failure, a pending test with a finding, an order; and the addresses to look at."""
    cast = make_cast()
    ship = ship_of(cast.vessel)
    drum = drum_on(cast.vessel, drum__name="Forward spring line, starboard, the long name of it")
    old = submitted(ship, drum, tested_on=date(2025, 11, 20))
    approved(old, cast.superintendent)
    new = submitted(ship, drum, readings=(*READINGS[:2], ("verification", "49", "170", True, True), READINGS[3]))
    approved(new, cast.superintendent)
    RetestOrderFactory(drum=drum)
    approved(failed(ship, outcome="out_of_use"), cast.superintendent)
    waiting = submitted(ship, findings=ASKED)
    certificate, superseded = Certificate.objects.get(submission=new), Certificate.objects.get(submission=old)
    return cast, {
        "today": reverse("review:today"),
        "review": reverse("review:review", args=[waiting.pk]),
        "reviewed": reverse("review:review", args=[new.pk]),
        "withdraw": reverse("review:withdraw", args=[new.test_id]),
        "audit": reverse("review:audit"),
        "list": reverse("certificates:certificate_list"),
        "vessel": reverse("certificates:vessel_certificates", args=[cast.vessel.pk]),
        "certificate": reverse("certificates:certificate", args=[certificate.pk]),
        "verify": reverse("certificates:verify"),
        "not a code": reverse("certificates:verify") + "?code=x",
        "verified": reverse("certificates:verify", args=[certificate.code]),
        "superseded": reverse("certificates:verify", args=[superseded.code]),
        "unknown": reverse("certificates:verify", args=["0000-0000-0000-0000"]),
    }


@pytest.mark.parametrize("width", WIDTHS)
def test_no_page_runs_off_the_screen_or_shuts_anyone_out(
    width: int,
    fleet_at_work: tuple[Cast, dict[str, str]],
    new_page: "Callable[..., Page]",
    signed_in: "Callable[[Page, Any], Page]",
) -> None:
    cast, addresses = fleet_at_work
    page = signed_in(new_page(width=width, height=900), cast.superintendent)
    wrong = {}
    for name, url in addresses.items():
        page.goto(url)
        beyond = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if beyond > 0:
            wrong[f"{name}: runs off"] = beyond
        found = Axe().run(page)
        for violation in found.response["violations"]:
            wrong[f"{name}: {violation['id']}"] = [node["html"][:160] for node in violation["nodes"]][:3]
    assert wrong == {}


def test_a_superintendent_approves_with_the_keyboard_alone(
    fleet_at_work: tuple[Cast, dict[str, str]],
    new_page: "Callable[..., Page]",
    signed_in: "Callable[[Page, Any], Page]",
) -> None:
    cast, addresses = fleet_at_work
    page = signed_in(new_page(width=1280, height=900), cast.superintendent)
    page.goto(addresses["review"])
    page.get_by_role("button", name="Approve and issue").focus()
    page.keyboard.press("Enter")
    page.wait_for_function("document.activeElement.hasAttribute('data-error-summary')")
    page.locator("[data-error-summary] a").first.focus()
    page.keyboard.press("Enter")
    page.keyboard.type("Yes, each was read anew.")
    page.get_by_role("button", name="Approve and issue").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/certificates/**")
    assert "issued" in page.locator(".status").inner_text()
