"""The one-time link: it goes to the person alone, works once, and opens nobody else's account."""

import re

import pytest
from django.core import mail
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from fleet.accounts.invitations import HAS_A_PASSWORD, password_link_send
from fleet.accounts.models import User
from fleet.accounts.services import person_add
from fleet.core.models import AuditEntry
from tests.cast import Cast

PASSWORD = "nine-brass-cleats-4"


def link_in_the_mail() -> str:
    found = re.search(r"https?://[^/\s]+(/\S+)", str(mail.outbox[-1].body))
    assert found is not None
    return found[1]


@pytest.fixture
def newcomer(cast: Cast) -> User:
    person = person_add(actor=cast.administrator, company=cast.company, email="new@ship.example", name="New O'Hare")
    password_link_send(actor=cast.administrator, user=person, company=cast.company)
    return person


def choose_password(client: Client, link: str, password: str) -> int:
    page = client.get(link, follow=True)
    address = page.redirect_chain[-1][0] if page.redirect_chain else link
    return client.post(address, {"password1": password, "password2": password}).status_code


def test_the_mail_goes_to_the_person_in_plain_words(newcomer: User) -> None:
    message = mail.outbox[-1]
    assert message.to == [newcomer.email]
    assert "New O'Hare" in message.body  # a mail is text: nothing in it is escaped for HTML
    assert newcomer.email in message.body


def test_the_link_lets_the_person_choose_a_password_and_sign_in(client: Client, newcomer: User) -> None:
    choose_password(client, link_in_the_mail(), PASSWORD)
    newcomer.refresh_from_db()
    assert newcomer.check_password(PASSWORD)
    assert Client().login(email=newcomer.email, password=PASSWORD)


def test_the_link_works_once(client: Client, newcomer: User) -> None:
    link = link_in_the_mail()
    choose_password(client, link, PASSWORD)
    choose_password(Client(), link, "another-password-5")
    newcomer.refresh_from_db()
    assert newcomer.check_password(PASSWORD)


def test_sending_is_in_the_audit_but_the_link_is_not(newcomer: User) -> None:
    entry = AuditEntry.objects.last()
    assert entry is not None
    assert (entry.action, entry.subject_id) == ("password link sent", newcomer.pk)
    key = link_in_the_mail().rstrip("/").rsplit("-", 1)[-1]
    assert key not in str([entry.before, entry.after, entry.reason])


def test_no_link_is_made_to_an_account_that_has_a_password(cast: Cast) -> None:
    with pytest.raises(ValidationError) as error:
        password_link_send(actor=cast.administrator, user=cast.officer, company=cast.company)
    assert error.value.messages == [HAS_A_PASSWORD]
    assert mail.outbox == []


def test_the_sign_in_page_can_be_reached_without_an_account(client: Client, db: None) -> None:
    assert client.get(reverse("account_login")).status_code == 200
