"""The fields of each step. They show what was typed; whether a move can be made is decided by the run."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.forms.utils import ErrorDict
from django.utils.translation import gettext as _

from fleet.calculation import units
from fleet.practice.brakes import GAUGE_UNIT
from fleet.practice.deck_checks import DECK_CHECKS
from fleet.practice.run import ADJUSTING, AS_FOUND, CHECKS, GAUGE, LINING, READINGS, SETTING, SIDE, VERIFICATION, Run

NUMBER = {"inputmode": "decimal", "autocomplete": "off", "maxlength": "12"}


class StepForm(forms.Form):
    """The fields of the step at which a run stands, with the error told beside the field it belongs to."""

    use_required_attribute = False

    def __init__(self, run: Run, typed: Mapping[str, Any] | None = None, told: Mapping[str, str] | None = None) -> None:
        self.told = told or {}
        super().__init__(typed or None, initial=_initial(run))
        self.fields.update(FIELDS[run.stage](run))

    def full_clean(self) -> None:
        self._errors = ErrorDict()
        self.cleaned_data = {}
        for name, words in self.told.items():
            self._errors[name if name in self.fields else "__all__"] = self.error_class([words])

    @property
    def checks(self) -> list[forms.BoundField]:
        return [self[f"check_{check.name}"] for check in DECK_CHECKS]


def _initial(run: Run) -> dict[str, Any]:
    if run.as_found_is_open and run.untouched:
        return {"phase": AS_FOUND}
    phases = [row.phase for row in run.readings if row.phase != AS_FOUND]
    return {"phase": phases[-1] if phases else ADJUSTING}


def _radio(label: str, choices: list[tuple[str, str]], help_text: str = "") -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, widget=forms.RadioSelect, help_text=help_text)


def _number(label: str, help_text: str = "") -> forms.CharField:
    return forms.CharField(label=label, help_text=help_text, widget=forms.TextInput(attrs=NUMBER))


def _side_fields(run: Run) -> dict[str, forms.Field]:
    return {
        "side": _radio(
            _("On which side of the drum does the jack stand?"),
            [("L", _("A, left in the drawing")), ("R", _("B, right in the drawing"))],
        )
    }


def _check_fields(run: Run) -> dict[str, forms.Field]:
    return {
        f"check_{check.name}": forms.BooleanField(
            label=str(check.label), help_text=check.seen_on(run.brake), required=False
        )
        for check in DECK_CHECKS
    }


def _lining_fields(run: Run) -> dict[str, forms.Field]:
    choices = [("Y", _("Yes, test it")), ("N", _("No, out of use until relined"))]
    return {"lining": _radio(_("May this brake be tested?"), choices)}


def _gauge_fields(run: Run) -> dict[str, forms.Field]:
    unit = units.label(GAUGE_UNIT)
    return {"reads": _number(_("What must this gauge show when the brake renders at 60 %, {unit}").format(unit=unit))}


def _reading_fields(run: Run) -> dict[str, forms.Field]:
    unit = units.label(GAUGE_UNIT)
    if run.untouched:
        phases = [(AS_FOUND, _("as found, untouched"))]
    else:
        phases = [(ADJUSTING, _("adjusting")), (VERIFICATION, _("verification"))]
    return {
        "phase": _radio(_("What this reading is"), phases),
        "gauge": _number(_("Write what the gauge shows when the drum first moves, {unit}").format(unit=unit),
                         _("If it holds: the highest reading it held at.")),
        "mark": _number(_("Set the brake to marker distance, mm")),
    }  # fmt: skip


def _setting_fields(run: Run) -> dict[str, forms.Field]:
    return {
        "final_mark": _number(_("Setting as left: marker distance, mm")),
        "fixing": _radio(
            _("How the mark is fixed"),
            [
                ("a", _("a cable tie around the spindle")),
                ("b", _("a stop plate, screwed down and sealed")),
                ("c", _("a lock nut on the spindle, hard against the wheel")),
            ],
            _("So that it cannot shift by hand, and the brake can still be tightened in an emergency."),
        ),
    }


def _no_fields(run: Run) -> dict[str, forms.Field]:
    return {}


FIELDS = {
    SIDE: _side_fields,
    CHECKS: _check_fields,
    LINING: _lining_fields,
    GAUGE: _gauge_fields,
    READINGS: _reading_fields,
    SETTING: _setting_fields,
    "end": _no_fields,
}
