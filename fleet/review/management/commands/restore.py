"""`python manage.py restore FILE`: put a backup back, then walk the audit entries it brought."""

from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from fleet.review.backups import BackupRefused, backup_restore


class Command(BaseCommand):
    help = "Puts a backup back into an empty database and checks the audit entries after. Exit 0 only if all is well."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--replace", action="store_true", help="put it in the place of everything that is there")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            contents = backup_restore(options["file"], replace=options["replace"])
        except BackupRefused as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"{contents.rows} rows and {contents.files} files are back.")
        call_command("audit_verify", stdout=self.stdout)
