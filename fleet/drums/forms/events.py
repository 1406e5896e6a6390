"""What happened to a brake, and orders to test again."""

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.core.fields import NumberField
from fleet.core.forms import PlainWords
from fleet.drums.models import EventKind
from fleet.vessels.forms import DayField


class BrakeEventForm(PlainWords, forms.Form):
    kind = forms.ChoiceField(label=_("What happened"), choices=[("", _("choose…")), *EventKind.choices])
    happened_on = DayField(label=_("Date"))
    note = forms.CharField(
        label=_("What was done or seen"),
        max_length=400,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Needed for work on the brake and for a wrong mark."),
    )
    berth = forms.CharField(
        label=_("Berth"), max_length=120, required=False, help_text=_("Needed where the brake slipped unintended.")
    )
    wind = forms.CharField(
        label=_("Wind and sea"), max_length=120, required=False, help_text=_("Needed where the brake slipped.")
    )
    moorings_made = NumberField(
        label=_("Moorings made since the last entry"),
        required=False,
        whole=True,
        low=1,
        high=2000,
        help_text=_("Only for the entry “moorings made”."),
    )
    document = forms.CharField(
        label=_("Report or work order"), max_length=160, required=False, help_text=_("Its number, where there is one.")
    )


class RetestOrderForm(PlainWords, forms.Form):
    due_on = DayField(label=_("To be done by"))
    reason = forms.CharField(
        label=_("Reason"), max_length=300, help_text=_("One sentence; the ship reads it on its deck.")
    )


class TakeBackForm(PlainWords, forms.Form):
    reason = forms.CharField(label=_("Why the order is taken back"), max_length=300)
