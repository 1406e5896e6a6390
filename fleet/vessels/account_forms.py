"""Forms of how people sign in, for the administrator."""

from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import Company, Role, User
from fleet.core.forms import PlainWords
from fleet.vessels.forms import CompanyChoiceField


class SecondFactorForm(PlainWords, forms.Form):
    """The roles of one company that need a second factor."""

    company = CompanyChoiceField(label=_("Company"), queryset=Company.objects.none())
    roles = forms.MultipleChoiceField(
        label=_("Roles that must sign in with a second factor"),
        choices=[(role.value, capfirst(role.label)) for role in Role],
        widget=forms.CheckboxSelectMultiple,
        required=False,
        help_text=_("Who holds one of them and has none yet is led to set it up before anything else."),
    )

    def __init__(self, *args: Any, user: User, standing: list[str], **kwargs: Any) -> None:
        super().__init__(*args, initial={"roles": standing}, **kwargs)
        company = self.fields["company"]
        assert isinstance(company, CompanyChoiceField)
        company.offer(self, "company", user, "edit_people")


REASON_HINT = _("A sentence for whoever reads the history later.")


class CorrectForm(PlainWords, forms.Form):
    """Name and rank of a person, put right."""

    name = forms.CharField(label=_("Name"), max_length=120)
    rank = forms.CharField(label=_("Rank or position"), max_length=80, required=False)
    reason = forms.CharField(label=_("Reason for the change"), max_length=300, help_text=REASON_HINT)

    def __init__(self, *args: Any, person: User, **kwargs: Any) -> None:
        super().__init__(*args, initial={"name": person.name, "rank": person.rank}, **kwargs)


class ReasonForm(PlainWords, forms.Form):
    reason = forms.CharField(label=_("Reason"), max_length=300, help_text=REASON_HINT)
