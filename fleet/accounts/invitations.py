"""The one-time link with which a new person chooses a password: sent to that person alone."""

from datetime import datetime

from allauth.account.forms import default_token_generator
from allauth.account.utils import user_pk_to_url_str
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import send_mail
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.accounts.models import Company, User
from fleet.core.audit import audit_write

HAS_A_PASSWORD = gettext_lazy(
    "This person has chosen a password already. Whoever forgot it asks for a new link on the sign-in page."
)


def password_link(user: User) -> str:
    """A link that works once and for a few days; whoever holds it can sign in as this person."""
    key = {"uidb36": user_pk_to_url_str(user), "key": default_token_generator.make_token(user)}
    return settings.SITE_URL + reverse("account_reset_password_from_key", kwargs=key)


def password_link_send(*, actor: User | None, user: User, company: Company, at: datetime | None = None) -> None:
    """Mail the link, and enter that it was sent; OSError (as smtplib raises it) when the mail could not go out."""
    if user.has_usable_password():
        raise ValidationError(HAS_A_PASSWORD)
    words = {
        "user": user,
        "company": company,
        "link": password_link(user),
        "days": settings.PASSWORD_RESET_TIMEOUT // 86400,
    }
    send_mail(
        subject=_("Your account for brake tests of %(company)s") % {"company": company.name},
        message=render_to_string("accounts/password_link_mail.txt", words),
        from_email=None,
        recipient_list=[user.email],
    )
    audit_write(actor=actor, action="password link sent", subject=user, company_id=company.pk, at=at)
