"""How often one address may look up a certificate or hand over a file."""

from fleet.core.limits import Limit, network_of, take

LOOK_UPS = 30
WINDOW_SECONDS = 300


def allowed(
    *, what: str, address: str, limit: int = LOOK_UPS, seconds: int = WINDOW_SECONDS, now: float | None = None
) -> bool:
    """Count one act of this address and say whether it is still within the limit of the running window."""
    return take(Limit(what, limit, seconds), network_of(address), now=now)
