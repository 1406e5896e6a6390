"""Whose earlier slips a load's uncertainty is pooled from: nearest first, the fleet only where that is too little."""

from datetime import date, timedelta

import pytest

from fleet.records.models import Submission
from fleet.records.slip_history import earlier_slips
from fleet.records.vicinity import Vicinity
from tests.cast import Cast
from tests.certificates.records import TESTED, Ship, drafted, drum_on, ship_of, submitted

pytestmark = pytest.mark.django_db


@pytest.fixture
def ship(cast: Cast) -> Ship:
    return ship_of(cast.vessel)


def pooled(ship: Ship, enough: float) -> list[tuple[float, ...]]:
    test = drafted(ship, drum_on(ship.vessel), tested_on=TESTED)
    kit = test.round.kit
    assert kit is not None
    return earlier_slips(
        test, Vicinity(ship.vessel, [test.drum_id]), gauge_id=kit.gauge_id, before=TESTED, enough=enough
    )


def a_year_before(ship: Ship, spread: float) -> None:
    """A test of another drum, sent a year ago, with its slips so far apart."""
    row = submitted(ship, drum_on(ship.vessel), tested_on=date(2025, 11, 20))
    Submission.objects.filter(pk=row.pk).update(spread_share=spread)


def test_the_fleet_is_asked_where_the_vessel_says_too_little(cast: Cast, ship: Ship) -> None:
    a_year_before(ship_of(cast.sister), 0.02)
    ((low, high),) = pooled(ship, enough=8)
    assert high - low == pytest.approx(0.02)


def test_where_the_vessel_says_enough_the_fleet_is_not_asked(cast: Cast, ship: Ship) -> None:
    a_year_before(ship_of(cast.sister), 0.02)
    row = submitted(ship, drum := drum_on(ship.vessel), tested_on=date(2025, 11, 20))
    test = drafted(ship, drum, tested_on=TESTED)
    own = earlier_slips(test, Vicinity(ship.vessel, [drum.pk]), gauge_id=row.gauge_id, before=TESTED, enough=1)
    assert len(own) == 1
    both = earlier_slips(test, Vicinity(ship.vessel, [drum.pk]), gauge_id=row.gauge_id, before=TESTED, enough=2)
    assert len(both) == 2


def test_another_companys_tests_say_nothing_here(cast: Cast, ship: Ship) -> None:
    a_year_before(ship_of(cast.foreign_vessel), 0.02)
    assert pooled(ship, enough=8) == []


def test_what_is_sent_meanwhile_does_not_count(cast: Cast, ship: Ship) -> None:
    a_year_before(ship_of(cast.sister), 0.02)
    Submission.objects.update(submitted_at=Submission.objects.get().submitted_at + timedelta(days=500))
    assert pooled(ship, enough=8) == []
