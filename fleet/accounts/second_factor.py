"""Who must have a second factor, who has one, and that nothing else comes first for those who must and have none."""

from collections.abc import Callable
from typing import Any

from allauth.mfa.models import Authenticator
from django.contrib import messages
from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.cache import add_never_cache_headers
from django.utils.translation import gettext as _

from fleet.accounts.models import Membership
from fleet.core.kept_forms import keep_for_later

# Recovery codes stand in for one of these; alone they are none.
FACTORS = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)
STILL_OPEN = frozenset({
    "account_logout",
    "account_reauthenticate",
    "account_change_password",
    "account_set_password",
})  # fmt: skip


def must_have_factor(user: Any) -> bool:
    """Whether one of the person's roles today asks for a second factor."""
    current = Membership.objects.current(user)
    return current.filter(company__second_factor_duties__role=F("role")).exists()


def has_factor(user: Any) -> bool:
    return Authenticator.objects.filter(user_id=user.pk, type__in=FACTORS).exists()


def has_another_factor(leaving: Authenticator) -> bool:
    rows = Authenticator.objects.filter(user_id=leaving.user_id, type__in=FACTORS)
    return rows.exclude(pk=leaving.pk).exists()


class SecondFactorMiddleware:
    """Stands after LoginRequiredMiddleware: leads a person who needs a second factor to setting one up."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if _view_name(request).startswith("mfa_"):
            add_never_cache_headers(response)  # keys and codes stand on these pages
        return response

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        if not request.user.is_authenticated or not getattr(view, "login_required", True):
            return None
        name = _view_name(request)
        if name in STILL_OPEN or name.startswith("mfa_"):
            return None
        if not must_have_factor(request.user) or has_factor(request.user):
            return None
        return _to_setting_up(request)


def _view_name(request: HttpRequest) -> str:
    return request.resolver_match.view_name if request.resolver_match else ""


def _to_setting_up(request: HttpRequest) -> HttpResponse:
    if request.method == "POST":
        keep_for_later(request)
    words = _("Your company asks for a second factor with your role. Set one up here; then everything else opens.")
    messages.warning(request, words)
    address = reverse("mfa_index")
    if request.headers.get("HX-Request") == "true":
        response = HttpResponse()
        response["HX-Redirect"] = address
        return response
    return redirect(address)
