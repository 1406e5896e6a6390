"""Several judgements as one: each figure over all the faults, tests or forecasts of all the fleets together."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from fleet.calculation.checks import InputError
from fleet.simulation.fleet_faults import Kind
from fleet.simulation.judging import KindScore, Score
from fleet.simulation.judging_forecasts import Bin, Coverage, Reliability
from fleet.simulation.judging_oracle import Limit
from fleet.simulation.judging_report import ANALYSIS, Judgement


def pooled(judgements: Sequence[Judgement]) -> Judgement:
    """One judgement over several fleets, whose seeds run on from the first one's.

    Raises: InputError without any, or where their seeds do not run on.
    """
    if not judgements:
        raise InputError("judgements", "must be at least one")
    first = judgements[0]
    if [one.seed for one in judgements] != list(range(first.seed, first.seed + len(judgements))):
        raise InputError("judgements", "must be of seeds that run on")
    tests = [one.scores[ANALYSIS].good_tests for one in judgements]
    return replace(
        first,
        fleets=len(judgements),
        drums=sum(one.drums for one in judgements),
        tests=sum(one.tests for one in judgements),
        scores={way: _scores([one.scores[way] for one in judgements]) for way in first.scores},
        limits=_limits(judgements),
        coverage={name: _coverage([one.coverage[name] for one in judgements]) for name in first.coverage},
        reliability=_reliabilities(judgements),
        flag_codes={code: mean((one.flag_codes[code] for one in judgements), tests) for code in first.flag_codes},
        seconds=max(one.seconds for one in judgements),
    )


def mean(values: Iterable[float], weights: Iterable[float]) -> float:
    """Weighted mean of what is known; NaN where nothing is, or nothing has weight."""
    value, weight = np.array(list(values), dtype=float), np.array(list(weights), dtype=float)
    known = np.isfinite(value) & (weight > 0)
    return float(np.average(value[known], weights=weight[known])) if known.any() else float("nan")


def _scores(scores: list[Score]) -> Score:
    return Score(
        good_tests=sum(one.good_tests for one in scores),
        false_flags=sum(one.false_flags for one in scores),
        kinds={kind: _kind([one.kinds[kind] for one in scores]) for kind in Kind},
    )


def _kind(scores: list[KindScore]) -> KindScore:
    number = [one.number for one in scores]
    return KindScore(
        number=sum(number),
        at_once=mean((one.at_once for one in scores), number),
        ever=mean((one.ever for one in scores), number),
        by_chance=mean((one.by_chance for one in scores), number),
        named=mean((one.named for one in scores), number),
        # The delay is of those flagged.
        delay_y=mean((one.delay_y for one in scores), (one.number * one.ever if one.number else 0 for one in scores)),
    )


def _limits(judgements: Sequence[Judgement]) -> dict[Kind, Limit]:
    found = {}
    for kind in Kind:
        with_it = [one for one in judgements if kind in one.limits]
        number = [one.scores[ANALYSIS].kinds[kind].number for one in with_it]
        if with_it:
            found[kind] = Limit(
                at_once=mean((one.limits[kind].at_once for one in with_it), number),
                ever=mean((one.limits[kind].ever for one in with_it), number),
            )
    return found


def _coverage(parts: list[Coverage]) -> Coverage:
    tests = [one.tests for one in parts]
    return Coverage(tests=sum(tests), inside=mean((one.inside for one in parts), tests))


def _reliabilities(judgements: Sequence[Judgement]) -> list[Reliability]:
    keys = dict.fromkeys((one.event, one.horizon) for j in judgements for one in j.reliability)
    return [
        _reliability([one for j in judgements for one in j.reliability if (one.event, one.horizon) == key])
        for key in keys
    ]


def _reliability(parts: list[Reliability]) -> Reliability:
    number = [one.number for one in parts]
    bins = [one for part in parts for one in part.bins]
    together = [_bin([one for one in bins if one.low == low]) for low in sorted({one.low for one in bins})]
    often = mean((one.happened for one in together), (one.number for one in together))
    return replace(
        parts[0],
        number=sum(number),
        withheld=sum(one.withheld for one in parts),
        brier=mean((one.brier for one in parts), number),
        brier_of_mean=often * (1 - often),
        bins=tuple(together),
    )


def _bin(parts: list[Bin]) -> Bin:
    number = [one.number for one in parts]
    return replace(
        parts[0],
        number=sum(number),
        said=mean((one.said for one in parts), number),
        happened=mean((one.happened for one in parts), number),
    )
