"""Counts that many workers share, and whose address they are kept for."""

import threading
from typing import Any

import pytest
from django.db import connection
from django.test import RequestFactory

from fleet.core.addresses import address_of
from fleet.core.limits import Limit, give_back, take
from fleet.core.models import Counted

NOW = 1_000_000.0
THREE = Limit("a try", 3, 300)


@pytest.mark.django_db
def test_what_is_given_back_may_be_tried_again() -> None:
    assert [take(THREE, "a", now=NOW) for _ in range(3)] == [True] * 3
    give_back(THREE, "a", now=NOW)
    assert [take(THREE, "a", now=NOW) for _ in range(2)] == [True, False]


@pytest.mark.django_db
def test_giving_back_what_was_never_taken_allows_no_more() -> None:
    give_back(THREE, "a", now=NOW)
    assert [take(THREE, "a", now=NOW) for _ in range(4)] == [True, True, True, False]


@pytest.mark.django_db
def test_the_table_learns_no_address_and_is_swept() -> None:
    take(THREE, "192.0.2.7", now=NOW)
    assert "192.0.2.7" not in str(list(Counted.objects.values()))
    take(THREE, "192.0.2.8", now=NOW + 900)
    assert Counted.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_tries_at_the_same_moment_are_all_counted() -> None:
    many = Limit("at once", 5, 10_000)
    allowed: list[bool] = []

    def worker() -> None:
        for _ in range(5):
            allowed.append(take(many, "one account", now=NOW))
        connection.close()

    threads = [threading.Thread(target=worker) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(allowed) == 20
    assert sum(allowed) == 5


@pytest.mark.parametrize(
    ("depth", "told", "whose"),
    [
        (0, "203.0.113.9", "192.0.2.1"),  # no proxy of ours: whatever is claimed, the peer counts
        (1, "203.0.113.9, 198.51.100.4", "198.51.100.4"),  # forged before the proxy's own entry
        (2, "203.0.113.9, 198.51.100.4, 10.0.0.2", "198.51.100.4"),
        (2, "198.51.100.4", "192.0.2.1"),  # it came round one of the proxies: nothing in the header is believed
        (1, "", "192.0.2.1"),
        (3, "", "192.0.2.1"),
    ],
)
def test_only_what_our_own_proxies_wrote_is_believed(
    rf: RequestFactory, settings: Any, depth: int, told: str, whose: str
) -> None:
    settings.PROXY_DEPTH = depth
    assert address_of(rf.get("/", REMOTE_ADDR="192.0.2.1", headers={"X-Forwarded-For": told})) == whose
