"""The error summary and the field partials."""

import re

import pytest
from django import forms
from django.core.files.uploadedfile import SimpleUploadedFile
from django.template import Context, Template
from django.template.loader import render_to_string
from django.test import RequestFactory

from fleet.core.fields import PhotoField, QuantityField
from fleet.core.forms import PlainWords, first_input_id

HOSTILE = '"><script>alert(1)</script>'


class Report(PlainWords, forms.Form):
    area = QuantityField("area", label="Effective piston area")
    kind = forms.ChoiceField(choices=[("band", "band"), ("disc", "disc")], widget=forms.RadioSelect, label="Brake kind")
    tested_on = forms.DateField(label="Date of the test")
    agreed = forms.BooleanField(label="Pay-out direction confirmed")
    remark = forms.CharField(label="Remark", error_messages={"required": "Say what you saw."})
    photo = PhotoField(label="Photo of the gauge", required=False)
    round_id = forms.UUIDField(widget=forms.HiddenInput)

    def clean(self) -> None:
        raise forms.ValidationError("The gauge was calibrated after the test. Correct one of the dates.")


def summary(*given: forms.BaseForm) -> str:
    return Template("{% load parts %}{% error_summary first second %}").render(
        Context({"first": given[0], "second": given[1] if len(given) > 1 else None})
    )


@pytest.mark.parametrize(
    ("name", "input_id"),
    [
        ("area", "id_area_0"),
        ("kind", "id_kind_0"),
        ("tested_on", "id_tested_on"),
        ("agreed", "id_agreed"),
        ("remark", "id_remark"),
    ],
)
def test_the_summary_leads_to_the_first_input_of_each_field(name: str, input_id: str) -> None:
    form = Report({})
    html = summary(form)
    assert first_input_id(form[name]) == input_id
    assert f'href="#{input_id}"' in html
    assert f'id="{input_id}"' in str(form[name])


def test_the_summary_takes_focus_announces_itself_and_counts() -> None:
    html = summary(Report({}))
    assert 'role="alert"' in html
    assert 'tabindex="-1"' in html
    assert "7 things to put right" in html
    assert "The gauge was calibrated after the test." in html
    assert "round_id" not in html.replace("Round id", "")


def test_a_hidden_field_in_error_is_named_without_a_dead_link() -> None:
    html = summary(Report({}))
    assert "Round id:" in html
    assert 'href="#id_round_id"' not in html


def test_the_summary_gathers_several_forms_and_is_absent_without_errors() -> None:
    class Small(forms.Form):
        name = forms.CharField(label="Drum name")

    assert 'href="#id_b-name"' in summary(Small({"a-name": "x"}, prefix="a"), Small({}, prefix="b"))
    assert "One thing to put right" in summary(Small({}))
    assert summary(Small()).strip() == ""
    assert summary(Small({"name": "port 1"})).strip() == ""


def test_the_summary_gathers_the_rows_of_a_formset() -> None:
    class Row(forms.Form):
        mark = forms.CharField(label="Mark")

    rows = forms.formset_factory(Row, extra=0)(
        {"form-TOTAL_FORMS": "2", "form-INITIAL_FORMS": "2", "form-0-mark": "49", "form-1-mark": ""}
    )
    html = summary(rows)  # type: ignore[arg-type]
    assert 'href="#id_form-1-mark"' in html
    assert 'href="#id_form-0-mark"' not in html


def test_djangos_own_fields_say_what_to_do_and_a_forms_own_words_win() -> None:
    errors = Report({"tested_on": "25.11.2026"}).errors
    assert errors["tested_on"] == ["Write the date as 2026-11-25."]
    assert errors["kind"] == ["Choose one."]
    assert errors["agreed"] == ["Confirm this to go on."]
    assert errors["remark"] == ["Say what you saw."]


def test_hostile_text_is_escaped_in_fields_errors_and_summary() -> None:
    form = Report({"area": HOSTILE, "area_unit": HOSTILE, "kind": HOSTILE, "remark": HOSTILE, "round_id": HOSTILE})
    form.add_error("remark", HOSTILE)
    html = render_to_string("core/_form.html", {"form": form, "submit": HOSTILE, "action": HOSTILE})
    assert "<script" not in html
    assert "&lt;script&gt;alert(1)" in html


def test_a_file_has_to_be_chosen_again_and_the_page_says_so() -> None:
    form = Report({"remark": "x"}, {"photo": SimpleUploadedFile("a.jpg", b"no picture")})
    html = render_to_string("core/_form.html", {"form": form, "submit": "Save"})
    assert "Choose the file again: a browser does not keep it." in html
    assert "Files must be chosen again" in html
    assert 'enctype="multipart/form-data"' in html


def test_a_fresh_form_shows_no_error_and_no_word_on_files() -> None:
    html = render_to_string("core/_form.html", {"form": Report(), "submit": "Save"}, RequestFactory().get("/"))
    assert "error" not in html
    assert "Choose the file again" not in html
    assert "csrfmiddlewaretoken" in html


def test_every_label_and_description_points_at_something_on_the_page() -> None:
    html = render_to_string("core/_form.html", {"form": Report({}), "submit": "Save"})
    ids = set(re.findall(r' id="([^"]+)"', html))
    pointed = {one for value in re.findall(r' (?:for|aria-describedby)="([^"]+)"', html) for one in value.split()}
    assert pointed
    assert pointed <= ids


def test_choices_stand_in_a_group_with_a_legend() -> None:
    html = render_to_string("core/_field.html", {"field": Report({})["kind"]})
    assert "<fieldset" in html
    assert "<legend>Brake kind" in html
    assert 'aria-describedby="id_kind_error"' in html
