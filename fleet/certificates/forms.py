"""The forms of the verification page and the filters of the lists."""

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from fleet.certificates.codes import code_read
from fleet.certificates.models import Certificate, CertificateState
from fleet.certificates.pdf_reading import MOST_BYTES
from fleet.core.forms import PlainWords
from fleet.vessels.models import Vessel

NOT_A_CODE = _("This is not a whole code: sixteen letters and digits in four groups, such as 7Q2M-0XKD-9RTV-41MN.")

TOO_LARGE = _("This file is larger than 2 MB, which no certificate of ours is. Choose the PDF as you received it.")


class CodeForm(PlainWords, forms.Form):
    code = forms.CharField(
        label=_("Verification code"),
        max_length=100,
        help_text=_("On the certificate, beside the square picture. Capitals and hyphens do not matter."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )

    def clean_code(self) -> str:
        written = code_read(self.cleaned_data["code"])
        if written is None:
            raise forms.ValidationError(NOT_A_CODE)
        return written


class FileForm(PlainWords, forms.Form):
    """A certificate's PDF, only to be looked at."""

    file = forms.FileField(
        label=_("The certificate's PDF"),
        help_text=_("At most 2 MB. It is looked at and not kept."),
        widget=forms.FileInput(attrs={"accept": "application/pdf,.pdf"}),
    )

    def clean_file(self) -> UploadedFile:
        file: UploadedFile = self.cleaned_data["file"]
        if file.size is None or file.size > MOST_BYTES:
            raise forms.ValidationError(TOO_LARGE)
        return file


class CertificateFilter(forms.Form):
    """Which certificates to list; anything unreadable in the query string counts as not asked for."""

    vessel = forms.ModelChoiceField(Vessel.objects.none(), required=False, label=_("Vessel"), empty_label=_("all"))
    year = forms.TypedChoiceField(required=False, label=_("Tested in"), coerce=int, empty_value=None)
    state = forms.ChoiceField(required=False, label=_("State"))

    def __init__(self, *args: Any, vessels: QuerySet[Vessel], years: list[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["vessel"].queryset = vessels  # type: ignore[attr-defined]
        self.fields["year"].choices = [("", _("all")), *((year, str(year)) for year in years)]  # type: ignore[attr-defined]
        self.fields["state"].choices = [("", _("all")), *CertificateState.choices]  # type: ignore[attr-defined]

    def chosen(self, certificates: QuerySet[Certificate]) -> QuerySet[Certificate]:
        """The certificates that fit what was chosen."""
        self.is_valid()
        if vessel := self.cleaned_data.get("vessel"):
            certificates = certificates.filter(submission__test__round__vessel=vessel)
        if year := self.cleaned_data.get("year"):
            certificates = certificates.filter(submission__tested_on__year=year)
        if state := self.cleaned_data.get("state"):
            certificates = certificates.filter(state=state)
        return certificates
