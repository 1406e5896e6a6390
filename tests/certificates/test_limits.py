from collections.abc import Iterator
from typing import Any

import pytest
from django.core.cache import cache
from django.test import RequestFactory

from fleet.certificates.limits import allowed
from fleet.core.addresses import address_of


@pytest.fixture(autouse=True)
def empty_cache() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()


def ask(address: str = "192.0.2.7", *, now: float = 1_000_000.0, what: str = "verify", limit: int = 3) -> bool:
    return allowed(what=what, address=address, limit=limit, seconds=300, now=now)


def test_so_many_are_allowed_and_the_next_is_not() -> None:
    assert [ask() for _ in range(5)] == [True, True, True, False, False]


def test_the_next_window_starts_afresh() -> None:
    assert [ask() for _ in range(4)][-1] is False
    assert ask(now=1_000_000.0 + 300)


def test_each_address_and_each_purpose_has_its_own_count() -> None:
    for _ in range(4):
        ask()
    assert not ask()
    assert ask("192.0.2.8")
    assert ask(what="something else")


def test_an_ipv6_visitor_does_not_get_round_it_within_its_own_network() -> None:
    assert [ask(f"2001:db8:1:2::{n}") for n in range(1, 5)] == [True, True, True, False]
    assert ask("2001:db8:1:3::1")


def test_the_cache_learns_no_address() -> None:
    ask("192.0.2.7")
    assert "192.0.2.7" not in repr(cache._cache.keys())  # type: ignore[attr-defined]


def test_the_peer_counts_and_what_a_visitor_claims_does_not(rf: RequestFactory) -> None:
    request = rf.get("/", REMOTE_ADDR="192.0.2.1", headers={"X-Forwarded-For": "203.0.113.9"})
    assert address_of(request) == "192.0.2.1"


def test_behind_the_proxy_only_its_own_entry_counts(rf: RequestFactory, settings: Any) -> None:
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    request = rf.get("/", REMOTE_ADDR="10.0.0.1", headers={"X-Forwarded-For": "203.0.113.9, 198.51.100.4"})
    assert address_of(request) == "198.51.100.4"
