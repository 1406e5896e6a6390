"""Anyone may look a code up: what they see, what they never see, and how often."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.certificates.limits import LOOK_UPS
from fleet.certificates.models import Certificate
from fleet.certificates.services import certificate_withdraw
from tests.cast import Cast
from tests.certificates.records import Ship, approved, certified, drum_on, failed

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("empty_cache")]
FORM = reverse("certificates:verify")


def page_of(certificate: Certificate) -> str:
    return reverse("certificates:verify", args=[certificate.code])


def words(response: Any) -> str:
    return " ".join(response.content.decode().split())


@pytest.fixture
def certificate(cast: Cast, ship: Ship) -> Certificate:
    return certified(ship, cast.superintendent)


def test_the_form_needs_no_sign_in(client: Client) -> None:
    response = client.get(FORM)
    assert response.status_code == 200
    assert "No account is needed" in words(response)


def test_a_code_shows_number_ship_drum_date_result_and_status(client: Client, certificate: Certificate) -> None:
    shown = words(client.get(page_of(certificate)))
    for text in (
        certificate.number,
        certificate.submission.test.round.vessel.name,
        certificate.submission.test.drum.name,
        "20 November 2026",
        "59.7 %",
        "Genuine, issued 21 November 2026 by the operator.",
    ):
        assert text in shown


def test_no_persons_name_is_shown(client: Client, certificate: Certificate, cast: Cast, ship: Ship) -> None:
    certificate_withdraw(certificate=certificate, reason="Mister Rook misread it", actor=cast.superintendent)
    shown = words(client.get(page_of(certificate)))
    people = [ship.officer.name, ship.engineer.name, ship.master.name, cast.superintendent.name, "Ada Voss", "Rook"]
    assert [name for name in people if name in shown] == []


def test_the_page_is_not_kept_by_any_cache(client: Client, certificate: Certificate) -> None:
    assert "no-store" in client.get(page_of(certificate))["Cache-Control"]


def test_a_superseded_certificate_says_since_when_and_by_which(client: Client, cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    old = certified(ship, cast.superintendent, drum, tested_on=date(2025, 11, 20))
    new = certified(ship, cast.superintendent, drum)
    shown = words(client.get(page_of(old)))
    assert "superseded on 21 November 2026" in shown
    assert new.number in shown


def test_a_withdrawn_certificate_says_since_when(client: Client, cast: Cast, certificate: Certificate) -> None:
    at = datetime(2026, 12, 3, tzinfo=UTC)
    certificate_withdraw(certificate=certificate, reason="wrong gauge", actor=cast.superintendent, at=at)
    assert "Withdrawn on 3 December 2026." in words(client.get(page_of(certificate)))


def test_a_later_failure_of_the_drum_is_told(client: Client, cast: Cast, ship: Ship) -> None:
    drum = drum_on(cast.vessel)
    certificate = certified(ship, cast.superintendent, drum, tested_on=date(2025, 11, 20))
    approved(failed(ship, drum), cast.superintendent)
    assert "a later test of this drum failed on 20 Nov 2026: could not be set" in words(
        client.get(page_of(certificate))
    )


def test_an_unknown_code_gets_a_plain_answer(client: Client) -> None:
    response = client.get(reverse("certificates:verify", args=["0000-0000-0000-0000"]))
    assert response.status_code == 404
    assert "No certificate has the code 0000-0000-0000-0000." in words(response)


def test_a_code_typed_into_the_form_leads_to_its_page(client: Client, certificate: Certificate) -> None:
    typed = certificate.code.replace("-", " ").lower()
    assert client.get(FORM, {"code": typed}).headers["Location"] == page_of(certificate)


def test_a_code_typed_by_hand_into_the_address_is_read_too(client: Client, certificate: Certificate) -> None:
    sloppy = reverse("certificates:verify", args=[certificate.code.replace("-", "").lower()])
    assert client.get(sloppy).headers["Location"] == page_of(certificate)


def test_what_is_no_code_is_said_beside_the_field_and_kept(client: Client) -> None:
    shown = words(client.get(FORM, {"code": "7Q2M-<b>"}))
    assert "This is not a whole code" in shown
    assert "7Q2M-&lt;b&gt;" in shown


@pytest.mark.parametrize("code", ["%00", "x" * 400, "%F0%9F%98%80", "..%2F"])
def test_odd_addresses_are_answered_plainly(client: Client, code: str) -> None:
    assert client.get(f"/verify/{code}/").status_code == 404


def test_too_many_look_ups_from_one_address_must_wait(client: Client, certificate: Certificate) -> None:
    answers = [client.get(page_of(certificate)).status_code for _ in range(LOOK_UPS + 1)]
    assert answers == [200] * LOOK_UPS + [429]
    response = client.get(page_of(certificate))
    assert "Wait five minutes" in words(response)
    assert int(response["Retry-After"]) == 300
    assert client.get(page_of(certificate), REMOTE_ADDR="192.0.2.200").status_code == 200


def test_the_page_asks_the_same_few_questions_of_the_database(
    client: Client, certificate: Certificate, django_assert_max_num_queries: Any
) -> None:
    with django_assert_max_num_queries(4):
        client.get(page_of(certificate))
