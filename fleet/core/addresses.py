"""From which address a request comes."""

from django.conf import settings
from django.http import HttpRequest


def address_of(request: HttpRequest) -> str:
    """Who asks: the peer's address, or behind a trusted proxy the one that the proxy itself wrote down."""
    address = str(request.META.get("REMOTE_ADDR", ""))
    if settings.SECURE_PROXY_SSL_HEADER:
        # Only the last entry is the proxy's own; those before it are whatever the visitor claimed.
        address = str(request.META.get("HTTP_X_FORWARDED_FOR", "")).rsplit(",", 1)[-1].strip() or address
    return address
