"""A jack of one type: only the diameters that its type works on are asked for."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.calculation import units
from fleet.core.asking import AskingForm
from fleet.core.fields import QuantityField
from fleet.core.forms import PlainWords
from fleet.core.rows import Column, RowsFormSet
from fleet.core.typed import Typed
from fleet.gauges.areas import DIAMETERS
from fleet.gauges.checks import DIAMETER_FIELDS, FORCE_UNITS_FOR_PEOPLE, jack_findings, jack_problems
from fleet.gauges.models import AreaCounts, Jack, JackKind
from fleet.gauges.points import ForceRow
from fleet.vessels.forms import DayField

FORCE_COLUMNS = (Column("reading", _("Gauge shows"), "pressure"), Column("force", _("Jack force"), "force"))
FORCE_UNITS = {"reading": "table_reading_unit", "force": "table_force_unit"}

DIAMETER_WORDS = {
    "bore": (_("Bore"), _("Inside the cylinder, where the piston runs. Not the outside, the base or the cap.")),
    "rod_or_hole": (_("Rod or hole diameter"), _("The rod of a pulling cylinder, or the hole of a hollow plunger.")),
    "plunger": (_("Plunger diameter"), _("The plunger itself where it runs through the seal in the gland.")),
}


class JackForm(PlainWords, AskingForm):
    name = forms.CharField(label=_("Name or tag"), max_length=40)
    serial_number = forms.CharField(label=_("Serial number"), max_length=60)
    stated_area = QuantityField(
        "area",
        offer=("cm2", "mm2", "in2", "m2"),
        label=_("Effective piston area stated by the maker"),
        required=False,
        help_text=_("From the plate, the manual or the jack's certificate. It counts first."),
    )
    stated_area_document = forms.CharField(label=_("Document of the stated area"), max_length=160, required=False)
    bore = QuantityField("length", required=False)
    rod_or_hole = QuantityField("length", required=False)
    plunger = QuantityField("length", required=False)
    area_counts = forms.ChoiceField(label=_("Which area counts"), choices=AreaCounts.choices, widget=forms.RadioSelect)
    nominal_capacity = QuantityField(
        "force",
        offer=FORCE_UNITS_FOR_PEOPLE,
        label=_("Nominal capacity"),
        required=False,
        help_text=_("The trade name's figure, such as 50 t. It is compared with the area, never computed with."),
    )
    rated_pressure = QuantityField(
        "pressure",
        offer=("bar", "MPa", "kgf/cm2", "psi"),
        label=_("Rated pressure"),
        help_text=_("From the plate. A test stays below 80 % of it."),
    )
    inspected_on = DayField(label=_("Last inspected on"), required=False)
    table_reading_unit = forms.ChoiceField(label=_("Unit of the gauge readings"), choices=(), required=False)
    table_force_unit = forms.ChoiceField(label=_("Unit of the forces"), choices=(), required=False)
    force_table_document = forms.CharField(
        label=_("Certificate of the force calibration"), max_length=160, required=False
    )

    def __init__(self, data: Any = None, *, kind: str, jack: Jack | None = None, **kwargs: Any) -> None:
        self.kind, self.jack = kind, jack
        super().__init__(data, initial=_initial(jack), **kwargs)
        for name in DIAMETER_FIELDS:
            if name in DIAMETERS[kind]:
                self.fields[name].label, self.fields[name].help_text = DIAMETER_WORDS[name]
            else:
                del self.fields[name]
        for column in FORCE_COLUMNS:
            choice = self.fields[FORCE_UNITS[column.name]]
            assert isinstance(choice, forms.ChoiceField)
            choice.choices = [("", _("unit…")), *((code, units.label(code)) for code in units.KINDS[column.kind])]
        rows = [ForceRow.from_dict(row) for row in jack.force_table] if jack else []
        self.table = RowsFormSet(
            data,
            columns=FORCE_COLUMNS,
            units_of=self._table_units(),
            rows=[{"reading": row.reading, "force": row.force} for row in rows],
            prefix="force",
        )

    def _table_units(self) -> dict[str, str]:
        source: Any = self.data if self.is_bound else self.initial
        chosen = {}
        for column, fallback in zip(FORCE_COLUMNS, ("bar", "kN"), strict=True):
            code = source.get(FORCE_UNITS[column.name]) or ""
            chosen[column.name] = code if code in units.KINDS[column.kind] else fallback
        return chosen

    @property
    def kind_label(self) -> str:
        return str(JackKind(self.kind).label)

    def is_valid(self) -> bool:
        return super().is_valid() & self.table.is_valid()

    def clean(self) -> dict[str, Any]:
        values = self.cleaned_data
        if self.table.is_valid() and self.table.typed_rows:
            for name in FORCE_UNITS.values():
                if not values.get(name):
                    self.add_error(name, _("Choose the unit the table is in."))
        row = Jack(**self._row_values(), force_table=[line.to_dict() for line in self._force_rows()])
        for name, problems in jack_problems(row).items():
            for problem in problems:
                if name in self.fields and name not in self.errors:
                    self.add_error(name, problem)
        if not self.errors:
            self.ask((self._area_field(), finding) for finding in jack_findings(row))
        return values

    def _area_field(self) -> str:
        """The field that gave the area which counts."""
        values = self.cleaned_data
        by_measure = values.get("area_counts") == AreaCounts.MEASURED or values.get("stated_area") is None
        return DIAMETERS[self.kind][0] if by_measure else "stated_area"

    def _force_rows(self) -> list[ForceRow]:
        return [ForceRow(_there(row["reading"]), _there(row["force"])) for row in self.table.typed_rows]

    def _row_values(self) -> dict[str, Any]:
        left_out = {*FORCE_UNITS.values()}
        values = {name: self.cleaned_data.get(name) for name in self.base_fields if name not in left_out}
        for name in ("name", "serial_number", "stated_area_document", "force_table_document", "area_counts"):
            values[name] = values[name] or ""
        return {**values, "kind": self.kind}

    @property
    def given(self) -> dict[str, Any]:
        """What goes to the service; a diameter of another type is emptied."""
        return {**self._row_values(), "force_table": self._force_rows(), "checked": self.checked}


def _there(value: Typed | None) -> Typed:
    assert value is not None  # a row with an empty figure has been refused
    return value


def _initial(jack: Jack | None) -> dict[str, Any]:
    if jack is None:
        return {"area_counts": AreaCounts.STATED}
    left_out = {"table_reading_unit", "table_force_unit"}
    initial = {name: getattr(jack, name) for name in JackForm.base_fields if name not in left_out}
    if jack.force_table:
        first = jack.force_table[0]
        initial |= {"table_reading_unit": first["reading"]["unit"], "table_force_unit": first["force"]["unit"]}
    return initial
