"""Run the long seeded counts in full and print their figures: for contributors, never for a fleet."""

import importlib
import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

NEEDS_TESTS = (
    "soak needs the test environment: the folder tests/ of the source, with its packages. "
    "In the source folder, python3 manage.py soak prepares them; an installed product has neither."
)


class Command(BaseCommand):
    help = "Runs the long seeded counts in full and prints each with its figures; exit code 1 where one does not hold."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--part", action="append", metavar="NAME", help="this part only; may be given again")
        parser.add_argument("--seed", type=int, help="first seed; each part has its own otherwise")
        parser.add_argument("--count", type=int, help="how many seeds; each part has its own full count otherwise")
        parser.add_argument("--list", action="store_true", help="only name the parts")

    def handle(self, *_arguments: Any, **options: Any) -> None:
        parts = _parts()
        if options["list"]:
            for part in parts.values():
                self.stdout.write(f"{part.name}: {part.what}; {part.count} seeds from {part.first_seed}")
            return
        unknown = [name for name in options["part"] or [] if name not in parts]
        if unknown:
            raise CommandError(f"No such part: {', '.join(unknown)}. There are: {', '.join(parts)}.")
        if options["count"] is not None and options["count"] < 1:
            raise CommandError("--count must be at least 1.")
        if options["seed"] is not None and options["seed"] < 0:
            raise CommandError("--seed must not be below 0.")
        missed = [name for name in options["part"] or parts if not self._run(parts[name], options)]
        if missed:
            raise CommandError(f"Does not hold: {', '.join(missed)}.")

    def _run(self, part: Any, options: dict[str, Any]) -> bool:
        first_seed = part.first_seed if options["seed"] is None else options["seed"]
        count = options["count"] or part.count
        self.stdout.write(f"{part.name}: {part.what}\n  seeds {first_seed} to {first_seed + count - 1}")
        if part.was_tuned_on(first_seed, count):
            self.stdout.write("  Some of these seeds were tuned on: these figures flatter.")
        self.stdout.flush()
        start = time.perf_counter()
        report = part.run(first_seed, count)
        for line in report.lines:
            self.stdout.write(f"  {line}")
        holds = "holds" if report.holds else "DOES NOT HOLD"
        self.stdout.write(f"  {holds}; {time.perf_counter() - start:.0f} s")
        return bool(report.holds)


def _parts() -> Any:
    """The registry of tests/soak; not imported above, because the product is installed without its tests."""
    try:
        return importlib.import_module("tests.soak").PARTS
    except ModuleNotFoundError as error:
        raise CommandError(f"{NEEDS_TESTS} Missing: {error.name}.") from error
