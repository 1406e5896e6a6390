"""Enter a company with its first administrator, who then adds everybody else in the product's own pages."""

from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from fleet.accounts.invitations import password_link_send
from fleet.accounts.models import Role
from fleet.accounts.services import company_add, membership_give, person_add


class Command(BaseCommand):
    help = "Enter a company and its first administrator; a link to choose a password goes out by mail."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--company", required=True, help="the company's name")
        parser.add_argument("--short-code", required=True, help="begins every certificate number, up to 6 characters")
        parser.add_argument("--email", required=True, help="the administrator's e-mail address")
        parser.add_argument("--name", required=True, help="the administrator's name")
        parser.add_argument("--rank", default="", help="the administrator's position")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with transaction.atomic():
                company = company_add(actor=None, name=options["company"], short_code=options["short_code"])
                person = person_add(
                    actor=None, company=company, email=options["email"], name=options["name"], rank=options["rank"]
                )
                membership_give(actor=None, user=person, company=company, role=Role.ADMINISTRATOR)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        password_link_send(actor=None, user=person, company=company)
        self.stdout.write(f"{company} is entered. A link to choose a password was sent to {person.email}.")
