"""How often something may be tried: counted in fixed windows, in one row that every worker shares."""

import hashlib
import ipaddress
import time
from dataclasses import dataclass

from django.db import connection

from fleet.core.models import Counted

# One statement, so that two workers at the same moment count to two: known to both databases in these words.
COUNT = (
    "INSERT INTO core_counted (key, number, ends) VALUES (%s, 1, %s) "
    "ON CONFLICT (key) DO UPDATE SET number = core_counted.number + 1 RETURNING number"
)


@dataclass(frozen=True)
class Limit:
    """At most so many in a window of so many seconds."""

    what: str
    number: int
    seconds: int


def take(limit: Limit, *who: str, now: float | None = None) -> bool:
    """Count one act and say whether it is still within the limit of the running window."""
    at = int(time.time() if now is None else now)
    window = at // limit.seconds
    with connection.cursor() as cursor:
        cursor.execute(COUNT, [_key(limit, who, window), (window + 1) * limit.seconds])
        (number,) = cursor.fetchone()
    if number == 1:
        Counted.objects.filter(ends__lt=at).delete()
    return bool(number <= limit.number)


def give_back(limit: Limit, *who: str, now: float | None = None) -> None:
    """Take one act out of the count again: what turned out not to be one."""
    window = int(time.time() if now is None else now) // limit.seconds
    with connection.cursor() as cursor:
        words = "UPDATE core_counted SET number = number - 1 WHERE key = %s AND number > 0"
        cursor.execute(words, [_key(limit, who, window)])


def network_of(address: str) -> str:
    """One household is one address: an IPv6 visitor commands a whole /64."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    if found.version == 6:
        return str(ipaddress.ip_network((found, 64), strict=False))
    return str(found)


def _key(limit: Limit, who: tuple[str, ...], window: int) -> str:
    """Nobody's address or name stands in the table."""
    return hashlib.sha256("\n".join([limit.what, *who, str(window)]).encode()).hexdigest()
