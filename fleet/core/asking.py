"""Forms that ask: an unusual figure is pointed out beside its field, with a box to say that it was checked."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from fleet.calculation.plausibility import Finding
from fleet.core.findings import Asked, said


class AskingForm(forms.Form):
    """Call `ask` at the end of clean(); `checked` then holds the codes that the person has answered."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.checked: set[str] = set()
        self.notes: list[str] = []

    def ask(self, found: Iterable[tuple[str, Finding]]) -> None:
        """Take in findings, each with the field it is about: stop refuses, ask wants a tick, note is only said."""
        for name, finding in found:
            if finding.level == "note":
                self.notes.append(said(finding))
            elif finding.level == "stop":
                self.add_error(name, said(finding))
            else:
                self._ask_one(name, Asked(finding.code, name, said(finding)))

    def _ask_one(self, name: str, asked: Asked) -> None:
        is_ticked = self.data.get(self.add_prefix(asked.tick_name)) == asked.token
        label = _("I have checked this figure: %(what)s") % {"what": self._as_typed(name)}
        if is_ticked:
            self.checked.add(asked.code)
        else:
            self.add_error(name, asked.sentence)
        box = forms.BooleanField(
            label=label,
            help_text=asked.sentence if is_ticked else "",
            required=False,
            # A tick given to another figure does not count for this one.
            widget=forms.CheckboxInput(attrs={"value": asked.token}, check_test=lambda _value: is_ticked),
        )
        fields: dict[str, forms.Field] = {}
        for key, field in self.fields.items():
            fields[key] = field
            if key == name:
                fields[asked.tick_name] = box
        self.fields = fields

    def _as_typed(self, name: str) -> str:
        value = self.cleaned_data.get(name)
        if value is None:
            value = self.data.get(self.add_prefix(name), "")
        return f"{self.fields[name].label} {value}".strip()

    def ticks_for(self, name: str) -> list[forms.BoundField]:
        """The boxes that belong to one field, in their order."""
        keys = list(self.fields)
        if name not in self.fields:
            return []
        following = []
        for key in keys[keys.index(name) + 1 :]:
            if not key.startswith("checked_"):
                break
            following.append(self[key])
        return following
