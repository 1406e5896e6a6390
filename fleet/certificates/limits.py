"""How often one address may ask: counted in fixed windows through the cache."""

import hashlib
import ipaddress
import time

from django.core.cache import cache

LOOK_UPS = 30
WINDOW_SECONDS = 300


def allowed(
    *, what: str, address: str, limit: int = LOOK_UPS, seconds: int = WINDOW_SECONDS, now: float | None = None
) -> bool:
    """Count one act of this address and say whether it is still within the limit of the running window."""
    window = int((time.time() if now is None else now) // seconds)
    name = hashlib.sha256(f"{what} {_network(address)} {window}".encode()).hexdigest()
    key = f"limit:{name}"
    cache.add(key, 0, timeout=seconds + 5)
    try:
        count = cache.incr(key)
    except ValueError:  # the cache dropped the key between the two calls
        cache.set(key, 1, timeout=seconds + 5)
        count = 1
    return count <= limit


def _network(address: str) -> str:
    """One household is one address: an IPv6 visitor commands a whole /64."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if found.version == 6:
        return str(ipaddress.ip_network((found, 64), strict=False))
    return str(found)
