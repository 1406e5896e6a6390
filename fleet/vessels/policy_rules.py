"""The rules a policy must keep, which one stands on a day, and what is different between two: in words."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from fleet.accounts.models import Company
from fleet.calculation import units
from fleet.vessels.assumed import ASSUMED, Assumed, set_by_operator
from fleet.vessels.models import DecisionRule, Policy, Vessel

# The design holding load of a brake and the least share that the entry ranges allow: fractions of the base load.
HOLDING_SHARE = Decimal("0.80")
LEAST_SHARE = Decimal("0.40")

SHARE_OUTSIDE = gettext_lazy(
    "The share must lie between 40 % and 80 %: 80 % is the brake's design holding load, 60 % is common."
)
BAND_LOW_ABOVE = gettext_lazy("The low side of the band must lie below the share, or no result could be in band.")
BAND_HIGH_BELOW = gettext_lazy("The high side of the band must lie above the share, or no result could be in band.")
BAND_TOO_HIGH = gettext_lazy("The band may not reach above 80 %, the brake's design holding load.")
CEILING_OUTSIDE = gettext_lazy("The ceiling must lie between the share aimed at and 80 %, the design holding load.")
WORN_LINE_OUTSIDE = gettext_lazy("Give a share between 50 % and 95 %: at 100 % the line parts as the brake slips.")
AT_LEAST_ONE = gettext_lazy("Give at least 1.")
LINING_OUTSIDE = gettext_lazy("Give a share between 10 % and 90 %; 40 % is common where the maker says nothing else.")
ASSUMED_OUTSIDE = gettext_lazy("Give a figure %(least)s up to %(most)s.")
WEIGHT_OUTSIDE = gettext_lazy("Give a weight from 1 to 10: too tight never counts less than too loose.")


def policy_problems(policy: Policy) -> dict[str, str | Promise]:
    """What is wrong with a policy, by field; empty when every rule is kept."""
    problems: dict[str, str | Promise] = {}
    if not LEAST_SHARE <= policy.share <= HOLDING_SHARE:
        problems["share"] = SHARE_OUTSIDE
    if policy.band_low >= policy.share:
        problems["band_low"] = BAND_LOW_ABOVE
    if policy.band_high > HOLDING_SHARE:
        problems["band_high"] = BAND_TOO_HIGH
    elif policy.band_high <= policy.share:
        problems["band_high"] = BAND_HIGH_BELOW
    if not policy.share <= policy.ceiling <= HOLDING_SHARE:
        problems["ceiling"] = CEILING_OUTSIDE
    for name in ("interval_months", "due_soon_days", "verification_slips", "calibration_months"):
        if getattr(policy, name) < 1:
            problems[name] = AT_LEAST_ONE
    if not Decimal("0.1") <= policy.lining_worn_share <= Decimal("0.9"):
        problems["lining_worn_share"] = LINING_OUTSIDE
    if not Decimal("0.5") <= policy.worn_line_share <= Decimal("0.95"):
        problems["worn_line_share"] = WORN_LINE_OUTSIDE
    if not 1 <= policy.tight_weight <= 10:
        problems["tight_weight"] = WEIGHT_OUTSIDE
    for one in ASSUMED:
        if not one.fits(one.of(policy.assumed)):
            least = _("above zero") if not one.may_be_zero else _("from zero")
            problems[f"assumed_{one.name}"] = ASSUMED_OUTSIDE % {"least": least, "most": one.read(one.most)}
    return problems


def policy_in_force(company: Company, vessel: Vessel | None, on: date) -> Policy:
    """The policy that stands for a company, or for one vessel of it, on a day; common practice where none does."""
    rows = Policy.objects.filter(company=company, valid_from__lte=on)
    return in_force(rows, vessel, on) or Policy(company=company, valid_from=on, reason="common practice")


def in_force(rows: Iterable[Policy], vessel: Vessel | None, on: date) -> Policy | None:
    """Of the policies of one company, the one that stands on a day: the vessel's own before the company's."""
    past = sorted((row for row in rows if row.valid_from <= on), key=lambda row: (row.valid_from, row.created_at))
    own = [row for row in past if vessel is not None and row.vessel_id == vessel.pk]
    general = [row for row in past if row.vessel_id is None]
    found = own or general
    return found[-1] if found else None


@dataclass(frozen=True)
class Setting:
    """One setting of a policy as people read it."""

    name: str
    label: str
    text: str
    note: str = ""

    @property
    def is_assumed(self) -> bool:
        """Whether it is a figure that stands in for what nobody measured."""
        return self.name.startswith("assumed_")


def percent(share: Decimal) -> str:
    """60 % for 0.60, with no more decimals than it has."""
    # A space that does not break: the figure and its sign stay on one line.
    return f"{percent_digits(share)}\u00a0{units.label('percent')}"


def percent_digits(share: Decimal) -> str:
    """60 for 0.60, as a person would type it."""
    return f"{(share * 100).normalize():f}"


def policy_settings(policy: Policy) -> list[Setting]:
    """Every setting of a policy, each in words, in the order in which people ask for them."""
    band = {"low": percent_digits(policy.band_low), "high": percent(policy.band_high)}
    yes_no = {True: _("yes"), False: _("no")}
    not_standard = _("operator's setting, not from a standard")
    weight = f"{policy.tight_weight.normalize():f}"
    return [
        Setting("share", _("share of the base load at which the brake is to render"), percent(policy.share)),
        Setting("band", _("acceptance band"), _("%(low)s to %(high)s") % band, not_standard),
        Setting("ceiling", _("ceiling: stop pumping at this share"), percent(policy.ceiling)),
        Setting("decision_rule", _("decision rule"), str(DecisionRule(policy.decision_rule).label)),
        Setting("interval_months", _("a test is due after"), _months(policy.interval_months)),
        Setting(
            "lining_retest_months",
            _("the first test of a new lining is followed by another after"),
            _months(policy.lining_retest_months) if policy.lining_retest_months else _("no early retest"),
        ),
        Setting("due_soon_days", _("and is announced"), _days_ahead(policy.due_soon_days)),
        Setting("verification_slips", _("least number of verification slips"), str(policy.verification_slips)),
        Setting("calibration_months", _("a gauge calibration lasts"), _months(policy.calibration_months)),
        Setting("lining_worn_share", _("renew the lining when worn by"), percent(policy.lining_worn_share)),
        Setting(
            "worn_line_share",
            _("the brake may render at this share of what is left of a worn line, at most"),
            percent(policy.worn_line_share),
            _("operator's setting, not from a standard"),
        ),
        Setting("engineer_confirms", _("chief engineer confirms gauge and jack"), yes_no[policy.engineer_confirms]),
        Setting("master_releases", _("master releases before sending"), yes_no[policy.master_releases]),
        Setting("tight_weight", _("too tight counts, against too loose"), _("%(weight)s times") % {"weight": weight}),
        *(_assumed(policy, one) for one in ASSUMED),
    ]


def _assumed(policy: Policy, one: Assumed) -> Setting:
    is_own = set_by_operator(policy.assumed, one.name)
    note = _("assumed; the operator's figure") if is_own else _("assumed; ours, common practice, no published source")
    return Setting(f"assumed_{one.name}", str(one.label), str(one.of(policy.assumed)), note)


def policy_changes(before: Policy, after: Policy) -> list[str]:
    """What is different in the second, a line of words each."""
    pairs = zip(policy_settings(before), policy_settings(after), strict=True)
    return [
        _("%(label)s: %(new)s instead of %(old)s") % {"label": new.label, "old": old.text, "new": new.text}
        for old, new in pairs
        if old.text != new.text
    ]


def policy_source(policy: Policy) -> str:
    """Where a policy comes from, in words."""
    if policy.is_common_practice:
        return _("common practice, not from a standard")
    return _("the vessel's own policy") if policy.vessel_id else _("the company's policy")


def _months(count: Any) -> str:
    return ngettext("%(count)s month", "%(count)s months", count) % {"count": count}


def _days_ahead(count: Any) -> str:
    return ngettext("%(count)s day ahead", "%(count)s days ahead", count) % {"count": count}
