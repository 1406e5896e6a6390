"""Typed numbers and quantities: read without guessing, refused with what to do, kept as typed."""

from typing import Any

import pytest
from django import forms
from django.template.loader import render_to_string

from fleet.core.fields import (
    BETWEEN,
    NOT_WHOLE,
    NUMBER_WORDS,
    REQUIRED,
    REQUIRED_UNIT,
    UNIT_NOT_OFFERED,
    NumberField,
    QuantityField,
)
from fleet.core.typed import Typed


class Measures(forms.Form):
    lining = NumberField(label="Lining thickness")
    jacks = NumberField(label="Jacks acting", whole=True, low=1, high=4, required=False)
    drum_diameter = QuantityField("length", label="Drum diameter", low=0.15, high=1.5)
    reading = QuantityField("pressure", unit="bar", label="Gauge at first movement", required=False)


GOOD = {"lining": "18.2", "drum_diameter": "560", "drum_diameter_unit": "mm"}


def measures(**changes: Any) -> Measures:
    return Measures({**GOOD, **changes})


@pytest.mark.parametrize("text", ["18,2", "18.2", " 18,2 "])
def test_comma_and_point_are_both_decimal_signs(text: str) -> None:
    form = measures(lining=text)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["lining"] == 18.2


def test_two_commas_are_refused_and_stay_in_the_field() -> None:
    form = measures(lining="18,2,3")
    assert form.errors["lining"] == [str(NUMBER_WORDS["separators"])]
    assert 'value="18,2,3"' in str(form["lining"])


@pytest.mark.parametrize(
    ("text", "code"),
    [("1.2e3", "exponent"), (".5", "edge"), ("18 mm", "not_a_number"), ("nan", "not_a_number"), ("1 2", "spaces")],
)
def test_each_unreadable_number_gets_its_own_words(text: str, code: str) -> None:
    form = measures(lining=text)
    assert form.errors["lining"] == [str(NUMBER_WORDS[code])]


@pytest.mark.parametrize("text", ["", "   "])
def test_an_empty_required_number_says_to_type_one(text: str) -> None:
    assert measures(lining=text).errors["lining"] == [str(REQUIRED)]


def test_zero_is_a_number_and_not_an_empty_field() -> None:
    form = measures(lining="0")
    assert form.is_valid()
    assert form.cleaned_data["lining"] == 0


def test_a_whole_number_is_cleaned_to_int_and_a_part_is_refused() -> None:
    form = measures(jacks="2")
    assert form.is_valid()
    assert form.cleaned_data["jacks"] == 2
    assert isinstance(form.cleaned_data["jacks"], int)
    assert measures(jacks="2,5").errors["jacks"] == [str(NOT_WHOLE)]


def test_a_number_outside_its_limits_is_told_both_limits() -> None:
    assert measures(jacks="5").errors["jacks"] == [BETWEEN % {"low": "1", "high": "4"}]


def test_a_quantity_keeps_text_and_unit_beside_the_si_value() -> None:
    form = measures(drum_diameter="56,0", drum_diameter_unit="cm")
    assert form.is_valid(), form.errors
    assert form.cleaned_data["drum_diameter"] == Typed("56,0", "cm", 0.56)


def test_a_figure_without_a_unit_asks_for_the_unit_and_keeps_the_figure() -> None:
    form = measures(drum_diameter="560", drum_diameter_unit="")
    assert form.errors["drum_diameter"] == [str(REQUIRED_UNIT)]
    assert 'value="560"' in str(form["drum_diameter"])


def test_a_bad_figure_keeps_the_chosen_unit() -> None:
    form = measures(drum_diameter="5,6,0", drum_diameter_unit="cm")
    assert not form.is_valid()
    html = str(form["drum_diameter"])
    assert 'value="5,6,0"' in html
    assert '<option value="cm" selected>' in html


@pytest.mark.parametrize("unit", ["bar", "ton", "<b>", "T"])
def test_a_unit_that_is_not_in_the_list_is_refused(unit: str) -> None:
    assert measures(drum_diameter_unit=unit).errors["drum_diameter"] == [str(UNIT_NOT_OFFERED)]


@pytest.mark.parametrize(
    ("text", "unit", "low", "high"), [("5600", "mm", "150 mm", "1500 mm"), ("5.6", "m", "0.15 m", "1.5 m")]
)
def test_the_hard_range_is_said_in_the_unit_that_was_typed(text: str, unit: str, low: str, high: str) -> None:
    form = measures(drum_diameter=text, drum_diameter_unit=unit)
    assert form.errors["drum_diameter"] == [BETWEEN % {"low": low, "high": high}]


@pytest.mark.parametrize("text", ["150", "1500", "0150,0"])
def test_the_stated_limits_themselves_are_accepted(text: str) -> None:
    assert measures(drum_diameter=text).is_valid()


@pytest.mark.parametrize("unit", ["mm", "cm", "m", "in", "ft"])
def test_a_limit_said_in_any_unit_lies_within_its_rounding_of_the_true_limit(unit: str) -> None:
    form = measures(drum_diameter="999999", drum_diameter_unit=unit)
    said = form.errors["drum_diameter"][0].split(" and ")[1].split()[0]
    assert Typed.read(said, unit).si == pytest.approx(1.5, rel=2e-3)


def test_the_unit_of_a_gauge_is_written_and_never_read_from_the_browser() -> None:
    form = measures(reading="177", reading_unit="psi")
    assert form.is_valid()
    assert form.cleaned_data["reading"] == Typed("177", "bar", 17_700_000.0)
    html = str(form["reading"])
    assert "<select" not in html
    assert ">bar</span>" in html
    assert 'aria-describedby="id_reading_unit"' in html


def test_a_form_can_fix_the_unit_to_its_own_gauge() -> None:
    form = measures(drum_diameter="56")
    field = form.fields["drum_diameter"]
    assert isinstance(field, QuantityField)
    field.fix_unit("cm")
    assert form.is_valid()
    assert form.cleaned_data["drum_diameter"] == Typed("56", "cm", 0.56)
    assert Measures.base_fields["drum_diameter"].unit is None  # type: ignore[attr-defined]


def test_the_label_leads_to_the_number_and_the_unit_list_has_a_name_of_its_own() -> None:
    html = render_to_string("core/_field.html", {"field": measures()["drum_diameter"]})
    assert '<label for="id_drum_diameter_0">' in html
    assert 'id="id_drum_diameter_0"' in html
    assert 'aria-label="Unit of: Drum diameter"' in html


def test_an_error_is_tied_to_both_inputs_of_a_quantity() -> None:
    html = render_to_string("core/_field.html", {"field": measures(drum_diameter="x")["drum_diameter"]})
    assert html.count('aria-describedby="id_drum_diameter_error"') == 2
    assert html.count('aria-invalid="true"') == 2
    assert 'id="id_drum_diameter_error"' in html


def test_no_unit_is_taken_for_granted_unless_the_form_says_so() -> None:
    class Two(forms.Form):
        bare = QuantityField("pressure")
        started = QuantityField("length", start="mm")

    form = Two()
    assert '<option value="" selected>' in str(form["bare"])
    assert '<option value="mm" selected>' in str(form["started"])


def test_a_quantity_starts_from_what_was_typed_before_and_notices_a_change() -> None:
    typed = Typed("56,0", "cm", 0.56)
    form = Measures(initial={"drum_diameter": typed, "reading": Typed("177", "bar", 17.7e6)})
    assert 'value="56,0"' in str(form["drum_diameter"])
    assert '<option value="cm" selected>' in str(form["drum_diameter"])
    assert 'value="177"' in str(form["reading"])
    field = form.fields["drum_diameter"]
    assert not field.has_changed(typed, ["56,0", "cm"])
    assert field.has_changed(typed, ["56,0", "mm"])
    assert field.has_changed(typed, ["56", "cm"])
    assert not field.has_changed(None, ["", "mm"])


def test_typed_goes_to_plain_data_and_back() -> None:
    typed = Typed.read(" 71,26 ", "cm2")
    assert typed == Typed("71,26", "cm2", 0.007126)
    assert Typed.from_dict(typed.to_dict()) == typed
    assert str(typed) == "71,26 cm²"


def test_a_very_long_number_is_refused_and_not_turned_into_infinity() -> None:
    assert measures(lining="9" * 400).errors["lining"] == [str(NUMBER_WORDS["too_long"])]
