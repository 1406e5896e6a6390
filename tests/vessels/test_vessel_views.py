"""The vessels' pages, from the least to the most privileged."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from fleet.core.typed import Typed
from fleet.vessels import services
from fleet.vessels.models import Vessel
from tests.cast import Cast
from tests.factories import MembershipFactory, PolicyFactory, VesselAccessFactory, VesselFactory, imo_number

LIST = reverse("vessels:vessel_list")
NEW = reverse("vessels:vessel_new")


def page_of(vessel: Vessel) -> str:
    return reverse("vessels:vessel", args=[vessel.pk])


def words(response: Any) -> str:
    return response.content.decode().replace("\u00a0", " ")


def new_vessel(cast: Cast, **changes: Any) -> dict[str, Any]:
    return {
        "company": cast.company.pk,
        "name": "Tern Passage",
        "imo_number": imo_number(901),
        "base_load": "64,9",
        "base_load_unit": "tf",
        "base_load_kind": "line_mbl",
        "base_load_document": "mooring plan, sheet 2",
        "next_dry_docking": "2027-04-01",
        **changes,
    }


def changed(vessel: Vessel, **changes: Any) -> dict[str, Any]:
    return {
        "name": vessel.name,
        "imo_number": vessel.imo_number,
        "base_load": vessel.base_load.text,
        "base_load_unit": vessel.base_load.unit,
        "base_load_kind": vessel.base_load_kind,
        "base_load_document": vessel.base_load_document,
        "in_fleet": "on",
        "reason": "the plan was revised",
        **changes,
    }


def test_the_list_shows_whoever_looks_their_own_vessels(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    text = words(client.get(LIST))
    assert page_of(cast.vessel) in text
    assert page_of(cast.sister) not in text
    assert page_of(cast.foreign_vessel) not in text
    assert NEW not in text


def test_without_a_role_the_list_says_what_to_do(client: Client, cast: Cast) -> None:
    client.force_login(cast.nobody)
    assert "Ask your company's administrator" in words(client.get(LIST)).replace("&#x27;", "'")


def test_the_page_says_first_at_what_load_the_brakes_are_to_render(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    text = words(client.get(page_of(cast.vessel)))
    # 60 % of 637 kN: the constructed case used across the tests
    assert "382.2 kN" in text
    assert "637 kN" in text
    assert "Common practice, not from a standard" in text


@pytest.mark.parametrize(("own", "said"), [(True, "This vessel's own policy"), (False, "The company's policy")])
def test_the_page_says_where_the_policy_comes_from(client: Client, cast: Cast, own: bool, said: str) -> None:
    PolicyFactory(company=cast.company, vessel=cast.vessel if own else None, share=Decimal("0.58"))
    client.force_login(cast.manager)
    text = words(client.get(page_of(cast.vessel)))
    assert said in text
    assert "58 %" in text
    assert "operator's setting, not from a standard" in text.replace("&#x27;", "'")


def test_a_base_load_typed_in_tonne_force_is_shown_as_typed_and_in_kilonewtons(client: Client, cast: Cast) -> None:
    vessel = VesselFactory(company=cast.company, base_load=Typed.read("64,9", "tf"))
    client.force_login(cast.manager)
    text = words(client.get(page_of(vessel)))
    assert "64,9 t (tonne-force)" in text
    assert "636.5 kN" in text


def test_shore_people_see_who_has_access_and_ships_people_their_own(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    text = words(client.get(page_of(cast.vessel)))
    assert all(escape(cast.people[role].name) in text for role in ("officer", "engineer", "master", "auditor"))
    client.force_login(cast.officer)
    text = words(client.get(page_of(cast.vessel)))
    assert escape(cast.officer.name) in text
    assert escape(cast.engineer.name) not in text


def test_a_vessel_is_registered_and_shown(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    response = client.post(NEW, new_vessel(cast))
    vessel = Vessel.objects.get(name="Tern Passage")
    assert response["Location"] == page_of(vessel)
    assert (vessel.company, vessel.base_load.as_typed) == (cast.company, "64,9 t (tonne-force)")
    assert vessel.next_dry_docking == date(2027, 4, 1)


def test_a_refused_vessel_comes_back_with_the_words_and_everything_typed(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    response = client.post(NEW, new_vessel(cast, imo_number="9074728", base_load="6,4,9"))
    text = words(response)
    assert response.status_code == 200
    assert not Vessel.objects.filter(name="Tern Passage").exists()
    assert "2 things to put right" in text
    assert 'href="#id_imo_number"' in text
    assert 'href="#id_base_load_0"' in text
    for typed in ("Tern Passage", "9074728", "6,4,9", "mooring plan, sheet 2", "2027-04-01"):
        assert f'value="{typed}"' in text


def test_what_the_service_refuses_stands_at_the_field(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    response = client.post(NEW, new_vessel(cast, imo_number=cast.vessel.imo_number))
    assert response.context["form"].errors == {"imo_number": [services.IMO_NUMBER_TAKEN]}


def test_a_vessel_is_not_registered_for_another_company(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    response = client.post(NEW, new_vessel(cast, company=cast.foreign_company.pk))
    assert response.context["form"].errors["company"]
    assert not Vessel.objects.filter(name="Tern Passage").exists()


def test_a_change_is_recorded_and_shown(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    response = client.post(reverse("vessels:vessel_edit", args=[cast.vessel.pk]), changed(cast.vessel, name="New name"))
    assert response["Location"] == page_of(cast.vessel)
    cast.vessel.refresh_from_db()
    assert (cast.vessel.name, cast.vessel.in_fleet) == ("New name", True)


def test_a_change_without_a_change_says_so(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    response = client.post(reverse("vessels:vessel_edit", args=[cast.vessel.pk]), changed(cast.vessel))
    assert response.context["form"].non_field_errors() == [services.NOTHING_CHANGED]


def test_a_vessel_that_left_the_fleet_stays_readable_and_is_listed_apart(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    form = changed(cast.vessel)
    del form["in_fleet"]
    client.post(reverse("vessels:vessel_edit", args=[cast.vessel.pk]), form)
    assert "No longer in the fleet" in words(client.get(LIST))
    assert "no longer in the fleet" in words(client.get(page_of(cast.vessel)))


def test_lists_ask_no_more_of_the_database_for_twenty_rows_than_for_one(
    client: Client, cast: Cast, django_assert_max_num_queries: Callable[..., Any]
) -> None:
    client.force_login(cast.superintendent)
    for address in (LIST, page_of(cast.vessel)):
        with django_assert_max_num_queries(60) as before:
            client.get(address)
        VesselFactory.create_batch(20, company=cast.company)
        for _ in range(20):
            VesselAccessFactory(membership=MembershipFactory(company=cast.company), vessel=cast.vessel)
        with django_assert_max_num_queries(len(before.captured_queries)):
            client.get(address)
