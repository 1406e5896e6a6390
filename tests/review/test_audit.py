"""The audit trail as a page: whose entries each person reads."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.core.audit import audit_write
from fleet.review.chains import heads_of
from tests.cast import Cast
from tests.certificates.records import Ship, certified, ship_of
from tests.factories import MembershipFactory

pytestmark = pytest.mark.django_db
AUDIT = reverse("review:audit")


def words(response: Any) -> str:
    return " ".join(response.content.decode().split())


@pytest.mark.parametrize(
    ("role", "status"),
    [
        ("superintendent", 200),
        ("manager", 200),
        ("administrator", 200),
        ("auditor", 200),
        ("officer", 403),
        ("engineer", 403),
        ("master", 403),
    ],
)
def test_who_reads_it(client: Client, cast: Cast, role: str, status: int) -> None:
    client.force_login(cast.people[role])
    assert client.get(AUDIT).status_code == status


def test_nobody_and_strangers_do_not(client: Client, cast: Cast) -> None:
    assert client.get(AUDIT).status_code == 302
    assert cast.nobody is not None
    client.force_login(cast.nobody)
    assert client.get(AUDIT).status_code == 403


def entries(client: Client, **query: Any) -> list[str]:
    return [row[0].subject_name for row in client.get(AUDIT, query).context["rows"]]


@pytest.fixture
def written(cast: Cast) -> None:
    for vessel in (cast.vessel, cast.sister, cast.foreign_vessel):
        audit_write(
            actor=cast.superintendent, action="vessel changed", subject=vessel, company_id=vessel.company_id,
            vessel_id=vessel.pk, before={"name": "Old"}, after={"name": vessel.name},
        )  # fmt: skip
    audit_write(actor=None, action="policy written", subject=cast.company, company_id=cast.company.pk)


@pytest.mark.usefixtures("written")
def test_shore_people_read_their_companys_entries(client: Client, cast: Cast) -> None:
    client.force_login(cast.manager)
    assert sorted(entries(client)) == sorted([cast.vessel.name, cast.sister.name, cast.company.name])


@pytest.mark.usefixtures("written")
def test_an_auditor_reads_only_the_vessels_named(client: Client, cast: Cast) -> None:
    client.force_login(cast.auditor)
    assert entries(client) == [cast.vessel.name]
    shown = words(client.get(AUDIT))
    assert cast.sister.name not in shown
    assert cast.foreign_vessel.name not in shown


@pytest.mark.usefixtures("written")
def test_an_auditor_who_also_sails_elsewhere_does_not_read_that_ships_entries(client: Client, cast: Cast) -> None:
    from tests.factories import VesselAccessFactory

    sailing = MembershipFactory(user=cast.auditor, company=cast.company, role="officer")
    VesselAccessFactory(membership=sailing, vessel=cast.sister)
    client.force_login(cast.auditor)
    assert entries(client) == [cast.vessel.name]


@pytest.mark.usefixtures("written")
def test_it_is_filtered_by_vessel_kind_and_person(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    assert entries(client, vessel=cast.sister.pk) == [cast.sister.name]
    assert entries(client, kind="accounts.Company") == [cast.company.name]
    assert entries(client, person="the system") == [cast.company.name]
    assert entries(client, vessel=cast.foreign_vessel.pk, kind="x", person="y") == entries(client)


def test_a_change_is_shown_before_and_after(client: Client, cast: Cast) -> None:
    audit_write(
        actor=cast.superintendent, action="base load changed", subject=cast.vessel, company_id=cast.company.pk,
        vessel_id=cast.vessel.pk, before={"base_load": {"text": "637", "unit": "kN", "si": 637000.0}},
        after={"base_load": {"text": "64,9", "unit": "tf", "si": 636451.6}}, reason="plan <B>",
    )  # fmt: skip
    client.force_login(cast.auditor)
    shown = words(client.get(AUDIT))
    assert "base load: 637 kN → 64,9 tf" in shown
    assert "plan &lt;B&gt;" in shown


def test_it_is_paged_and_asks_as_much_for_fifty_rows_as_for_few(
    client: Client, cast: Cast, ship: Ship, django_assert_num_queries: Any
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    certified(ship, cast.superintendent)
    client.force_login(cast.superintendent)
    client.get(AUDIT)
    with CaptureQueriesContext(connection) as few:
        client.get(AUDIT)
    for number in range(60):
        audit_write(
            actor=None,
            action=f"act {number}",
            subject=cast.vessel,
            company_id=cast.company.pk,
            vessel_id=cast.vessel.pk,
        )
    with django_assert_num_queries(len(few)):
        first = client.get(AUDIT)
    assert len(first.context["rows"]) == 50
    assert "page=2" in words(first)
    assert client.get(AUDIT, {"page": "x"}).status_code == 200
    assert len(client.get(AUDIT, {"page": "2"}).context["rows"]) > 10


def test_what_the_foreign_company_does_is_not_seen(client: Client, cast: Cast) -> None:
    certified(ship_of(cast.foreign_vessel), cast.foreign["superintendent"])
    client.force_login(cast.administrator)
    assert entries(client) == []


def test_shore_sees_the_head_of_its_own_chain_and_an_auditor_none(client: Client, cast: Cast) -> None:
    audit_write(actor=cast.officer, action="looked at", subject=cast.vessel, company_id=cast.company.pk)
    ((name, entries, head),) = heads_of([cast.company])
    client.force_login(cast.superintendent)
    shown = words(client.get(AUDIT))
    assert f"{name}: a chain of {'one entry' if entries == 1 else f'{entries} entries'}" in shown
    assert head in shown
    client.force_login(cast.people["auditor"])
    assert head not in words(client.get(AUDIT))
