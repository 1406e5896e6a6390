"""Writes of vessels, policies and access; each leaves one audit entry in its own transaction."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import SHORE_ROLES, Company, Membership, User
from fleet.accounts.services import membership_end, membership_give, outlasts, person_add
from fleet.core.audit import audit_write, audited
from fleet.core.typed import Typed
from fleet.core.writing import day_of, save_audited, set_fields, snapshot, stamp_created
from fleet.vessels.models import BaseLoadKind, Policy, Vessel, VesselAccess
from fleet.vessels.policy_rules import policy_in_force, policy_problems

VESSEL_FIELDS = (
    "name", "imo_number", "base_load", "base_load_kind", "base_load_document", "next_dry_docking", "in_fleet",
)  # fmt: skip
POLICY_FIELDS = (
    "share", "band_low", "band_high", "ceiling", "decision_rule", "interval_months", "lining_retest_months",
    "due_soon_days", "verification_slips", "calibration_months", "lining_worn_share", "worn_line_share",
    "engineer_confirms", "master_releases", "tight_weight", "assumed",
)  # fmt: skip

IMO_NUMBER_TAKEN = _("Another vessel of this company has this IMO number. Look in the list of vessels.")
NO_REASON = _("Say why, in a sentence: whoever reads the history later will ask.")
NOTHING_CHANGED = _("Nothing is different from what stands now, so nothing was recorded.")
OTHER_COMPANY = _("This vessel belongs to another company than the role.")
SHORE_SEES_ALL = _("This role reaches every vessel of the company; no vessel needs to be named for it.")
ROLE_IS_OVER = _("This role has ended. Give the role again first.")
UNTIL_IS_PAST = _("This day has passed. Give today or a later day, or leave it empty for no end.")
ACCESS_HELD = _("This role reaches the vessel already, for as long as you asked or longer.")
ACCESS_HAS_ENDED = _("This access has ended already.")
END_TOO_EARLY = _("Access can end yesterday at the earliest: what was done before that day stays as it was.")
END_NOT_SOONER = _("The access ends on that day or earlier already. To lengthen it, give it again.")
VESSEL_OF_OTHER_COMPANY = _("A policy for one vessel belongs to the company that the vessel belongs to.")
VALID_FROM_PAST = _(
    "A later policy cannot reach back: tests made since were judged by the one before. Give today or a later day."
)


# --- vessels -----------------------------------------------------------------------------------------------------


@audited()
def vessel_register(
    *,
    actor: User | None,
    company: Company,
    name: str,
    imo_number: str,
    base_load: Typed,
    base_load_document: str,
    base_load_kind: str = BaseLoadKind.SDMBL,
    next_dry_docking: date | None = None,
    at: datetime | None = None,
) -> Vessel:
    vessel = Vessel(
        company=company,
        name=name.strip(),
        imo_number=imo_number.strip(),
        base_load=base_load,
        base_load_kind=base_load_kind,
        base_load_document=base_load_document.strip(),
        next_dry_docking=next_dry_docking,
    )
    _check_imo_number_is_free(vessel)
    save_audited(
        vessel, actor=actor, action="vessel registered", company_id=company.pk, vessel_id=vessel.pk, before=None, at=at
    )
    return vessel


@audited()
def vessel_change(
    *, actor: User | None, vessel: Vessel, changes: Mapping[str, Any], reason: str, at: datetime | None = None
) -> Vessel:
    """Change the named fields of a vessel (VESSEL_FIELDS); the audit keeps what stood before."""
    if not reason.strip():
        raise ValidationError({"reason": NO_REASON})
    row = Vessel.objects.select_for_update().get(pk=vessel.pk)
    before = snapshot(row)
    set_fields(row, VESSEL_FIELDS, changes)
    _check_imo_number_is_free(row)
    changed = save_audited(
        row,
        actor=actor,
        action="vessel changed",
        company_id=row.company_id,
        vessel_id=row.pk,
        before=before,
        reason=reason.strip(),
        at=at,
    )
    if not changed:
        raise ValidationError(NOTHING_CHANGED)
    return row


def _check_imo_number_is_free(vessel: Vessel) -> None:
    twins = Vessel.objects.filter(company=vessel.company_id, imo_number=vessel.imo_number).exclude(pk=vessel.pk)
    if twins.exists():
        raise ValidationError({"imo_number": IMO_NUMBER_TAKEN})


# --- policy ------------------------------------------------------------------------------------------------------


def policy_proposed(
    *,
    actor: User | None,
    company: Company,
    valid_from: date,
    reason: str,
    settings: Mapping[str, Any],
    vessel: Vessel | None = None,
    at: datetime | None = None,
) -> Policy:
    """A policy checked against every rule but not recorded; what `settings` leaves out stays as in force."""
    if vessel is not None and vessel.company_id != company.pk:
        raise ValidationError(VESSEL_OF_OTHER_COMPANY)
    standing = policy_in_force(company, vessel, valid_from)
    policy = Policy(company=company, vessel=vessel, valid_from=valid_from, reason=reason.strip(), author=actor)
    for name in POLICY_FIELDS:
        setattr(policy, name, settings.get(name, getattr(standing, name)))
    problems: dict[str, Any] = policy_problems(policy)
    if not policy.reason:
        problems["reason"] = NO_REASON
    own = Policy.objects.filter(company=company, vessel=vessel)
    if valid_from < day_of(at) and own.exists():
        problems["valid_from"] = VALID_FROM_PAST
    if problems:
        raise ValidationError(problems)
    same_place = not standing.is_common_practice and standing.vessel_id == policy.vessel_id
    if same_place and _settings(standing) == _settings(policy):
        raise ValidationError(NOTHING_CHANGED)
    policy.full_clean()
    return policy


@audited()
def policy_set(
    *,
    actor: User | None,
    company: Company,
    valid_from: date,
    reason: str,
    settings: Mapping[str, Any],
    vessel: Vessel | None = None,
    at: datetime | None = None,
) -> Policy:
    """Record the rules of a company, or of one vessel of it, from a date on."""
    policy = policy_proposed(
        actor=actor, company=company, vessel=vessel, valid_from=valid_from, reason=reason, settings=settings, at=at
    )
    before = _settings(policy_in_force(company, vessel, valid_from))
    policy.save()
    stamp_created(policy, at)
    audit_write(
        actor=actor,
        action="policy set",
        subject=policy,
        company_id=company.pk,
        vessel_id=vessel.pk if vessel else None,
        before=before,
        after={**_settings(policy), "valid_from": valid_from.isoformat()},
        reason=policy.reason,
        at=at,
    )
    return policy


def _settings(policy: Policy) -> dict[str, Any]:
    """The settings as the audit keeps them; 0.6 and 0.6000 are the same share."""
    values = {name: getattr(policy, name) for name in POLICY_FIELDS}
    return {name: f"{v.normalize():f}" if isinstance(v, Decimal) else v for name, v in values.items()}


# --- access ------------------------------------------------------------------------------------------------------


@audited()
def access_give(
    *,
    actor: User | None,
    membership: Membership,
    vessel: Vessel,
    until: date | None = None,
    at: datetime | None = None,
) -> VesselAccess:
    """Let a ship's role or an auditor's role reach one vessel; lengthens or takes up again what was given before."""
    today = day_of(at)
    if vessel.company_id != membership.company_id:
        raise ValidationError({"vessel": OTHER_COMPANY})
    if membership.role in SHORE_ROLES:
        raise ValidationError({"vessel": SHORE_SEES_ALL})
    if membership.until is not None and membership.until < today:
        raise ValidationError({"membership": ROLE_IS_OVER})
    if until is not None and until < today:
        raise ValidationError({"until": UNTIL_IS_PAST})
    held = VesselAccess.objects.select_for_update().filter(membership=membership, vessel=vessel).first()
    if held and not outlasts(until, held.until):
        raise ValidationError({"vessel": ACCESS_HELD})
    access = held or VesselAccess(membership=membership, vessel=vessel)
    before = _said(access) if held else None
    access.until = until
    access.full_clean()
    access.save()
    _audit_access(actor=actor, action="vessel access given", access=access, before=before, at=at)
    return access


@audited()
def access_end(
    *, actor: User | None, access: VesselAccess, until: date, reason: str = "", at: datetime | None = None
) -> VesselAccess:
    """Set the last day on which a role reaches a vessel; yesterday ends it at once."""
    row = VesselAccess.objects.select_for_update().get(pk=access.pk)
    today = day_of(at)
    if row.until is not None and row.until < today:
        raise ValidationError({"until": ACCESS_HAS_ENDED})
    if until < today - timedelta(days=1):
        raise ValidationError({"until": END_TOO_EARLY})
    if not outlasts(row.until, until):
        raise ValidationError({"until": END_NOT_SOONER})
    before = _said(row)
    row.until = until
    row.full_clean()
    row.save()
    _audit_access(actor=actor, action="vessel access ended", access=row, before=before, reason=reason, at=at)
    return row


def _audit_access(*, access: VesselAccess, **entry: Any) -> None:
    company_id = access.membership.company_id
    audit_write(subject=access, company_id=company_id, vessel_id=access.vessel_id, after=_said(access), **entry)


def _said(access: VesselAccess) -> dict[str, Any]:
    return {"vessel": access.vessel.name, "until": access.until.isoformat() if access.until else None}


# --- people ------------------------------------------------------------------------------------------------------


@audited()
def role_admit(
    *,
    actor: User | None,
    user: User,
    company: Company,
    role: str,
    vessels: Iterable[Vessel] = (),
    until: date | None = None,
    at: datetime | None = None,
) -> Membership:
    """Give a role and the vessels it reaches in one act."""
    membership = membership_give(actor=actor, user=user, company=company, role=role, until=until, at=at)
    for vessel in vessels:
        access_give(actor=actor, membership=membership, vessel=vessel, at=at)
    return membership


@audited()
def person_admit(
    *,
    actor: User | None,
    email: str,
    name: str,
    rank: str = "",
    company: Company,
    role: str,
    vessels: Iterable[Vessel] = (),
    until: date | None = None,
    at: datetime | None = None,
) -> tuple[User, bool]:
    """Give a role to whoever has this e-mail address, making the account where there is none; True when it was made."""
    user = User.objects.filter(email__iexact=email.strip()).first()
    made = user is None
    if user is None:
        user = person_add(actor=actor, company=company, email=email, name=name, rank=rank, at=at)
    role_admit(actor=actor, user=user, company=company, role=role, vessels=vessels, until=until, at=at)
    return user, made


@audited()
def role_end(
    *, actor: User | None, membership: Membership, until: date, reason: str = "", at: datetime | None = None
) -> Membership:
    """End a role and with it the vessels named for it, so that taking the role up again opens none of them."""
    ended = membership_end(actor=actor, membership=membership, until=until, reason=reason, at=at)
    for access in ended.vessel_accesses.current(day_of(at)):
        if outlasts(access.until, until):
            access_end(actor=actor, access=access, until=until, reason=reason, at=at)
    return ended
