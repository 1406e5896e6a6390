from collections.abc import Iterator
from typing import Any

import pytest
from django.core.cache import cache
from django.db import transaction

from tests.cast import Cast, make_cast
from tests.certificates.records import Ship, certified, ship_of
from tests.certificates.signed import SignedPaper, paper_of


@pytest.fixture
def ship(cast: Cast) -> Ship:
    """The cast's vessel with people who may fill in, confirm, release and send."""
    return ship_of(cast.vessel)


@pytest.fixture(scope="session")
def signed_paper(django_db_setup: None, django_db_blocker: Any) -> SignedPaper:
    """One signed certificate for all tests that only look at the file; its rows are gone again."""
    with django_db_blocker.unblock(), transaction.atomic():
        cast = make_cast()
        paper = paper_of(certified(ship_of(cast.vessel), cast.superintendent))
        transaction.set_rollback(True)
    return paper


@pytest.fixture
def empty_cache() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()
