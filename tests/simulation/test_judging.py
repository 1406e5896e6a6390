"""The judge of the analysis: it must see a detector that flags all, none, the right ones, or the right ones late."""

from functools import cache

import numpy as np
import pytest

from fleet.calculation.checks import InputError
from fleet.simulation.fleet import AFTER, FAULTY, GOOD, VirtualFleet, simulate
from fleet.simulation.fleet_faults import INJECTED, KINDS, TO_THE_END, Kind
from fleet.simulation.fleet_histories import rows_of
from fleet.simulation.judging import Alarms, acts_of, score
from fleet.simulation.judging_oracle import WITHOUT_LIMIT, limits


@cache
def fleet() -> VirtualFleet:
    return simulate(vessels=120, years=8, seed=21)


@cache
def harmless() -> VirtualFleet:
    return simulate(vessels=120, years=8, seed=21, harmless=True)


def condition() -> np.ndarray:
    year, drum = rows_of(fleet())
    return np.asarray(fleet().condition[year, drum])


def test_flagging_everything_finds_all_at_once_and_strikes_every_good_test() -> None:
    found = score(fleet(), Alarms(flagged=np.ones(len(condition()), dtype=bool)))
    assert found.false_per_1000 == 1000
    assert found.good_tests == int((condition() == GOOD).sum())
    for kind, one in found.kinds.items():
        assert one.number > 0, kind
        assert (one.at_once, one.ever, one.by_chance, one.delay_y) == (1, 1, 1, 0)
        assert np.isnan(one.named)


def test_flagging_nothing_finds_nothing_and_strikes_nobody() -> None:
    found = score(fleet(), Alarms(flagged=np.zeros(len(condition()), dtype=bool)))
    assert found.false_per_1000 == 0
    for one in found.kinds.values():
        assert (one.at_once, one.ever, one.by_chance) == (0, 0, 0)
        assert np.isnan(one.delay_y)


def test_flagging_the_faulty_tests_alone_is_perfect() -> None:
    found = score(fleet(), Alarms(flagged=condition() == FAULTY))
    assert found.false_flags == 0
    assert all(one.at_once == one.ever == 1 and one.delay_y == 0 for one in found.kinds.values())


def test_flagging_a_year_late_is_counted_as_late() -> None:
    found = score(fleet(), Alarms(flagged=condition() == AFTER))
    wet = found.kinds[Kind.WET_BRAKE]
    assert wet.at_once == 0
    assert 0.5 < wet.ever < 1
    assert wet.delay_y == pytest.approx(1, abs=0.2)
    assert found.kinds[Kind.TOO_GOOD].delay_y > 3


def test_a_random_flag_finds_as_much_as_chance_says() -> None:
    flagged = np.random.default_rng(1).random(len(condition())) < 0.2
    found = score(fleet(), Alarms(flagged=flagged))
    assert found.false_per_1000 == pytest.approx(200, abs=15)
    number = sum(one.number for one in found.kinds.values())
    ever = sum(one.number * one.ever for one in found.kinds.values()) / number
    chance = sum(one.number * one.by_chance for one in found.kinds.values()) / number
    assert ever == pytest.approx(chance, abs=4 * np.sqrt(chance * (1 - chance) / number))


def test_a_kind_is_named_only_by_a_flag_that_names_it() -> None:
    all_, none = np.ones(len(condition()), dtype=bool), np.zeros(len(condition()), dtype=bool)
    found = score(fleet(), Alarms(flagged=all_, names={Kind.WET_BRAKE: all_, Kind.TOO_GOOD: none}))
    assert found.kinds[Kind.WET_BRAKE].named == 1
    assert found.kinds[Kind.TOO_GOOD].named == 0
    silent = score(fleet(), Alarms(flagged=none, names={Kind.WET_BRAKE: all_}))
    assert silent.kinds[Kind.WET_BRAKE].named == 0


def test_a_fault_of_a_whole_vessel_is_one_act() -> None:
    faults, acts = fleet().faults, acts_of(fleet())
    for kind in (Kind.GAUGE_OFF, Kind.ONE_MARK, Kind.DRUMS_EXCHANGED):
        rows = faults.of(kind)
        number = int((acts.kind == KINDS.index(kind)).sum())
        assert number == len(set(faults.act[rows].tolist()))
        assert number < len(rows)


def test_an_act_must_be_found_by_the_test_after_its_last() -> None:
    acts = acts_of(fleet())
    for number, kind in enumerate(acts.kind):
        if INJECTED[KINDS[kind]].whole_vessel or KINDS[kind] == Kind.DRUMS_EXCHANGED:
            continue
        lines = acts.act == number
        lasts = INJECTED[KINDS[kind]].lasts
        assert acts.first[lines][0]
        assert acts.first[lines].sum() == 1
        assert np.all(np.diff(acts.time_y[lines]) > 0)
        assert lasts == TO_THE_END or lines.sum() <= lasts + 1


def test_alarms_for_another_number_of_tests_are_refused() -> None:
    with pytest.raises(InputError, match="flagged"):
        score(fleet(), Alarms(flagged=np.ones(3, dtype=bool)))


def test_where_a_fault_does_nothing_the_oracle_finds_it_by_chance_alone() -> None:
    for false_part in (0.005, 0.2):
        for limit in limits(harmless(), harmless(), false_part=false_part).values():
            assert limit.at_once == pytest.approx(false_part)
            assert limit.ever == pytest.approx(false_part)


def test_the_oracle_finds_what_is_large_and_not_what_is_small() -> None:
    found = limits(fleet(), harmless(), false_part=0.005)
    assert set(found) == set(Kind) - set(WITHOUT_LIMIT)
    assert found[Kind.WRONG_UNIT].at_once > 0.999
    assert found[Kind.FLANGE_FOR_DRUM].at_once > 0.99
    assert 0.005 < found[Kind.UNIT_TWO_PERCENT].at_once < 0.8
    assert found[Kind.GAUGE_DRIFTS].at_once < 0.9 < found[Kind.GAUGE_DRIFTS].ever
    wider = limits(fleet(), harmless(), false_part=0.05)
    for kind, limit in found.items():
        assert limit.at_once <= limit.ever + 1e-12
        assert limit.at_once <= wider[kind].at_once + 1e-12


@pytest.mark.parametrize("false_part", [0.0, 1.0])
def test_the_oracle_needs_a_false_alarm_rate(false_part: float) -> None:
    with pytest.raises(InputError, match="false_part"):
        limits(fleet(), harmless(), false_part=false_part)


def test_the_oracle_compares_a_fleet_with_itself_only() -> None:
    with pytest.raises(InputError, match="harmless"):
        limits(fleet(), simulate(vessels=5, years=8, seed=22, harmless=True), false_part=0.01)
