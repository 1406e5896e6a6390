"""How often a wrong password may be tried, so that guessing is slow and nobody can shut another person out.

Each try is counted before it is judged, so that many at the same moment are counted too, and a right one is taken out
of the count again. A device that signed in before as this person has a count of its own: whatever strangers try, it
still gets in.
"""

import uuid
from dataclasses import dataclass

from django.conf import settings
from django.core.signing import BadSignature, TimestampSigner
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import salted_hmac

from fleet.accounts.models import User
from fleet.core.addresses import address_of
from fleet.core.limits import Limit, give_back, network_of, take

ACCOUNT_FROM_ADDRESS = Limit("sign-in of an account from an address", 5, 900)
ACCOUNT_FROM_ANYWHERE = Limit("sign-in of an account", 100, 3600)
ADDRESS = Limit("sign-in from an address", 20, 300)
KNOWN_DEVICE = Limit("sign-in from a known device", 10, 300)

COOKIE = "known_device"
COOKIE_SECONDS = 180 * 24 * 3600
SALT = "fleet.accounts.known_device"
# A bridge computer is shared by a few people; the oldest goes when it would become more.
MOST_PEOPLE = 6


@dataclass(frozen=True)
class Try:
    """One try at one account, and the counts it stands in."""

    counts: tuple[tuple[Limit, tuple[str, ...]], ...]

    def take(self) -> bool:
        """Count it from the narrowest count on; what one refuses is not counted in the wider ones.

        Else a single address could fill up the count of an account, and shut it for everybody.
        """
        return all(take(limit, *who) for limit, who in self.counts)

    def give_back(self) -> None:
        for limit, who in self.counts:
            give_back(limit, *who)


def try_of(request: HttpRequest, email: str) -> Try:
    account = email.strip().lower()
    device = known_devices(request).get(_sign(account))
    if device:
        return Try(((KNOWN_DEVICE, (account, device)),))
    address = network_of(address_of(request))
    return Try((
        (ACCOUNT_FROM_ADDRESS, (account, address)),
        (ADDRESS, (address,)),
        (ACCOUNT_FROM_ANYWHERE, (account,)),
    ))  # fmt: skip


def known_devices(request: HttpRequest) -> dict[str, str]:
    """Who signed in on this browser before, as far as its cookie is one of ours: sign of the account → device."""
    try:
        text = TimestampSigner(salt=SALT).unsign(request.COOKIES.get(COOKIE, ""), max_age=COOKIE_SECONDS)
    except BadSignature:
        return {}
    pairs = (part.partition(":") for part in text.split(" ") if part)
    return {account: device for account, _colon, device in pairs}


def remember_device(request: HttpRequest, response: HttpResponse, user: User) -> None:
    """Mark this browser as one on which this person signed in; a person is named by a sign that tells nothing."""
    known = known_devices(request)
    sign = _sign(user.email.lower())
    device = known.pop(sign, uuid.uuid4().hex)
    kept = [*known.items(), (sign, device)][-MOST_PEOPLE:]
    text = " ".join(f"{account}:{made}" for account, made in kept)
    response.set_cookie(
        COOKIE,
        TimestampSigner(salt=SALT).sign(text),
        max_age=COOKIE_SECONDS,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
        path="/accounts/",
    )


def _sign(account: str) -> str:
    return salted_hmac(SALT, account, algorithm="sha256").hexdigest()[:32]
