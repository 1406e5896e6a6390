"""Forms of the entry page. They show what was typed; whether it can be read is decided where a draft is read."""

import json
from collections.abc import Mapping
from datetime import date, time
from typing import Any
from uuid import uuid4

from django import forms
from django.forms.utils import ErrorDict
from django.utils.functional import Promise
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from fleet.calculation import units
from fleet.core.forms import PlainWords
from fleet.gauges.models import Gauge
from fleet.records.draft import (
    CHECKS,
    CHOICES,
    FIELDS,
    LABELS,
    LENGTH_UNITS,
    LININGS,
    MARKS,
    REPLY,
    TEXT_LIMIT,
    TEXTS,
    setting_unit,
    setting_units,
)
from fleet.records.models import AS_FOUND, DrumTest, Phase, PhotoKind, Round, RoundQuerySet

NUMBER = {"inputmode": "decimal", "autocomplete": "off"}
# These may stay empty in a test that ended well; everything else is asked for on the page of what is missing.
OPTIONAL = frozenset({"band_rest_clearance", "lever_angle", "old_mark", "defect_reference", "who_was_told", "remarks"})


class ToldForm(forms.Form):
    """A form whose errors are told to it: the draft keeps what was typed, readable or not."""

    use_required_attribute = False

    def __init__(self, data: Any, *, told: Mapping[str, Any] | None = None, **kwargs: Any) -> None:
        self.told = told or {}
        super().__init__(data, **kwargs)

    def full_clean(self) -> None:
        self._errors = ErrorDict()
        self.cleaned_data = {}
        for name, words in self.told.items():
            if name == "__all__" or name in self.fields:
                found = [words] if isinstance(words, str | Promise) else words
                self._errors[name] = self.error_class([str(word) for word in found])


class DraftForm(ToldForm):
    """Every field of a draft, as typed."""

    def __init__(self, test: DrumTest, draft: Mapping[str, str], told: Mapping[str, Any]) -> None:
        super().__init__(draft, told=told)
        for check in CHECKS:
            self.fields[check.name] = forms.BooleanField(label=str(check.label), help_text=str(check.hint))
        self.fields["tested_on"] = _plain("tested_on", _date_widget(draft.get("tested_on", "")))
        self.fields["tested_at"] = _plain("tested_at", _time_widget(draft.get("tested_at", "")))
        for name, options in CHOICES.items():
            self.fields[name] = forms.ChoiceField(
                label=capfirst(str(LABELS[name])), choices=options.choices, widget=forms.RadioSelect
            )
        for name in (*LININGS, "band_rest_clearance", "lever_angle", *MARKS):
            self.fields[name] = _plain(name, forms.TextInput(attrs=NUMBER))
        self.fields["lining_unit"] = _unit_field(LENGTH_UNITS, _("Unit of the lining thickness"))
        self.fields["band_rest_clearance_unit"] = _unit_field(LENGTH_UNITS, _("Unit of the clearance"))
        self.fields["setting_unit"] = _unit_field(setting_units(test.drum), _("The setting is written in"))
        self.fields["mark_fixed"] = _plain("mark_fixed", forms.TextInput())
        self.fields["mark_fixed"].help_text = _(
            "So that it cannot shift by hand: no cable tie, no hose clip, no lock nut on the spindle."
        )
        for name in ("defect_reference", "who_was_told"):
            self.fields[name] = _plain(name, forms.TextInput())
        self.fields["remarks"] = _plain("remarks", forms.Textarea(attrs={"rows": 3}))
        self.fields["answer_to_shore"] = _plain("answer_to_shore", forms.TextInput())
        self.fields["answer_to_shore"].help_text = _(
            "One line: what was done about it. It stands on the record beside what shore wrote."
        )
        for name in TEXTS:
            self.fields[name].widget.attrs["maxlength"] = str(TEXT_LIMIT)
        for name, field in self.fields.items():
            field.required = name not in OPTIONAL
            if name in TYPED:
                # The place of the error is there before there is one, so that a save can fill it.
                field.widget.attrs["aria-describedby"] = f"id_{name}_error"

    @property
    def slots(self) -> list[forms.BoundField]:
        """The fields that can be typed so that nobody can read them."""
        return [self[name] for name in TYPED]

    @property
    def unreadable(self) -> list[forms.BoundField]:
        return [self[name] for name in TYPED if self[name].errors]

    @property
    def checks(self) -> list[forms.BoundField]:
        return [self[check.name] for check in CHECKS]


TYPED = ("tested_on", "tested_at", *LININGS, "band_rest_clearance", "lever_angle", *MARKS)


def _plain(name: str, widget: forms.Widget) -> forms.CharField:
    return forms.CharField(label=capfirst(str(LABELS[name])), widget=widget)


def _unit_field(offered: tuple[str, ...], label: str) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=[(code, units.label(code)) for code in offered])


def _date_widget(typed: str) -> forms.Widget:
    return forms.TextInput(attrs={"type": "date" if _reads(date.fromisoformat, typed) else "text"})


def _time_widget(typed: str) -> forms.Widget:
    return forms.TextInput(attrs={"type": "time" if _reads(time.fromisoformat, typed) else "text"})


def _reads(read: Any, typed: str) -> bool:
    """A browser's own date field shows nothing of what it cannot read: such a text stays in a plain field."""
    if not typed.strip():
        return True
    try:
        read(typed.strip())
    except ValueError:
        return False
    return True


def base_of(draft: Mapping[str, str], names: tuple[str, ...] = FIELDS) -> str:
    """The fields a form shows with what stood in them, so that a save knows which of them this person changed."""
    return json.dumps({name: draft.get(name, "") for name in names}, ensure_ascii=False)


def typed_draft(posted: Mapping[str, Any], stored: Mapping[str, str]) -> dict[str, str]:
    """A draft as a form that has not been saved shows it: what was typed over what is stored."""
    try:
        shown = json.loads(str(posted.get("base", "")))
    except ValueError:
        shown = {}
    names = list(shown) if isinstance(shown, dict) else []
    return {**stored, **{name: str(posted.get(name, "")) for name in names}}


class ReadingForm(ToldForm):
    """One raise of the jack. Mark and gauge are two empty fields; the unit of each is written beside it."""

    reading_id = forms.CharField(widget=forms.HiddenInput)
    phase = forms.ChoiceField(label=lazy("What this reading is"), widget=forms.RadioSelect)
    mark_text = forms.CharField(widget=forms.TextInput(attrs=NUMBER))
    gauge_text = forms.CharField(widget=forms.TextInput(attrs=NUMBER))
    reapplied = forms.BooleanField(label=lazy("Released fully and re-applied before this reading"), required=False)
    rest_minutes = forms.CharField(
        label=lazy("Minutes at rest before it"),
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "maxlength": "10"}),
    )

    def __init__(
        self,
        data: Any = None,
        *,
        test: DrumTest,
        gauge: Gauge,
        as_found_offered: bool,
        told: Mapping[str, Any] | None = None,
        initial: Mapping[str, Any] | None = None,
    ) -> None:
        super().__init__(data, told=told, initial={"reading_id": str(uuid4()), **(initial or {})})
        phases = [phase for phase in Phase if as_found_offered or phase not in AS_FOUND]
        self.fields["phase"].choices = [(phase.value, phase.label) for phase in phases]  # type: ignore[attr-defined]
        kind, unit = str(test.drum.get_setting_kind_display()), units.label(setting_unit(test))
        self.fields["mark_text"].label = capfirst(f"{kind}, {unit}" if unit else kind)
        self.fields["mark_text"].help_text = f"{test.drum.mark_from} → {test.drum.mark_to}"
        self.fields["gauge_text"].label = _("Write what gauge {gauge} shows when the drum first moves, {unit}").format(
            gauge=gauge.name, unit=units.label(gauge.unit)
        )
        self.fields["gauge_text"].help_text = _("If it holds: the highest reading it held at.")


class PhotoForm(ToldForm):
    """A photo with what it shows; the id made with the page lets the same form sent twice be one photo."""

    photo_id = forms.CharField(widget=forms.HiddenInput)
    photo = forms.FileField(
        label=lazy("Photo"),
        help_text=lazy("JPEG, PNG or WebP, at most 10 MB."),
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
    photo_kind = forms.ChoiceField(label=lazy("What it shows"), choices=PhotoKind.choices)
    photo_caption = forms.CharField(
        label=lazy("Caption"), required=False, widget=forms.TextInput(attrs={"maxlength": "160"})
    )


class ReplyForm(ToldForm):
    """The ship's replies to findings, one field for each."""

    def __init__(self, draft: Mapping[str, str], codes: list[str]) -> None:
        super().__init__(draft)
        for code in codes:
            self.fields[f"{REPLY}{code}"] = forms.CharField(
                label=_("The ship's reply"),
                required=False,
                widget=forms.Textarea(attrs={"rows": 2, "maxlength": str(TEXT_LIMIT)}),
            )


class ActForm(PlainWords, forms.Form):
    """Who stands for an act: name and rank as they will be on the record."""

    name = forms.CharField(label=lazy("Your name, as it will stand on the record"), max_length=120)
    rank = forms.CharField(label=lazy("Your rank"), max_length=80)


class StartForm(PlainWords, forms.Form):
    """Begins a test; the id made with the page lets the same form sent twice be one test."""

    test_id = forms.UUIDField(widget=forms.HiddenInput)
    round = forms.ModelChoiceField(
        label=lazy("In which round"), queryset=Round.objects.none(), empty_label=None, widget=forms.RadioSelect
    )

    def __init__(self, data: Any, *, rounds: RoundQuerySet) -> None:
        found = list(rounds)
        super().__init__(data, initial={"test_id": uuid4(), "round": found[0].pk if found else None})
        self.fields["round"].queryset = rounds  # type: ignore[attr-defined]
        if len(found) == 1:
            self.fields["round"].widget = forms.HiddenInput()


class ReasonForm(PlainWords, forms.Form):
    """Why a record is opened again, or a draft set aside."""

    reason = forms.CharField(
        label=lazy("Reason, in one sentence: the ship sees it"),
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
