"""Every address of people, vessels and policy, walked as every kind of person: 200, 403, 404, or off to sign in."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.vessels import urls
from tests.cast import Cast

OK, GONE, REFUSED, ELSEWHERE, NOT_BY_GET = 200, 404, 403, 302, 405

ROLES = ["officer", "engineer", "master", "superintendent", "manager", "auditor", "administrator"]
ALL = set(ROLES)
SHORE = {"superintendent", "manager", "administrator"}
EDITORS = {"superintendent", "administrator"}
ADMIN = {"administrator"}

# name: (which object, who may see the object, who may do it); the object is of the cast's own vessel and its officer
PAGES: dict[str, tuple[Callable[[Cast], list[Any]], set[str], set[str]]] = {
    "vessel_list": (lambda cast: [], ALL, ALL),
    "vessel_new": (lambda cast: [], ALL, EDITORS),
    "vessel": (lambda cast: [cast.vessel.pk], ALL, ALL),
    "vessel_edit": (lambda cast: [cast.vessel.pk], ALL, EDITORS),
    "policy_list": (lambda cast: [], ALL, ALL),
    "policy_new": (lambda cast: [], ALL, EDITORS),
    "people_list": (lambda cast: [], ALL, ALL),
    "person_new": (lambda cast: [], ALL, ADMIN),
    "person": (lambda cast: [cast.officer.pk], SHORE | {"officer"}, ALL),
    "membership_give": (lambda cast: [cast.officer.pk], SHORE | {"officer"}, ADMIN),
    "access_give": (lambda cast: [cast.officer.pk], SHORE | {"officer"}, ADMIN),
    "membership_end": (lambda cast: [cast.officer.memberships.get().pk], SHORE | {"officer"}, ADMIN),
    "access_end": (
        lambda cast: [cast.officer.memberships.get().vessel_accesses.get().pk],
        SHORE | {"officer"},
        ADMIN,
    ),
    "me": (lambda cast: [], ALL, ALL),
}
BY_POST_ALONE = {"password_link"}
WITHOUT_AN_OBJECT = {"vessel_list", "policy_list", "people_list", "me"}


def address(cast: Cast, name: str) -> str:
    return reverse(f"vessels:{name}", args=PAGES[name][0](cast))


def expected(name: str, role: str) -> int:
    _, seen_by, done_by = PAGES[name]
    if role not in seen_by:
        return GONE
    return OK if role in done_by else REFUSED


def test_no_address_is_left_out_of_the_walk() -> None:
    assert {pattern.name for pattern in urls.urlpatterns} == set(PAGES) | BY_POST_ALONE


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("role", ROLES)
def test_each_role_gets_what_is_theirs(client: Client, cast: Cast, role: str, name: str) -> None:
    client.force_login(cast.people[role])
    assert client.get(address(cast, name)).status_code == expected(name, role)


@pytest.mark.parametrize(("role", "name"), [(r, n) for r in ROLES for n in PAGES if expected(n, r) != OK])
def test_whoever_may_not_changes_nothing_by_post_either(client: Client, cast: Cast, role: str, name: str) -> None:
    client.force_login(cast.people[role])
    yesterday = (date.today() - timedelta(days=1)).isoformat()
    response = client.post(address(cast, name), {"until": yesterday, "reason": "trying", "name": "X"})
    assert response.status_code == expected(name, role)
    assert cast.officer.memberships.get().until is None


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("name", [name for name in PAGES if name not in WITHOUT_AN_OBJECT])
def test_another_companys_people_find_nothing(client: Client, cast: Cast, role: str, name: str) -> None:
    client.force_login(cast.foreign[role])
    by_role = expected(name, role)
    if name in {"vessel_new", "policy_new", "person_new"}:  # no object in the address: their own company's page
        assert client.get(address(cast, name)).status_code == by_role
    else:
        assert client.get(address(cast, name)).status_code == GONE


@pytest.mark.parametrize("name", ["vessel", "vessel_edit", "person", "membership_end", "access_end"])
def test_the_sister_vessels_officer_finds_nothing(client: Client, cast: Cast, name: str) -> None:
    assert cast.sister_officer is not None
    client.force_login(cast.sister_officer)
    assert client.get(address(cast, name)).status_code == GONE


@pytest.mark.parametrize("name", PAGES)
def test_a_person_without_any_role_gets_empty_lists_and_nothing_else(client: Client, cast: Cast, name: str) -> None:
    assert cast.nobody is not None
    client.force_login(cast.nobody)
    response = client.get(address(cast, name))
    wanted = OK if name in WITHOUT_AN_OBJECT else REFUSED if name in {"vessel_new", "person_new"} else GONE
    assert response.status_code == (ELSEWHERE if name == "policy_new" else wanted)
    assert cast.vessel.name not in response.content.decode()


@pytest.mark.parametrize("name", PAGES)
def test_the_anonymous_are_sent_to_sign_in_and_back(client: Client, cast: Cast, name: str) -> None:
    for response in (client.get(address(cast, name)), client.post(address(cast, name))):
        assert response.status_code == ELSEWHERE
        assert response["Location"] == f"{reverse('account_login')}?next={address(cast, name)}"


@pytest.mark.parametrize(
    ("role", "status"),
    [*((role, REFUSED) for role in ("superintendent", "manager", "officer")), ("master", GONE), ("auditor", GONE)],
)
def test_only_an_administrator_sends_a_password_link(client: Client, cast: Cast, role: str, status: int) -> None:
    where = reverse("vessels:password_link", args=[cast.officer.pk])
    client.force_login(cast.people[role])
    assert client.post(where).status_code == status
    client.force_login(cast.administrator)
    assert client.get(where).status_code == NOT_BY_GET
