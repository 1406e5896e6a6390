"""Faults of a virtual fleet: each kind occurs, changes what it should from its beginning on, and nothing before."""

from functools import cache

import numpy as np
import pytest

from fleet.simulation.fleet import AFTER, FAULTY, GOOD, VirtualFleet, simulate
from fleet.simulation.fleet_brakes import MARKER
from fleet.simulation.fleet_faults import EARLIER_TESTS, INJECTED, KINDS, MARKER_ONLY, UNIT_FACTORS, Kind
from fleet.simulation.fleet_rounds import RELINED
from fleet.simulation.ranges import STATUSES

VESSELS, YEARS, SEED = 250, 9, 5


@cache
def faulty() -> VirtualFleet:
    return simulate(vessels=VESSELS, years=YEARS, seed=SEED)


@cache
def sound() -> VirtualFleet:
    """The same fleet, the same chance in everything, with faults that do nothing."""
    return simulate(vessels=VESSELS, years=YEARS, seed=SEED, harmless=True)


def at_first(kind: Kind, name: str, *, fleet: VirtualFleet | None = None, back: int = 0) -> np.ndarray:
    """A figure at the first test of every fault of a kind, or so many years before; "true_…" from the truth."""
    fleet = fleet or faulty()
    rows, faults = faulty().faults.of(kind), faulty().faults
    true = name in fleet.truth and name not in fleet.written
    values = fleet.truth[name.removeprefix("true_")] if true or name.startswith("true_") else fleet.written[name]
    return np.asarray(values[faults.year[rows] - back, faults.drum[rows]])


@pytest.mark.parametrize("kind", Kind)
def test_every_kind_occurs_with_sizes_within_its_bounds(kind: Kind) -> None:
    faults, injected = faulty().faults, INJECTED[kind]
    rows = faults.of(kind)
    assert len(rows) >= 10
    assert np.all(np.abs(faults.size[rows]) <= injected.high + 1e-12)
    assert np.all(np.abs(faults.size[rows]) >= injected.low - 1e-12)
    assert injected.reason
    assert injected.status in STATUSES


def test_a_fault_begins_at_a_test_with_enough_before_it() -> None:
    fleet = faulty()
    made = fleet.calendar.made
    for year, drum in zip(fleet.faults.year, fleet.faults.drum, strict=True):
        assert made[year, drum]
        assert made[:year, drum].sum() >= EARLIER_TESTS


def test_a_drum_has_one_fault_at_most_and_kinds_that_suit_it() -> None:
    fleet = faulty()
    assert len(set(fleet.faults.drum.tolist())) == len(fleet.faults.drum)
    for row, kind in enumerate(fleet.faults.kind):
        assert KINDS[kind] not in MARKER_ONLY or fleet.brakes.kind[fleet.faults.drum[row]] == MARKER


def test_before_the_first_fault_all_is_as_without_faults() -> None:
    fleet, clean = faulty(), sound()
    first = np.full(len(fleet.vessel), YEARS)
    for row in range(len(fleet.faults.kind)):
        for drum in {int(fleet.faults.drum[row]), int(fleet.faults.partner[row])} - {-1}:
            first[drum] = min(first[drum], fleet.faults.year[row])
    untouched = np.arange(YEARS)[:, None] < first
    for name in ("mark_si", "as_left_share", "as_found_share", "lining_m"):
        np.testing.assert_array_equal(fleet.written[name][untouched], clean.written[name][untouched])
    assert np.all(fleet.condition[untouched] == GOOD)


def test_the_condition_says_which_tests_a_fault_touches() -> None:
    fleet = faulty()
    faults = fleet.faults
    for row, (kind, drum, year) in enumerate(zip(faults.kind, faults.drum, faults.year, strict=True)):
        assert fleet.condition[year, drum] == FAULTY, KINDS[kind]
        assert fleet.fault[year, drum] == row
    wet = faults.of(Kind.WET_BRAKE)
    later = [fleet.condition[faults.year[row] + 1 :, faults.drum[row]] for row in wet]
    assert {int((one != GOOD).sum()) for one in later} <= {0, 1}
    assert any(AFTER in one for one in later)


def changed(kind: Kind, name: str) -> np.ndarray:
    return at_first(kind, name) - at_first(kind, name, fleet=sound())


def tighter(kind: Kind) -> np.ndarray:
    """How far the written mark went towards tighter, in share of SDMBL, against the same year without the fault."""
    sign = faulty().brakes.tighter_sign[faulty().faults.drum[faulty().faults.of(kind)]]
    return np.asarray(changed(kind, "mark_si") * sign * at_first(kind, "share_per_si", fleet=sound()))


def test_a_wet_brake_is_found_loose_and_left_far_too_tight() -> None:
    found = changed(Kind.WET_BRAKE, "as_found_share")
    assert np.nanmedian(found) < -0.10
    assert np.median(tighter(Kind.WET_BRAKE)) > 0.15
    assert np.median(at_first(Kind.WET_BRAKE, "as_left_share")) == pytest.approx(0.6, abs=0.02)
    # What is true of the brake once it is dry.
    assert np.median(at_first(Kind.WET_BRAKE, "true_as_left_share")) > 0.8


def test_fast_wear_takes_several_times_the_lining() -> None:
    fleet, rows = faulty(), faulty().faults.of(Kind.FAST_WEAR)
    year, drum = fleet.faults.year[rows], fleet.faults.drum[rows]
    lost = [f.truth["loss_m"][year, drum] - f.truth["loss_m"][year - 1, drum] for f in (fleet, sound())]
    usual = lost[1] > 0
    times = (lost[0] / lost[1])[usual] / fleet.faults.size[rows][usual]
    # Bedding-in comes once, whatever the wear: a lining in its first year loses less than so many times as much.
    assert np.all(times < 1 + 1e-9)
    assert np.mean(times > 1 - 1e-9) > 0.9


def test_an_unrecorded_lining_grows_and_loosens_the_mark() -> None:
    assert np.all(at_first(Kind.RELINED_UNRECORDED, "event") == 0)
    grown = at_first(Kind.RELINED_UNRECORDED, "loss_m", back=1) - at_first(Kind.RELINED_UNRECORDED, "loss_m")
    assert np.median(grown) > 1e-3
    assert np.mean(grown > 0.4e-3) > 0.6
    assert np.mean(tighter(Kind.RELINED_UNRECORDED)[grown > 0.4e-3] < 0) > 0.9


def test_copied_figures_are_last_years_to_the_digit_and_the_brake_was_left_alone() -> None:
    fleet, rows = faulty(), faulty().faults.of(Kind.FIGURES_COPIED)
    for row in rows:
        year, drum = fleet.faults.year[row], fleet.faults.drum[row]
        last = np.flatnonzero(fleet.calendar.made[:year, drum])[-1]
        for name in ("mark_si", "as_left_share", "as_found_share", "as_found_kind", "lining_m"):
            before, now = fleet.written[name][[last, year], drum]
            assert before == now or (np.isnan(before) and np.isnan(now))
    assert np.nanmedian(at_first(Kind.FIGURES_COPIED, "as_found_share")) > 0.5


def test_one_mark_stands_for_a_whole_vessel() -> None:
    fleet, rows = faulty(), faulty().faults.of(Kind.ONE_MARK)
    year, drum = fleet.faults.year[rows], fleet.faults.drum[rows]
    first = fleet.written["mark_si"][year, fleet.faults.partner[rows]]
    np.testing.assert_array_equal(fleet.written["mark_si"][year, drum], first)
    assert np.all(fleet.vessel[drum] == fleet.vessel[fleet.faults.partner[rows]])


def test_a_wrong_unit_multiplies_what_is_written_by_its_factor() -> None:
    factor = np.array(UNIT_FACTORS)[faulty().faults.size[faulty().faults.of(Kind.WRONG_UNIT)].astype(int)]
    ratio = at_first(Kind.WRONG_UNIT, "as_left_share") / at_first(Kind.WRONG_UNIT, "as_left_share", fleet=sound())
    np.testing.assert_allclose(ratio, factor)
    assert set(factor) == set(UNIT_FACTORS)


@pytest.mark.parametrize(
    ("kind", "true_share"),
    [
        (Kind.UNIT_TWO_PERCENT, 0.6 / 1.02),
        (Kind.RADIUS_FOR_DIAMETER, 0.6 / 1.875),
        (Kind.FLANGE_FOR_DRUM, 0.6 / 0.575),
    ],
)
def test_a_wrong_figure_looks_right_and_sets_the_brake_wrong(kind: Kind, true_share: float) -> None:
    assert np.median(at_first(kind, "as_left_share")) == pytest.approx(0.6, abs=0.02)
    assert np.median(at_first(kind, "true_as_left_share")) == pytest.approx(true_share, rel=0.06)


def test_exchanged_drums_stand_under_each_others_names() -> None:
    fleet, clean, rows = faulty(), sound(), faulty().faults.of(Kind.DRUMS_EXCHANGED)
    for row in rows:
        year, drum, other = fleet.faults.year[row], fleet.faults.drum[row], fleet.faults.partner[row]
        assert fleet.written["mark_si"][year, drum] == clean.written["mark_si"][year, other]
        assert fleet.vessel[drum] == fleet.vessel[other]


def test_a_gauge_that_is_off_is_another_gauge_for_one_round_and_moves_its_drums_together() -> None:
    fleet, rows = faulty(), faulty().faults.of(Kind.GAUGE_OFF)
    year, drum, size = (values[rows] for values in (fleet.faults.year, fleet.faults.drum, fleet.faults.size))
    number = fleet.gauges.number
    assert np.all(number[year, drum] != number[year - 1, drum])
    going_on = year + 1 < YEARS
    assert np.all(number[year, drum][going_on] != number[(year + 1)[going_on], drum[going_on]])
    # A gauge that reads high makes the crew stop too early: the brake is left looser, all drums alike.
    assert np.corrcoef(tighter(Kind.GAUGE_OFF), size)[0, 1] < -0.8
    acts = fleet.faults.act[rows]
    assert all(len(set(size[acts == act])) == 1 for act in set(acts))


def test_a_drifting_gauge_is_one_gauge_and_goes_further_each_year() -> None:
    fleet, rows = faulty(), faulty().faults.of(Kind.GAUGE_DRIFTS)
    for row in rows:
        years, drum = slice(fleet.faults.year[row], fleet.faults.until[row]), fleet.faults.drum[row]
        assert len(set(fleet.gauges.number[years, drum])) == 1
        gain = fleet.gauges.gain[years, drum]
        np.testing.assert_allclose(gain, fleet.faults.size[row] * np.arange(1, len(gain) + 1))


def test_a_shifted_mark_moves_by_as_much_as_it_was_shifted() -> None:
    fleet, rows = faulty(), faulty().faults.of(Kind.MARK_SHIFTED)
    moved = -(changed(Kind.MARK_SHIFTED, "mark_for_target_si"))
    np.testing.assert_allclose(moved, fleet.faults.size[rows], atol=1e-12)


def test_readings_too_good_hit_the_aim_to_the_digit_at_one_mark() -> None:
    fleet, rows = faulty(), faulty().faults.of(Kind.TOO_GOOD)
    for row in rows:
        years, drum = slice(fleet.faults.year[row], fleet.faults.until[row]), fleet.faults.drum[row]
        made = fleet.calendar.made[years, drum]
        assert set(fleet.written["as_left_share"][years, drum][made]) == {0.6}
        assert len(set(fleet.written["mark_si"][years, drum][made])) == 1


def test_a_jack_on_the_wrong_side_overtightens_after_a_recorded_lining() -> None:
    assert np.all(at_first(Kind.WRONG_JACK_SIDE, "event") == RELINED)
    assert np.median(at_first(Kind.WRONG_JACK_SIDE, "true_as_left_share")) > 1.0
    assert np.median(at_first(Kind.WRONG_JACK_SIDE, "as_left_share")) <= 0.65
