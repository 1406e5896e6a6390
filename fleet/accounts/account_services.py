"""An administrator's writes on one account: a name put right, the account closed or opened, a lost factor forgotten."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from allauth.mfa.models import Authenticator
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import Company, Membership, Role, User
from fleet.accounts.sign_ins import companies_of, sign_ins_end
from fleet.core.audit import audit_write, audited

NO_REASON = _("Say why, in a sentence: whoever reads the history later will ask.")
SAME_AS_BEFORE = _("Nothing is different from what stands now, so nothing was recorded.")
NOT_ONESELF = _("Nobody closes their own account. Another administrator can.")
ANOTHER_COMPANY = _(
    "This person works for another company too, and the account is the same there. End the roles here instead."
)
LAST_ADMINISTRATOR = _(
    "This is the last administrator of the company who may sign in. Make somebody else administrator first."
)
NO_FACTOR = _("This person has no second factor.")


@audited()
def person_correct(
    *,
    actor: User,
    user: User,
    companies: Iterable[Company],
    name: str,
    rank: str,
    reason: str,
    at: datetime | None = None,
) -> User:
    """Put name and rank right; what was signed under the old name keeps it."""
    row = _of_these_companies(user, companies, reason)
    before = {"name": row.name, "rank": row.rank}
    row.name, row.rank = name.strip(), rank.strip()
    after = {"name": row.name, "rank": row.rank}
    if before == after:
        raise ValidationError(SAME_AS_BEFORE)
    row.full_clean(exclude=["password"])
    row.save(update_fields=["name", "rank"])
    _enter(actor, companies, "person corrected", row, before, after, reason, at)
    return row


@audited()
def account_close(
    *, actor: User, user: User, companies: Iterable[Company], reason: str, at: datetime | None = None
) -> User:
    """The person may not sign in any more, and is signed out everywhere at once; records and roles stay."""
    if user.pk == actor.pk:
        raise ValidationError(NOT_ONESELF)
    companies = list(companies)
    list(Company.objects.select_for_update().filter(pk__in=[company.pk for company in companies]).order_by("pk"))
    row = _of_these_companies(user, companies, reason)
    if not row.is_active:
        raise ValidationError(SAME_AS_BEFORE)
    for company in companies:
        administrators = Membership.objects.filter(company=company, role=Role.ADMINISTRATOR, until__isnull=True)
        able = administrators.filter(user__is_active=True)
        if able.filter(user=row).exists() and not able.exclude(user=row).exists():
            raise ValidationError(LAST_ADMINISTRATOR)
    row.is_active = False
    row.save(update_fields=["is_active"])
    _enter(actor, companies, "account closed", row, {"may_sign_in": True}, {"may_sign_in": False}, reason, at)
    sign_ins_end(actor=actor, user=row, reason=reason)
    return row


@audited()
def account_open(
    *, actor: User, user: User, companies: Iterable[Company], reason: str, at: datetime | None = None
) -> User:
    row = _of_these_companies(user, companies, reason)
    if row.is_active:
        raise ValidationError(SAME_AS_BEFORE)
    row.is_active = True
    row.save(update_fields=["is_active"])
    _enter(actor, companies, "account opened", row, {"may_sign_in": False}, {"may_sign_in": True}, reason, at)
    return row


@audited()
def second_factor_forget(
    *, actor: User, user: User, companies: Iterable[Company], reason: str, at: datetime | None = None
) -> User:
    """For a person whose phone and codes are lost: the password signs in again, until a new factor is set up."""
    row = _of_these_companies(user, companies, reason)
    kinds = sorted(Authenticator.objects.filter(user_id=row.pk).values_list("type", flat=True))
    if not kinds:
        raise ValidationError(NO_FACTOR)
    Authenticator.objects.filter(user_id=row.pk).delete()
    _enter(actor, companies, "second factor forgotten", row, {"kinds": kinds}, {"kinds": []}, reason, at)
    sign_ins_end(actor=actor, user=row, reason=reason)
    return row


def _of_these_companies(user: User, companies: Iterable[Company], reason: str) -> User:
    """The row, locked; refused where the person also works for a company that is not among these."""
    if not reason.strip():
        raise ValidationError({"reason": NO_REASON})
    row = User.objects.select_for_update().get(pk=user.pk)
    if set(companies_of(row)) - {company.pk for company in companies}:
        raise ValidationError(ANOTHER_COMPANY)
    return row


def _enter(
    actor: User,
    companies: Iterable[Company],
    action: str,
    user: User,
    before: dict[str, Any],
    after: dict[str, Any],
    reason: str,
    at: datetime | None,
) -> None:
    for company in companies:
        if not company.memberships.filter(user=user).exists():
            continue
        audit_write(
            actor=actor,
            action=action,
            subject=user,
            company_id=company.pk,
            before=before,
            after=after,
            reason=reason.strip(),
            at=at,
        )
