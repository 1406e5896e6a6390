"""Forms keep what was typed, say what to do, and offer only what the person may choose."""

from datetime import date
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.http import QueryDict

from fleet.vessels import forms
from fleet.vessels.assumed import ASSUMED
from fleet.vessels.forms import AccessForm, EndForm, PersonForm, PolicyForm, RoleForm, VesselForm, tell
from fleet.vessels.models import Policy
from tests.cast import Cast
from tests.factories import MembershipFactory, VesselFactory, imo_number

TODAY = date(2026, 11, 25)


def sent(**values: Any) -> QueryDict:
    data = QueryDict(mutable=True)
    for name, value in values.items():
        data.setlist(name, value if isinstance(value, list) else [str(value)])
    return data


def vessel_form(cast: Cast, **changes: Any) -> VesselForm:
    values = {
        "company": cast.company.pk,
        "name": "Tern Passage",
        "imo_number": imo_number(900),
        "base_load": "64,9",
        "base_load_unit": "tf",
        "base_load_kind": "sdmbl",
        "base_load_document": "mooring plan, sheet 2",
    }
    return VesselForm(sent(**{**values, **changes}), user=cast.superintendent)


def test_a_vessel_as_it_stands_in_its_papers_is_taken(cast: Cast) -> None:
    form = vessel_form(cast)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["base_load"].as_typed == "64,9 t (tonne-force)"


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("907472", "seven digits"),
        ("IMO9074729", "Leave out the letters"),
        ("9074728", "one digit is mistyped"),
        ("90747O9", "seven digits"),
        ("", "cannot stay empty"),
    ],
)
def test_a_bad_imo_number_is_said_in_words_and_kept(cast: Cast, typed: str, words: str) -> None:
    form = vessel_form(cast, imo_number=typed)
    assert words in str(form.errors["imo_number"])
    assert form["imo_number"].value() == typed


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        ("6,3,7", "kN", "one decimal comma"),
        ("637", "", "Choose the unit"),
        ("637", "MPa", "one of the units in the list"),
        ("6.49", "kN", "between 30"),
        ("900", "tf", "between"),
    ],
)
def test_a_bad_base_load_is_said_in_words_and_kept(cast: Cast, text: str, unit: str, words: str) -> None:
    form = vessel_form(cast, base_load=text, base_load_unit=unit)
    assert words in str(form.errors["base_load"])
    assert f'value="{text}"' in str(form["base_load"])


def test_the_companies_on_offer_are_those_where_the_person_may_register(cast: Cast) -> None:
    MembershipFactory(user=cast.superintendent, company=cast.foreign_company, role="officer")
    form = vessel_form(cast, company=cast.foreign_company.pk)
    assert form.errors["company"] == ["Choose one of the list."]


def policy_form(**changes: Any) -> PolicyForm:
    values = {
        "valid_from": "2026-12-01", "share": "60", "band_low": "55", "band_high": "65", "ceiling": "65",
        "interval_months": "12", "lining_retest_months": "6", "due_soon_days": "45", "verification_slips": "2",
        "calibration_months": "12", "lining_worn_share": "40", "worn_line_share": "75",
        "engineer_confirms": "on", "tight_weight": "2", "reason": "first policy",
        "decision_rule": "simple", **{f"assumed_{one.name}": one.text for one in ASSUMED},
    }  # fmt: skip
    standing = Policy(valid_from=TODAY)
    return PolicyForm(sent(**{**values, **changes}), standing=standing, today=TODAY)


def test_shares_are_typed_in_per_cent_with_a_comma_or_a_point() -> None:
    form = policy_form(share="60,25", band_low="57.5")
    assert form.is_valid(), form.errors
    assert [str(form.settings[name]) for name in ("share", "band_low", "ceiling")] == ["0.6025", "0.5750", "0.6500"]
    assert (form.settings["engineer_confirms"], form.settings["master_releases"]) == (True, False)


def test_the_form_opens_with_what_is_in_force_in_per_cent() -> None:
    form = PolicyForm(standing=Policy(valid_from=TODAY), today=TODAY)
    assert 'value="60"' in str(form["share"])
    assert 'value="2026-11-25"' in str(form["valid_from"])
    assert "checked" in str(form["master_releases"])


@pytest.mark.parametrize(
    ("name", "typed", "words"),
    [
        ("share", "60 percent", "Type digits only"),
        ("share", "60.123", "two decimals"),
        ("share", "600", "between 0 % and 100 %"),
        ("interval_months", "12.5", "whole number"),
        ("interval_months", "0", "between 1 and 60"),
        ("tight_weight", "2.125", "two decimals"),
        ("valid_from", "1.12.26", "year, month, day"),
        ("valid_from", "2026-02-30", "year, month, day"),
        ("reason", "", "cannot stay empty"),
    ],
)
def test_bad_settings_are_said_in_words_and_kept(name: str, typed: str, words: str) -> None:
    form = policy_form(**{name: typed})
    assert words in str(form.errors[name])
    assert form[name].value() == typed


def role_values(cast: Cast, **changes: Any) -> QueryDict:
    return sent(**{"company": cast.company.pk, "role": "officer", "vessels": [str(cast.vessel.pk)], **changes})


def test_only_the_companies_and_vessels_of_the_administrator_are_on_offer(cast: Cast) -> None:
    MembershipFactory(user=cast.administrator, company=cast.foreign_company, role="manager")
    form = RoleForm(role_values(cast, vessels=[str(cast.foreign_vessel.pk)]), user=cast.administrator)
    assert "vessels" in form.errors
    assert form.fields["vessels"].queryset.count() == 2  # type: ignore[attr-defined]
    other = RoleForm(role_values(cast, company=cast.foreign_company.pk), user=cast.administrator)
    assert other.errors["company"] == ["Choose one of the list."]


@pytest.mark.parametrize(
    ("role", "with_vessel", "until", "field", "words"),
    [
        ("officer", False, "", "vessels", forms.VESSEL_NEEDED),
        ("manager", True, "", "vessels", forms.VESSEL_NOT_NEEDED),
        ("auditor", True, "", "until", forms.AUDITOR_NEEDS_AN_END),
        ("captain", True, "", "role", "Choose one of the list."),
        ("officer", True, "soon", "until", forms.DATE_WORDS),
    ],
)
def test_a_role_that_cannot_work_is_refused_at_its_field(
    cast: Cast, role: str, with_vessel: bool, until: str, field: str, words: str
) -> None:
    vessels = [str(cast.vessel.pk)] if with_vessel else []
    form = RoleForm(role_values(cast, role=role, vessels=vessels, until=until), user=cast.administrator)
    assert form.errors == {field: [words]}


def test_an_administrator_of_two_companies_cannot_mix_them(cast: Cast) -> None:
    MembershipFactory(user=cast.administrator, company=cast.foreign_company, role="administrator")
    form = RoleForm(role_values(cast, vessels=[str(cast.foreign_vessel.pk)]), user=cast.administrator)
    assert form.errors["vessels"] == [forms.VESSEL_OF_OTHER_COMPANY % {"vessel": cast.foreign_vessel.name}]
    assert cast.foreign_company.name in str(form["vessels"])


def test_a_person_needs_an_email_address_and_keeps_what_was_typed(cast: Cast) -> None:
    data = role_values(cast)
    data.update({"name": "Gus Ray", "email": "gus at sea"})
    form = PersonForm(data, user=cast.administrator)
    assert form.errors == {"email": ["Write it like name@example.com."]}
    assert form["email"].value() == "gus at sea"


def test_access_is_offered_for_roles_that_need_it_and_that_last(cast: Cast) -> None:
    MembershipFactory(user=cast.officer, company=cast.company, role="manager")
    MembershipFactory(user=cast.officer, company=cast.company, role="master", until=date(2020, 1, 1))
    MembershipFactory(user=cast.officer, company=cast.foreign_company, role="engineer")
    VesselFactory(company=cast.foreign_company)
    form = AccessForm(user=cast.administrator, person=cast.officer)
    assert [row.role for row in form.fields["membership"].queryset] == ["officer"]  # type: ignore[attr-defined]
    assert set(form.fields["vessel"].queryset) == {cast.vessel, cast.sister}  # type: ignore[attr-defined]


def test_an_end_opens_with_yesterday() -> None:
    assert 'value="2026-11-24"' in str(EndForm(today=TODAY)["until"])


def test_what_a_service_refused_stands_beside_its_field_or_above_the_form() -> None:
    form = EndForm({"until": "2026-11-24"}, today=TODAY)
    assert form.is_valid()
    tell(form, ValidationError({"until": "too early", "elsewhere": "another matter"}))
    assert form.errors["until"] == ["too early"]
    assert form.non_field_errors() == ["another matter"]
