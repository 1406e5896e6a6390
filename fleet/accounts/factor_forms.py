"""The sign-in library's forms of a second factor, with our words."""

from typing import Any

from allauth.mfa.base.forms import AuthenticateForm, ReauthenticateForm
from allauth.mfa.totp.forms import ActivateTOTPForm
from allauth.mfa.webauthn.forms import (
    AddWebAuthnForm,
    AuthenticateWebAuthnForm,
    EditWebAuthnForm,
    LoginWebAuthnForm,
    ReauthenticateWebAuthnForm,
)
from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from fleet.core.forms import PlainWords

DIGITS = {"inputmode": "numeric", "autocomplete": "one-time-code"}


def _dress(field: forms.Field, label: Any, hint: Any, **attributes: str) -> None:
    field.label, field.help_text = label, hint
    field.widget.attrs.pop("placeholder", None)
    field.widget.attrs.update(attributes)


class AppCodeForm(PlainWords, ActivateTOTPForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _dress(
            self.fields["code"], _("Code that the app shows"), _("Six digits; they change every half minute."), **DIGITS
        )


class SecondStepForm(PlainWords, AuthenticateForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        hint = _("Six digits from your authenticator app, or one of your recovery codes.")
        _dress(self.fields["code"], _("Code"), hint, **DIGITS)


class CodeOnceMoreForm(PlainWords, ReauthenticateForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        hint = _("Six digits from your authenticator app, or one of your recovery codes.")
        _dress(self.fields["code"], _("Code"), hint, **DIGITS)


NO_PASSKEY = _("This passkey was not recognised. Try again, or sign in with the password.")
# What the library's reading of a passkey raises for words that no browser sends.
MALFORMED = (KeyError, TypeError, ValueError, AttributeError, IndexError)


class OwnPasskeyForm(AuthenticateWebAuthnForm):
    def clean_credential(self) -> Any:
        try:
            return super().clean_credential()
        except ValidationError:
            raise
        except MALFORMED as error:
            raise ValidationError(NO_PASSKEY) from error


class PasskeySignInForm(OwnPasskeyForm, LoginWebAuthnForm):
    """The way in without a password."""


class PasskeyOnceMoreForm(OwnPasskeyForm, ReauthenticateWebAuthnForm):
    """Shown once more before a change."""


class PasskeyForm(PlainWords, AddWebAuthnForm):
    """The key itself is made in the browser and arrives in the hidden field."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        hint = _("So that you know later which it is: my phone, the key in the drawer.")
        _dress(self.fields["name"], _("What you call it"), hint, maxlength="60", autocomplete="off")
        self.fields["name"].initial = self.initial["name"] = ""
        words = _(
            "Without the tick it is asked for after the password. With it, the device must check a finger or a PIN."
        )
        _dress(self.fields["passwordless"], _("Sign in with it alone, without the password"), words)

    def clean(self) -> dict[str, Any]:
        try:
            return dict(super().clean())
        except ValidationError:
            raise
        except MALFORMED as error:
            raise ValidationError(NO_PASSKEY) from error


class PasskeyNameForm(PlainWords, EditWebAuthnForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _dress(self.fields["name"], _("What you call it"), "", maxlength="60", autocomplete="off")
