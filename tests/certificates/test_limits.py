import pytest

from fleet.certificates.limits import allowed

pytestmark = pytest.mark.django_db


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
