"""The reviewer's forms: answers to findings, the sentence to the ship, the reason of a withdrawal."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from fleet.core.forms import PlainWords
from fleet.records.models import Finding
from fleet.review.due_ahead import WINDOWS
from fleet.review.queue import REASONS
from fleet.vessels.models import Vessel

LIMIT = 400
ROWS = {"rows": 2}


class ApproveForm(PlainWords, forms.Form):
    """One answer per finding that asks for one, and a remark where the reviewer has one."""

    def __init__(self, *args: Any, findings: list[Finding], **kwargs: Any) -> None:
        super().__init__(*args, auto_id="approve_%s", **kwargs)
        for finding in findings:
            self.fields[f"answer_{finding.code}"] = forms.CharField(
                label=finding.sentence,
                help_text=_("The ship's reply: {reply}").format(reply=finding.ship_reply) if finding.ship_reply else "",
                max_length=LIMIT,
                widget=forms.Textarea(attrs=ROWS),
                error_messages={"required": _("Answer this finding before you approve.")},
            )
        self.fields["sentence"] = forms.CharField(
            label=_("Remark"),
            required=False,
            max_length=LIMIT,
            help_text=_("Printed on the certificate and shown to the ship."),
            widget=forms.Textarea(attrs=ROWS),
        )

    @property
    def answers(self) -> dict[str, str]:
        return {
            name.removeprefix("answer_"): text for name, text in self.cleaned_data.items() if name.startswith("answer_")
        }


class ReturnForm(PlainWords, forms.Form):
    sentence = forms.CharField(
        label=_("What the ship should do"),
        max_length=LIMIT,
        help_text=_("One clear sentence; the ship sees it at the top of the test."),
        widget=forms.Textarea(attrs=ROWS),
        error_messages={"required": _("Write one sentence: the ship sees it and acts on it.")},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, auto_id="return_%s", **kwargs)


class WithdrawForm(PlainWords, forms.Form):
    reason = forms.CharField(
        label=_("Why it is withdrawn"),
        max_length=LIMIT,
        help_text=_("Ship and auditors see it. The certificate is then withdrawn, for good."),
        widget=forms.Textarea(attrs=ROWS),
        error_messages={"required": _("Say why this is withdrawn; the ship and the auditors see it.")},
    )


def tell_form(form: forms.Form, error: ValidationError) -> None:
    """Put a service's words beside the fields they are about."""
    if not hasattr(error, "error_dict"):
        form.add_error(None, error)
        return
    for name, problems in error.error_dict.items():
        form.add_error(name if name in form.fields else None, problems)


class FlagForm(PlainWords, forms.Form):
    word = forms.CharField(label=_("What to watch"), max_length=200, help_text=_("One sentence, for shore only."))


class FlagClearForm(PlainWords, forms.Form):
    word = forms.CharField(label=_("Why it is cleared"), max_length=200, help_text=_("It is kept with the flag."))


class TodayFilter(forms.Form):
    vessel = forms.ModelChoiceField(Vessel.objects.none(), required=False, label=_("Vessel"), empty_label=_("all"))
    reason = forms.ChoiceField(required=False, label=_("Reason"), choices=[("", _("all")), *REASONS.items()])
    window = forms.ChoiceField(
        required=False, label=_("Tests that come due"), choices=[("", _("not listed")), *WINDOWS.items()]
    )

    def __init__(self, *args: Any, vessels: QuerySet[Vessel], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["vessel"].queryset = vessels  # type: ignore[attr-defined]


class FleetFilter(forms.Form):
    vessel = forms.ModelChoiceField(Vessel.objects.none(), required=False, label=_("Vessel"), empty_label=_("all"))

    def __init__(self, *args: Any, vessels: QuerySet[Vessel], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["vessel"].queryset = vessels  # type: ignore[attr-defined]


class AuditFilter(forms.Form):
    vessel = forms.ModelChoiceField(Vessel.objects.none(), required=False, label=_("Vessel"), empty_label=_("all"))
    kind = forms.ChoiceField(required=False, label=_("What"))
    person = forms.ChoiceField(required=False, label=_("Who"))

    def __init__(
        self, *args: Any, vessels: QuerySet[Vessel], kinds: list[tuple[str, str]], people: list[str], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["vessel"].queryset = vessels  # type: ignore[attr-defined]
        self.fields["kind"].choices = [("", _("all")), *kinds]  # type: ignore[attr-defined]
        self.fields["person"].choices = [("", _("all")), *((name, name) for name in people)]  # type: ignore[attr-defined]
