"""`python manage.py backup FILE`: everything this installation keeps, in one file."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from fleet.review.backups import backup_write


class Command(BaseCommand):
    help = "Writes rows and files into one file, while people go on working. Keys and settings are not in it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="where to write it, such as fleet-2026-11-20.tar.gz")

    def handle(self, *args: Any, **options: Any) -> None:
        target: Path = options["file"]
        if target.exists():
            raise CommandError(f"{target} is there already. Give another name.")
        if not target.absolute().parent.is_dir():
            raise CommandError(f"There is no folder {target.absolute().parent}.")
        contents = backup_write(target, at=timezone.now())
        self.stdout.write(f"{target}: {contents.rows} rows and {contents.files} files.")
