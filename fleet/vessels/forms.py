"""Forms of vessels, policies, people and access: they check shape, the services decide."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import SHORE_ROLES, Company, Membership, Role, User
from fleet.calculation import units
from fleet.calculation.plausibility.ranges import HARD_RANGES
from fleet.core.fields import NumberField, QuantityField
from fleet.core.forms import PlainWords
from fleet.core.typed import Typed
from fleet.vessels.assumed import ASSUMED, Assumed, changed_only
from fleet.vessels.imo import validate_imo_number
from fleet.vessels.models import BaseLoadKind, DecisionRule, Policy, Vessel
from fleet.vessels.permissions import companies_where
from fleet.vessels.policy_rules import percent_digits

DATE_WORDS = _("Write the date as year, month, day: 2026-11-25.")
AUDITOR_NEEDS_AN_END = _("An auditor's access ends on a date: say the last day.")
VESSEL_NEEDED = _("Choose at least one vessel: this role reaches only the vessels that are named for it.")
VESSEL_NOT_NEEDED = _("This role reaches every vessel of the company. Take the ticks out, or choose another role.")
VESSEL_OF_OTHER_COMPANY = _("%(vessel)s belongs to another company than the one chosen above.")
TWO_DECIMALS = _("Type at most two decimals.")
LOAD_RANGE = HARD_RANGES["base_load"]


class DayField(forms.DateField):
    """A calendar day, from the browser's own date picker or typed as year-month-day."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        super().__init__(input_formats=["%Y-%m-%d"], **kwargs)
        self.error_messages["invalid"] = DATE_WORDS


class PercentField(QuantityField):
    """A share typed in per cent and cleaned to a fraction: 60 becomes 0.60."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__("share", unit="percent", low=0.0, high=1.0, **kwargs)

    def clean(self, value: Any) -> Any:
        typed = super().clean(value)
        if typed is None:
            return None
        share = Decimal(units.shown(typed.si, 4))
        if abs(float(share) - typed.si) > 1e-9:
            raise ValidationError(TWO_DECIMALS, code="decimals")
        return share


class CompanyChoiceField(forms.ModelChoiceField):
    """The companies in which the person may do this; chosen already where there is one."""

    def offer(self, form: forms.BaseForm, name: str, user: User, act: str) -> None:
        self.queryset = companies_where(user, act)
        companies = list(self.queryset[:2])
        if len(companies) == 1:
            form.initial.setdefault(name, companies[0].pk)
            self.empty_label = None


def tell(form: forms.BaseForm, error: ValidationError) -> None:
    """Put what a service refused beside its field, or above the form where it has no such field."""
    by_field = error.message_dict if hasattr(error, "error_dict") else {NON_FIELD_ERRORS: error.messages}
    for name, messages in by_field.items():
        for message in messages:
            form.add_error(name if name in form.fields else None, message)


# --- vessels -----------------------------------------------------------------------------------------------------


class VesselForm(PlainWords, forms.Form):
    """Identity and base load of a vessel; `company` only when it is new, `reason` only when it is changed."""

    company = CompanyChoiceField(label=_("Company"), queryset=Company.objects.none())
    name = forms.CharField(label=_("Name"), max_length=80)
    imo_number = forms.CharField(
        label=_("IMO number"),
        validators=[validate_imo_number],
        help_text=_("Seven digits, as in the ship's papers."),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    base_load = QuantityField(
        "force",
        offer=("kN", "tf", "kgf", "lbf"),
        low=LOAD_RANGE.low_si,
        high=LOAD_RANGE.high_si,
        label=_("Base load"),
        help_text=_("Every share is a share of this load. Type it as the document has it, in its unit."),
    )
    base_load_kind = forms.ChoiceField(
        label=_("What the base load is"),
        choices=BaseLoadKind.choices,
        help_text=_(
            "Only a figure called so in the plan is the ship design MBL; name an older ship's figure for what it is."
        ),
    )
    base_load_document = forms.CharField(
        label=_("Document and page of the base load"),
        max_length=160,
        help_text=_("Such as: towing and mooring arrangements plan, sheet 2."),
    )
    next_dry_docking = DayField(label=_("Next dry-docking"), required=False)
    in_fleet = forms.BooleanField(
        label=_("The vessel is in the fleet"),
        required=False,
        help_text=_("Without the tick the vessel and its records stay readable, but nothing is asked of it."),
    )
    reason = forms.CharField(
        label=_("Reason for the change"), max_length=300, help_text=_("A sentence for whoever reads the history later.")
    )

    def __init__(self, *args: Any, user: User, vessel: Vessel | None = None, **kwargs: Any) -> None:
        if vessel is not None:
            names = ("name", "imo_number", "base_load", "base_load_kind", "base_load_document", "next_dry_docking")
            kwargs["initial"] = {name: getattr(vessel, name) for name in (*names, "in_fleet")}
        super().__init__(*args, **kwargs)
        if vessel is None:
            del self.fields["reason"], self.fields["in_fleet"]
            company = self.fields["company"]
            assert isinstance(company, CompanyChoiceField)
            company.offer(self, "company", user, "edit_vessel")
        else:
            del self.fields["company"]


# --- policy ------------------------------------------------------------------------------------------------------


class PolicyForm(PlainWords, forms.Form):
    """The operator's settings, filled from what is in force; shares are typed in per cent."""

    valid_from = DayField(label=_("Valid from"), help_text=_("The first day on which tests are judged by it."))
    share = PercentField(
        label=_("Share of the base load at which the brake is to render"),
        help_text=_("60 % of ship design MBL is the published practice; the choice is the operator's."),
    )
    band_low = PercentField(
        label=_("Acceptance band, low side"),
        help_text=_("The band is the operator's setting, not from a standard; 55 to 65 % is common practice."),
    )
    band_high = PercentField(label=_("Acceptance band, high side"))
    ceiling = PercentField(
        label=_("Ceiling: stop pumping at this share"),
        help_text=_("Between the share above and 80 %, the brake's design holding load."),
    )
    interval_months = NumberField(
        whole=True, low=1, high=60, label=_("Months between tests"), help_text=_("12 is published practice.")
    )
    lining_retest_months = NumberField(
        whole=True,
        low=0,
        high=60,
        label=_("Months from the first test of a new lining to its next, 0 for no early retest"),
        help_text=_("A new lining beds in and loses more at first; 6 is common practice, not from a standard."),
    )
    due_soon_days = NumberField(whole=True, low=1, high=365, label=_("Days ahead that a test is announced as due"))
    verification_slips = NumberField(
        whole=True, low=1, high=10, label=_("Least number of slips that verify the new mark")
    )
    calibration_months = NumberField(whole=True, low=1, high=60, label=_("Months that a gauge calibration lasts"))
    lining_worn_share = PercentField(
        label=_("Renew the lining when worn by"), help_text=_("Unless the maker says otherwise; 40 % is common.")
    )
    worn_line_share = PercentField(
        label=_("The brake may render at this share of what is left of a worn line, at most"),
        help_text=_(
            "75 % is ours: common practice, no published source. Above it the line is to be replaced or end-for-ended."
        ),
    )
    engineer_confirms = forms.BooleanField(
        label=_("The chief engineer confirms gauge and jack before a test is sent"), required=False
    )
    master_releases = forms.BooleanField(label=_("The master releases a test before it is sent"), required=False)
    decision_rule = forms.ChoiceField(
        label=_("Decision rule: when does a load count as in band?"),
        choices=DecisionRule.choices,
        widget=forms.RadioSelect,
        help_text=_(
            "Every load has an uncertainty. Simple: the best estimate decides, and a load near the edge of the band "
            "may truly lie outside it. Guarded: the load must lie inside the band by more than its uncertainty, else "
            "it is called not proven; that asks for a fine gauge and good figures, and is the choice where a wrong "
            "“in band” would cost most."
        ),
    )
    tight_weight = NumberField(
        low=1,
        high=10,
        label=_("Too tight counts this many times as much as too loose"),
        help_text=_("In the order of the shore's list only; 2 puts 3 points too tight level with 6 points too loose."),
    )
    reason = forms.CharField(
        label=_("Reason for the change"), max_length=300, help_text=_("A sentence for whoever reads the history later.")
    )

    SHARES = ("share", "band_low", "band_high", "ceiling", "lining_worn_share", "worn_line_share")
    PLAIN = (
        "interval_months", "lining_retest_months", "due_soon_days", "verification_slips", "calibration_months",
        "engineer_confirms", "master_releases", "decision_rule",
    )  # fmt: skip

    def __init__(self, *args: Any, standing: Policy, today: date, **kwargs: Any) -> None:
        kwargs["initial"] = {
            "valid_from": today,
            "tight_weight": f"{standing.tight_weight.normalize():f}",
            **{name: percent_digits(getattr(standing, name)) for name in self.SHARES},
            **{name: getattr(standing, name) for name in self.PLAIN},
            **{f"assumed_{one.name}": one.of(standing.assumed) for one in ASSUMED},
        }
        super().__init__(*args, **kwargs)
        for one in ASSUMED:
            self.fields[f"assumed_{one.name}"] = assumed_field(one)
        self.order_fields([name for name in self.fields if name != "reason"])

    @property
    def rules(self) -> list[forms.BoundField]:
        """The operator's rules, without the figures that are assumed and the reason."""
        return [field for field in self if not field.name.startswith("assumed_") and field.name != "reason"]

    @property
    def assumed(self) -> list[forms.BoundField]:
        return [field for field in self if field.name.startswith("assumed_")]

    def clean_tight_weight(self) -> Decimal:
        weight = Decimal(str(self.cleaned_data["tight_weight"]))
        if weight != weight.quantize(Decimal("0.01")):
            raise ValidationError(TWO_DECIMALS, code="decimals")
        return weight

    @property
    def settings(self) -> dict[str, Any]:
        """What the service takes as the settings of a policy."""
        given = {one.name: self._typed(one) for one in ASSUMED}
        plain = {name: self.cleaned_data[name] for name in (*self.SHARES, *self.PLAIN, "tight_weight")}
        return {**plain, "assumed": changed_only(given)}

    def _typed(self, one: Assumed) -> Typed:
        value = self.cleaned_data[f"assumed_{one.name}"]
        return value if isinstance(value, Typed) else one.read(str(value))


def assumed_field(one: Assumed) -> forms.Field:
    """The input for one assumed figure, in its one unit."""
    if one.is_count:
        return NumberField(whole=True, low=1, high=one.most_si, label=one.label, help_text=one.help)
    return QuantityField(
        units.kind_of(one.unit), unit=one.unit, low=0.0, high=one.most_si, label=one.label, help_text=one.help
    )


# --- people and access -------------------------------------------------------------------------------------------


class VesselTicks(forms.ModelMultipleChoiceField):
    widget = forms.CheckboxSelectMultiple
    several_companies = False

    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.name} · {obj.company.name}" if self.several_companies else str(obj.name)


class RoleForm(PlainWords, forms.Form):
    """A role in a company, with the vessels it reaches."""

    company = CompanyChoiceField(label=_("Company"), queryset=Company.objects.none())
    role = forms.ChoiceField(
        label=_("Role"), choices=[("", _("choose a role…")), *((r.value, capfirst(r.label)) for r in Role)]
    )
    until = DayField(
        label=_("Last day of the role"),
        required=False,
        help_text=_("Empty: no end. An auditor's role needs a last day."),
    )
    vessels = VesselTicks(
        label=_("Vessels"),
        queryset=Vessel.objects.none(),
        required=False,
        help_text=_("For ship's people and auditors. Shore roles reach every vessel of the company."),
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        company, vessels = self.fields["company"], self.fields["vessels"]
        assert isinstance(company, CompanyChoiceField)
        assert isinstance(vessels, VesselTicks)
        company.offer(self, "company", user, "edit_people")
        reach = Vessel.objects.for_user(user).filter(company__in=companies_where(user, "edit_people"))
        vessels.queryset = reach.select_related("company").order_by("company__name", "name")
        vessels.several_companies = company.empty_label is not None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        company, role, vessels = data.get("company"), data.get("role"), data.get("vessels")
        if role == Role.AUDITOR and not data.get("until") and "until" not in self.errors:
            self.add_error("until", AUDITOR_NEEDS_AN_END)
        if role and "vessels" not in self.errors:
            self._check_vessels(company, role, list(vessels or ()))
        return data

    def _check_vessels(self, company: Company | None, role: str, vessels: list[Vessel]) -> None:
        if role in SHORE_ROLES:
            if vessels:
                self.add_error("vessels", VESSEL_NOT_NEEDED)
            return
        if not vessels:
            self.add_error("vessels", VESSEL_NEEDED)
        for vessel in vessels:
            if company and vessel.company_id != company.pk:
                self.add_error("vessels", ValidationError(VESSEL_OF_OTHER_COMPANY, params={"vessel": vessel.name}))


class PersonForm(RoleForm):
    """A new person with a first role."""

    name = forms.CharField(label=_("Name"), max_length=120)
    rank = forms.CharField(label=_("Rank or position"), max_length=80, required=False)
    email = forms.EmailField(
        label=_("E-mail address"),
        max_length=254,
        error_messages={"invalid": _("Write it like name@example.com.")},
        help_text=_("The link to choose a password goes there. A person with an account keeps it, and gets the role."),
    )
    field_order = ["name", "rank", "email", "company", "role", "until", "vessels"]


class MembershipChoiceField(forms.ModelChoiceField):
    def label_from_instance(self, obj: Any) -> str:
        return f"{capfirst(obj.get_role_display())} · {obj.company.name}"


class AccessForm(PlainWords, forms.Form):
    """One more vessel for a role that this person holds."""

    membership = MembershipChoiceField(label=_("For the role"), queryset=Membership.objects.none())
    vessel = forms.ModelChoiceField(
        label=_("Vessel"), queryset=Vessel.objects.none(), empty_label=_("choose a vessel…")
    )
    until = DayField(label=_("Last day"), required=False, help_text=_("Empty: as long as the role lasts."))

    def __init__(self, *args: Any, user: User, person: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        companies = companies_where(user, "edit_people")
        roles, vessel = self.fields["membership"], self.fields["vessel"]
        assert isinstance(roles, forms.ModelChoiceField)
        assert isinstance(vessel, forms.ModelChoiceField)
        held = Membership.objects.current(person).filter(company__in=companies).exclude(role__in=SHORE_ROLES)
        roles.queryset = held.select_related("company")
        roles.empty_label = None
        vessel.queryset = Vessel.objects.for_user(user).filter(company__in=companies)


class EndForm(PlainWords, forms.Form):
    """The last day of a role or an access; opens with yesterday, which ends it at once."""

    until = DayField(label=_("Last day"), help_text=_("Yesterday ends it at once."))

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        kwargs["initial"] = {"until": today - timedelta(days=1)}
        super().__init__(*args, **kwargs)
