"""Form fields for typed numbers, quantities with a unit, and photos: bad input gets words that say what to do."""

from collections.abc import Callable, Mapping
from math import isfinite
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.calculation import units
from fleet.core.photos import CleanPhoto, clean_photo
from fleet.core.typed import Typed

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise as StrPromise

NUMBER_WORDS: "dict[str, str | StrPromise]" = {
    "empty": _("Type a number, for example 71.26 or 71,26."),
    "separators": _(
        "Use one decimal comma or one decimal point, and no separators between thousands: 1234.5 or 1234,5."
    ),
    "spaces": _("A space is only allowed between groups of three digits: 1 234,5. Otherwise type the digits together."),
    "exponent": _("Write the number out in full, without an exponent: 1200, not 1.2e3."),
    "edge": _("Put a digit on both sides of the decimal sign: 0.5, not .5."),
    "not_a_number": _(
        "Type digits only, with one decimal comma or point where needed; the unit is not typed with the number."
    ),
    "too_long": _("This number has too many digits; type at most 30."),
}
REQUIRED = _("Type a figure here; this field cannot stay empty.")
REQUIRED_UNIT = _("Choose the unit of the figure you typed.")
UNIT_NOT_OFFERED = _("Choose one of the units in the list.")
TOO_LARGE = _("This number is too large to use.")
NOT_WHOLE = _("Type a whole number, without a decimal part.")
BETWEEN = _("Type a figure between %(low)s and %(high)s. Check the digits and the unit.")
AT_LEAST = _("Type a figure of at least %(low)s. Check the digits and the unit.")
AT_MOST = _("Type a figure of at most %(high)s. Check the digits and the unit.")


def read_number(text: str) -> float:
    """Parse one typed number, or raise ValidationError in the reader's language."""
    try:
        value = units.parse_number(text)
    except units.NumberError as error:
        raise ValidationError(NUMBER_WORDS[error.code], code=error.code) from None
    if not isfinite(value):
        raise ValidationError(TOO_LARGE, code="too_large")
    return value


def check_range(value: float, low: float | None, high: float | None, words: Callable[[float], str]) -> None:
    """Refuse a value outside its hard range; words() says a limit in the reader's unit."""
    if (low is None or value >= low) and (high is None or value <= high):
        return
    if low is not None and high is not None:
        raise ValidationError(BETWEEN, code="range", params={"low": words(low), "high": words(high)})
    if low is not None:
        raise ValidationError(AT_LEAST, code="range", params={"low": words(low)})
    if high is not None:
        raise ValidationError(AT_MOST, code="range", params={"high": words(high)})


def plain_limit(value: float) -> str:
    """A limit with no more decimals than it needs, so that the stated limit is itself accepted."""
    for decimals in range(10):
        text = units.shown(value, decimals)
        if abs(float(text) - value) <= abs(value) * 1e-9:
            return text
    return repr(value)


class NumberInput(forms.TextInput):
    """A text input with the decimal keypad: a number input would drop what it cannot read."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"inputmode": "decimal", "autocomplete": "off", **(attrs or {})})


class NumberField(forms.Field):
    """A bare number with decimal comma or point; cleaned to float (int when whole), None when left empty."""

    widget = NumberInput
    default_error_messages = {"required": REQUIRED}

    def __init__(
        self, *, low: float | None = None, high: float | None = None, whole: bool = False, **kwargs: Any
    ) -> None:
        self.low, self.high, self.whole = low, high, whole
        super().__init__(**kwargs)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {"inputmode": "numeric"} if self.whole else {}

    def to_python(self, value: Any) -> float | int | None:
        text = "" if value is None else str(value)
        if not text.strip():
            return None
        number = read_number(text)
        if self.whole:
            if number != int(number):
                raise ValidationError(NOT_WHOLE, code="whole")
            number = int(number)
        check_range(number, self.low, self.high, plain_limit)
        return number


class QuantityWidget(forms.MultiWidget):
    """The typed number under the field's own name, the unit under name_unit."""

    template_name = "core/widgets/quantity.html"
    # One label serves the number; the unit list has its own accessible name.
    use_fieldset = False

    def __init__(self, choices: list[tuple[str, str]], start: str = "", attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"": NumberInput(), "unit": forms.Select(choices=choices)}, attrs)
        self.start = start
        self.unit_label: str | StrPromise = _("Unit")

    def id_for_label(self, id_: str) -> str:
        return f"{id_}_0" if id_ else id_

    def decompress(self, value: Any) -> list[str | None]:
        text, unit = typed_parts(value)
        return [text, unit or self.start]

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        context["widget"]["subwidgets"][1]["attrs"]["aria-label"] = self.unit_label
        return context


class FixedUnitInput(NumberInput):
    """The typed number with its one unit written beside it."""

    template_name = "core/widgets/fixed_unit.html"

    def __init__(self, unit: str, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs)
        self.unit = unit

    def format_value(self, value: Any) -> str | None:
        return typed_parts(value)[0]

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        widget = context["widget"]
        widget["unit_label"] = units.label(self.unit)
        if widget["attrs"].get("id"):
            widget["unit_id"] = f"{widget['attrs']['id']}_unit"
            described = widget["attrs"].get("aria-describedby")
            widget["attrs"]["aria-describedby"] = f"{widget['unit_id']} {described}" if described else widget["unit_id"]
        return context


def typed_parts(value: Any) -> tuple[str | None, str | None]:
    """Text and unit of whatever a form is given to start from: Typed, its dict, a pair, or bare text."""
    if value is None:
        return None, None
    if isinstance(value, Typed):
        return value.text, value.unit
    if isinstance(value, Mapping):
        return value.get("text"), value.get("unit")
    if isinstance(value, (list, tuple)):
        return value[0], value[1]
    return str(value), None


class QuantityField(forms.Field):
    """A typed number with its unit, cleaned to Typed; low and high are hard limits in SI.

    With `unit` (or fix_unit in a form's __init__) the unit is written, not chosen, and never read from the browser.
    `start` is the unit the list opens with; without it a person must choose one.
    """

    default_error_messages = {"required": REQUIRED}

    def __init__(
        self,
        kind: str,
        *,
        unit: str | None = None,
        offer: tuple[str, ...] | None = None,
        start: str = "",
        low: float | None = None,
        high: float | None = None,
        **kwargs: Any,
    ) -> None:
        self.kind, self.low, self.high = kind, low, high
        self.offer = tuple(units.check_unit(code, kind) for code in offer or units.KINDS[kind])
        if unit is None and len(self.offer) == 1:
            unit = self.offer[0]
        self.unit = units.check_unit(unit, kind) if unit else None
        self.start = units.check_unit(start, kind) if start else ""
        kwargs.setdefault("widget", self._widget())
        super().__init__(**kwargs)

    def _widget(self) -> forms.Widget:
        if self.unit:
            return FixedUnitInput(self.unit)
        choices = [(code, units.label(code)) for code in self.offer]
        if not self.start:
            # No unit is taken for granted: a figure in the wrong unit looks like a good one.
            choices.insert(0, ("", str(_("unit…"))))
        return QuantityWidget(choices, self.start)

    def fix_unit(self, unit: str) -> None:
        """Write this one unit beside the field: for a reading, which is in its gauge's unit."""
        self.unit = units.check_unit(unit, self.kind)
        widget = FixedUnitInput(self.unit)
        widget.is_required = self.required
        self.widget = widget

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> forms.BoundField:
        bound = super().get_bound_field(form, field_name)
        if isinstance(self.widget, QuantityWidget):
            self.widget.unit_label = _("Unit of: %(label)s") % {"label": bound.label}
        return bound

    def clean(self, value: Any) -> Typed | None:
        text, unit = (value, self.unit) if self.unit else typed_parts(value)
        text = "" if text is None else str(text)
        if not text.strip():
            if self.required:
                raise ValidationError(self.error_messages["required"], code="required")
            return None
        problems: list[ValidationError] = []
        number = 0.0
        try:
            number = read_number(text)
        except ValidationError as error:
            problems.append(error)
        if not unit:
            problems.append(ValidationError(REQUIRED_UNIT, code="unit_required"))
        elif unit not in self.offer and unit != self.unit:
            problems.append(ValidationError(UNIT_NOT_OFFERED, code="unit_invalid"))
        if problems or not unit:
            raise ValidationError(problems)
        typed = Typed(text=text.strip(), unit=unit, si=float(units.to_si(number, unit)))
        self._check_range(typed)
        self.run_validators(typed)
        return typed

    def _check_range(self, typed: Typed) -> None:
        # The limit said in the reader's unit must itself pass: compare with a hair of room.
        room = 1e-9
        low = None if self.low is None else self.low - abs(self.low) * room
        high = None if self.high is None else self.high + abs(self.high) * room
        name = units.label(typed.unit)

        def words(limit_si: float) -> str:
            return f"{plain_or_rounded(limit_si, typed.unit)} {name}"

        try:
            check_range(typed.si, low, high, lambda value: "")
        except ValidationError:
            check_range(typed.si, self.low, self.high, words)

    def has_changed(self, initial: Any, data: Any) -> bool:
        started, _unit = typed_parts(initial)
        started_unit = _unit or ""
        text, unit = (data, started_unit) if self.unit else typed_parts(data)
        if not (text or "") and not (started or ""):
            return False
        return ((text or ""), (unit or "")) != ((started or ""), started_unit)


def plain_or_rounded(value_si: float, unit: str) -> str:
    """A limit in the reader's unit: in full where short, else as the product shows that unit."""
    full = plain_limit(float(units.from_si(value_si, unit)))
    return full if len(full) <= 7 else units.digits(value_si, unit)


class PhotoField(forms.FileField):
    """One photo, cleaned and re-encoded; the cleaned value is a CleanPhoto."""

    default_error_messages = {
        "required": _("Choose a photo: JPEG, PNG or WebP, at most 10 MB."),
        "missing": _("Choose a photo: JPEG, PNG or WebP, at most 10 MB."),
        "empty": _("This file is empty. Take the photo again and choose the new file."),
        "invalid": _("No file arrived. Choose the photo again."),
    }

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {**super().widget_attrs(widget), "accept": "image/jpeg,image/png,image/webp"}

    def clean(self, data: Any, initial: Any = None) -> CleanPhoto | Any:
        uploaded = super().clean(data, initial)
        return clean_photo(uploaded) if data and uploaded else uploaded
