"""The judge's report and its command: all kinds in it, all figures as numbers, no database."""

import json
from functools import cache
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from fleet.calculation.checks import InputError
from fleet.calculation.drift import analyse
from fleet.calculation.drift_histories import Histories
from fleet.calculation.drift_results import CODES, FleetDrift
from fleet.calculation.drift_words import WORDS
from fleet.simulation.fleet import simulate
from fleet.simulation.fleet_faults import INJECTED, Kind
from fleet.simulation.fleet_histories import histories_of, rows_of
from fleet.simulation.judging_drift import PHRASES, naming, watch
from fleet.simulation.judging_pool import pooled
from fleet.simulation.judging_report import FRESH_FROM, TUNED_ON, WAYS, Judgement, as_json, judge, lines_of, seed_words


@cache
def small() -> Judgement:
    return judge(vessels=20, years=6, seed=5)


def test_the_analysis_is_judged_by_what_it_said_when_the_test_was_new() -> None:
    fleet = simulate(vessels=8, years=5, seed=9)
    seen: list[int] = []

    def watched(histories: Histories) -> FleetDrift:
        seen.append(histories.tests)
        return analyse(histories)

    found = watch(fleet, by=watched)
    made = fleet.calendar.made
    assert seen == [int(made[:years].sum()) for years in range(1, 6)]
    then = analyse(histories_of(fleet, years=4))
    rows, then_rows = np.flatnonzero(rows_of(fleet)[0] == 3), np.flatnonzero(rows_of(fleet, years=4)[0] == 3)
    np.testing.assert_array_equal(found.mark["mean"][rows], then.tests.mark.mean[then_rows])
    flagged = np.isin(then_rows, then.flags.test)
    np.testing.assert_array_equal(found.code_flagged[rows].any(axis=1), flagged)


def test_every_kind_is_named_among_the_causes_of_some_flag() -> None:
    for kind in Kind:
        assert naming(kind), kind
        assert {code for code, _ in naming(kind)} <= set(CODES)
        for phrase in PHRASES[kind]:
            assert any(phrase in cause for words in WORDS.values() for cause in words.causes), phrase


def test_a_flag_names_only_what_its_side_allows() -> None:
    # A brake that holds the target slacker than before is not a wet one.
    assert ("outside_prediction", True) in naming(Kind.WET_BRAKE)
    assert ("outside_prediction", False) not in naming(Kind.WET_BRAKE)
    assert ("outside_prediction", False) in naming(Kind.RELINED_UNRECORDED)
    assert ("figures_repeated", None) in naming(Kind.FIGURES_COPIED)


def test_the_report_says_every_kind_under_every_way_of_looking() -> None:
    text = "\n".join(lines_of(small()))
    for kind in Kind:
        assert text.count(INJECTED[kind].words) == 3, kind
    for words in WAYS.values():
        assert f" {words}" in text
    assert "so no proof" in text
    assert "nan" not in text


def test_both_baselines_held_to_as_few_false_flags_flag_no_more() -> None:
    scores = small().scores
    for way in ("tenth_as_few", "chart_as_few"):
        assert scores[way].false_flags <= scores["analysis"].false_flags
    assert scores["tenth"].false_per_1000 > 100


def test_everything_can_be_written_as_json() -> None:
    plain = json.loads(json.dumps(as_json(small()), allow_nan=False))
    assert plain["fresh"] is False
    assert plain["tuned_on_seeds"] == [0, 99]
    assert set(plain["scores"]["analysis"]["kinds"]) == {kind.value for kind in Kind}
    assert plain["scores"]["analysis"]["false_per_1000"] == pytest.approx(small().scores["analysis"].false_per_1000)
    assert {one["event"] for one in plain["reliability"]} == {"mark_limit", "lining_minimum", "as_found_out"}


def test_a_seed_says_whether_it_proves_anything() -> None:
    assert "no proof" in seed_words(TUNED_ON.start)
    assert "no proof" in seed_words(TUNED_ON.stop - 1)
    assert seed_words(TUNED_ON.stop).startswith("not tuned on")
    assert seed_words(FRESH_FROM) == "fresh, not tuned on"


def test_the_command_needs_no_database_and_writes_its_file(tmp_path: Path) -> None:
    out, file = StringIO(), tmp_path / "judged.json"
    call_command("judge_detection", vessels=6, years=4, seed=3, json=str(file), stdout=out)
    assert "False flags per 1,000 good tests" in out.getvalue()
    assert json.loads(file.read_text(encoding="utf-8"))["seed"] == 3


def test_several_fleets_are_judged_as_one() -> None:
    others = [judge(vessels=20, years=6, seed=seed) for seed in (6, 7)]
    one = pooled([small(), *others])
    parts = [small(), *others]
    assert (one.fleets, one.seed) == (3, 5)
    assert one.tests == sum(part.tests for part in parts)
    scores = [part.scores["analysis"] for part in parts]
    assert one.scores["analysis"].false_flags == sum(score.false_flags for score in scores)
    for kind in Kind:
        kinds = [score.kinds[kind] for score in scores]
        found = sum(score.number * score.ever for score in kinds if score.number)
        assert one.scores["analysis"].kinds[kind].number == sum(score.number for score in kinds)
        assert one.scores["analysis"].kinds[kind].ever * sum(score.number for score in kinds) == pytest.approx(found)
    for pooled_one in one.reliability:
        same = [
            part
            for j in parts
            for part in j.reliability
            if (part.event, part.horizon) == (pooled_one.event, pooled_one.horizon)
        ]
        assert pooled_one.number == sum(part.number for part in same) == sum(part.number for part in pooled_one.bins)
        happened = sum(one_bin.number * one_bin.happened for part in same for one_bin in part.bins)
        assert sum(one_bin.number * one_bin.happened for one_bin in pooled_one.bins) == pytest.approx(happened)
    assert "3 such fleets together, seeds 5 to 7" in lines_of(one)[0]


def test_one_fleet_pooled_is_itself() -> None:
    assert lines_of(pooled([small()])) == lines_of(small())


def test_only_seeds_that_run_on_are_pooled() -> None:
    with pytest.raises(InputError, match="run on"):
        pooled([small(), small()])
    with pytest.raises(InputError, match="at least one"):
        pooled([])


def test_the_command_refuses_a_fleet_without_vessels() -> None:
    with pytest.raises(CommandError, match="at least 1"):
        call_command("judge_detection", vessels=0, stdout=StringIO())
