"""New particulars of a drum: every figure with its unit, origin and document, beside the vessel's other drums."""

from collections import Counter
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from fleet.core.forms import PlainWords
from fleet.drums.checks import (
    DOCUMENT_NEEDED,
    ORIGIN_NEEDED,
    field_of,
    hard_problems,
    particulars_findings,
    particulars_row,
)
from fleet.drums.figures import Figure, FigureKind, Origin
from fleet.drums.forms.particulars_fields import TABLE_UNITS, ParticularsFields
from fleet.drums.models import Nesting
from fleet.vessels.models import policy_for


@dataclass(frozen=True)
class FigureFields:
    """The three fields of one figure on the page, and what the other drums of the vessel have."""

    kind: FigureKind
    figure: forms.BoundField
    origin: forms.BoundField
    document: forms.BoundField
    ticks: list[forms.BoundField]
    others: str


class ParticularsForm(PlainWords, ParticularsFields):
    """What is sent is a new row from a day, with a reason; no row is ever changed."""

    def is_valid(self) -> bool:
        return super().is_valid() and (not self.uses_table or self.table.is_valid())

    def clean(self) -> dict[str, Any]:
        values = self.cleaned_data
        self._check_origins()
        if self.uses_table:
            for name in TABLE_UNITS.values():
                if not values.get(name):
                    self.add_error(name, _("Choose the unit the table is in."))
            self.table.is_valid()
        row = particulars_row(drum=self.drum, **self._row_values())
        for name, problems in hard_problems(row).items():
            for problem in problems:
                self._refuse(name, problem)
        if not self.errors:
            share = float(policy_for(self.drum.vessel, values["valid_from"]).share)
            found = particulars_findings(row, self.sisters, share)
            self.ask((field_of(finding), finding) for finding in found)
        return values

    def _check_origins(self) -> None:
        for kind in self.kinds:
            if self.cleaned_data.get(kind.name) is None:
                continue
            origin = self.cleaned_data.get(f"{kind.name}_origin")
            if not origin:
                self.add_error(f"{kind.name}_origin", ORIGIN_NEEDED)
            elif origin != Origin.MEASURED and not self.cleaned_data.get(f"{kind.name}_document"):
                self.add_error(f"{kind.name}_document", DOCUMENT_NEEDED)

    def _refuse(self, name: str, problem: ValidationError) -> None:
        if name == "maker_table":
            return  # the rows themselves say it
        if problem.code in {"origin", "document"} or name in self.errors or name not in self.fields:
            return  # said already, beside the field that is about it
        self.add_error(name, problem)

    @property
    def figures(self) -> dict[str, Figure]:
        """Every figure that was given, with origin and document."""
        values = self.cleaned_data
        return {
            kind.name: Figure(
                values[kind.name], values.get(f"{kind.name}_origin", ""), values.get(f"{kind.name}_document", "")
            )
            for kind in self.kinds
            if values.get(kind.name) is not None
        }

    def _row_values(self) -> dict[str, Any]:
        values = self.cleaned_data
        layer = values.get("reference_layer")
        given: dict[str, Any] = {
            "figures": self.figures,
            "reference_layer": layer,
            "line_material": values.get("line_material", ""),
            "nesting": values.get("nesting") or Nesting.LINE_ON_LINE,
            "lining_held": values.get("lining_held", ""),
            "target_basis": values.get("target_basis", ""),
        }
        if self.uses_table:
            rows = self.table.typed_rows
            given["maker_table"] = [(row["pressure"], row["load"]) for row in rows]
            given["maker_table_jack"] = values.get("maker_table_jack", "")
            given["maker_table_document"] = values.get("maker_table_document", "")
        return given

    @property
    def given(self) -> dict[str, Any]:
        """What goes to the service."""
        own = {"valid_from": self.cleaned_data["valid_from"], "reason": self.cleaned_data["reason"]}
        return {**self._row_values(), **own, "checked": self.checked}

    # --- for the page

    def figure_fields(self) -> list[FigureFields]:
        """The figures in the order of the page."""
        return [
            FigureFields(
                kind,
                self[kind.name],
                self[f"{kind.name}_origin"],
                self[f"{kind.name}_document"],
                self.ticks_for(kind.name),
                self._others(kind.name),
            )
            for kind in self.kinds
        ]

    def layer_ticks(self) -> list[forms.BoundField]:
        """The boxes that belong to the layer."""
        return self.ticks_for("reference_layer")

    def _others(self, name: str) -> str:
        figures = [figure for row in self.sisters if (figure := row.figure(name)) is not None]
        counted = Counter(str(figure.typed) for figure in figures)
        words = [_now("%(figure)s (%(count)s)") % {"figure": text, "count": n} for text, n in counted.most_common(4)]
        if not words:
            return ""
        return _now("Other drums of this vessel, as typed (how many): %(figures)s.") % {"figures": ", ".join(words)}
