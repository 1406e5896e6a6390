"""Rows of figures typed one under the other, as in a certificate's table: the unit once, both columns rising."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.calculation import units
from fleet.core.fields import NumberInput, QuantityField
from fleet.core.typed import Typed

MOST_ROWS = 24
SHOWN_AT_ONCE = 8

OTHER_HALF = _("Fill in this figure too, or empty the whole row.")
NOT_RISING = _("This must be above the figure in the row before it (%(last)s).")
BELOW_ZERO = _("This figure cannot be below zero.")
TOO_FEW = _("Type at least two rows.")


@dataclass(frozen=True)
class Column:
    """One column: its heading, its kind of quantity, and whether a row can do without it (it then need not rise)."""

    name: str
    label: str | Promise
    kind: str
    optional: bool = False


class RowForm(forms.Form):
    """One row; empty rows are passed over."""

    use_required_attribute = False

    def __init__(self, *args: Any, columns: Sequence[Column], units_of: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.columns = columns
        for column in columns:
            self.fields[column.name] = QuantityField(
                column.kind, unit=units_of[column.name], label=column.label, required=False, widget=NumberInput()
            )

    def clean(self) -> dict[str, Any]:
        values = self.cleaned_data
        if any(values.get(column.name) is not None for column in self.columns):
            for column in self.columns:
                if not column.optional and values.get(column.name) is None and column.name not in self.errors:
                    self.add_error(column.name, ValidationError(OTHER_HALF, code="required"))
        for column in self.columns:
            value: Typed | None = values.get(column.name)
            if value is not None and value.si < 0:
                self.add_error(column.name, ValidationError(BELOW_ZERO, code="below_zero"))
        return values

    @property
    def is_empty(self) -> bool:
        return not any(str(self[column.name].value() or "").strip() for column in self.columns)


class RowsFormSet(forms.BaseFormSet):
    """The rows of one table; `typed_rows` holds those filled in. `needed`: at least two must be."""

    form = RowForm
    min_num, max_num, absolute_max = 0, MOST_ROWS, MOST_ROWS
    can_order = can_delete = can_delete_extra = validate_min = validate_max = False
    renderer = None

    def __init__(
        self,
        data: Any = None,
        *,
        columns: Sequence[Column],
        units_of: Mapping[str, str],
        rows: Sequence[Mapping[str, Typed | None]] = (),
        needed: bool = False,
        prefix: str,
    ) -> None:
        self.columns, self.units_of, self.needed = columns, units_of, needed
        self.typed_rows: list[dict[str, Typed | None]] = []
        initial = [{name: value.text if value else None for name, value in row.items()} for row in rows]
        self.extra = max(MOST_ROWS - len(initial), 0)
        form_kwargs = {"columns": columns, "units_of": units_of}
        super().__init__(data, initial=initial, prefix=prefix, form_kwargs=form_kwargs)

    def clean(self) -> None:
        if any(self.errors):
            return
        filled = [form for form in self.forms if not form.is_empty]
        for last, form in pairwise(filled):
            for column in self.columns:
                before, now = last.cleaned_data.get(column.name), form.cleaned_data.get(column.name)
                if not column.optional and before is not None and now is not None and now.si <= before.si:
                    message = ValidationError(NOT_RISING, code="rising", params={"last": before.text})
                    form.add_error(column.name, message)
        if len(filled) == 1 or (self.needed and not filled):
            raise ValidationError(TOO_FEW, code="two_rows")
        if any(form.errors for form in filled):
            return
        names = [column.name for column in self.columns]
        self.typed_rows = [{name: form.cleaned_data.get(name) for name in names} for form in filled]

    @property
    def headings(self) -> list[tuple[str | Promise, str]]:
        """Each column's words and the label of its unit."""
        return [(column.label, units.label(self.units_of[column.name])) for column in self.columns]

    @property
    def shown(self) -> list[RowForm]:
        return self.forms[:SHOWN_AT_ONCE]

    @property
    def further(self) -> list[RowForm]:
        return self.forms[SHOWN_AT_ONCE:]

    @property
    def further_in_use(self) -> bool:
        return any(not form.is_empty for form in self.further)
