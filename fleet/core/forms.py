"""What every form on a page shares: where its errors lead."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.forms import BaseForm, BoundField, CheckboxSelectMultiple, MultiWidget, RadioSelect
from django.forms.formsets import BaseFormSet


@dataclass(frozen=True)
class ErrorLink:
    """One error of a form and the input that it is about; without an input it concerns the whole form."""

    message: str
    label: str = ""
    input_id: str = ""


def first_input_id(field: BoundField) -> str:
    """The id of the first input of a field, also where a widget has several."""
    widget = field.field.widget
    own = widget.attrs.get("id") or field.auto_id or ""
    if not own:
        return ""
    if isinstance(widget, (RadioSelect, CheckboxSelectMultiple, MultiWidget)):
        return f"{own}_0"
    return widget.id_for_label(own)


def form_errors(form: BaseForm) -> list[ErrorLink]:
    """The form's own errors, then each field's in the order of the page."""
    links = [ErrorLink(str(message)) for message in form.non_field_errors()]
    for field in form:
        for message in field.errors:
            if field.is_hidden:
                links.append(ErrorLink(str(message), label=str(field.label)))
            else:
                links.append(ErrorLink(str(message), label=str(field.label), input_id=first_input_id(field)))
    return links


def error_links(forms: Iterable[BaseForm | BaseFormSet | None]) -> list[ErrorLink]:
    """The errors of all forms and formsets of one page."""
    links: list[ErrorLink] = []
    for form in forms:
        if form is None or not form.is_bound:
            continue
        if isinstance(form, BaseFormSet):
            links.extend(ErrorLink(str(message)) for message in form.non_form_errors())
            for row in form.forms:
                links.extend(form_errors(row))
        else:
            links.extend(form_errors(form))
    return links


def asks_for_files(forms: Iterable[BaseForm | BaseFormSet | None]) -> bool:
    """Whether any of the forms has a file field, whose choice a browser does not keep."""
    return any(form is not None and form.is_multipart() for form in forms)
