"""Second factors as this product keeps them: secrets sealed at rest, the QR code drawn here."""

import base64

from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from cryptography.fernet import Fernet, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

from fleet.accounts.second_factor import has_another_factor, must_have_factor
from fleet.core.qr import qr_svg

PURPOSE = b"fleet.accounts second factor, 1"


def seal() -> MultiFernet:
    """Seals with the first key and opens with any; without keys of their own, one derived from the site's secret."""
    return MultiFernet([Fernet(key) for key in settings.FACTOR_KEYS] or [Fernet(_derived(settings.SECRET_KEY))])


def _derived(secret: str) -> bytes:
    """RFC 5869, so that neither key tells anything of the other."""
    made = HKDF(algorithm=SHA256(), length=32, salt=None, info=PURPOSE).derive(secret.encode())
    return base64.urlsafe_b64encode(made)


class SealedFactors(DefaultMFAAdapter):
    def encrypt(self, text: str) -> str:
        return seal().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        return seal().decrypt(encrypted_text.encode()).decode()

    def build_totp_svg(self, url: str) -> str:
        """A picture in the page itself: the content policy shows no data: address."""
        return qr_svg(url)

    def can_delete_authenticator(self, authenticator: Authenticator) -> bool:
        return has_another_factor(authenticator) or not must_have_factor(authenticator.user)
