"""The main job in a browser, from the sign-in form to a certificate whose figures are held against `compute`."""

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from django.utils import timezone

from fleet.calculation import units
from tests.cast import Cast
from tests.walk import (
    act,
    add_photo,
    download,
    enter_gauge,
    enter_kit,
    enter_particulars,
    enter_readings,
    enter_winch_and_drum,
    follow,
    heading_is,
    labelled,
    open_review,
    open_round,
    opened,
    press,
    save_and_check,
    send_ashore,
    sign_in,
    tick_and_describe,
    words_on,
    write,
)

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.pdf]

ROOT = Path(__file__).parents[1]
DRUM = "F3"
# What is typed on the pages and, word for word the same, handed to the command.
INPUT: dict[str, Any] = {
    "sdmbl": {"value": 637, "unit": "kN"},
    "share": 0.60,
    "lever_arm": {"value": 1100, "unit": "mm"},
    "piston_area": {"value": 70.9, "unit": "cm2"},
    "drum_diameter": {"value": 640, "unit": "mm"},
    "line_diameter": {"value": 38, "unit": "mm"},
    "gauge_unit": "kgf/cm2",
}
FIGURES = {
    "Drum diameter (bare barrel)": ("640", "mm", "drawing", "W-1"),
    "Line diameter": ("38", "mm", "certificate", "line certificate 88"),
    "Flange diameter": ("1150", "mm", "drawing", "W-1"),
    "Lining thickness when new": ("12", "mm", "maker's manual or plate", "manual, page 9"),
    "Least lining thickness": ("7", "mm", "maker's manual or plate", "manual, page 9"),
    "Movement of the mark per handwheel turn": ("6", "mm", "measured aboard", ""),
}
READINGS = (
    ("as found, untouched", "53.8", "150", True, False),
    ("adjusting", "51", "161", True, True),
    ("verification", "49", "168", True, True),
    ("verification", "49", "170", True, True),
)
SLIPS = ("168", "170")


def on_dial(value: float) -> dict[str, Any]:
    return {"value": value, "unit": "kgf/cm2"}


# The gauge as tests/walk.py enters it: its certificate says what each reading truly is.
GAUGE = {
    "full_scale": on_dial(250),
    "accuracy_class": 1,
    "smallest_division": on_dial(2),
    "calibration": [
        {"reading": on_dial(reading), "reference": on_dial(reference), "U": on_dial(0.6), "k": 2}
        for reading, reference in ((50, 50.2), (150, 150.5), (250, 250.4))
    ],
}
CODE = re.compile(r"\b(?:[0-9A-Z]{4}-){3}[0-9A-Z]{4}\b")


def compute(**more: Any) -> dict[str, Any]:
    """The answer of `manage.py compute`, run as anyone would run it."""
    environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    done = subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "compute"],
        input=json.dumps({**INPUT, **more}).encode(),
        capture_output=True,
        cwd=ROOT,
        env={**environment, "FLEET_ENV": "given"},
        timeout=60,
        check=True,
    )
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def text_of(content: bytes) -> str:
    """The words of a PDF as one reads them, with one space between."""
    assert content.startswith(b"%PDF-")
    done = subprocess.run(["pdftotext", "-raw", "-", "-"], input=content, capture_output=True, check=True)
    return " ".join(done.stdout.decode().split())


def shown(answer: dict[str, float], unit: str) -> str:
    """A figure of the command as the product shows it: rounded once, with its unit."""
    return f"{units.shown(answer[unit], units.SHOWN_DECIMALS[unit])} {units.label(unit)}"


@dataclass
class Seen:
    """The words of everything in which the figures must agree, gathered on the way."""

    texts: dict[str, str] = field(default_factory=dict)

    def lacking(self, *figures: str, among: tuple[str, ...]) -> list[str]:
        """Where a figure is missing: the place and the figure."""
        return [f"{place}: {figure}" for place in among for figure in figures if figure not in self.texts[place]]


def corrected(reading: float) -> dict[str, Any]:
    """What the command makes of a reading by the gauge's certificate."""
    answer: dict[str, Any] = compute(gauge=GAUGE, slips=[on_dial(reading)])["uncertainty"]["gauge_correction"]
    return answer


def every_figure_is_the_command_s(seen: Seen) -> None:
    """Target, rendering load, and load and share at each verification slip: the same digits wherever they stand."""
    target = compute()
    slips = [corrected(float(slip)) for slip in SLIPS]
    loads = [units.shown(slip["load_at_reading"]["kN"], units.SHOWN_DECIMALS["kN"]) for slip in slips]
    shares = [units.digits(slip["load_at_reading"]["share_of_sdmbl"], "percent") for slip in slips]
    # The case is no accident of rounding: every figure has a last digit of its own.
    assert len({*loads, *shares}) == 4
    reading = shown({"kgf/cm2": target["target_reading"]["value"]}, "kgf/cm2")
    on_gauge = shown({"kgf/cm2": slips[0]["target_on_gauge"]["value"]}, "kgf/cm2")
    load_kn, load_tf = (shown(target["brake_rendering_load"], unit) for unit in ("kN", "tf"))
    everywhere = ("prepare", "worksheet", "record", "review", "certificate page", "certificate")
    assert seen.lacking(reading, on_gauge, load_kn, load_tf, among=everywhere) == []
    assert seen.lacking(*loads, *shares, among=("test", "review", "certificate page", "certificate")) == []
    assert seen.lacking(*shares, among=("record",)) == []

    # As left is the mean of the two slips; between two points of the certificate it is that of the mean reading.
    mean = corrected(169)["load_at_reading"]
    left = (shown(mean, "kN"), shown(mean, "tf"), units.display(mean["share_of_sdmbl"], "percent"))
    assert seen.lacking(*left, among=("record", "review", "certificate page", "certificate", "tags")) == []


def anyone_can_verify(page: "Page", certificate: str, cast: Cast) -> None:
    """With the code from the paper and no account; no person is named."""
    code = CODE.search(certificate)
    assert code, certificate
    page.goto("/verify/")
    labelled(page, "Verification code").fill(code[0].lower())
    press(page, "Verify")
    page.get_by_text("Genuine, issued").wait_for()
    words = words_on(page)
    assert cast.vessel.name in words
    assert DRUM in words
    assert [person.name for person in cast.people.values() if person.name in words] == []


def superintendent_enters_the_gear(page: "Page", cast: Cast, today: date) -> None:
    sign_in(page, cast.superintendent)
    follow(page, "Vessels")
    follow(page, cast.vessel.name)
    enter_winch_and_drum(page, winch="Forward winch, starboard", drum=DRUM)
    enter_particulars(page, today - timedelta(days=30), FIGURES)
    page.get_by_text("The record of this drum holds what a test needs of it.").wait_for()
    follow(page, cast.vessel.name)
    follow(page, "Instruments")
    enter_gauge(page, unit="kgf/cm²", full_scale="250", division="2", calibrated_on=today - timedelta(days=60))
    enter_kit(page, area="70,9", bore="95", arm="1100")


def officer_prepares_and_tests(page: "Page", cast: Cast, today: date, seen: Seen) -> None:
    sign_in(page, cast.officer)
    open_round(page, today - timedelta(days=1))
    follow(page, "Prepare")
    heading_is(page, f"{DRUM}: prepare")
    seen.texts["prepare"] = words_on(page)
    seen.texts["worksheet"] = text_of(opened(page, "Worksheet (PDF)"))
    follow(page, "Go to the test")
    press(page, "Begin the test")
    tick_and_describe(page, today - timedelta(days=1))
    enter_readings(page, READINGS, "kgf/cm²")
    seen.texts["test"] = words_on(page)
    add_photo(page, "rule at 49 mm")
    write(page, ("Setting as found", "53.8"), ("Setting as left", "49"), ("How the mark is fixed", "welded steel tag"))
    page.get_by_label("set in band").check()
    save_and_check(page, DRUM)


def test_from_the_sign_in_form_to_a_certificate_that_agrees_with_compute(
    desktop_page: "Page", page: "Page", new_page: Callable[..., "Page"], cast: Cast
) -> None:
    today, seen = timezone.localdate(), Seen()
    office, officer = desktop_page, page
    superintendent_enters_the_gear(office, cast, today)
    officer_prepares_and_tests(officer, cast, today, seen)
    for person, button in ((cast.engineer, "Gauge and jack are fit: confirm"), (cast.master, "Release these figures")):
        act(sign_in(new_page(), person), person, DRUM, button)
    send_ashore(officer)
    follow(officer, "The record as sent")
    heading_is(officer, f"Record of {DRUM}, version 1")
    seen.texts["record"] = words_on(officer)
    open_review(office, DRUM)
    seen.texts["review"] = words_on(office)
    press(office, "Approve and issue")
    heading_is(office, "Certificate")
    seen.texts["certificate page"] = words_on(office)

    auditor = sign_in(new_page(1280, 800), cast.auditor)
    seen.texts["certificate"] = text_of(download(auditor, "PDF"))
    follow(officer, f"{cast.vessel.name}: deck")
    officer.get_by_role("link", name=re.compile("round")).first.click()
    seen.texts["tags"] = text_of(download(officer, "Winch tags (PDF)"))

    every_figure_is_the_command_s(seen)
    anyone_can_verify(new_page(), seen.texts["certificate"], cast)
