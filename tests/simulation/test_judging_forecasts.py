"""Whether the judge sees intervals that hold, forecasts that keep their word, and those that do not."""

from dataclasses import fields
from functools import cache

import numpy as np
import pytest

from fleet.calculation.drift_results import CODES, Forecast
from fleet.simulation.fleet import GOOD, VirtualFleet, simulate
from fleet.simulation.fleet_histories import rows_of
from fleet.simulation.judging_drift import PREDICTED, Watched
from fleet.simulation.judging_forecasts import (
    AS_FOUND_OUT,
    BINS,
    EVENTS,
    HORIZON_NAMES,
    LINING_MINIMUM,
    MARK_LIMIT,
    Reliability,
    coverage,
    outcomes,
    reliability,
)


@cache
def fleet() -> VirtualFleet:
    return simulate(vessels=100, years=8, seed=31)


def watched(*, low: float = -np.inf, high: float = np.inf, chances: dict[int, np.ndarray] | None = None) -> Watched:
    """An analysis that gives every test the same interval, and these chances after each year (drums, horizons)."""
    tests = int(fleet().calendar.made.sum())
    values = {name: np.zeros(tests) for name in PREDICTED}
    values |= {"low": np.full(tests, low), "high": np.full(tests, high)}
    year, drum = rows_of(fleet())
    return Watched(
        code_flagged=np.zeros((tests, len(CODES)), dtype=bool),
        above=np.zeros((tests, len(CODES)), dtype=bool),
        first=np.diff(drum, prepend=-1) != 0,
        mark_si=fleet().written["mark_si"][year, drum],
        mark=values,
        as_found=values,
        forecasts={years: forecast(given) for years, given in (chances or {}).items()},
        seconds=0.0,
    )


def forecast(chance: np.ndarray) -> Forecast:
    """A forecast with the same chance for every event."""
    return Forecast(**{one.name: chance for one in fields(Forecast)})


def constant(chance: float) -> dict[int, np.ndarray]:
    drums = len(fleet().vessel)
    return {years: np.full((drums, 2), chance) for years in range(1, 8)}


def of(event: str, horizon: str, chances: dict[int, np.ndarray]) -> Reliability:
    found = [
        one for one in reliability(fleet(), watched(chances=chances)) if (one.event, one.horizon) == (event, horizon)
    ]
    assert len(found) == 1
    return found[0]


def test_an_interval_without_ends_holds_everything_and_an_empty_one_nothing() -> None:
    year, drum = rows_of(fleet())
    good = fleet().condition[year, drum] == GOOD
    wide, none = coverage(fleet(), watched()), coverage(fleet(), watched(low=-2.0, high=-1.0))
    assert wide["mark"].inside == wide["mark_first"].inside == wide["as_found"].inside == 1
    assert none["mark"].inside == none["as_found"].inside == 0
    assert wide["mark"].tests + wide["mark_first"].tests == int(good.sum())


def test_the_interval_of_a_brake_that_held_need_only_reach_above() -> None:
    year, drum = rows_of(fleet())
    held = fleet().written["as_found_held"][year, drum] == 1
    share = fleet().written["as_found_share"][year, drum]
    assert held.any()
    beyond = coverage(fleet(), watched(low=0.81, high=0.95))["as_found"]
    known = np.isfinite(share) & (fleet().condition[year, drum] == GOOD) & (np.diff(drum, prepend=-1) == 0)
    assert beyond.inside == pytest.approx(held[known].mean())
    assert not np.any(share[known & ~held] >= 0.81)


@pytest.mark.parametrize("horizon", HORIZON_NAMES)
@pytest.mark.parametrize("event", EVENTS)
def test_always_saying_the_same_falls_into_one_bin_that_tells_how_often_it_happens(event: str, horizon: str) -> None:
    found = of(event, horizon, constant(0.3))
    assert len(found.bins) == 1
    one = found.bins[0]
    assert (one.low, one.high) == (0.20, 0.40)
    assert one.said == pytest.approx(0.3)
    assert one.number == found.number
    assert found.withheld == 0
    assert 0 < one.happened < 1
    assert found.brier == pytest.approx(one.happened * 0.49 + (1 - one.happened) * 0.09)
    assert found.brier_of_mean == pytest.approx(one.happened * (1 - one.happened))


@pytest.mark.parametrize(("place", "horizon"), list(enumerate(HORIZON_NAMES)))
@pytest.mark.parametrize("event", EVENTS)
def test_one_who_knows_what_will_happen_is_right_every_time(event: str, place: int, horizon: str) -> None:
    chances = constant(np.nan)
    for years, chance in chances.items():
        drums, outcome = outcomes(fleet(), years, place)
        chance[drums, place] = outcome[event][0]
    found = of(event, horizon, chances)
    assert found.brier == 0
    assert [one.happened for one in found.bins] == [0, 1]


def test_a_forecast_withheld_is_counted_and_not_judged() -> None:
    found = of(MARK_LIMIT, "next_due", constant(np.nan))
    assert found.number == 0
    assert found.withheld > 0
    assert found.bins == ()
    assert np.isnan(found.brier)


def test_the_limits_are_met_more_often_by_the_later_date() -> None:
    for event in (MARK_LIMIT, LINING_MINIMUM, AS_FOUND_OUT):
        due, docking = (of(event, horizon, constant(0.5)).bins[0].happened for horizon in HORIZON_NAMES)
        assert due < docking + 0.02, event


def test_the_bins_hold_every_probability_once() -> None:
    assert BINS[0] == 0
    assert BINS[-1] == 1
    assert list(BINS) == sorted(set(BINS))
