"""Winches and drums: identity, place, kinds."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.core.fields import NumberField, PhotoField
from fleet.core.forms import PlainWords
from fleet.core.photos import CleanPhoto
from fleet.drums.models import Drum, Winch
from fleet.vessels.forms import DayField
from fleet.vessels.models import Vessel


class WinchForm(PlainWords, forms.ModelForm):
    class Meta:
        model = Winch
        fields = ("name", "shared_shaft", "note")
        labels = {"name": _("Name"), "shared_shaft": _("Its drums share a shaft"), "note": _("Note")}
        help_texts = {
            "name": _("As the ship calls it, such as: forward mooring winch, port."),
            "shared_shaft": _("No drum is tested while another on the same shaft holds a mooring line."),
        }

    def _post_clean(self) -> None:
        """Nothing: the service writes the row and has the word."""


class DrumForm(PlainWords, forms.ModelForm):
    """Identity, place, kinds and measuring points of a drum."""

    number_on_winch = NumberField(
        label=_("Number on the winch"), whole=True, low=1, high=12, help_text=_("Counted as painted or in the manual.")
    )
    order = NumberField(
        label=_("Order on the deck, from forward"),
        whole=True,
        low=1,
        high=99,
        help_text=_("Among the drums of this area and side; it places the drum in the picture of the deck."),
    )
    mark_picture = PhotoField(
        label=_("Picture of the measuring points"),
        required=False,
        widget=forms.FileInput(),
        help_text=_("JPEG, PNG or WebP up to 10 MB, with both points in it. It is stored without its metadata."),
    )

    class Meta:
        model = Drum
        fields = (
            "winch", "name", "number_on_winch", "area", "side", "order", "kind", "brake_kind", "setting_kind",
            "tighter_is", "mark_from", "mark_to", "mark_picture", "line_off", "lead",
        )  # fmt: skip
        labels = {
            "winch": _("Winch"),
            "name": _("The ship's own name of the drum"),
            "area": _("Area"),
            "side": _("Side"),
            "kind": _("Drum kind"),
            "brake_kind": _("Brake kind"),
            "setting_kind": _("The setting is kept as"),
            "tighter_is": _("When the brake is tightened"),
            "mark_from": _("The setting is measured from"),
            "mark_to": _("The setting is measured to"),
            "line_off": _("The line leaves the drum"),
            "lead": _("Seen from the lever, the line leads to the"),
        }
        help_texts = {
            "kind": _("On an undivided drum the layer changes the line load, so it must be named in the particulars."),
            "mark_from": _("One named point of the brake, such as: machined edge of the stop plate."),
            "mark_to": _("The other named point, such as: end face of the spindle nut."),
            "line_off": _("In normal use. A band brake grips one way only: the setting holds for this direction."),
        }

    def __init__(self, *args: Any, vessel: Vessel, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        winch = self.fields["winch"]
        assert isinstance(winch, forms.ModelChoiceField)
        winch.queryset = Winch.objects.filter(vessel=vessel)

    def _post_clean(self) -> None:
        """Nothing: the service writes the row and has the word."""

    @property
    def given(self) -> dict[str, Any]:
        """What goes to the service; without a new picture the old one stays."""
        given = dict(self.cleaned_data)
        picture = given.pop("mark_picture", None)
        return {**given, "mark_picture": picture if isinstance(picture, CleanPhoto) else None}


class DrumRemoveForm(PlainWords, forms.Form):
    removed_on = DayField(label=_("Taken off on"))
    reason = forms.CharField(label=_("Reason"), max_length=300, help_text=_("Such as: winch renewed at the yard."))
