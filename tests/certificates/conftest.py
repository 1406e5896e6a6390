from collections.abc import Iterator

import pytest
from django.core.cache import cache

from tests.cast import Cast
from tests.certificates.records import Ship, ship_of


@pytest.fixture
def ship(cast: Cast) -> Ship:
    """The cast's vessel with people who may fill in, confirm, release and send."""
    return ship_of(cast.vessel)


@pytest.fixture
def empty_cache() -> Iterator[None]:
    cache.clear()
    yield
    cache.clear()
