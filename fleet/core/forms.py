"""What every form on a page shares: where its errors lead."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django import forms
from django.forms import BaseForm, BoundField, CheckboxSelectMultiple, MultiWidget, RadioSelect
from django.forms.formsets import BaseFormSet
from django.utils.translation import gettext_lazy as _

from fleet.core.kept_forms import KeptPost

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise as StrPromise

# What to do, by the kind of field; the first that fits is said.
WORDS: tuple[tuple[type[forms.Field], "dict[str, str | StrPromise]"], ...] = (
    (forms.BooleanField, {"required": _("Confirm this to go on.")}),
    (forms.MultipleChoiceField, {"required": _("Choose at least one."), "invalid_choice": _("Choose from the list.")}),
    (forms.ModelMultipleChoiceField, {"required": _("Choose at least one.")}),
    (forms.ChoiceField, {"required": _("Choose one."), "invalid_choice": _("Choose one of the list.")}),
    (forms.ModelChoiceField, {"required": _("Choose one."), "invalid_choice": _("Choose one of the list.")}),
    (forms.DateField, {"required": _("Give the date."), "invalid": _("Write the date as 2026-11-25.")}),
    (forms.TimeField, {"required": _("Give the time."), "invalid": _("Write the time as 10:40.")}),
    (
        forms.DateTimeField,
        {"required": _("Give the date and time."), "invalid": _("Write date and time as 2026-11-25 10:40.")},
    ),
    (forms.FloatField, {"required": _("Type a figure here."), "invalid": _("Type digits only, such as 12.5.")}),
    (forms.IntegerField, {"required": _("Type a figure here."), "invalid": _("Type a whole number.")}),
    (forms.EmailField, {"required": _("Type an e-mail address."), "invalid": _("Write it like name@example.com.")}),
    (forms.FileField, {"required": _("Choose a file."), "empty": _("This file is empty. Choose another one.")}),
    (forms.CharField, {"required": _("Write something here; this field cannot stay empty.")}),
)


class PlainWords:
    """For forms, before forms.Form or ModelForm among the bases: errors of Django's own fields say what to do."""

    fields: dict[str, forms.Field]
    data: Any

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            words = next((words for kind, words in WORDS if isinstance(field, kind)), {})
            for code, text in words.items():
                if str(field.error_messages.get(code)) == _django_words(field, code):
                    field.error_messages[code] = text

    def is_valid(self) -> bool:
        """Never of what was only kept from before a sign-in: the person looks at it and sends it again."""
        return not isinstance(self.data, KeptPost) and super().is_valid()  # type: ignore[misc]


def _django_words(field: forms.Field, code: str) -> str:
    """What Django itself would say for this error; words that a form or field of ours chose differ from it."""
    for kind in type(field).__mro__:
        if kind.__module__.startswith("django.forms") and code in kind.__dict__.get("default_error_messages", {}):
            return str(kind.__dict__["default_error_messages"][code])
    return ""


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
