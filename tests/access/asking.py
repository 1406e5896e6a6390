"""Asking an address as somebody, and what the answer should have been."""

from collections.abc import Callable
from typing import Any

from django.core.cache import cache
from django.db import transaction
from django.http.response import HttpResponseBase
from django.test import Client
from django.urls import reverse

from fleet.accounts.models import User
from tests.access.addresses import Address
from tests.access.people import FEW, NOT_SIGNED_IN, OURS_ASKS, Asker, askers
from tests.access.table import ACT, FORM, PAGE, PUBLIC, SIGNED_IN, WRITE, Entry
from tests.access.world import OTHER_HOUSE, OURS, SISTERS, THEIRS, Ship, World

NO, GONE, NOT_SO, AWAY = 403, 404, 405, 302
HTMX = {"HX-Request": "true"}
# A form sent without what it needs: shown again, refused in words, or nothing to do.
TAKEN = frozenset({200, 302, 400, 409, 422})

INSIDE, REFUSED, HIDDEN, SIGN_IN = "inside", "refused", "hidden", "sign in"


def where(address: Address, entry: Entry, ship: Ship) -> str:
    """The address filled in with this ship's things."""
    values = dict(entry.more)
    if entry.thing:
        (key,) = (name for name in address.parameters if name not in values)
        values[key] = getattr(ship, entry.thing).pk
    if "code" in values:
        values["code"] = ship.certificate.code
    assert set(values) == set(address.parameters), (address.label, values)
    url = reverse(address.name, kwargs=values)
    return f"{url}?{entry.query}" if entry.query else url


def standing(entry: Entry, asker: Asker) -> str:
    """Inside with the role, refused inside, hidden outside, or off to sign in."""
    if entry.act == PUBLIC:
        return INSIDE
    if asker.kind == NOT_SIGNED_IN:
        return SIGN_IN
    if entry.act == SIGNED_IN:
        return INSIDE
    if not entry.thing:
        return INSIDE if asker.anywhere & entry.allowed else REFUSED
    if not asker.roles or (entry.seen_by is not None and not asker.roles & entry.seen_by):
        return HIDDEN
    return INSIDE if asker.roles & entry.allowed else REFUSED


def expected(entry: Entry, asker: Asker, method: str, *, complete: bool = False) -> frozenset[int]:
    """The statuses that are right for this person, by this method; `complete`: the form is right."""
    stands = standing(entry, asker)
    if stands == SIGN_IN:
        return frozenset({AWAY})
    known = method in {"get", "head"} if entry.how == PAGE else method == "post" or entry.how in {FORM, WRITE}
    if method in {"put", "delete"}:
        known = False
    # A method an address does not know is refused as such, or answered as if it were looked at.
    unknown = frozenset() if known else frozenset({NOT_SO})
    if stands == HIDDEN:
        return unknown | {GONE}
    if stands == REFUSED:
        none_at_all = entry.without_role if not asker.anywhere else frozenset()
        return unknown | (none_at_all or {NO})
    if entry.how == ACT and method in {"get", "head"}:
        return frozenset({NOT_SO})
    if method == "post" and entry.how != PAGE:
        return entry.done if complete else TAKEN
    return unknown | entry.shown


class Asking:
    """Clients that stay signed in; what a request writes is undone at once."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.number = 0
        self.askers = askers(world)
        self._clients = {asker.label: _signed_in(asker) for asker in self.askers}

    def ask(
        self,
        asker: Asker,
        method: str,
        url: str,
        data: Any = None,
        headers: dict[str, str] | None = None,
        look: Callable[[], Any] | None = None,
    ) -> tuple[HttpResponseBase, Any]:
        """The answer, and what `look` found before it was undone."""
        self.number += 1
        cache.clear()  # so many look-ups per address are not what is tried here
        send = getattr(self._clients[asker.label], method)
        with transaction.atomic():
            answer = send(url, headers=headers) if data is None else send(url, data, headers=headers)
            found = look() if look else None
            transaction.set_rollback(True)
        return answer, found


def ways(entry: Entry, asker: Asker) -> list[tuple[str, dict[str, str] | None]]:
    """How this person asks: (method, headers). The right form is sent by everyone in a test of its own."""
    few = asker.label in FEW
    found: list[tuple[str, dict[str, str] | None]] = [("get", None)]
    if few or not entry.sends or standing(entry, asker) == INSIDE:
        found.append(("post", None))
    if few:
        found += [("head", None), ("delete", None)]
    by_htmx = few or asker.kind == OURS_ASKS if entry.how == WRITE else few and asker.kind == NOT_SIGNED_IN
    if by_htmx:
        found += [("get", HTMX), ("post", HTMX)]
    return found


def _signed_in(asker: Asker) -> Client:
    client = Client(raise_request_exception=False)
    if asker.user is not None:
        client.force_login(asker.user)
        if asker.kind == NOT_SIGNED_IN:
            User.objects.filter(pk=asker.user.pk).update(is_active=False)
    return client


def body(answer: HttpResponseBase) -> str:
    """What can be read in an answer; a file's bytes are not looked into."""
    if answer.streaming:
        for _part in answer.streaming_content:  # type: ignore[attr-defined]
            pass
        return ""
    return bytes(answer.content).decode(errors="replace")  # type: ignore[attr-defined]


def shown_of_others(text: str, entry: Entry, asker: Asker, world: World) -> list[str]:
    """Words and ids in a page that this person should not meet there."""
    if entry.act == PUBLIC:
        return []
    words: set[str] = set()
    if asker.kind == OURS_ASKS:
        words |= {THEIRS, OTHER_HOUSE, *world.theirs.keys}
        if not asker.sees_the_sister:
            words |= {SISTERS, *world.sisters.keys}
    else:
        words |= world.ours.keys if entry.own_past and "ended" in asker.label else {OURS, *world.ours.keys}
    return sorted(word for word in words if word in text)
