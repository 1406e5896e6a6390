"""`python manage.py audit_verify`: walk the audit entries from end to end and say what does not fit."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.accounts.models import Company
from fleet.review.chains import ChainReport, chain_reports


class Command(BaseCommand):
    help = "Checks that no audit entry was edited, removed, reordered or inserted. Exit 0 only if all is unbroken."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--company", help="name of one company; all of them without it")

    def handle(self, *args: Any, **options: Any) -> None:
        broken = 0
        for report in chain_reports(_company(options["company"])):
            self.stdout.write(_line(report))
            for fault in report.faults:
                self.stdout.write(f"  at {fault.sequence}: {fault.what}")
            broken += not report.is_unbroken
        if broken:
            raise CommandError(f"{broken} of the chains are broken." if broken > 1 else "One chain is broken.")


def _company(name: str | None) -> Company | None:
    if not name:
        return None
    try:
        return Company.objects.get(name=name)
    except Company.DoesNotExist:
        raise CommandError(f"There is no company named {name!r}.") from None


def _line(report: ChainReport) -> str:
    state = "unbroken" if report.is_unbroken else "BROKEN"
    seen = f", {report.certificates} certificates agree" if report.certificates and report.is_unbroken else ""
    return f"{report.name}: {state}, {report.entries} entries, head {report.root}{seen}"
