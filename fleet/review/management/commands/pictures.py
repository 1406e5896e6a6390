"""Take the README's pictures of the demo fleet, with the machine's own Chromium."""

import os
import shutil
import subprocess
import threading
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler
from django.core.wsgi import get_wsgi_application
from django.test import Client
from django.urls import reverse

from fleet.accounts.models import User
from fleet.drums.models import Drum
from fleet.records.models import DrumTest, State
from fleet.review.management.commands.demo import sample_certificate
from fleet.vessels.models import Vessel

PHONE, DESK = (390, 844), (1280, 800)


@dataclass(frozen=True)
class Picture:
    """One page as one person sees it."""

    name: str
    person: str
    path: str
    size: tuple[int, int]
    scroll_to: str = ""


class Command(BaseCommand):
    help = "Take pictures of the demo fleet's pages (needs the demo loaded, the testing tools and Chromium)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--to", default=str(settings.BASE_DIR / "docs" / "pictures"), help="folder for the pictures"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        chromium = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
        if chromium is None:
            raise CommandError("Chromium is not on this machine: apt-get install chromium")
        if not Vessel.objects.filter(company__is_demo=True).exists():
            raise CommandError("Load the demo first: python3 manage.py demo --no-serve")
        from playwright.sync_api import sync_playwright

        folder = Path(options["to"])
        folder.mkdir(parents=True, exist_ok=True)
        wanted = pictures()
        cookies = {picture.person: session_cookie(picture.person) for picture in wanted if picture.person}
        # The browser's driver keeps an event loop in this thread, which Django would take for asynchronous code.
        os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
        with served() as address, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
            for picture in wanted:
                width, height = picture.size
                context = browser.new_context(viewport={"width": width, "height": height})
                if picture.person:
                    name = settings.SESSION_COOKIE_NAME
                    context.add_cookies([{"name": name, "value": cookies[picture.person], "url": address}])
                page = context.new_page()
                page.goto(address + picture.path)
                if picture.scroll_to:
                    page.locator(picture.scroll_to).evaluate("place => place.scrollIntoView({behavior: 'instant'})")
                    page.wait_for_timeout(800)
                page.screenshot(path=str(folder / f"{picture.name}.png"))
                context.close()
                self.stdout.write(f"{picture.name}.png")
            browser.close()
        self.certificate(folder)

    def certificate(self, folder: Path) -> None:
        """The sample certificate's page, drawn by poppler."""
        program, paper = shutil.which("pdftoppm"), sample_certificate()
        if program is None or paper is None:
            raise CommandError("The certificate needs pdftoppm (apt-get install poppler-utils) and a stored PDF.")
        subprocess.run([program, "-r", "90", "-png", "-singlefile", paper, folder / "certificate"], check=True)
        self.stdout.write("certificate.png")


def pictures() -> list[Picture]:
    """The pages worth showing, from the demo's own story."""
    vessel = Vessel.objects.get(company__is_demo=True, name="Kestrel Sound")
    half_way = DrumTest.objects.get(round__vessel=vessel, state=State.DRAFT)
    waiting = (
        DrumTest.objects.filter(round__vessel=vessel, state=State.SUBMITTED)
        .order_by("-submissions__as_found_share")
        .first()
    )
    assert waiting is not None
    drum = Drum.objects.filter(winch__vessel=vessel).fitted()[0]
    officer, superintendent = "officer@kestrel.demo.example", "superintendent@demo.example"
    auditor = "auditor@demo.example"
    return [
        Picture("today", superintendent, reverse("review:today"), DESK),
        Picture(
            "review", superintendent, reverse("review:review", args=[waiting.submissions.latest("version").pk]), DESK
        ),
        Picture("deck", officer, reverse("records:deck", args=[vessel.pk]), DESK),
        Picture("deck_phone", officer, reverse("records:deck", args=[vessel.pk]), PHONE),
        Picture("prepare", officer, reverse("records:prepare", args=[half_way.drum_id]), DESK),
        Picture("test_phone", officer, reverse("records:test", args=[half_way.pk]), PHONE, "#readings"),
        Picture("history", superintendent, reverse("records:history", args=[drum.pk]), DESK),
        Picture("certificates", auditor, reverse("certificates:certificate_list"), DESK),
        Picture("verify", "", reverse("certificates:verify"), PHONE),
    ]


def session_cookie(email: str) -> str:
    """A session of that person, without walking through the sign-in form."""
    client = Client()
    client.force_login(User.objects.get(email=email))
    return client.cookies[settings.SESSION_COOKIE_NAME].value


@contextmanager
def served() -> Iterator[str]:
    """The product on a free port of this machine while the pictures are taken."""

    class Quiet(WSGIRequestHandler):
        def log_message(self, format: str, *args: Any) -> None:
            pass

    server = ThreadedWSGIServer(("127.0.0.1", 0), Quiet)
    server.set_app(get_wsgi_application())
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://localhost:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()
