"""What the people do on the product's pages, in the words that stand there; for the tests that walk a whole job."""

import re
from datetime import date
from io import BytesIO
from typing import TYPE_CHECKING

from PIL import Image

from fleet.accounts.models import User
from fleet.records.draft import CHECKS

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

PASSWORD = "a-long-password-1"
Reading = tuple[str, str, str, bool, bool]  # phase, mark, gauge, slipped, re-applied


def labelled(page: "Page | Locator", label: str) -> "Locator":
    """The field whose label begins with these words; the word "(optional)" or a hint may follow."""
    return page.get_by_label(re.compile(rf"^\s*{re.escape(label)}", re.IGNORECASE)).first


def write(page: "Page", *words: tuple[str, str]) -> None:
    """Type into fields by their labels."""
    for label, text in words:
        labelled(page, label).fill(text)


def quantity(page: "Page", label: str, number: str, unit: str) -> None:
    """Type a figure and choose its unit."""
    labelled(page, label).fill(number)
    page.get_by_label(re.compile(rf"^Unit of: {re.escape(label)}", re.IGNORECASE)).select_option(label=unit)


def choose(page: "Page", label: str, option: str) -> None:
    labelled(page, label).select_option(label=option)


def press(page: "Page", button: str) -> None:
    page.get_by_role("button", name=button, exact=True).click()


def follow(page: "Page", link: str) -> None:
    page.get_by_role("link", name=re.compile(rf"^{re.escape(link)}")).first.click()


def heading_is(page: "Page", words: str) -> None:
    """Wait for the page with this heading; a page that refused the form says why instead."""
    summary = page.locator("[data-error-summary]")
    page.get_by_role("heading", level=1, name=words).or_(summary).first.wait_for()
    assert summary.count() == 0, summary.all_inner_texts()


def words_on(page: "Page") -> str:
    return " ".join(page.locator("main").inner_text().split())


def sign_in(page: "Page", user: User) -> "Page":
    """Through the sign-in form, as anyone does."""
    page.goto("/")
    page.get_by_label("Email").fill(user.email)
    page.get_by_label("Password").fill(PASSWORD)
    press(page, "Sign in")
    page.get_by_role("link", name="My page").wait_for()
    return page


def download(page: "Page", link: str) -> bytes:
    """The file behind a link of the page, as the browser saves it."""
    with page.expect_download() as started:
        follow(page, link)
    return started.value.path().read_bytes()


def opened(page: "Page", link: str) -> bytes:
    """The paper behind a link that the browser would show in a tab of its own."""
    answer = page.request.get(page.get_by_role("link", name=link).first.get_attribute("href") or "")
    assert answer.ok, answer.status
    return answer.body()


# --- the superintendent enters a vessel's gear -------------------------------------------------------------------


def enter_winch_and_drum(page: "Page", *, winch: str, drum: str) -> None:
    """From the vessel's page to the page of the new drum."""
    follow(page, "Winches and drums")
    follow(page, "Add a winch")
    write(page, ("Name", winch))
    press(page, "Add the winch")
    add_drum(page, winch=winch, drum=drum)


def add_drum(page: "Page", *, winch: str, drum: str, order: str = "1") -> None:
    """From the list of drums."""
    heading_is(page, "Winches and drums")
    follow(page, "Add a drum")
    choose(page, "Winch", winch)
    write(page, ("The ship's own name", drum), ("Number on the winch", order), ("Order on the deck", order))
    choose(page, "Area", "forecastle")
    choose(page, "Side", "starboard")
    choose(page, "Drum kind", "split drum: the tension part holds one layer")
    choose(page, "The line leaves the drum", "from under the drum")
    write(page, ("The setting is measured from", "edge of the stop plate"), ("The setting is measured to", "nut face"))
    press(page, "Add the drum")
    heading_is(page, drum)


def enter_particulars(page: "Page", valid_from: date, figures: dict[str, tuple[str, str, str, str]]) -> None:
    """From the drum's page; `figures` are label → number, unit, origin, document."""
    follow(page, "Record the particulars")
    write(page, ("Valid from", valid_from.isoformat()), ("Reason for this entry", "first entry from the drawings"))
    choose(page, "Line material", "wire")
    for label, (number, unit, origin, document) in figures.items():
        quantity(page, label, number, unit)
        choose(page, f"Origin of: {label}", origin)
        write(page, (f"Document of: {label}", document))
    press(page, "Record these particulars")


def enter_gauge(page: "Page", *, unit: str, full_scale: str, division: str, calibrated_on: date) -> None:
    """A gauge with its calibration, from the page of instruments and back to it."""
    follow(page, "Register a gauge")
    write(page, ("Name or tag", "PG-7"), ("Serial number", "7-4410"))
    choose(page, "Unit on its dial", unit)
    write(page, ("Full scale", full_scale), ("Smallest division", division))
    choose(page, "Accuracy class", "1")
    press(page, "Register the gauge")
    heading_is(page, "PG-7")
    follow(page, "Record a calibration")
    write(
        page,
        ("Calibrated on", calibrated_on.isoformat()),
        ("Certificate number", "CAL-26-118"),
        ("Laboratory or workshop", "Inner harbour calibration workshop"),
        ("Coverage factor k", "2"),
    )
    for row, (reading, reference) in enumerate((("50", "50.2"), ("150", "150.5"), ("250", "250.4")), start=1):
        write(
            page,
            (f"Gauge showed, row {row}", reading),
            (f"Reference, row {row}", reference),
            (f"Expanded uncertainty, row {row}", "0.6"),
        )
    press(page, "Record the calibration")
    heading_is(page, "PG-7")
    follow(page, "Instruments")


def enter_kit(page: "Page", *, area: str, bore: str, arm: str) -> None:
    """Jack, lever, footing, and the kit of them all; from the page of instruments and back to it."""
    follow(page, "Register a jack")
    follow(page, "plain jack")
    write(page, ("Name or tag", "J-2"), ("Serial number", "J2-901"), ("Document of the stated area", "jack plate"))
    quantity(page, "Effective piston area stated by the maker", area, "cm²")
    quantity(page, "Bore", bore, "mm")
    quantity(page, "Rated pressure", "700", "bar")
    press(page, "Register the jack")
    heading_is(page, "J-2")
    follow(page, "Instruments")
    follow(page, "Register a lever")
    write(page, ("Name or tag", "Lever A"))
    quantity(page, "Lever arm stamped on it", arm, "mm")
    quantity(page, "Safe load", "200", "kN")
    press(page, "Register the lever")
    heading_is(page, "Instruments")
    follow(page, "Register a footing")
    write(page, ("Name or place", "Plate, forward starboard"))
    quantity(page, "Allowed load on the deck there", "250", "kN")
    press(page, "Register the footing")
    heading_is(page, "Instruments")
    follow(page, "Put a kit together")
    write(page, ("Name", "forward kit"))
    choose(page, "Gauge", "PG-7")
    choose(page, "Lever", "Lever A")
    choose(page, "Footing", "Plate, forward starboard")
    choose(page, "Jack", "J-2")
    press(page, "Put the kit together")
    heading_is(page, "Instruments")


# --- the ship ----------------------------------------------------------------------------------------------------


def open_round(page: "Page", started_on: date) -> None:
    """From the deck to the page of the new round."""
    follow(page, "Open")
    write(
        page,
        ("Started on", started_on.isoformat()),
        ("Place", "at anchor, inner roads"),
        ("Permit to work", "permit 26-114"),
        ("People on deck", "Ada Voss, chief officer\nJon Reyes, bosun"),
        ("Weather", "dry, wind force 2"),
    )
    labelled(page, "Kit").select_option(index=1)
    press(page, "Open the round")


def tick_and_describe(page: "Page", tested_on: date) -> None:
    """Every check, and the state of lining, drum and band, on the page of the test."""
    for check in CHECKS:
        page.get_by_label(str(check.label)).check()
    page.get_by_label("Write what gauge").wait_for()
    write(page, ("Date of the test", tested_on.isoformat()), ("Time, ship's time", "10:40"))
    page.get_by_label("dry", exact=True).check()
    write(page, ("First place", "10,8"), ("Second place", "10.7"), ("Third place", "10.9"))
    page.get_by_label("sound").check()
    page.get_by_label("smooth").check()
    page.get_by_label("the band stands clear").check()


def enter_readings(page: "Page", readings: tuple[Reading, ...], unit: str) -> None:
    """One raise of the jack after the other; each is answered before the next is typed."""
    for number, (phase, mark, gauge, slipped, reapplied) in enumerate(readings, start=1):
        page.get_by_label(phase, exact=True).check()
        write(page, ("Marker distance, mm", mark), ("Write what gauge", gauge))
        if reapplied:
            page.get_by_label("Released fully and re-applied").check()
        press(page, "It slipped" if slipped else "It held")
        done = "Slipped at" if slipped else "Held"
        page.get_by_role("status").filter(
            has_text=re.compile(rf"{done}.*{re.escape(gauge)} {re.escape(unit)}")
        ).wait_for()
        page.locator("table.readings tbody tr").nth(number - 1).wait_for()


def picture() -> bytes:
    """A photo as a camera might make it: made here, so nobody's picture is kept."""
    file = BytesIO()
    Image.new("RGB", (640, 480), (120, 130, 140)).save(file, "JPEG")
    return file.getvalue()


def add_photo(page: "Page", caption: str) -> None:
    page.get_by_label("Photo", exact=True).set_input_files(
        {"name": "mark.jpg", "mimeType": "image/jpeg", "buffer": picture()}
    )
    choose(page, "What it shows", "the mark with the rule beside it")
    write(page, ("Caption", caption))
    press(page, "Add this photo")
    page.get_by_role("img", name=caption).wait_for()


def save_and_check(page: "Page", drum: str) -> None:
    """From the page of the test to that of check and release, where nothing is missing but people's word."""
    press(page, "Save, then check and release")
    heading_is(page, f"Check and release: {drum}")
    words = words_on(page)
    assert "The record is complete." in words, words[:1500]


def act(page: "Page", user: User, drum: str, button: str) -> "Page":
    """The engineer or the master, signed in, goes from the deck to the record and stands for it."""
    page.goto("/")
    page.get_by_role("link", name=re.compile(rf": {re.escape(drum)}$")).first.click()
    if page.get_by_role("button", name=button).count() == 0:
        follow(page, "Check and release")
    press(page, button)
    page.get_by_text(f"Given by {user.rank} {user.name}").wait_for()
    return page


def send_ashore(page: "Page") -> None:
    """The officer submits on the page of check and release."""
    page.reload()
    press(page, "Submit the test to shore")
    page.locator(".lead .state", has_text="accepted aboard, shore review pending").wait_for()


# --- shore -------------------------------------------------------------------------------------------------------


def open_review(page: "Page", drum: str) -> None:
    """From the queue to the submission of this drum."""
    follow(page, "Today")
    page.get_by_role("link", name=re.compile(rf"^Review.*{re.escape(drum)}$")).first.click()
    page.get_by_role("heading", name="Decide").wait_for()
