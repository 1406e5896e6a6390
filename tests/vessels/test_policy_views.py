"""The policy pages: what is in force and why, and a new one read before it is recorded."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from fleet.vessels import policy_rules
from fleet.vessels.assumed import ASSUMED
from fleet.vessels.models import Policy, policy_for
from tests.cast import Cast
from tests.factories import MembershipFactory, PolicyFactory, VesselFactory

LIST = reverse("vessels:policy_list")
NEW = reverse("vessels:policy_new")
TODAY = date.today()


def words(response: Any) -> str:
    return response.content.decode().replace("\u00a0", " ").replace("&#x27;", "'")


def typed(**changes: Any) -> dict[str, Any]:
    values = {
        "valid_from": TODAY.isoformat(), "share": "60", "band_low": "55", "band_high": "65", "ceiling": "65",
        "interval_months": "12", "lining_retest_months": "6", "due_soon_days": "45", "verification_slips": "2",
        "calibration_months": "12", "lining_worn_share": "40", "worn_line_share": "75",
        "engineer_confirms": "on", "master_releases": "on", "tight_weight": "2",
        "reason": "two years without an early slip", "decision_rule": "simple",
        **{f"assumed_{one.name}": one.text for one in ASSUMED},
    }  # fmt: skip
    return {**values, **changes}


def test_without_a_policy_the_page_says_common_practice(client: Client, cast: Cast) -> None:
    client.force_login(cast.officer)
    text = words(client.get(LIST))
    assert "common practice, not from a standard" in text
    assert "55 to 65 %" in text
    assert NEW not in text


def test_the_history_says_what_each_policy_changed_and_which_is_in_force(client: Client, cast: Cast) -> None:
    PolicyFactory(company=cast.company, valid_from=date(2024, 1, 1), reason="the first of all")
    PolicyFactory(company=cast.company, valid_from=date(2025, 1, 1), share=Decimal("0.58"), reason="wire limit")
    PolicyFactory(company=cast.company, valid_from=TODAY + timedelta(days=30), reason="back to the usual")
    PolicyFactory(company=cast.company, vessel=cast.sister, share=Decimal("0.57"), reason="old fittings")
    client.force_login(cast.superintendent)
    response = client.get(LIST)
    shown = response.context["companies"][0]
    assert [row.state for row in shown.company_rows] == ["coming", "in_force", "past"]
    assert [row.state for row in shown.vessel_rows] == ["in_force"]
    text = words(response)
    assert "render: 58 % instead of 60 %" in text
    assert "render: 57 % instead of 60 %" in text
    assert "wire limit" in text


def test_ships_people_do_not_read_of_a_sister_vessels_policy(client: Client, cast: Cast) -> None:
    PolicyFactory(company=cast.company, vessel=cast.sister, reason="old fittings")
    client.force_login(cast.officer)
    assert cast.sister.name not in words(client.get(LIST))


def test_a_policy_is_read_in_words_before_it_is_recorded(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    first = client.post(NEW, typed(band_low="57"))
    assert "Nothing is recorded yet" in words(first)
    assert "cceptance band: 57 to 65 % instead of 55 to 65 %" in words(first)
    assert not Policy.objects.exists()
    second = client.post(NEW, typed(band_low="57", seen=first.context["proposal"].fingerprint))
    assert second["Location"] == LIST
    assert policy_for(cast.vessel, TODAY).band_low == Decimal("0.57")


def test_figures_changed_after_reading_are_read_again_first(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    seen = client.post(NEW, typed(band_low="57")).context["proposal"].fingerprint
    again = client.post(NEW, typed(band_low="50", seen=seen))
    assert "50 to 65 % instead of 55 to 65 %" in words(again)
    assert not Policy.objects.exists()


def test_a_better_reason_need_not_be_read_again(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    seen = client.post(NEW, typed()).context["proposal"].fingerprint
    client.post(NEW, typed(reason="worded better", seen=seen))
    assert Policy.objects.get().reason == "worded better"


def test_a_policy_of_one_vessel_stands_for_that_vessel(client: Client, cast: Cast) -> None:
    client.force_login(cast.administrator)
    address = f"{NEW}?vessel={cast.vessel.pk}"
    assert cast.vessel.name in words(client.get(address))
    seen = client.post(address, typed(share="58")).context["proposal"].fingerprint
    client.post(address, typed(share="58", seen=seen))
    assert policy_for(cast.vessel, TODAY).share == Decimal("0.58")
    assert policy_for(cast.sister, TODAY).is_common_practice


def test_a_new_policy_of_the_company_names_what_it_leaves_alone_and_what_follows(client: Client, cast: Cast) -> None:
    PolicyFactory(company=cast.company, vessel=cast.sister)
    PolicyFactory(company=cast.company, valid_from=TODAY + timedelta(days=40))
    client.force_login(cast.superintendent)
    text = words(client.post(NEW, typed(share="58")))
    assert f"Vessels with a policy of their own keep it: {cast.sister.name}." in text
    assert "the policy already entered for that day takes its place" in text


@pytest.mark.parametrize(
    ("changes", "field", "said"),
    [
        ({"band_low": "60"}, "band_low", policy_rules.BAND_LOW_ABOVE),
        ({"ceiling": "81"}, "ceiling", policy_rules.CEILING_OUTSIDE),
        ({"share": "6o"}, "share", "Type digits only"),
        ({"reason": ""}, "reason", "cannot stay empty"),
    ],
)
def test_a_rule_broken_is_said_at_its_field_and_what_was_typed_stays(
    client: Client, cast: Cast, changes: dict[str, str], field: str, said: str
) -> None:
    client.force_login(cast.superintendent)
    response = client.post(NEW, typed(due_soon_days="61", **changes))
    text = words(response)
    assert response.status_code == 200
    assert str(said) in text
    assert f'href="#id_{field}"' in text
    assert f'value="{changes[field]}"' in text or changes[field] == ""
    assert 'value="61"' in text


@pytest.mark.parametrize("query", ["company=nonsense", "vessel=nonsense", "vessel=", "company=1"])
def test_an_address_that_names_nothing_is_not_found(client: Client, cast: Cast, query: str) -> None:
    client.force_login(cast.superintendent)
    assert client.get(f"{NEW}?{query}").status_code == 404


def test_a_foreign_company_or_vessel_is_not_found_and_a_wrong_role_refused(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    assert client.get(f"{NEW}?company={cast.foreign_company.pk}").status_code == 404
    assert client.get(f"{NEW}?vessel={cast.foreign_vessel.pk}").status_code == 404
    client.force_login(cast.master)
    assert client.get(f"{NEW}?company={cast.company.pk}").status_code == 403
    assert client.get(f"{NEW}?vessel={cast.vessel.pk}").status_code == 403
    assert client.get(f"{NEW}?vessel={cast.sister.pk}").status_code == 404


def test_a_person_of_two_companies_chooses_first(client: Client, cast: Cast) -> None:
    MembershipFactory(user=cast.superintendent, company=cast.foreign_company, role="superintendent")
    client.force_login(cast.superintendent)
    assert client.get(NEW)["Location"] == LIST
    text = words(client.get(LIST))
    assert f"{NEW}?company={cast.company.pk}" in text
    assert f"{NEW}?company={cast.foreign_company.pk}" in text


def test_the_page_asks_no_more_of_the_database_for_twenty_policies_than_for_two(
    client: Client, cast: Cast, django_assert_max_num_queries: Callable[..., Any]
) -> None:
    client.force_login(cast.superintendent)
    PolicyFactory(company=cast.company, author=cast.superintendent)
    PolicyFactory(company=cast.company, vessel=cast.vessel, author=cast.superintendent)
    with django_assert_max_num_queries(40) as before:
        client.get(LIST)
    for day in range(1, 21):
        vessel = VesselFactory(company=cast.company)
        PolicyFactory(company=cast.company, vessel=vessel, valid_from=date(2021, 1, day), author=cast.manager)
        PolicyFactory(company=cast.company, valid_from=date(2022, 1, day), author=cast.administrator)
    with django_assert_max_num_queries(len(before.captured_queries)):
        client.get(LIST)


def test_the_decision_rule_and_what_is_assumed_are_offered_in_plain_words(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    page = words(client.get(NEW))
    assert "Guarded: the load must lie inside the band by more than its uncertainty" in page
    assert "common practice, no published source" in page
    changed = {"decision_rule": "guarded", "assumed_lever_arm_m": "1,5", "assumed_slip_spread_degrees": "12"}
    first = client.post(NEW, typed(**changed))
    assert "guarded acceptance" in words(first)
    assert "Lever arm, known within ±: 1,5 mm instead of 3 mm" in words(first)
    client.post(NEW, typed(**changed, seen=first.context["proposal"].fingerprint))
    policy = policy_for(cast.vessel, TODAY)
    assert policy.decision_rule == "guarded"
    assert set(policy.assumed) == {"lever_arm_m", "slip_spread_degrees"}
    assert policy.assumptions.tolerances.lever_arm_m == 0.0015
    assert policy.assumptions.slip_spread_degrees == 12
    listed = words(client.get(LIST))
    assert "assumed; the operator's figure" in listed


def test_a_bad_assumed_figure_stays_as_typed_beside_its_error(client: Client, cast: Cast) -> None:
    client.force_login(cast.superintendent)
    page = words(client.post(NEW, typed(assumed_pump_stroke_pa="5O")))
    assert 'value="5O"' in page
    assert 'href="#id_assumed_pump_stroke_pa"' in page
    assert not Policy.objects.exists()
