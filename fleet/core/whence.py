"""From where an act came, for its audit entry: the middleware notes the visitor, services never see a request."""

from collections.abc import Callable
from contextvars import ContextVar

from django.http import HttpRequest, HttpResponse

from fleet.core.addresses import address_of

_whence: ContextVar[str] = ContextVar("whence", default="")


def whence() -> str:
    """The visitor's address; empty for what a command does."""
    return _whence.get()


class WhenceMiddleware:
    """Notes whose request it is while the request lasts."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        token = _whence.set(address_of(request)[:60])
        try:
            return self.get_response(request)
        finally:
            _whence.reset(token)
