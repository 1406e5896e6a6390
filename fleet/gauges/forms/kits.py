"""A kit: what is used together, chosen from this vessel's instruments in use."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.core.fields import QuantityField
from fleet.core.forms import PlainWords
from fleet.core.typed import Typed
from fleet.gauges.models import Footing, Gauge, Jack, Kit, Lever
from fleet.vessels.models import Vessel

ARM_WITHOUT_JACK = _("An arm belongs to a jack. Choose the second jack, or empty this field.")


class KitForm(PlainWords, forms.Form):
    name = forms.CharField(label=_("Name"), max_length=60, help_text=_("Such as: forward kit."))
    gauge = forms.ModelChoiceField(label=_("Gauge"), queryset=Gauge.objects.none(), empty_label=_("choose…"))
    lever = forms.ModelChoiceField(label=_("Lever"), queryset=Lever.objects.none(), empty_label=_("choose…"))
    footing = forms.ModelChoiceField(
        label=_("Footing"), queryset=Footing.objects.none(), required=False, empty_label=_("none")
    )
    first_jack = forms.ModelChoiceField(label=_("Jack"), queryset=Jack.objects.none(), empty_label=_("choose…"))
    first_arm = QuantityField(
        "length",
        label=_("Arm of this jack"),
        required=False,
        help_text=_("Only where it differs from the arm stamped on the lever."),
    )
    second_jack = forms.ModelChoiceField(
        label=_("Second jack"),
        queryset=Jack.objects.none(),
        required=False,
        empty_label=_("none"),
        help_text=_("On the same manifold and gauge. It may be another size."),
    )
    second_arm = QuantityField(
        "length",
        label=_("Arm of the second jack"),
        required=False,
        help_text=_("Only where it differs from the arm stamped on the lever."),
    )
    note = forms.CharField(label=_("Hose, pump and pins"), max_length=200, required=False)

    def __init__(self, data: Any = None, *, vessel: Vessel, kit: Kit | None = None, **kwargs: Any) -> None:
        super().__init__(data, initial=_initial(kit), **kwargs)
        for name in ("gauge", "lever", "footing", "first_jack", "second_jack"):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            assert field.queryset is not None
            rows = field.queryset.model._default_manager.filter(vessel=vessel, retired_on__isnull=True)
            field.queryset = rows

    def clean(self) -> dict[str, Any]:
        values = self.cleaned_data
        if values.get("second_arm") is not None and not values.get("second_jack"):
            self.add_error("second_arm", ARM_WITHOUT_JACK)
        return values

    @property
    def given(self) -> dict[str, Any]:
        """What goes to the service."""
        given = dict(self.cleaned_data)
        jacks: list[tuple[Jack, Typed | None]] = []
        for which in ("first", "second"):
            jack, arm = given.pop(f"{which}_jack"), given.pop(f"{which}_arm")
            if jack:
                jacks.append((jack, arm))
        return {**given, "jacks": jacks}


def _initial(kit: Kit | None) -> dict[str, Any]:
    if kit is None:
        return {}
    initial = {name: getattr(kit, name) for name in ("name", "note")}
    initial |= {name: getattr(kit, f"{name}_id") for name in ("gauge", "lever", "footing")}
    for which, row in zip(("first", "second"), kit.kit_jacks.all(), strict=False):
        initial |= {f"{which}_jack": row.jack_id, f"{which}_arm": row.arm}
    return initial
