import time
from typing import Any

from allauth.account import app_settings
from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.authentication import get_authentication_records
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext_lazy as _

from fleet.accounts.sign_in_limits import remember_device, try_of
from fleet.accounts.sign_ins import SEEN
from fleet.core.addresses import address_of


class ClosedSignUpAdapter(DefaultAccountAdapter):
    """People are added by an administrator; nobody signs themselves up, and nobody shuts another out."""

    error_messages = {
        **DefaultAccountAdapter.error_messages,
        "too_many_login_attempts": _(
            "Too many wrong tries. Wait a quarter of an hour, or sign in on a device that you used before."
        ),
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def get_client_ip(self, request: HttpRequest) -> str:
        return address_of(request)

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        """In place of the library's count, by which anyone could shut an account for its owner."""
        self.counted = try_of(request, str(credentials.get("email", "")))
        if not self.counted.take():
            raise self.validation_error("too_many_login_attempts")

    def authenticate(self, request: HttpRequest, **credentials: Any) -> Any:
        found = super().authenticate(request, **credentials)
        if found:
            self.counted.give_back()
        return found

    def post_login(self, request: HttpRequest, user: Any, **rest: Any) -> HttpResponse:
        response: HttpResponse = super().post_login(request, user, **rest)
        request.session[SEEN] = int(time.time())
        remember_device(request, response, user)
        return response

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
