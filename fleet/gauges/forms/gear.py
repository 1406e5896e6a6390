"""Levers, footings, and taking anything out of use."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.core.asking import AskingForm
from fleet.core.fields import QuantityField
from fleet.core.forms import PlainWords
from fleet.gauges.checks import FORCE_UNITS_FOR_PEOPLE, lever_findings, lever_problems
from fleet.gauges.models import Footing, Lever
from fleet.vessels.forms import DayField


class LeverForm(PlainWords, AskingForm):
    name = forms.CharField(label=_("Name or tag"), max_length=40)
    arm = QuantityField(
        "length",
        label=_("Lever arm stamped on it"),
        help_text=_("From the drum's centre to the jack's line of action, square to it. Not to the flange bolts."),
    )
    weight = QuantityField(
        "force",
        offer=("kgf", *(code for code in FORCE_UNITS_FOR_PEOPLE if code != "kgf")),
        label=_("Weight of the lever"),
        required=False,
        help_text=_("A mass of 120 kg weighs 120 kgf."),
    )
    safe_load = QuantityField(
        "force",
        offer=FORCE_UNITS_FOR_PEOPLE,
        label=_("Safe load"),
        required=False,
        help_text=_("The jack force the lever may carry; it limits the STOP reading."),
    )
    fits = forms.CharField(label=_("Which drums it fits"), max_length=200, required=False)
    inspected_on = DayField(label=_("Last inspected on"), required=False)

    def __init__(self, data: Any = None, *, lever: Lever | None = None, **kwargs: Any) -> None:
        names = ("name", "arm", "weight", "safe_load", "fits", "inspected_on")
        initial = {name: getattr(lever, name) for name in names} if lever else {}
        super().__init__(data, initial=initial, **kwargs)

    def clean(self) -> dict[str, Any]:
        values = self.cleaned_data
        lever = Lever(**{name: values.get(name) for name in ("arm", "weight", "safe_load")})
        for name, problems in lever_problems(lever).items():
            for problem in problems:
                self.add_error(name, problem)
        if not self.errors:
            self.ask(("arm", finding) for finding in lever_findings(lever))
        return values


class FootingForm(PlainWords, forms.Form):
    name = forms.CharField(label=_("Name or place"), max_length=60)
    allowed_load = QuantityField(
        "force",
        offer=FORCE_UNITS_FOR_PEOPLE,
        label=_("Allowed load on the deck there"),
        required=False,
        help_text=_("The deck takes the full jack force; this limits the STOP reading."),
    )
    note = forms.CharField(
        label=_("Marked place and stiffening"),
        max_length=200,
        required=False,
        help_text=_("Such as: painted square over the web frame, drawing and sheet."),
    )

    def __init__(self, data: Any = None, *, footing: Footing | None = None, **kwargs: Any) -> None:
        names = ("name", "allowed_load", "note")
        initial = {name: getattr(footing, name) for name in names} if footing else {}
        super().__init__(data, initial=initial, **kwargs)


class RetireForm(PlainWords, forms.Form):
    retired_on = DayField(label=_("Out of use since"))
    reason = forms.CharField(
        label=_("Reason"), max_length=300, help_text=_("Such as: pointer bent, exchanged for another.")
    )
