"""Prepare the invented demo fleet and serve it on this machine."""

import os
import shutil
import socket
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.core.servers.basehttp import run
from django.core.wsgi import get_wsgi_application
from django.db import connection, transaction
from django.utils import timezone

from fleet.accounts.models import Company, Membership, Role
from fleet.certificates.models import Certificate
from fleet.core.audit_guard import lift_guard, raise_guard
from fleet.review.demo import load_demo
from fleet.review.demo.fleet_file import PASSWORD

HOST = "127.0.0.1"


class Command(BaseCommand):
    help = "Load the invented demo fleet (once) and serve it on http://localhost."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="prepare everything and stop")
        parser.add_argument("--port", type=int, default=8000, help="port to serve on (8000)")
        parser.add_argument("--reset", action="store_true", help="throw the demo data away and load it anew")
        parser.add_argument("--yes", action="store_true", help="do not ask before --reset")

    def handle(self, *args: Any, **options: Any) -> None:
        port = options["port"]
        serves = not options["no_serve"]
        if serves:
            refuse_port_in_use(port)
        if not os.environ.get("SITE_URL"):
            settings.SITE_URL = f"http://localhost:{port}"
        call_command("migrate", verbosity=0, interactive=False)
        refuse_real_companies()
        if options["reset"]:
            self.reset(asks=not options["yes"])
        if not Company.objects.exists():
            self.stdout.write("Loading the invented demo fleet; this takes about a minute.")
            with transaction.atomic():
                load_demo(now=timezone.now())
        self.tell(port)
        if serves:
            self.stdout.write("Stop with Ctrl-C.")
            # The server of static files warns of a folder that is not there; locally nothing is collected into it.
            Path(settings.STATIC_ROOT).mkdir(parents=True, exist_ok=True)
            run(HOST, port, get_wsgi_application(), threading=True)

    def reset(self, *, asks: bool) -> None:
        """Empty the database and its files, after a yes."""
        if asks and input("Throw away all demo data and what was entered since? Type yes: ").strip().lower() != "yes":
            raise CommandError("Nothing was changed.")
        lift_guard(connection)
        try:
            call_command("flush", verbosity=0, interactive=False)
        finally:
            raise_guard(connection)
        shutil.rmtree(settings.MEDIA_ROOT, ignore_errors=True)

    def tell(self, port: int) -> None:
        say = self.stdout.write
        say(f"\nThe demo fleet is invented. Open http://localhost:{port} and sign in with the password {PASSWORD}:\n")
        for role, email in sign_ins():
            say(f"  {role:<32} {email}")
        sample = sample_certificate()
        say("")
        if sample:
            say(f"A sample certificate: {sample}")
        else:
            say("No certificate PDF could be made yet: Pango is missing (see above). Everything else works.")


def sign_ins() -> list[tuple[str, str]]:
    """One person for each role, in the order of the roles."""
    rows = Membership.objects.filter(company__is_demo=True).select_related("user").order_by("user__date_joined")
    first: dict[str, str] = {}
    for row in rows:
        first.setdefault(row.role, row.user.email)
    return [(str(Role(role).label), first[role]) for role in Role.values if role in first]


def sample_certificate() -> Path | None:
    """The stored PDF of the newest certificate that has one."""
    row = Certificate.objects.exclude(pdf="").order_by("-issued_at", "-number").first()
    return Path(row.pdf.path) if row else None


def refuse_real_companies() -> None:
    """The demo must never mix with a fleet in use."""
    real = Company.objects.filter(is_demo=False).first()
    if real:
        raise CommandError(
            f"This database holds {real}, which is not demo data. The demo is not loaded beside it; "
            "set DATABASE_URL to another database."
        )


def refuse_port_in_use(port: int) -> None:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except OSError:
            raise CommandError(f"Port {port} is in use. Choose another one: --port {port + 1}") from None
