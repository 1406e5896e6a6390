"""A form sent after the sign-in ran out: kept for the same person, and shown again filled in, unsent."""

import uuid
from collections.abc import Callable
from typing import Any, cast
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, QueryDict
from django.middleware.csrf import REASON_CSRF_TOKEN_MISSING
from django.shortcuts import redirect, render, resolve_url
from django.utils.translation import gettext as _
from django.views.csrf import csrf_failure as plain_csrf_failure

COOKIE = "last_person"
COOKIE_SECONDS = 30 * 24 * 3600
SALT = "fleet.core.kept_forms"
IN_SESSION = "kept_form"
MOST_CHARACTERS = 100_000
# A file's place in a form cannot be filled by a page, and a secret is never stored.
LEFT_OUT = ("csrfmiddlewaretoken", "password")


class KeptPost(QueryDict):
    """What was typed into a form that did not arrive: good for filling it again, never for acting on it."""

    sent_to = ""
    """The path it was sent to, where a page has several forms."""


def form_data(request: HttpRequest) -> QueryDict | None:
    """What a page's form is bound to: what was posted, what was kept from before the sign-in, or nothing."""
    if request.method == "POST":
        return request.POST
    return kept_post(request)


def kept_post(request: HttpRequest, sent_to: str = "") -> KeptPost | None:
    """What the same person had typed into this page's form, or its form for one address, when the sign-in ran out."""
    found: KeptPost | None = getattr(request, "kept_post", None)
    return found if found is None or sent_to in ("", found.sent_to) else None


class KeptFormsMiddleware:
    """Stands before LoginRequiredMiddleware, which would drop what an anonymous form holds."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.user.is_authenticated and _last_person(request) != str(request.user.pk):
            response.set_signed_cookie(
                COOKIE,
                str(request.user.pk),
                salt=SALT,
                max_age=COOKIE_SECONDS,
                httponly=True,
                samesite="Lax",
                secure=settings.SESSION_COOKIE_SECURE,
            )
        return response

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        if not getattr(view, "login_required", True):
            return None
        if request.user.is_authenticated:
            _give_back(request)
            return None
        is_htmx = request.headers.get("HX-Request") == "true"
        if request.method != "POST" and not is_htmx:
            return None
        page = _page_of(request)
        if request.method == "POST":
            _keep(request, page, _last_person(request))
        sign_in = redirect_to_login(page, resolve_url(settings.LOGIN_URL))
        return _signed_out_fragment(request, sign_in.url) if is_htmx else sign_in


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A stale token in our own page, after signing in again elsewhere: back to the form, filled in and unsent."""
    own_page = request.headers.get("Origin") == f"{request.scheme}://{request.get_host()}"
    token_is_stale = reason == REASON_CSRF_TOKEN_MISSING or reason.startswith("CSRF token from")
    is_htmx = request.headers.get("HX-Request") == "true"
    if own_page and token_is_stale and not is_htmx and request.user.is_authenticated:
        page = _page_of(request)
        if _keep(request, page, str(request.user.pk)):
            return redirect(page)
    return plain_csrf_failure(request, reason=reason)


def keep_for_later(request: HttpRequest) -> None:
    """Keep what the signed-in person typed, where something else has to be done before it can be taken."""
    _keep(request, _page_of(request), str(request.user.pk))


def _keep(request: HttpRequest, page: str, person: str) -> bool:
    """Keep what was typed for the person who was signed in before; False where it is not known who that was."""
    typed = request.POST.copy()
    for name in list(typed):
        if any(word in name.lower() for word in LEFT_OUT):
            del typed[name]
    data = typed.urlencode()
    if not person or not typed or len(data) > MOST_CHARACTERS:
        return False
    request.session[IN_SESSION] = {
        "page": page,
        "sent_to": request.path,
        "person": person,
        "data": data,
        "files": bool(request.FILES),
    }
    return True


def _give_back(request: HttpRequest) -> None:
    kept = request.session.get(IN_SESSION)
    if not kept:
        return
    if kept["person"] != str(request.user.pk):
        # Somebody else signed in here: nothing of the first person's is shown, now or later.
        del request.session[IN_SESSION]
    elif request.method == "GET" and request.path == urlsplit(kept["page"]).path:
        del request.session[IN_SESSION]
        found = cast(KeptPost, KeptPost(kept["data"]))
        found.sent_to = kept["sent_to"]
        request.kept_post = found  # type: ignore[attr-defined]
        words = _("Here is the form as you filled it in before the sign-in; nothing was sent yet.")
        if kept["files"]:
            words += " " + _("Choose files again: they could not be kept.")
        messages.warning(request, words)


def _last_person(request: HttpRequest) -> str:
    """Who was signed in on this browser last; empty where nobody knows."""
    text = request.get_signed_cookie(COOKIE, default="", salt=SALT, max_age=COOKIE_SECONDS)
    try:
        return str(uuid.UUID(text))
    except ValueError:
        return ""


def _page_of(request: HttpRequest) -> str:
    """The page that showed the form, on this host; else the address that was asked for."""
    told = request.headers.get("HX-Current-URL") or request.headers.get("Referer") or ""
    address = urlsplit(told)
    if address.netloc == request.get_host() and address.path.startswith("/") and not address.path.startswith("//"):
        return f"{address.path}?{address.query}" if address.query else address.path
    return request.get_full_path()


def _signed_out_fragment(request: HttpRequest, sign_in_url: str) -> HttpResponse:
    """Said in the page's own line of messages: the sign-in page must not end up inside a fragment."""
    response = render(request, "core/_signed_out.html", {"sign_in_url": sign_in_url})
    response["HX-Retarget"] = "#messages"
    response["HX-Reswap"] = "innerHTML show:top"
    return response
