"""Writes of companies, people and roles; each leaves one audit entry in its own transaction."""

from datetime import date, datetime, timedelta

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import Company, Membership, Role, User
from fleet.core.audit import audit_write, audited
from fleet.core.writing import day_of

EMAIL_TAKEN = _("Somebody already has an account with this e-mail address.")
COMPANY_NAME_TAKEN = _("A company of this name exists already.")
SHORT_CODE_TAKEN = _("Another company uses this short code. Certificate numbers begin with it, so choose another.")
AUDITOR_NEEDS_AN_END = _("An auditor's access ends on a date: say the last day.")
UNTIL_IS_PAST = _("This day has passed. Give today or a later day, or leave the role as it is.")
ROLE_ALREADY_HELD = _("This person holds this role already, for as long as you asked or longer.")
ROLE_HAS_ENDED = _("This role has ended already.")
END_TOO_EARLY = _(
    "A role can end yesterday at the earliest: what the person did before that day was done in this role."
)
END_NOT_SOONER = _("The role ends on that day or earlier already. To lengthen it, give the role again.")
LAST_ADMINISTRATOR = _(
    "This is the last administrator of the company whose role has no end. Make somebody else administrator without "
    "an end first, then end this role."
)


def outlasts(until: date | None, other: date | None) -> bool:
    """Whether one end lies after another; no end is the last of all."""
    return other is not None and (until is None or until > other)


@audited()
def company_add(
    *, actor: User | None, name: str, short_code: str, is_demo: bool = False, at: datetime | None = None
) -> Company:
    company = Company(name=name.strip(), short_code=short_code.strip().upper(), is_demo=is_demo)
    problems = {}
    if Company.objects.filter(name__iexact=company.name).exists():
        problems["name"] = COMPANY_NAME_TAKEN
    if Company.objects.filter(short_code=company.short_code).exists():
        problems["short_code"] = SHORT_CODE_TAKEN
    if problems:
        raise ValidationError(problems)
    company.full_clean()
    company.save()
    after = {"name": company.name, "short_code": company.short_code, "is_demo": is_demo}
    audit_write(actor=actor, action="company added", subject=company, company_id=company.pk, after=after, at=at)
    return company


@audited()
def person_add(
    *,
    actor: User | None,
    company: Company,
    email: str,
    name: str,
    rank: str = "",
    password: str | None = None,
    at: datetime | None = None,
) -> User:
    """Make an account, entered in the audit of the company that asked for it; without a password it has none."""
    if User.objects.filter(email__iexact=email.strip()).exists():
        raise ValidationError({"email": EMAIL_TAKEN})
    user = User.objects.create_user(email.strip(), name.strip(), password, rank=rank.strip())
    after = {"name": user.name, "rank": user.rank, "email": user.email}
    audit_write(actor=actor, action="person added", subject=user, company_id=company.pk, after=after, at=at)
    return user


@audited()
def membership_give(
    *,
    actor: User | None,
    user: User,
    company: Company,
    role: str,
    until: date | None = None,
    at: datetime | None = None,
) -> Membership:
    """Give a role, lengthen one that is held, or take up again one that has ended."""
    if role == Role.AUDITOR and until is None:
        raise ValidationError({"until": AUDITOR_NEEDS_AN_END})
    if until is not None and until < day_of(at):
        raise ValidationError({"until": UNTIL_IS_PAST})
    held = Membership.objects.select_for_update().filter(user=user, company=company, role=role).first()
    if held and not outlasts(until, held.until):
        raise ValidationError({"role": ROLE_ALREADY_HELD})
    membership = held or Membership(user=user, company=company, role=role)
    before = _said(membership) if held else None
    membership.until = until
    membership.full_clean()
    membership.save()
    audit_write(
        actor=actor,
        action="role given",
        subject=membership,
        company_id=company.pk,
        before=before,
        after=_said(membership),
        at=at,
    )
    return membership


@audited()
def membership_end(
    *, actor: User | None, membership: Membership, until: date, reason: str = "", at: datetime | None = None
) -> Membership:
    """Set the last day of a role; yesterday ends it at once."""
    # The company's row is the lock: two administrators may not end each other at the same moment.
    company = Company.objects.select_for_update().get(pk=membership.company_id)
    row = Membership.objects.select_for_update().get(pk=membership.pk)
    today = day_of(at)
    if row.until is not None and row.until < today:
        raise ValidationError({"until": ROLE_HAS_ENDED})
    if until < today - timedelta(days=1):
        raise ValidationError({"until": END_TOO_EARLY})
    if not outlasts(row.until, until):
        raise ValidationError({"until": END_NOT_SOONER})
    if row.role == Role.ADMINISTRATOR and not _another_administrator(company, row):
        raise ValidationError({"until": LAST_ADMINISTRATOR})
    before = _said(row)
    row.until = until
    row.full_clean()
    row.save()
    audit_write(
        actor=actor,
        action="role ended",
        subject=row,
        company_id=company.pk,
        before=before,
        after=_said(row),
        reason=reason,
        at=at,
    )
    return row


def _another_administrator(company: Company, leaving: Membership) -> bool:
    """Whether somebody else who may sign in stays administrator for good."""
    for_good = company.memberships.filter(role=Role.ADMINISTRATOR, until__isnull=True, user__is_active=True)
    return for_good.exclude(pk=leaving.pk).exists()


def _said(membership: Membership) -> dict[str, str | None]:
    return {
        "person": membership.user.name,
        "role": membership.role,
        "until": membership.until.isoformat() if membership.until else None,
    }
