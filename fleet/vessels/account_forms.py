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
