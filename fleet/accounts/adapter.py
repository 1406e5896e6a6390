import time
from typing import Any

from allauth.account import app_settings
from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.authentication import get_authentication_records
from django.http import HttpRequest

from fleet.core.addresses import address_of


class ClosedSignUpAdapter(DefaultAccountAdapter):
    """People are added by an administrator; nobody signs themselves up."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def get_client_ip(self, request: HttpRequest) -> str:
        return address_of(request)

    def reauthenticate(self, user: Any, password: str) -> bool:
        """By the person's own address: the library looks for it in a table of its own, which stays empty here."""
        found = self.authenticate(self.request, email=user.email, password=password)
        return found is not None and found.pk == user.pk

    def is_reauthentication_required(self, *, app: str, **rest: Any) -> bool:
        """Not again within minutes of the sign-in itself."""
        if not super().is_reauthentication_required(app=app, **rest):
            return False
        shown = [row["at"] for row in get_authentication_records(self.request, self.request.user)]
        return not shown or time.time() - max(shown) >= app_settings.REAUTHENTICATION_TIMEOUT
