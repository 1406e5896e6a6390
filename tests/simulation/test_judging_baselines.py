"""The two baselines, the individuals chart against the handbook's own case."""

import numpy as np
import pytest

from fleet.calculation.drift_histories import LINING_RENEWED, Histories
from fleet.simulation.judging_baselines import (
    first_of_segment,
    individuals_chart,
    parts_off_last_year,
    sigmas_off_chart,
    ten_percent,
    with_as_few_false_flags,
)

# NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.2, flow rates of ten batches; its limits are 45.8159 and 55.8041
# (figures recalled from memory, reproduced by recomputation).
FLOW_RATES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def histories(marks: list[list[float]], *, events: list[tuple[int, float]] | None = None) -> Histories:
    """Drums with these marks, year by year, everything else the same throughout."""
    drum = np.repeat(np.arange(len(marks)), [len(one) for one in marks])
    tests, drums = len(drum), len(marks)
    events = events or []
    whole, real = np.zeros(tests, dtype=np.int64), np.full(tests, np.nan)
    return Histories(
        vessel=np.zeros(drums, dtype=np.int64),
        winch_type=np.zeros(drums, dtype=np.int64),
        lining_kind=np.zeros(drums, dtype=np.int64),
        duty=np.zeros(drums, dtype=np.int64),
        setting_kind=np.zeros(drums, dtype=np.int64),
        tighter_sign=np.ones(drums),
        mark_limit_si=np.full(drums, np.nan),
        lining_minimum_m=np.full(drums, np.nan),
        next_due_year=np.full(drums, np.nan),
        next_docking_year=np.full(drums, np.nan),
        drum=drum,
        year=np.concatenate([np.arange(len(one), dtype=float) for one in marks]),
        round_id=np.arange(tests),
        mark_si=np.concatenate([np.array(one) for one in marks]),
        as_left_share=np.full(tests, 0.6),
        slope_share_per_si=real,
        hand_si=real,
        gauge_share=real,
        as_found_share=real,
        as_found_kind=whole,
        as_found_held=np.zeros(tests, dtype=bool),
        lining_m=real,
        gauge=whole,
        moorings_since=real,
        target_share=np.full(tests, 0.6),
        lower_share=np.full(tests, 0.55),
        upper_share=np.full(tests, 0.65),
        event_drum=np.array([one for one, _ in events], dtype=np.int64),
        event_year=np.array([when for _, when in events]),
        event_kind=np.full(len(events), LINING_RENEWED),
    )


@pytest.mark.parametrize(("point", "outside"), [(55.80, False), (55.81, True), (45.82, False), (45.81, True)])
def test_the_individuals_chart_has_the_handbooks_limits(point: float, outside: bool) -> None:
    found = individuals_chart(histories([[*FLOW_RATES, point]]))
    assert found[-1] == outside


def test_the_chart_of_one_drum_knows_nothing_of_another_and_needs_three_tests() -> None:
    found = individuals_chart(histories([[*FLOW_RATES, 60.0], [49.6, 47.6, 900.0], [49.6, 47.6, 49.9, 60.0]]))
    assert np.flatnonzero(found).tolist() == [10, 17]


def test_a_chart_whose_values_never_varied_has_no_limits() -> None:
    off = sigmas_off_chart(histories([[5.0, 5.0, 5.0, 9.0, 9.1]]))
    # Then mean 6, mean moving range 4/3: the sigma is 1.182.
    assert off.tolist() == pytest.approx([0, 0, 0, 0, 3.1 / (4 / 3 / 1.128)])


@pytest.mark.parametrize(("last", "flagged"), [(44.0, False), (44.1, True), (36.0, False), (35.9, True)])
def test_a_tenth_is_a_tenth_of_last_year(last: float, flagged: bool) -> None:
    assert ten_percent(histories([[80.0, 40.0, last]])).tolist() == [False, True, flagged]


def test_after_recorded_work_there_is_nothing_to_compare() -> None:
    one = histories([[80.0, 80.0, 40.0, 40.0], [50.0, 20.0]], events=[(0, 1.9), (1, 99.0)])
    assert first_of_segment(one).tolist() == [True, False, True, False, True, False]
    assert ten_percent(one).tolist() == [False, False, False, False, False, True]
    assert not individuals_chart(one).any()


def test_an_event_in_the_year_of_a_test_counts_as_before_it() -> None:
    assert first_of_segment(histories([[1.0, 1.0, 1.0]], events=[(0, 1.0)])).tolist() == [True, True, False]


def test_the_shares_count_as_well_as_the_mark() -> None:
    one = histories([[50.0, 50.0, 50.0]])
    one.as_left_share[2] = 0.9
    assert parts_off_last_year(one).tolist() == pytest.approx([0, 0, 0.5])
    one.as_found_kind[:], one.as_found_share[:] = 2, [0.5, 0.2, 0.5]
    assert parts_off_last_year(one).tolist() == pytest.approx([0, 0.6, 1.5])
    one.as_found_held[1] = True
    assert parts_off_last_year(one).tolist() == pytest.approx([0, 0, 0.5])


def test_as_few_false_flags_means_at_most_as_many() -> None:
    off = np.array([0.1, 0.5, 0.9, 0.7, 2.0, 0.3])
    good = np.array([True, True, True, True, False, True])
    assert with_as_few_false_flags(off, good, 0.4).tolist() == [False, False, True, True, True, False]
    assert with_as_few_false_flags(off, good, 0.0).tolist() == [False, False, False, False, True, False]
    assert with_as_few_false_flags(off, good, 1.0).all()
