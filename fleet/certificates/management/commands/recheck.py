"""``python manage.py recheck FILE.pdf [--ca FILE]``: a certificate checked from the file alone."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.exceptions import ImproperlyConfigured
from django.core.management.base import BaseCommand

from fleet.certificates.pdf_reading import UnreadablePdf
from fleet.certificates.recheck import Recheck, recheck
from fleet.certificates.recheck_lines import Line
from fleet.certificates.signing_keys import Authority, authorities_of, known_keys
from fleet.records.snapshot import CALCULATION_VERSION

DISAGREES, UNREADABLE = 1, 2
SIGNS = {True: "ok  ", False: "BAD ", None: "?   "}


class Command(BaseCommand):
    help = (
        "Checks a certificate's PDF without database or network: its signature, the record it carries, every figure "
        "worked out again, and the words printed on it. Exit code 0 only when all agree, 1 when something does not, 2 "
        "when the file cannot be read."
    )
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the certificate's PDF")
        parser.add_argument(
            "--ca", type=Path, help="the operator's authority as PEM; else those in this machine's own signing folder"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            authorities = self.authorities(options["ca"])
            found = recheck(options["file"].read_bytes(), authorities=authorities)
        except (UnreadablePdf, ImproperlyConfigured, OSError) as error:
            self.stdout.write(f"BAD  {error}")
            sys.exit(UNREADABLE)
        if not authorities:
            self.stdout.write("No authority is trusted here. Name the operator's own with --ca FILE.")
        self.tell(found)
        if not found.all_agree:
            sys.exit(DISAGREES)

    def authorities(self, path: Path | None) -> tuple[Authority, ...]:
        return authorities_of(path.read_bytes()) if path else known_keys().authorities

    def tell(self, found: Recheck) -> None:
        part = ""
        for line in found.lines:
            if line.part != part:
                part = line.part
                self.stdout.write(f"\n{part}")
            self.stdout.write(self.words(line))
        if found.is_older_calculation:
            self.stdout.write(
                f"\nWritten by calculation version {found.calculation_version}; this is {CALCULATION_VERSION}."
            )
        if found.all_agree:
            self.stdout.write(f"\nAll {len(found.lines)} lines agree.")
        else:
            bad = sum(line.agrees is not True for line in found.lines)
            self.stdout.write(f"\n{bad} of {len(found.lines)} lines do not agree: do not rely on this file.")
        self.stdout.write(
            "This file cannot say whether the certificate was superseded or withdrawn since: ask for its code on the "
            "verification page. No result is permission to moor."
        )

    def words(self, line: Line) -> str:
        return (
            f"  {SIGNS[line.agrees]} {line.what}: {line.said}" if line.said else f"  {SIGNS[line.agrees]} {line.what}"
        )
