"""What the policy pages show: every policy with what it changed, and what a new one would change."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fleet.accounts.models import Company
from fleet.vessels.models import Policy, Vessel
from fleet.vessels.policy_rules import Setting, in_force, policy_changes, policy_in_force, policy_settings


@dataclass(frozen=True)
class PolicyRow:
    """One policy of the history; `state` is in_force, coming or past."""

    policy: Policy
    changes: list[str]
    state: str


@dataclass(frozen=True)
class CompanyPolicies:
    company: Company
    standing: Policy
    settings: list[Setting]
    company_rows: list[PolicyRow]
    vessel_rows: list[PolicyRow]

    @property
    def share(self) -> str:
        return self.settings[0].text

    @property
    def band(self) -> str:
        return self.settings[1].text


def company_policies(company: Company, policies: Sequence[Policy], today: date) -> CompanyPolicies:
    """The rows of one company, newest first, each beside what stood in its place before."""
    common = Policy(company=company, valid_from=today, reason="common practice")
    standing = in_force(policies, None, today) or common
    in_order = sorted(policies, key=lambda row: (row.valid_from, row.created_at))
    rows = []
    for place, policy in enumerate(in_order):
        before = in_force(in_order[:place], policy.vessel, policy.valid_from) or common
        now = in_force(policies, policy.vessel, today)
        state = "in_force" if now == policy else "coming" if policy.valid_from > today else "past"
        rows.append(PolicyRow(policy, policy_changes(before, policy), state))
    rows.reverse()
    return CompanyPolicies(
        company=company,
        standing=standing,
        settings=policy_settings(standing),
        company_rows=[row for row in rows if row.policy.vessel_id is None],
        vessel_rows=[row for row in rows if row.policy.vessel_id is not None],
    )


@dataclass(frozen=True)
class Proposal:
    """What a policy would change, for a person to read before it is recorded."""

    policy: Policy
    changes: list[str]
    fingerprint: str
    followed_by: Policy | None
    untouched: list[Vessel]


def proposal_of(policy: Policy) -> Proposal:
    """The words about a checked policy; the fingerprint ties the reading of them to exactly these settings."""
    company, vessel, start = policy.company, policy.vessel, policy.valid_from
    same_place = Policy.objects.filter(company=company, vessel=vessel, valid_from__gt=start)
    untouched = Vessel.objects.filter(policies__company=company).distinct() if vessel is None else Vessel.objects.none()
    changes = policy_changes(policy_in_force(company, vessel, start), policy)
    seen = "|".join([start.isoformat(), *changes, *(setting.text for setting in policy_settings(policy))])
    return Proposal(
        policy=policy,
        changes=changes,
        fingerprint=hashlib.sha256(seen.encode()).hexdigest()[:24],
        followed_by=same_place.order_by("valid_from", "-created_at").first(),
        untouched=list(untouched),
    )
