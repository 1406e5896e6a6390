import pytest
from django.core import mail
from django.core.management import CommandError, call_command

from fleet.accounts.models import Company, Role, User
from fleet.vessels.permissions import may

pytestmark = pytest.mark.django_db
ARGUMENTS = ("--company", "Greywater Lines", "--short-code", "GWL", "--email", "it@grey.example", "--name", "Ola Finch")


def test_the_first_administrator_may_add_people_and_gets_a_link_by_mail() -> None:
    call_command("open_company", *ARGUMENTS)
    company, person = Company.objects.get(), User.objects.get()
    assert may(person, "edit_people", company)
    assert person.memberships.get().role == Role.ADMINISTRATOR
    assert not person.has_usable_password()
    assert [message.to for message in mail.outbox] == [["it@grey.example"]]


def test_the_same_company_is_refused_and_nothing_is_half_done() -> None:
    call_command("open_company", *ARGUMENTS)
    with pytest.raises(CommandError):
        call_command("open_company", *ARGUMENTS[:5], "other@grey.example", *ARGUMENTS[6:])
    assert User.objects.count() == 1
