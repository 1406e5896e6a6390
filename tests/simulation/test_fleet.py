"""Whole virtual fleets: one seed is one fleet, its statistics are those of its bounds, its truth is the truth."""

from functools import cache
from math import log

import numpy as np
import pytest
from scipy import stats

from fleet.calculation.checks import InputError
from fleet.simulation import fleet_ranges, ranges
from fleet.simulation.fleet import GOOD, VirtualFleet, simulate
from fleet.simulation.fleet_brakes import MARKER, draw
from fleet.simulation.fleet_histories import histories_of, rows_of
from fleet.simulation.fleet_noise import stream
from fleet.simulation.fleet_rounds import NOT_FOUND, RE_APPLIED, RELINED, UNTOUCHED


@cache
def sound() -> VirtualFleet:
    return simulate(vessels=80, years=10, seed=7, faults=False)


def test_one_seed_is_one_fleet() -> None:
    first, again, other = (simulate(vessels=6, years=5, seed=seed) for seed in (3, 3, 4))
    for name, values in first.written.items():
        np.testing.assert_array_equal(values, again.written[name])
    assert len(other.vessel) != len(first.vessel) or not np.array_equal(
        other.written["mark_si"], first.written["mark_si"], equal_nan=True
    )


def test_every_bound_of_a_fleet_has_a_reason_and_stands_once() -> None:
    assert len(fleet_ranges.BY_KEY) == len(fleet_ranges.TABLE)
    for bounds in fleet_ranges.TABLE:
        assert bounds.reason, bounds.key
        assert bounds.status in ranges.STATUSES, bounds.key
        assert bounds.low <= bounds.high, bounds.key
        assert bounds.drawn != ranges.LOG_UNIFORM or bounds.low > 0, bounds.key


@pytest.mark.parametrize("key", ["drums", "lining_new_m", "wear_of_type", "used_at_start"])
def test_a_parameter_is_drawn_as_its_bounds_say(key: str) -> None:
    bounds = fleet_ranges.BY_KEY[key]
    values = draw(bounds, stream(1, key), 2000)
    if bounds.drawn == ranges.ONE_OF:
        assert set(values) == set(bounds.values)
        return
    scaled, low, high = values, bounds.low, bounds.high
    if bounds.drawn == ranges.LOG_UNIFORM:
        scaled, low, high = np.log(values), log(low), log(high)
    assert stats.kstest(scaled, "uniform", args=(low, high - low)).pvalue > 1e-4


def test_the_written_load_is_the_true_one_but_for_gauge_jack_and_hand() -> None:
    fleet = sound()
    made = fleet.calendar.made
    off = (fleet.written["as_left_share"] - fleet.truth["as_left_share"])[made] / 0.6
    # The one-sided losses make it read high on the whole; class 2.5 on a coarse scale is the worst of the gauges.
    assert 0.0 < np.median(off) < 0.05
    assert np.quantile(np.abs(off), 0.95) < 0.15
    # Without wet brakes, wrong figures or wrong sides, what was set in band is not far out of it.
    true = fleet.truth["as_left_share"][made]
    assert np.quantile(true, 0.01) > 0.45
    assert np.quantile(true, 0.99) < 0.75


def test_wear_follows_moorings_and_the_mark_follows_wear() -> None:
    fleet = sound()
    drums = np.flatnonzero((fleet.brakes.kind == MARKER) & (fleet.written["event"] == 0).all(axis=0))
    assert len(drums) > 100
    lost_m = (fleet.truth["loss_m"][-1] - fleet.truth["loss_m"][0])[drums]
    made = fleet.calendar.moorings[1:].sum(axis=0)[drums]
    years = (fleet.calendar.year[-1] - fleet.calendar.year[0])[drums]
    expected_m = fleet.ships.wear_per_mooring_m[drums] * made + fleet.ships.wear_per_year_m[drums] * years
    # The scatter of wear is log-normal about the expected, so the mean lies above by half its variance.
    bias = np.exp(fleet_ranges.BY_KEY["wear_scatter"].low ** 2 / 2)
    assert np.mean(lost_m / expected_m) == pytest.approx(bias, abs=0.02)
    moved_m = (fleet.truth["mark_for_target_si"][-1] - fleet.truth["mark_for_target_si"][0])[drums]
    per_loss = fleet.brakes.tighter_sign * fleet.brakes.ratio * fleet.brakes.wrap_rad
    by_wear_m = per_loss[drums] * lost_m
    # What is left over is friction of that day, which has no direction.
    left_m = moved_m - by_wear_m
    assert abs(np.mean(left_m)) < 4 * np.std(left_m) / np.sqrt(len(drums))
    assert np.corrcoef(moved_m, by_wear_m)[0, 1] > 0.9


def test_kinds_of_as_found_come_as_often_as_stated_and_never_after_work() -> None:
    fleet = sound()
    kind, event = fleet.written["as_found_kind"][fleet.calendar.made], fleet.written["event"][fleet.calendar.made]
    usual = kind[event == 0]
    shares = [np.mean(usual == one) for one in (NOT_FOUND, UNTOUCHED, RE_APPLIED)]
    assert shares == pytest.approx([0.10, 0.40, 0.50], abs=0.03)
    assert np.all(kind[event != 0] == NOT_FOUND)
    assert np.any(event == RELINED)


def test_a_brake_held_says_the_ceiling_and_no_more() -> None:
    fleet = sound()
    held = fleet.written["as_found_held"] == 1
    assert np.any(held)
    np.testing.assert_array_equal(
        fleet.written["as_found_share"][held], np.broadcast_to(fleet.ships.stop_share, held.shape)[held]
    )


def test_a_new_lining_takes_the_mark_back_to_looser() -> None:
    fleet = sound()
    year, drum = np.nonzero((fleet.written["event"] == RELINED) & (fleet.brakes.kind == MARKER))
    before, after = fleet.truth["mark_for_target_si"][year - 1, drum], fleet.truth["mark_for_target_si"][year, drum]
    tighter = (after - before) * fleet.brakes.tighter_sign[drum]
    assert np.mean(tighter < 0) > 0.9
    assert np.all(fleet.truth["loss_m"][year, drum] < 0.1e-3)


def test_the_histories_hold_what_was_written_and_end_when_asked() -> None:
    fleet = simulate(vessels=6, years=6, seed=2)
    whole, early = histories_of(fleet), histories_of(fleet, years=3)
    rows = rows_of(fleet)
    assert whole.tests == int(fleet.calendar.made.sum())
    np.testing.assert_array_equal(whole.mark_si, fleet.written["mark_si"][rows])
    np.testing.assert_array_equal(whole.year, fleet.calendar.year[rows])
    assert early.tests == int(fleet.calendar.made[:3].sum())
    last = {drum: fleet.calendar.year[:3, drum][fleet.calendar.made[:3, drum]] for drum in range(early.drums)}
    for drum, years in last.items():
        if len(years):
            assert early.next_due_year[drum] == pytest.approx(years.max() + 1)
            assert 0 < early.next_docking_year[drum] - years.max() <= fleet_ranges.YEARS_BETWEEN_DOCKINGS
        else:
            assert np.isnan(early.next_due_year[drum])
    known = fleet.moorings_known[whole.drum] & (np.diff(whole.drum, prepend=-1) == 0)
    np.testing.assert_array_equal(np.isfinite(whole.moorings_since), known)


def test_a_fleet_with_nothing_wrong_is_good_throughout() -> None:
    fleet = sound()
    assert np.all(fleet.condition == GOOD)
    assert len(fleet.faults.kind) == 0


@pytest.mark.parametrize(("vessels", "years"), [(0, 5), (5, 0)])
def test_a_fleet_needs_vessels_and_years(vessels: int, years: int) -> None:
    with pytest.raises(InputError):
        simulate(vessels=vessels, years=years, seed=1)


def test_one_vessel_of_one_year_lives() -> None:
    fleet = simulate(vessels=1, years=1, seed=1)
    assert histories_of(fleet).tests == int(fleet.calendar.made.sum())
