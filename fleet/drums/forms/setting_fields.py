"""The field for a setting of a brake, by the kind in which the drum keeps it."""

from typing import Any

from django import forms

from fleet.calculation import units
from fleet.core.fields import NumberField, QuantityField
from fleet.core.typed import Typed
from fleet.drums.models import SETTING_UNITS, SettingKind


class PlainFigureField(NumberField):
    """A figure without a unit, cleaned to Typed like any other."""

    code = "ratio"

    def clean(self, value: Any) -> Any:
        number = super().clean(value)
        return None if number is None else Typed(text=str(value).strip(), unit=self.code, si=float(number))


class ShimsField(PlainFigureField):
    """A number of shims."""

    code = "count"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(low=0, whole=True, **kwargs)


def setting_field(setting_kind: str, **kwargs: Any) -> forms.Field:
    """A field that takes a setting of this kind in the units it is read in, cleaned to Typed."""
    if setting_kind == SettingKind.SHIMS:
        return ShimsField(**kwargs)
    offer = SETTING_UNITS[setting_kind]
    return QuantityField(units.kind_of(offer[0]), offer=offer, **kwargs)
