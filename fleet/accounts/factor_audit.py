"""What a person changes about their second factor, in the audit of each company they work for."""

from typing import Any

from allauth.mfa.models import Authenticator
from allauth.mfa.signals import authenticator_added, authenticator_removed, authenticator_reset

from fleet.accounts.models import Membership, User
from fleet.core.audit import audit_write, audited

WORDS = {
    Authenticator.Type.TOTP: "authenticator app",
    Authenticator.Type.WEBAUTHN: "passkey",
    Authenticator.Type.RECOVERY_CODES: "recovery codes",
}


def listen() -> None:
    """The library changes these rows itself and tells nobody in any other way."""
    authenticator_added.connect(_added, dispatch_uid="factor added")
    authenticator_removed.connect(_removed, dispatch_uid="factor removed")
    authenticator_reset.connect(_renewed, dispatch_uid="recovery codes renewed")


def _added(sender: Any, user: User, authenticator: Authenticator, **rest: Any) -> None:
    _write(user, "second factor added", authenticator)


def _removed(sender: Any, user: User, authenticator: Authenticator, **rest: Any) -> None:
    _write(user, "second factor removed", authenticator)


def _renewed(sender: Any, user: User, authenticator: Authenticator, **rest: Any) -> None:
    _write(user, "recovery codes renewed", authenticator)


@audited()
def _write(user: User, action: str, authenticator: Authenticator) -> None:
    kind = WORDS[Authenticator.Type(authenticator.type)]
    companies = Membership.objects.current(user).order_by("company").values_list("company", flat=True).distinct()
    for company in companies:
        audit_write(actor=user, action=action, subject=user, company_id=company, after={"kind": kind})
