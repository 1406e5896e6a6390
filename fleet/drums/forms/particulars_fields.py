"""The fields of a drum's particulars: those that fit the drum, starting from the row in force."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from fleet.calculation import units
from fleet.core.asking import AskingForm
from fleet.core.fields import NumberField, QuantityField
from fleet.core.rows import Column, RowsFormSet
from fleet.core.typed import Typed
from fleet.drums.checks import NAME_THE_LAYER, figure_needed, figures_kept, sister_rows
from fleet.drums.figures import FigureKind, Origin
from fleet.drums.forms.setting_fields import PlainFigureField, setting_field
from fleet.drums.models import Drum, DrumKind, DrumParticulars, LineMaterial, LiningHeld, Nesting, TargetBasis
from fleet.vessels.forms import DayField

TABLE_COLUMNS = (
    Column("pressure", _("Jack pressure"), "pressure"),
    Column("load", _("Line load"), "force"),
)
TABLE_UNITS = {"pressure": "table_pressure_unit", "load": "table_load_unit"}


class ParticularsFields(AskingForm):
    """The fields that fit this drum, starting from the row in force."""

    def __init__(
        self, data: Any = None, *, drum: Drum, current: DrumParticulars | None, today: date, **kwargs: Any
    ) -> None:
        self.drum, self.current = drum, current
        self.kinds = figures_kept(drum)
        super().__init__(data, initial=_initial(drum, current, today), **kwargs)
        self._add_fields()
        self.sisters = sister_rows(drum, today)
        self.table = self._table(data)

    def _add_fields(self) -> None:
        basis = self.data.get("target_basis") if self.is_bound else self.initial["target_basis"]
        self.fields["valid_from"] = DayField(label=_("Valid from"))
        self.fields["reason"] = forms.CharField(
            label=_("Reason for this entry"),
            max_length=300,
            help_text=_("What was measured, renewed or corrected. It is kept with your name."),
        )
        self.fields["target_basis"] = forms.ChoiceField(label=_("How the target is found"), choices=TargetBasis.choices)
        self.fields["line_material"] = forms.ChoiceField(
            label=_("Line material"), choices=[("", _("choose…")), *LineMaterial.choices]
        )
        if self.drum.kind == DrumKind.UNDIVIDED:
            self._add_layer_fields()
        for kind in self.kinds:
            self._add_figure(kind, figure_needed(kind.name, basis or ""))
        self.fields["lining_held"] = forms.ChoiceField(label=_("The lining is"), choices=LiningHeld.choices)
        self._add_table_fields()

    def _add_layer_fields(self) -> None:
        self.fields["reference_layer"] = NumberField(
            label=_("Layer the setting is for"),
            whole=True,
            low=1,
            high=12,
            help_text=_("Counted from the barrel. Undivided drum: commonly 3."),
            error_messages={"required": NAME_THE_LAYER},
        )
        self.fields["nesting"] = forms.ChoiceField(label=_("How the layers lie"), choices=Nesting.choices)

    def _add_figure(self, kind: FigureKind, needed: bool) -> None:
        given: dict[str, Any] = {"label": _capital(kind.label), "help_text": kind.hint, "required": needed}
        if kind.quantity == "setting":
            self.fields[kind.name] = setting_field(self.drum.setting_kind, **given)
        elif kind.quantity == "ratio":
            self.fields[kind.name] = PlainFigureField(**given)
        else:
            self.fields[kind.name] = QuantityField(kind.quantity, **given)
        name = {"figure": kind.label}
        self.fields[f"{kind.name}_origin"] = forms.ChoiceField(
            label=_("Origin"),
            choices=[("", _("where from…")), *Origin.choices],
            required=False,
            widget=forms.Select(attrs={"aria-label": _now("Origin of: %(figure)s") % name}),
        )
        self.fields[f"{kind.name}_document"] = forms.CharField(
            label=_("Document"),
            max_length=160,
            required=False,
            widget=forms.TextInput(attrs={"aria-label": _now("Document of: %(figure)s") % name}),
        )

    def _add_table_fields(self) -> None:
        for name, label, kind in (
            ("table_pressure_unit", _("Unit of the pressures"), "pressure"),
            ("table_load_unit", _("Unit of the loads"), "force"),
        ):
            choices = [(code, units.label(code)) for code in units.KINDS[kind]]
            self.fields[name] = forms.ChoiceField(label=label, choices=[("", _("unit…")), *choices], required=False)
        self.fields["maker_table_jack"] = forms.CharField(
            label=_("Serial number of the jack the table is for"), max_length=60, required=False
        )
        self.fields["maker_table_document"] = forms.CharField(
            label=_("Document of the table"), max_length=160, required=False
        )

    def _table(self, data: Any) -> RowsFormSet:
        stored = self.current.maker_table if self.current else []
        rows = [{name: Typed.from_dict(row[name]) for name in ("pressure", "load")} for row in stored]
        return RowsFormSet(
            data,
            columns=TABLE_COLUMNS,
            units_of=self._table_units(),
            rows=rows,
            needed=self.uses_table,
            prefix="table",
        )

    def _table_units(self) -> dict[str, str]:
        source: Mapping[str, Any] = self.data if self.is_bound else self.initial
        chosen = {}
        for column in TABLE_COLUMNS:
            code = source.get(TABLE_UNITS[column.name]) or ""
            chosen[column.name] = code if code in units.KINDS[column.kind] else units.KINDS[column.kind][1]
        return chosen

    @property
    def uses_table(self) -> bool:
        basis = self.data.get("target_basis") if self.is_bound else self.initial["target_basis"]
        return bool(basis == TargetBasis.MAKERS_TABLE)


def _capital(label: str | Promise) -> str:
    text = str(label)
    return text[:1].upper() + text[1:]


def _initial(drum: Drum, current: DrumParticulars | None, today: date) -> dict[str, Any]:
    initial: dict[str, Any] = {
        "valid_from": today,
        "target_basis": TargetBasis.GEOMETRY,
        "nesting": Nesting.LINE_ON_LINE,
        "lining_held": LiningHeld.UNKNOWN,
    }
    if current is None:
        return initial
    for name in ("line_material", "nesting", "lining_held", "target_basis", "maker_table_jack", "maker_table_document"):
        initial[name] = getattr(current, name)
    initial["reference_layer"] = current.reference_layer
    for kind in figures_kept(drum):
        figure = current.figure(kind.name)
        if figure is not None:
            initial[kind.name] = figure.typed
            initial[f"{kind.name}_origin"] = figure.origin
            initial[f"{kind.name}_document"] = figure.document
    if current.maker_table:
        first = current.maker_table[0]
        initial |= {"table_pressure_unit": first["pressure"]["unit"], "table_load_unit": first["load"]["unit"]}
    return initial
