"""The vessel's row is held before the rows that belong to it: two people who write at once never wait for each other.

Adding holds the vessel and then touches a winch, gauge or kit; a change that held those first would cross it, and
PostgreSQL would end one of the two with an error.
"""

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.drums.services import drum_change, winch_change
from fleet.gauges.services import gauge_change, jack_change, kit_change, lever_change
from tests.cast import Cast
from tests.factories import DrumFactory, GaugeFactory, JackFactory, KitFactory, LeverFactory, WinchFactory

pytestmark = pytest.mark.django_db

CHANGES: dict[str, tuple[Callable[..., Any], Callable[[Cast], dict[str, Any]]]] = {
    "gauges_kit": (kit_change, lambda cast: {"kit": KitFactory(vessel=cast.vessel), "note": "x"}),
    "gauges_gauge": (gauge_change, lambda cast: {"gauge": GaugeFactory(vessel=cast.vessel), "name": "x"}),
    "gauges_jack": (jack_change, lambda cast: {"jack": JackFactory(vessel=cast.vessel), "name": "x"}),
    "gauges_lever": (lever_change, lambda cast: {"lever": LeverFactory(vessel=cast.vessel), "name": "x"}),
    "drums_winch": (winch_change, lambda cast: {"winch": WinchFactory(vessel=cast.vessel), "name": "x"}),
    "drums_drum": (drum_change, lambda cast: {"drum": DrumFactory(winch__vessel=cast.vessel), "name": "x"}),
}


@pytest.mark.parametrize("table", CHANGES)
def test_a_change_holds_the_vessel_before_the_row(cast: Cast, table: str) -> None:
    change, given = CHANGES[table]
    arguments = given(cast)
    with CaptureQueriesContext(connection) as asked:
        change(**arguments, actor=cast.officer)
    read = [query["sql"] for query in asked if query["sql"].startswith("SELECT")]
    if connection.features.has_select_for_update:
        read = [sql for sql in read if "FOR UPDATE" in sql]
    held = [name for sql in read for name in ("vessels_vessel", table) if f'FROM "{name}"' in sql]
    assert held[:2] == ["vessels_vessel", table]
