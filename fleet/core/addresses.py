"""From which address a request comes."""

from django.conf import settings
from django.http import HttpRequest


def address_of(request: HttpRequest) -> str:
    """Who asks: the peer's address, or behind so many proxies of ours the one that the outermost of them wrote down."""
    peer = str(request.META.get("REMOTE_ADDR", ""))
    if settings.PROXY_DEPTH == 0:
        return peer
    # Each proxy adds at the end whom it heard from; what stands before our own proxies' entries anyone can claim.
    told = [part.strip() for part in str(request.META.get("HTTP_X_FORWARDED_FOR", "")).split(",")]
    if len(told) < settings.PROXY_DEPTH:
        return peer  # it did not come through all of them
    return told[-settings.PROXY_DEPTH] or peer
