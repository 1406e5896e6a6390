"""The whole analysis: what each kind of trouble looks like in it, and what changes nothing."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.calculation.drift import analyse
from fleet.calculation.drift_histories import LINING_RENEWED, PER_TEST, RE_APPLIED, Histories
from fleet.calculation.drift_results import (
    AS_FOUND_OUTSIDE,
    AS_FOUND_UNEXPECTED,
    CODES,
    DRUMS_EXCHANGED,
    DUE,
    EQUAL_MARKS,
    FIGURES_REPEATED,
    GAUGE_STEP,
    LINE_BROKEN,
    LINING_GREW,
    MOVED_TOGETHER,
    NO_DATE,
    NO_LIMIT,
    OUTSIDE_PREDICTION,
    STATES,
    STEP,
    WEAR_TOO_FAST,
    WITHHELD,
    WRONG_UNIT,
    FleetDrift,
)
from tests.calculation.histories import as_found, histories, worn

DRUMS, TESTS = 120, 8
SCATTER_M = 0.6e-3


@pytest.fixture(scope="module")
def marks() -> np.ndarray:
    # A draw of which chance alone flags nothing, so that each test below sees what it put in.
    return worn(np.random.default_rng(7), drums=DRUMS, tests=TESTS, scatter_m=SCATTER_M)


def codes_of(found: FleetDrift, drum: int, test: int) -> set[str]:
    row = int(np.flatnonzero(found.histories.drum == drum)[test])
    return {CODES[code] for code in found.flags.code[found.flags.of_test(row)]}


def flagged(found: FleetDrift) -> set[int]:
    faults = ~np.isin(found.flags.code, [CODES.index(code) for code in STATES])
    return set(found.flags.test[faults].tolist())


def last_rows(found: FleetDrift) -> np.ndarray:
    return found.drums.last_test


def test_a_good_fleet_is_hardly_flagged_and_its_intervals_hold(marks: np.ndarray) -> None:
    found = analyse(histories(marks))
    assert len(flagged(found)) <= 0.01 * found.histories.tests
    told = np.isfinite(found.tests.mark.mean)
    assert told.sum() > 0.95 * DRUMS * (TESTS - 1)
    inside = (found.tests.mark_for_target_si >= found.tests.mark.low) & (
        found.tests.mark_for_target_si <= found.tests.mark.high
    )
    # 95 % of 840: four standard deviations either way.
    assert inside[told].mean() == pytest.approx(0.95, abs=0.03)


def test_the_wear_found_is_the_wear_that_was(marks: np.ndarray) -> None:
    found = analyse(histories(marks))
    alone = np.array([np.polyfit(np.arange(TESTS), row, 1)[0] for row in marks])
    # Least squares of each drum alone, drawn towards the fleet: never further from the fleet than it is alone.
    middle = np.median(alone)
    assert np.mean(np.abs(found.drums.wear_si_per_year - middle) <= np.abs(alone - middle) + 1e-5) > 0.95
    assert np.corrcoef(found.drums.wear_si_per_year, alone)[0, 1] > 0.95
    assert np.all((found.drums.borrowed_wear > 0) & (found.drums.borrowed_wear < 1))


def test_the_mark_is_corrected_to_the_target_with_the_slope_of_the_test(marks: np.ndarray) -> None:
    # 1 % of the base load below the target, at 2.5 % per mm: 0.4 mm tighter, here a shorter mark.
    shares = np.full(DRUMS * TESTS, 0.59)
    found = analyse(histories(marks, as_left_share=shares))
    assert found.tests.mark_for_target_si == pytest.approx(marks.ravel() - 0.4e-3)


def test_a_slip_of_the_pen_is_outside_and_a_lasting_move_is_a_step(marks: np.ndarray) -> None:
    slip, step = marks.copy(), marks.copy()
    slip[3, 5] -= 5e-3
    step[3, 5:] -= 5e-3
    assert codes_of(analyse(histories(slip)), 3, 5) == {OUTSIDE_PREDICTION}
    assert codes_of(analyse(histories(slip)), 3, 6) == set()
    assert codes_of(analyse(histories(step)), 3, 5) == {STEP}
    assert codes_of(analyse(histories(step)), 3, 6) == set()


def test_a_forecast_is_withheld_while_the_newest_test_breaks_the_line(marks: np.ndarray) -> None:
    broken = marks.copy()
    broken[3, -1] -= 5e-3
    found = analyse(histories(broken, mark_limit_si=np.full(DRUMS, 0.03)))
    assert found.drums.line_broken.nonzero()[0].tolist() == [3]
    assert WITHHELD[found.forecast.mark_withheld[3, DUE]] == LINE_BROKEN
    assert np.isnan(found.forecast.mark_si[3]).all()
    assert np.isfinite(found.forecast.mark_si[4]).all()


def test_a_forecast_says_why_there_is_none(marks: np.ndarray) -> None:
    found = analyse(histories(marks, next_docking_year=np.full(DRUMS, np.nan)))
    assert {WITHHELD[code] for code in found.forecast.mark_withheld[:, 0]} == {NO_LIMIT}
    assert {WITHHELD[code] for code in found.forecast.mark_withheld[:, 1]} == {NO_DATE}
    assert np.isfinite(found.forecast.mark_si[:, 0]).all()


def test_the_nearer_the_limit_the_likelier_it_is_reached(marks: np.ndarray) -> None:
    near = histories(marks, mark_limit_si=marks[:, -1] - np.linspace(-2e-3, 6e-3, DRUMS))
    chance = analyse(near).forecast.mark_limit[:, DUE]
    assert chance[0] > 0.95
    assert chance[-1] < 0.01
    assert np.all((chance >= 0) & (chance <= 1))
    assert np.all(analyse(near).forecast.mark_limit[:, 1] >= chance - 1e-9)


def test_new_lining_starts_anew_and_is_no_step(marks: np.ndarray) -> None:
    relined = marks.copy()
    relined[3, 4:] += 12e-3
    silent = analyse(histories(relined))
    assert STEP in codes_of(silent, 3, 4)
    told = analyse(
        histories(
            relined,
            event_drum=np.array([3]),
            event_year=np.array([2014.4]),
            event_kind=np.array([LINING_RENEWED]),
        )
    )
    assert codes_of(told, 3, 4) == set()
    rows = np.flatnonzero(told.histories.drum == 3)
    assert np.diff(told.tests.segment[rows]).tolist() == [0, 0, 0, 1, 0, 0, 0]
    assert told.tests.years_since_lining[rows[4]] == pytest.approx(0.1)
    assert not told.drums.retest_early[3]


def test_a_lining_just_fitted_wants_an_early_retest(marks: np.ndarray) -> None:
    event = {"event_drum": np.array([3]), "event_year": np.array([2017.45]), "event_kind": np.array([LINING_RENEWED])}
    found = analyse(histories(marks, **event))
    assert found.drums.retest_early.nonzero()[0].tolist() == [3]


def test_bedding_in_is_learnt_from_the_fleet() -> None:
    rng = np.random.default_rng(3)
    marks = worn(rng, drums=96, tests=8, scatter_m=0.3e-3)
    # Each drum is relined before its fourth test, and beds in by 2 mm more than it wears.
    marks[:, 3:] += 10e-3
    marks[:, 4:] -= 2e-3
    found = analyse(
        histories(
            marks,
            event_drum=np.arange(96),
            event_year=np.full(96, 2013.49),
            event_kind=np.full(96, LINING_RENEWED),
        )
    )
    second = np.arange(96) * 8 + 4
    off = found.tests.mark_for_target_si[second] - found.tests.mark.mean[second]
    assert np.mean(off) == pytest.approx(0.0, abs=0.3e-3)
    assert len(flagged(found)) < 0.02 * found.histories.tests


def test_wear_like_no_other_drum_is_too_fast(marks: np.ndarray) -> None:
    fast = marks.copy()
    fast[3] -= 3.0e-3 * np.arange(TESTS)
    found = analyse(histories(fast))
    assert any(WEAR_TOO_FAST in codes_of(found, 3, test) for test in range(TESTS))
    slow = marks.copy()
    slow[3] += 0.8e-3 * np.arange(TESTS)
    gentle = analyse(histories(slow))
    assert not any(WEAR_TOO_FAST in codes_of(gentle, 3, test) for test in range(TESTS))


def test_two_drums_exchanged_name_each_other(marks: np.ndarray) -> None:
    exchanged = marks.copy()
    exchanged[[3, 5], -1] = exchanged[[5, 3], -1]
    assert abs(exchanged[3, -1] - exchanged[5, -1]) > 5 * SCATTER_M
    found = analyse(histories(exchanged))
    for drum, other in ((3, 5), (5, 3)):
        assert DRUMS_EXCHANGED in codes_of(found, drum, TESTS - 1)
        mine = found.flags.of_test(int(last_rows(found)[drum]))
        named = found.flags.other[mine][found.flags.code[mine] == CODES.index(DRUMS_EXCHANGED)]
        assert named.tolist() == [last_rows(found)[other]]


def test_one_mark_for_many_drums(marks: np.ndarray) -> None:
    alike = marks.copy()
    alike[:5, -1] = 0.060
    found = analyse(histories(alike))
    assert all(EQUAL_MARKS in codes_of(found, drum, TESTS - 1) for drum in range(5))
    assert EQUAL_MARKS not in codes_of(found, 6, TESTS - 1)


def test_a_gauge_exchanged_and_off_moves_all_drums_together(marks: np.ndarray) -> None:
    moved = marks.copy()
    moved[:12, 5:] -= 2.0e-3
    gauge = np.repeat(np.arange(DRUMS) // 12, TESTS)
    new = gauge.copy()
    new.reshape(DRUMS, TESTS)[:12, 5:] = 99
    share = np.full(DRUMS * TESTS, 0.004)
    changed = analyse(histories(moved, gauge=new, gauge_share=share))
    # The gauge that everybody knows is believed longer than one that is new.
    further = marks.copy()
    further[:12, 5:] -= 4.0e-3
    same = analyse(histories(further, gauge=gauge, gauge_share=share))
    assert sum(GAUGE_STEP in codes_of(changed, drum, 5) for drum in range(12)) == 12
    assert sum(MOVED_TOGETHER in codes_of(same, drum, 5) for drum in range(12)) == 12
    row = np.flatnonzero(changed.histories.drum == 0)[5]
    # 2 mm at 2.5 % per mm.
    assert changed.tests.gauge_shift_share[row] == pytest.approx(0.05, abs=0.012)
    # It is taken off, so that the line of each drum goes on.
    assert not any(codes_of(changed, drum, test) for drum in range(12) for test in (6, 7))


def test_figures_repeated_to_the_last_digit(marks: np.ndarray) -> None:
    rng = np.random.default_rng(8)
    rounded = np.round(marks, 4)
    rounded[:12, 5] = rounded[:12, 4]
    left = np.round(0.60 + rng.normal(0, 0.01, marks.shape), 4)
    left[:12, 5] = left[:12, 4]
    lining = np.round(0.012 - 0.0003 * np.arange(TESTS) + rng.normal(0, 0.0002, marks.shape), 4)
    lining[:12, 5] = lining[:12, 4]
    found = analyse(histories(rounded, as_left_share=left.ravel(), lining_m=lining.ravel()))
    assert all(FIGURES_REPEATED in codes_of(found, drum, 5) for drum in range(12))
    others = found.flags.code == CODES.index(FIGURES_REPEATED)
    assert set(found.histories.drum[found.flags.test[others]].tolist()) == set(range(12))


def test_a_lining_that_grew(marks: np.ndarray) -> None:
    rng = np.random.default_rng(9)
    lining = 0.012 - 0.0003 * np.arange(TESTS) + rng.normal(0, 0.0001, marks.shape)
    lining[3, -1] += 0.003
    found = analyse(histories(marks, lining_m=lining.ravel(), lining_minimum_m=np.full(DRUMS, 0.008)))
    assert LINING_GREW in codes_of(found, 3, TESTS - 1)
    assert WITHHELD[found.forecast.lining_withheld[3, DUE]] == LINE_BROKEN
    assert found.drums.lining_m_per_year[0] == pytest.approx(0.0003, rel=0.25)


def test_megapascals_read_as_bar(marks: np.ndarray) -> None:
    shares = np.full((DRUMS, TESTS), 0.60)
    shares[3, -1] = 0.0601
    assert WRONG_UNIT in codes_of(analyse(histories(marks, as_left_share=shares.ravel())), 3, TESTS - 1)


def as_found_shares(marks: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    shares = np.full(marks.shape, np.nan)
    shares[:, 1:] = 0.60 - 0.025 + rng.normal(0, 0.012, marks[:, 1:].shape)
    return shares


def test_a_brake_found_far_weaker_than_its_wear_explains(marks: np.ndarray) -> None:
    shares = as_found_shares(marks, np.random.default_rng(4))
    shares[3, 6] = 0.35
    found = analyse(as_found(histories(marks), shares))
    assert {AS_FOUND_OUTSIDE, AS_FOUND_UNEXPECTED} <= codes_of(found, 3, 6)
    assert found.tests.as_found.mean[np.isfinite(found.tests.as_found.mean)].mean() == pytest.approx(0.575, abs=0.01)


def test_a_brake_that_held_more_is_as_was_expected_one_that_held_less_says_nothing_bad(marks: np.ndarray) -> None:
    shares = as_found_shares(marks, np.random.default_rng(4))
    shares[3, 6], shares[4, 6] = 0.45, 0.80
    made = as_found(histories(marks), shares)
    held = np.zeros((DRUMS, TESTS), dtype=bool)
    held[[3, 4], 6] = True
    found = analyse(replace(made, as_found_held=held.ravel()))
    assert codes_of(found, 3, 6) == set()
    assert {AS_FOUND_OUTSIDE, AS_FOUND_UNEXPECTED} <= codes_of(found, 4, 6)


def test_the_two_kinds_of_as_found_are_two_series(marks: np.ndarray) -> None:
    shares = as_found_shares(marks, np.random.default_rng(4))
    made = as_found(histories(marks), shares)
    untouched = (np.arange(DRUMS * TESTS) % 2 == 0) & (made.as_found_kind == RE_APPLIED)
    lower = np.where(untouched, made.as_found_share - 0.08, made.as_found_share)
    mixed = replace(made, as_found_share=lower, as_found_kind=np.where(untouched, 1, made.as_found_kind))
    found = analyse(mixed)
    known = np.isfinite(found.tests.as_found.mean)
    off = (mixed.as_found_share - found.tests.as_found.mean)[known]
    assert np.abs(np.median(off[untouched[known]])) < 0.01
    assert np.abs(np.median(off[~untouched[known]])) < 0.01
    # With one series for both, every second test would stand four standard deviations off.
    assert (found.flags.code == CODES.index(AS_FOUND_UNEXPECTED)).sum() <= 2


def test_a_fleet_of_one_test_and_an_empty_one() -> None:
    one = analyse(histories(np.array([[0.05]]), mark_limit_si=np.array([0.02])))
    assert one.drums.borrowed_wear == pytest.approx([1.0])
    assert np.isfinite(one.forecast.mark_si).all()
    assert np.isnan(one.tests.mark.mean).all()
    none = analyse(histories(np.empty((0, 4))))
    assert len(none.flags.test) == 0


def test_a_drum_without_tests_has_no_history(marks: np.ndarray) -> None:
    made = histories(marks)
    keep = made.drum != 3
    found = analyse(replace(made, **{name: getattr(made, name)[keep] for name in PER_TEST}))
    assert found.drums.last_test[3] == -1
    assert np.isnan(found.drums.wear_si_per_year[3])
    assert {WITHHELD[code] for code in found.forecast.as_found_withheld[3]} == {"no_history"}


def small(sign: float = -1.0, shift: float = 0.0, factor: float = 1.0) -> Histories:
    marks = worn(np.random.default_rng(21), drums=24, tests=6)
    marks[3, 4] -= 6e-3
    return histories(
        -sign * (marks * factor + shift),
        tighter_sign=sign,
        mark_limit_si=-sign * (np.full(24, 0.03) * factor + shift),
        slope_share_per_si=np.full(144, 25.0 / factor),
    )


@settings(max_examples=10, deadline=None)
@given(st.floats(-0.5, 0.5))
def test_where_the_mark_is_measured_from_does_not_matter(shift: float) -> None:
    here, there = analyse(small()), analyse(small(shift=shift))
    assert there.forecast.mark_si == pytest.approx(here.forecast.mark_si + shift, abs=1e-9, nan_ok=True)
    assert there.forecast.mark_limit == pytest.approx(here.forecast.mark_limit, abs=1e-9, nan_ok=True)
    assert there.flags.test.tolist() == here.flags.test.tolist()


def test_a_mark_that_grows_when_tightened_is_the_same_mark_turned_round() -> None:
    here, there = analyse(small()), analyse(small(sign=1.0))
    assert there.forecast.mark_si == pytest.approx(-here.forecast.mark_si, nan_ok=True)
    assert there.forecast.mark_low_si == pytest.approx(-here.forecast.mark_high_si, nan_ok=True)
    assert there.drums.wear_si_per_year == pytest.approx(-here.drums.wear_si_per_year)
    assert there.forecast.mark_limit == pytest.approx(here.forecast.mark_limit, nan_ok=True)
    assert there.flags.code.tolist() == here.flags.code.tolist()


@settings(max_examples=10, deadline=None)
@given(st.floats(0.2, 50.0))
def test_a_setting_not_kept_as_a_length_has_its_own_scale(factor: float) -> None:
    torque = np.ones(24, dtype=int)
    here = analyse(replace(small(), setting_kind=torque))
    there = analyse(replace(small(factor=factor), setting_kind=torque))
    assert there.forecast.mark_si == pytest.approx(here.forecast.mark_si * factor, rel=1e-6, nan_ok=True)
    assert there.forecast.mark_limit == pytest.approx(here.forecast.mark_limit, abs=1e-6, nan_ok=True)
    assert there.flags.test.tolist() == here.flags.test.tolist()


@settings(max_examples=10, deadline=None)
@given(st.permutations(list(range(10))))
def test_the_order_of_the_vessels_does_not_matter(order: list[int]) -> None:
    marks = worn(np.random.default_rng(5), drums=40, tests=5)
    blocks = [np.arange(4 * vessel, 4 * vessel + 4) for vessel in order]
    turned = np.concatenate(blocks)
    here = analyse(histories(marks, drums_per_vessel=4))
    there = analyse(histories(marks[turned], drums_per_vessel=4))
    assert there.drums.wear_si_per_year == pytest.approx(here.drums.wear_si_per_year[turned], rel=1e-6)
    assert there.forecast.mark_si == pytest.approx(here.forecast.mark_si[turned], rel=1e-6, nan_ok=True)


def test_what_is_predicted_of_a_test_does_not_hang_on_the_test_itself(marks: np.ndarray) -> None:
    # Only through what the fleet as a whole says: far less than the scatter of a test.
    other = marks.copy()
    other[3, -1] += 0.4e-3
    here, there = analyse(histories(marks)), analyse(histories(other))
    row = last_rows(here)[3]
    assert there.tests.mark.mean[row] == pytest.approx(here.tests.mark.mean[row], abs=0.1 * SCATTER_M)


def test_a_gauge_of_which_nothing_is_known_may_differ_from_the_last_one_as_gauges_do(marks: np.ndarray) -> None:
    moved = marks.copy()
    moved[:12, 5:] -= 1.5e-3
    gauge = np.repeat(np.arange(DRUMS) // 12, TESTS)
    gauge.reshape(DRUMS, TESTS)[:12, 5:] = 99
    unknown = analyse(histories(moved, gauge=gauge))
    fine = analyse(histories(moved, gauge=gauge, gauge_share=np.full(DRUMS * TESTS, 1e-4)))
    assert not any(GAUGE_STEP in codes_of(unknown, drum, 5) for drum in range(12))
    assert all(GAUGE_STEP in codes_of(fine, drum, 5) for drum in range(12))
