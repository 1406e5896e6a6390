"""``python manage.py judge_detection``: how well the drift analysis finds what is wrong in virtual fleets."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from fleet.calculation.checks import InputError
from fleet.simulation.judging_aims import lines_of_aims
from fleet.simulation.judging_pool import pooled
from fleet.simulation.judging_report import FRESH_FROM, TUNED_ON, as_json, judge, lines_of


class Command(BaseCommand):
    help = (
        "Lets the drift analysis look at a virtual fleet whose faults are known, and prints what it found of each "
        "kind, its false flags, and whether its intervals and forecasts keep their word, beside two baselines and the "
        f"limit of what can be seen. It was tuned on the seeds {TUNED_ON.start} to {TUNED_ON.stop - 1}; report on "
        f"seeds from {FRESH_FROM} on. Needs no database."
    )
    requires_system_checks = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--vessels", type=int, default=200)
        parser.add_argument("--years", type=int, default=12)
        parser.add_argument("--seed", type=int, default=FRESH_FROM)
        parser.add_argument("--fleets", type=int, default=1, help="judge so many fleets, seed after seed, as one")
        parser.add_argument("--json", metavar="FILE", help="also write everything to this file")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            seeds = range(options["seed"], options["seed"] + options["fleets"])
            judgement = pooled([judge(vessels=options["vessels"], years=options["years"], seed=seed) for seed in seeds])
        except InputError as error:
            raise CommandError(str(error)) from error
        if options["json"]:
            Path(options["json"]).write_text(json.dumps(as_json(judgement), indent=2) + "\n", encoding="utf-8")
        self.stdout.write("\n".join([*lines_of(judgement), "", "What is asked of it", *lines_of_aims(judgement)]))
