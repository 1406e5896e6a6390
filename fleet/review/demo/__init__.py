"""The demo fleet, loaded through the services that the web uses."""

from datetime import datetime
from typing import Any

from fleet.accounts.models import Company
from fleet.review.demo.fleet_file import Ship, enter_ship, enter_shore, give_access, load_file
from fleet.review.demo.stories import (
    brakes_of,
    tell_copied_marks,
    tell_earlier_years,
    tell_round_in_progress,
    tell_slip_and_retest,
)

EARLIER = {
    "in_progress": (1090, 728, 364),
    "in_date": (900, 540, 178),
    "copied": (1060, 730, 369),
    "overdue": (1130, 760, 395),
}


def load_demo(*, now: datetime, data: dict[str, Any] | None = None) -> Company:
    """Enter the invented fleet, or a part of it in the same shape, with its history up to `now`."""
    data = data or load_file()
    shore = enter_shore(data, now=now)
    ships: list[Ship] = [enter_ship(row, shore, now=now) for row in data["vessels"]]
    give_access(data, shore, ships, now=now)
    for ship in ships:
        brakes = brakes_of(ship)
        tell_earlier_years(ship, shore, brakes, now=now, days=EARLIER[ship.story])
        if ship.story == "in_progress":
            tell_round_in_progress(ship, shore, brakes, now=now)
        elif ship.story == "in_date":
            tell_slip_and_retest(ship, shore, now=now)
        elif ship.story == "copied":
            tell_copied_marks(ship, shore, brakes, now=now)
    return shore.company
