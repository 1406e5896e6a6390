"""``python manage.py compute [--input FILE|-]``: one JSON object in, one JSON object out; no database, no secret."""

import json
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from fleet.calculation.compute import compute_bytes, refusal

UNREADABLE = "This file cannot be read: {reason}."


class Command(BaseCommand):
    help = (
        "Works out jack pressure and brake rendering load for one drum. Reads one JSON object and writes one JSON "
        "object; a bad input is answered with its errors on standard output and exit code 2."
    )
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--input", default="-", metavar="FILE", help="a file, or - for standard input (default)")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            raw = _read(options["input"])
        except (OSError, ValueError) as error:
            reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
            answer, code = refusal("input", UNREADABLE.format(reason=reason))
        else:
            answer, code = compute_bytes(raw)
        self.stdout.write(json.dumps(answer, allow_nan=False, indent=2))
        if code:
            sys.exit(code)


def _read(name: str) -> bytes:
    if name == "-":
        return sys.stdin.buffer.read()
    with open(name, "rb") as file:
        return file.read()
