"""Gauges and their calibration certificates."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.calculation import units
from fleet.calculation.gauge_certificate import FALLING, RISING
from fleet.core.documents import CleanDocument, clean_document
from fleet.core.fields import NumberField, NumberInput, QuantityField
from fleet.core.forms import PlainWords
from fleet.core.rows import Column, RowsFormSet
from fleet.core.typed import Typed
from fleet.gauges.checks import U_NEEDS_K, gauge_problems
from fleet.gauges.models import ACCURACY_CLASSES, GAUGE_UNIT_CHOICES, Gauge
from fleet.gauges.points import Point
from fleet.vessels.forms import DayField


class DocumentField(forms.FileField):
    """A PDF or a picture, checked by what it holds; the cleaned value is a CleanDocument."""

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {**super().widget_attrs(widget), "accept": "application/pdf,image/jpeg,image/png,image/webp"}

    def clean(self, data: Any, initial: Any = None) -> CleanDocument | Any:
        uploaded = super().clean(data, initial)
        return clean_document(uploaded) if data and uploaded else None


class GaugeForm(PlainWords, forms.Form):
    """A gauge; its unit is chosen once, and full scale and division are in that unit."""

    name = forms.CharField(label=_("Name or tag"), max_length=40)
    serial_number = forms.CharField(label=_("Serial number"), max_length=60)
    unit = forms.ChoiceField(
        label=_("Unit on its dial"),
        choices=[("", _("choose…")), *GAUGE_UNIT_CHOICES],
        help_text=_("Chosen once. Every reading is in this unit; it cannot be changed later."),
    )
    full_scale = QuantityField(
        "pressure",
        unit="bar",
        label=_("Full scale"),
        help_text=_("The last figure on the dial, in the unit chosen above."),
    )
    smallest_division = QuantityField(
        "pressure",
        unit="bar",
        label=_("Smallest division"),
        help_text=_("From one mark to the next, in the same unit."),
    )
    accuracy_class = forms.TypedChoiceField(
        label=_("Accuracy class on the dial"),
        coerce=Decimal,
        choices=[("", _("choose…")), *((str(value), text) for value, text in ACCURACY_CLASSES)],
        help_text=_("Largest permissible error in % of the span (EN 837-1)."),
    )

    def __init__(self, data: Any = None, *, gauge: Gauge | None = None, **kwargs: Any) -> None:
        super().__init__(data, initial=_gauge_initial(gauge), **kwargs)
        self.gauge = gauge
        unit = gauge.unit if gauge else self.data.get("unit", "")
        if gauge:
            del self.fields["unit"]
        for name in ("full_scale", "smallest_division"):
            _fit_unit(self.fields[name], unit)

    def clean(self) -> dict[str, Any]:
        values = self.cleaned_data
        unit = self.gauge.unit if self.gauge else values.get("unit")
        if unit:
            scale = {name: values.get(name) for name in ("full_scale", "smallest_division")}
            for name, problems in gauge_problems(Gauge(unit=unit, **scale)).items():
                for problem in problems:
                    self.add_error(name, problem)
        return values


def _fit_unit(field: forms.Field, unit: str) -> None:
    """Put the figure in the gauge's unit; until one is chosen the unit is not written beside it."""
    assert isinstance(field, QuantityField)
    if unit in dict(GAUGE_UNIT_CHOICES):
        field.kind = units.kind_of(unit)
        field.offer = units.KINDS[field.kind]
        field.fix_unit(unit)
    else:
        field.widget = NumberInput()


def _gauge_initial(gauge: Gauge | None) -> dict[str, Any]:
    if gauge is None:
        return {}
    names = ("name", "serial_number", "full_scale", "smallest_division")
    return {**{name: getattr(gauge, name) for name in names}, "accuracy_class": f"{gauge.accuracy_class.normalize():f}"}


class CalibrationForm(PlainWords, forms.Form):
    """One calibration certificate: its points in the gauge's unit, those taken rising and those taken falling."""

    calibrated_on = DayField(label=_("Calibrated on"), help_text=_("The date on the certificate."))
    valid_until = DayField(
        label=_("Valid until"), required=False, help_text=_("Only where the certificate says so; else the policy.")
    )
    certificate_number = forms.CharField(label=_("Certificate number"), max_length=80)
    laboratory = forms.CharField(label=_("Laboratory or workshop"), max_length=120)
    document = DocumentField(
        label=_("The certificate"), required=False, help_text=_("PDF, JPEG, PNG or WebP, at most 10 MB.")
    )
    k = NumberField(
        label=_("Coverage factor k"),
        required=False,
        low=1,
        high=4,
        help_text=_("Of the uncertainties in the table, where the certificate states them; usually 2."),
    )

    def __init__(self, data: Any = None, files: Any = None, *, gauge: Gauge, **kwargs: Any) -> None:
        super().__init__(data, files, **kwargs)
        kind = units.kind_of(gauge.unit)
        columns = (
            Column("reading", _("Gauge showed"), kind),
            Column("reference", _("Reference"), kind),
            Column("U", _("Expanded uncertainty"), kind, optional=True),
        )
        units_of = dict.fromkeys(("reading", "reference", "U"), gauge.unit)
        self.points = RowsFormSet(data, columns=columns, units_of=units_of, prefix="points")
        # Labels of their own, so that a screen reader tells the two tables apart.
        falling = (
            Column("reading", _("Falling: gauge showed"), kind),
            Column("reference", _("Falling: reference"), kind),
            Column("U", _("Falling: expanded uncertainty"), kind, optional=True),
        )
        self.falling = RowsFormSet(data, columns=falling, units_of=units_of, prefix="falling")

    def is_valid(self) -> bool:
        return super().is_valid() & self.points.is_valid() & self.falling.is_valid()

    def clean(self) -> dict[str, Any]:
        values = self.cleaned_data
        tables = [table for table in (self.points, self.falling) if table.is_valid()]
        with_u = any(row["U"] for table in tables for row in table.typed_rows)
        if with_u and values.get("k") is None and "k" not in self.errors:
            self.add_error("k", ValidationError(U_NEEDS_K, code="required"))
        return values

    @property
    def given(self) -> dict[str, Any]:
        """What goes to the service."""
        given = dict(self.cleaned_data)
        k = given.pop("k")
        points = [
            Point(_there(row["reading"]), _there(row["reference"]), row["U"], k if row["U"] else None, direction)
            for direction, table in ((RISING, self.points), (FALLING, self.falling))
            for row in table.typed_rows
        ]
        return {**given, "points": points}


def _there(value: Typed | None) -> Typed:
    assert value is not None  # a row with an empty figure has been refused
    return value
