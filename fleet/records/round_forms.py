"""The form of a round: what all its drums share is typed once."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.core.forms import PlainWords
from fleet.gauges.models import Kit
from fleet.records.models import DoneBy, Round, RoundKind
from fleet.records.snapshot import utc_offset
from fleet.vessels.forms import DayField
from fleet.vessels.models import Vessel

NO_RANK = _("Line %(line)s: write the name, a comma, and the rank, such as: Ada Voss, chief officer.")
TOO_MANY = _("Name at most 20 persons.")

# Every whole hour, and the halves and quarters in use somewhere.
PARTS_OF_HOURS = (-570, -210, -150, 210, 270, 330, 345, 390, 525, 570, 630, 765)
OFFSETS = [(minutes, utc_offset(minutes)) for minutes in sorted({*range(-720, 841, 60), *PARTS_OF_HOURS})]


class KitChoiceField(forms.ModelChoiceField):
    """A kit with what one knows it by."""

    def label_from_instance(self, obj: Kit) -> str:
        return f"{obj}: {obj.gauge}, {obj.lever}"


class PeopleField(forms.CharField):
    """One person a line, name and rank with a comma between; cleaned to a list of both."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(widget=forms.Textarea(attrs={"rows": 4, "autocomplete": "off"}), max_length=3000, **kwargs)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, list):
            return "\n".join(f"{row.get('name', '')}, {row.get('rank', '')}" for row in value)
        return value

    def clean(self, value: Any) -> list[dict[str, str]]:
        lines = super().clean(value).splitlines()
        people, problems = [], []
        for number, line in enumerate(lines, start=1):
            if not line.strip():
                continue
            name, _comma, rank = (part.strip() for part in line.partition(","))
            if not name or not rank:
                problems.append(ValidationError(NO_RANK, code="rank", params={"line": number}))
            people.append({"name": name[:120], "rank": rank[:80]})
        if len(people) > 20:
            problems.append(ValidationError(TOO_MANY, code="many"))
        if problems:
            raise ValidationError(problems)
        return people


class RoundForm(PlainWords, forms.Form):
    """Permit, people, weather, kit and gauge, once for all drums; `kind` only when the round is new."""

    kind = forms.ChoiceField(label=_("Kind"), choices=RoundKind.choices, initial=RoundKind.YEARLY)
    started_on = DayField(label=_("Started on"), help_text=_("The first day on deck, ship's date."))
    utc_offset_minutes = forms.TypedChoiceField(
        label=_("Ship's time"), choices=OFFSETS, coerce=int, initial=0, help_text=_("How ship's time lies to UTC.")
    )
    kit = KitChoiceField(
        label=_("Kit"),
        queryset=Kit.objects.none(),
        empty_label=_("choose…"),
        help_text=_("Gauge, jacks, lever and footing that are used together. One kit for the whole round."),
    )
    place = forms.CharField(label=_("Place"), max_length=120, help_text=_("Such as: at anchor, inner roads."))
    permit = forms.CharField(label=_("Permit to work"), max_length=120, help_text=_("Its number and date."))
    people = PeopleField(
        label=_("People on deck"),
        help_text=_("One a line: name, comma, rank. Such as: Ada Voss, chief officer."),
    )
    weather = forms.CharField(
        label=_("Weather"), max_length=160, help_text=_("Rain, wind, sea and temperature. A wet brake holds far less.")
    )
    done_by = forms.ChoiceField(label=_("Done by"), choices=DoneBy.choices, initial=DoneBy.CREW)
    done_by_name = forms.CharField(
        label=_("Yard, service or surveyor"),
        max_length=160,
        required=False,
        help_text=_("Needed where the ship's crew did not do it alone."),
    )
    report = forms.FileField(
        label=_("Their report"),
        required=False,
        help_text=_("PDF, JPEG, PNG or WebP, at most 10 MB. Needed where the ship's crew did not do it alone."),
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/jpeg,image/png,image/webp"}),
    )

    def __init__(self, *args: Any, vessel: Vessel, round: Round | None = None, **kwargs: Any) -> None:
        if round is not None:
            kwargs["initial"] = {name: getattr(round, name) for name in self.base_fields if name != "report"}
        super().__init__(*args, **kwargs)
        kits = Kit.objects.filter(vessel=vessel, retired_on__isnull=True).select_related("gauge", "lever")
        field = self.fields["kit"]
        assert isinstance(field, KitChoiceField)
        field.queryset = kits
        if round is not None:
            del self.fields["kind"]
            if round.report:
                self.fields["report"].help_text = _("Attached: %(name)s. Another file takes its place.") % {
                    "name": round.report_name
                }
