"""The first page of each role, and the page a machine asks whether we live."""

import pytest
from django.test import Client
from django.urls import reverse

from tests.cast import Cast
from tests.factories import VesselAccessFactory

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("role", "name"),
    [
        ("superintendent", "review:today"),
        ("manager", "review:today"),
        ("auditor", "certificates:certificate_list"),
        ("administrator", "vessels:people_list"),
    ],
)
def test_shore_roles_begin_where_their_work_is(client: Client, cast: Cast, role: str, name: str) -> None:
    client.force_login(cast.people[role])
    assert client.get(reverse("home")).headers["Location"] == reverse(name)


@pytest.mark.parametrize("role", ["officer", "engineer", "master"])
def test_ship_roles_begin_on_their_own_deck(client: Client, cast: Cast, role: str) -> None:
    client.force_login(cast.people[role])
    assert client.get(reverse("home")).headers["Location"] == reverse("records:deck", args=[cast.vessel.pk])


def test_who_sails_on_several_vessels_begins_with_their_list(client: Client, cast: Cast) -> None:
    VesselAccessFactory(membership=cast.officer.memberships.get(), vessel=cast.sister)
    client.force_login(cast.officer)
    assert client.get(reverse("home")).headers["Location"] == reverse("vessels:vessel_list")


def test_a_person_without_any_role_is_told_what_to_do(client: Client, cast: Cast) -> None:
    assert cast.nobody is not None
    client.force_login(cast.nobody)
    response = client.get(reverse("home"))
    assert response.status_code == 200
    assert "you hold no role here today" in response.content.decode()


def test_a_stranger_signs_in_first(client: Client) -> None:
    assert client.get(reverse("home")).headers["Location"].startswith(reverse("account_login"))


def test_health_is_plain_and_needs_no_sign_in(client: Client) -> None:
    response = client.get(reverse("health"))
    assert (response.status_code, response.content, response["Content-Type"]) == (200, b"ok", "text/plain")
    assert "no-store" in response["Cache-Control"]
