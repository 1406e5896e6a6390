"""Make the points of the history again from the approved submissions."""

from typing import Any

from django.core.management.base import BaseCommand

from fleet.drift.services import history_points_renew


class Command(BaseCommand):
    help = "Throw the points of all drums' histories away and make them again from the approved submissions."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"{history_points_renew()} points made from the approved submissions.")
