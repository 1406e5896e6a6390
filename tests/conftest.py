"""What every test shares: the database's test settings, files in a folder of the test's own, a browser."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import hypothesis
import pytest
from django.conf import settings as django_settings
from django.db import connections
from pytest_django.plugin import blocking_manager_key as blocker_key

from fleet.core.audit_guard import lift_guard, raise_guard
from tests.cast import cast  # noqa: F401  a fixture, offered to every test
from tests.machine import chromium_program, lacks
from tests.run import DATABASE_TESTS_ONLY

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Request

# The same cases on every run and every machine; how long one takes is not a property of the code.
hypothesis.settings.register_profile("fleet", derandomize=True, deadline=None, database=None)
hypothesis.settings.load_profile("fleet")

PHONE = {"width": 390, "height": 844}
DESKTOP = {"width": 1280, "height": 800}
BROWSER_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-quic",
    # The product must not reach for anything outside; here it could not.
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1",
]
BROWSER_FIXTURES = {"browser", "new_page", "page", "desktop_page"}
DATABASE_FIXTURES = {"db", "transactional_db", "live_server"}
LEFT_OUT = pytest.StashKey[dict[str, int]]()


# --- what runs here ----------------------------------------------------------------------------------------------


def database_vendor() -> str:
    """The database this run is on: sqlite or postgresql."""
    return str(connections["default"].vendor)


def pytest_report_header() -> str:
    """Name the database in the first lines of the output."""
    return f"database: {database_vendor()}"


def left_out_markers() -> dict[str, str]:
    """Marker → why its tests do not run in this process."""
    left_out = lacks()
    left_out.pop("postgresql", None)
    if database_vendor() != "postgresql":
        left_out["postgresql"] = "tests of PostgreSQL itself (they run in the PostgreSQL run)"
    return left_out


def touches_a_database(item: pytest.Item) -> bool:
    """Whether a test asks for the database, by its marker or by a fixture that does."""
    used = DATABASE_FIXTURES.intersection(getattr(item, "fixturenames", ()))
    return bool(used) or item.get_closest_marker("django_db") is not None


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out the tests this machine lacks something for, and count them for the summary."""
    left_out, once = left_out_markers(), bool(os.environ.get(DATABASE_TESTS_ONLY))
    counted: dict[str, int] = {}
    kept, dropped = [], []
    for item in items:
        if BROWSER_FIXTURES.intersection(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.browser)
        reason = next((words for marker, words in left_out.items() if item.get_closest_marker(marker)), None)
        if reason is None and once and not touches_a_database(item):
            reason = "tests that touch no database (they run in the other run)"
        if reason is None:
            kept.append(item)
        else:
            dropped.append(item)
            counted[reason] = counted.get(reason, 0) + 1
    config.stash[LEFT_OUT] = counted
    if dropped:
        config.hook.pytest_deselected(items=dropped)
        items[:] = kept


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    """Say what was left out and why, and hand the counts to the test run that started this one."""
    for reason, number in config.stash.get(LEFT_OUT, {}).items():
        terminalreporter.write_line(f"left out here: {number} of the {reason}")
    report = os.environ.get("FLEET_TEST_REPORT")
    if report:
        ended = {name: len(terminalreporter.stats.get(name, ())) for name in ("passed", "failed", "error", "skipped")}
        expected = {name: len(terminalreporter.stats.get(name, ())) for name in ("xfailed", "xpassed")}
        counts = {
            "passed": ended["passed"] + expected["xpassed"],
            "failed": ended["failed"] + ended["error"],
            "skipped": ended["skipped"] + expected["xfailed"],
        }
        Path(report).write_text(json.dumps(counts), encoding="utf-8")


# --- database and files ------------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Put SQLite's test database in a file: in memory, a live server's threads would share one connection."""
    default = connections["default"]
    if default.vendor == "sqlite":
        default.settings_dict["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")


@pytest.fixture(autouse=True)
def media_root(settings: Any, tmp_path: Path) -> Path:
    """Uploaded and made files go to the test's own folder."""
    folder = tmp_path / "files"
    settings.MEDIA_ROOT = str(folder)
    return folder


@pytest.fixture(scope="session", autouse=True)
def signing_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Certificates are signed with keys made for this run."""
    from django.test import override_settings

    folder = tmp_path_factory.mktemp("signing")
    with override_settings(SIGNING_FOLDER=folder):
        yield folder


def clears_rows_away(item: Any) -> bool:
    """True for a test whose rows are cleared from the tables at its end, not rolled back."""
    marker = item.get_closest_marker("django_db")
    transactional = bool(marker and marker.kwargs.get("transaction"))
    return transactional or bool({"transactional_db", "live_server"}.intersection(getattr(item, "fixturenames", ())))


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_runtest_teardown(item: pytest.Item, nextitem: pytest.Item | None) -> Iterator[None]:
    """Lift the audit table's guard while a test's rows are cleared away."""
    if not clears_rows_away(item):
        return (yield)
    lift_guard(connections["default"])
    try:
        return (yield)
    finally:
        if nextitem is not None:  # after the last test the database itself is gone
            with item.config.stash[blocker_key].unblock():
                raise_guard(connections["default"])
                # With a browser running this can be a connection of its own, which nobody else would close.
                connections["default"].close()


# --- browser -----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Headless Chromium, one for all tests; each test gets pages in a fresh context."""
    from playwright.sync_api import sync_playwright

    # The browser's driver keeps an event loop in this thread, which Django would take for asynchronous code.
    before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    try:
        with sync_playwright() as playwright:
            chromium = playwright.chromium.launch(executable_path=chromium_program(), args=BROWSER_FLAGS)
            yield chromium
            chromium.close()
    finally:
        if before is None:
            del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]
        else:
            os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = before


class Watch:
    """Collects what no page of the product may do: script errors, policy violations, requests to other hosts."""

    def __init__(self, own_host: str) -> None:
        self.own_host = own_host
        self.complaints: list[str] = []

    def console(self, message: ConsoleMessage) -> None:
        if "Content Security Policy" in message.text:
            self.complaints.append(message.text)

    def page_error(self, error: Exception) -> None:
        self.complaints.append(f"script error: {error}")

    def request(self, request: Request) -> None:
        address = urlsplit(request.url)
        if address.scheme in {"http", "https"} and address.netloc != self.own_host:
            self.complaints.append(f"request to another host: {request.url}")


@pytest.fixture
def new_page(browser: Browser, live_server: Any, tmp_path: Path) -> Iterator[Callable[..., Page]]:
    """Makes pages of any size, each in a browser context of its own; what they misdo fails the test at its end."""
    watch = Watch(urlsplit(live_server.url).netloc)
    contexts: list[BrowserContext] = []

    def make(width: int = PHONE["width"], height: int = PHONE["height"], **options: Any) -> Page:
        context = browser.new_context(
            base_url=live_server.url,
            viewport={"width": width, "height": height},
            locale="en-GB",
            timezone_id="UTC",
            accept_downloads=True,
            **options,
        )
        contexts.append(context)
        context.set_default_timeout(10_000)
        made = context.new_page()
        made.on("console", watch.console)
        made.on("pageerror", watch.page_error)
        context.on("request", watch.request)
        return made

    yield make
    for context in contexts:
        context.close()
    assert watch.complaints == []


@pytest.fixture
def page(new_page: Callable[..., Page]) -> Page:
    """A page as wide as a phone, 390 px."""
    return new_page(**PHONE)


@pytest.fixture
def desktop_page(new_page: Callable[..., Page]) -> Page:
    """A page as wide as an office screen, 1280 px."""
    return new_page(**DESKTOP)


@pytest.fixture
def signed_in(live_server: Any) -> Callable[[Page, Any], Page]:
    """Gives a page the session of a user, without walking through the sign-in form."""
    from django.test import Client

    def sign_in(page: Page, user: Any) -> Page:
        client = Client()
        client.force_login(user)
        name = django_settings.SESSION_COOKIE_NAME
        page.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
        return page

    return sign_in
