"""Pages of the sign-in library that are shut: an address is not changed unseen, and sign-ins have a page of ours."""

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import path


@login_not_required
def closed(request: HttpRequest, key: str = "") -> HttpResponse:
    raise Http404


# They keep the library's names, and stand before it.
closed_pages = [
    path("email/", closed, name="account_email"),
    path("confirm-email/", closed, name="account_email_verification_sent"),
    path("confirm-email/<str:key>/", closed, name="account_confirm_email"),
    path("sessions/", closed, name="usersessions_list"),
    path("login/code/confirm/", closed, name="account_confirm_login_code"),
]
