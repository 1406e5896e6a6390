"""The fleet of the matrix is built once for all its tests; what a test writes is undone, the fleet stays."""

import gc
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.cache import cache
from django.db import transaction
from django.test import override_settings

from tests.access.asking import Asking
from tests.access.world import World, build


@pytest.fixture(scope="package")
def world_files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("world")


@pytest.fixture(scope="package")
def built(django_db_setup: None, django_db_blocker: Any, world_files: Path) -> Iterator[World]:
    """The fleet, in a transaction that is rolled back when the last of these tests is done."""
    with django_db_blocker.unblock(), override_settings(MEDIA_ROOT=str(world_files)), transaction.atomic():
        made = build()
        gc.collect()
        gc.freeze()  # thousands of requests follow: what stands now need not be searched for garbage each time
        yield made
        gc.unfreeze()
        transaction.set_rollback(True)


@pytest.fixture(autouse=True)
def media_root(settings: Any, world_files: Path) -> Path:
    """The fleet's files outlive one test."""
    settings.MEDIA_ROOT = str(world_files)
    return world_files


@pytest.fixture
def world(built: World, db: None) -> Iterator[World]:
    yield built
    cache.clear()


@pytest.fixture(scope="package")
def clients(built: World) -> Asking:
    return Asking(built)


@pytest.fixture
def asking(clients: Asking, world: World) -> Asking:
    """Everyone signed in once, for all the tests of the package."""
    return clients
