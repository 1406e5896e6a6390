"""Which roles of a company must sign in with a second factor."""

from collections.abc import Iterable
from datetime import datetime

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.accounts.models import Company, Role, SecondFactorDuty, User
from fleet.core.audit import audit_write, audited

SAME_AS_BEFORE = _("Nothing is different from what stands now, so nothing was recorded.")


def duties_of(company: Company) -> list[str]:
    return list(company.second_factor_duties.values_list("role", flat=True))


@audited()
def second_factor_require(
    *, actor: User | None, company: Company, roles: Iterable[str], at: datetime | None = None
) -> list[str]:
    """Set the roles of this company that need a second factor; all others do not."""
    Company.objects.select_for_update().get(pk=company.pk)
    before, after = duties_of(company), sorted({Role(role).value for role in roles})
    if before == after:
        raise ValidationError(SAME_AS_BEFORE)
    company.second_factor_duties.exclude(role__in=after).delete()
    SecondFactorDuty.objects.bulk_create(
        SecondFactorDuty(company=company, role=role) for role in after if role not in before
    )
    audit_write(
        actor=actor,
        action="second factor required",
        subject=company,
        company_id=company.pk,
        before={"roles": before},
        after={"roles": after},
        at=at,
    )
    return after
