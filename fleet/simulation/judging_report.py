"""The whole judgement of the drift analysis on one virtual fleet, as numbers and as a plain table."""

from dataclasses import asdict, dataclass
from math import isfinite
from typing import Any

import numpy as np

from fleet.simulation.fleet import GOOD, simulate
from fleet.simulation.fleet_faults import INJECTED, Kind
from fleet.simulation.fleet_histories import histories_of, rows_of
from fleet.simulation.judging import Alarms, Score, score
from fleet.simulation.judging_baselines import (
    individuals_chart,
    parts_off_last_year,
    sigmas_off_chart,
    ten_percent,
    with_as_few_false_flags,
)
from fleet.simulation.judging_drift import watch
from fleet.simulation.judging_forecasts import Coverage, Reliability, coverage, reliability
from fleet.simulation.judging_oracle import Limit, limits

TUNED_ON = range(0, 100)
FRESH_FROM = 10_000
LEAST_FALSE_PART = 1e-4
ANALYSIS, TENTH, CHART = "analysis", "tenth", "chart"
TENTH_AS_FEW, CHART_AS_FEW = "tenth_as_few", "chart_as_few"


@dataclass(frozen=True, kw_only=True)
class Judgement:
    """What came of one fleet, or of ``fleets`` from this seed on.

    ``scores`` by way of looking; ``limits`` by kind, of the oracle at as many false flags as the analysis;
    ``flag_codes``: of each code of the analysis, how many of 1,000 good tests it struck; ``seconds``: of one analysis
    of all the years.
    """

    vessels: int
    years: int
    seed: int
    fleets: int
    drums: int
    tests: int
    scores: dict[str, Score]
    limits: dict[Kind, Limit]
    coverage: dict[str, Coverage]
    reliability: list[Reliability]
    flag_codes: dict[str, float]
    seconds: float


def judge(*, vessels: int, years: int, seed: int) -> Judgement:
    """Let the analysis and both baselines look at one virtual fleet. Raises: InputError, as ``simulate``."""
    fleet = simulate(vessels=vessels, years=years, seed=seed)
    harmless = simulate(vessels=vessels, years=years, seed=seed, harmless=True)
    histories, watched = histories_of(fleet), watch(fleet)
    year, drum = rows_of(fleet)
    good = fleet.condition[year, drum] == GOOD
    scores = {ANALYSIS: score(fleet, watched.alarms)}
    part = scores[ANALYSIS].false_flags / max(int(good.sum()), 1)
    ways = {
        TENTH: ten_percent(histories),
        CHART: individuals_chart(histories),
        TENTH_AS_FEW: with_as_few_false_flags(parts_off_last_year(histories), good, part),
        CHART_AS_FEW: with_as_few_false_flags(sigmas_off_chart(histories), good, part),
    }
    scores |= {name: score(fleet, Alarms(flagged=flagged)) for name, flagged in ways.items()}
    return Judgement(
        vessels=vessels,
        years=years,
        seed=seed,
        fleets=1,
        drums=len(fleet.vessel),
        tests=len(year),
        scores=scores,
        limits=limits(fleet, harmless, false_part=float(np.clip(part, LEAST_FALSE_PART, 0.5))),
        coverage=coverage(fleet, watched),
        reliability=reliability(fleet, watched),
        flag_codes=watched.false_by_code(good),
        seconds=watched.seconds,
    )


def as_json(judgement: Judgement) -> dict[str, Any]:
    """Everything in a judgement as plain values; what is not known is null."""
    plain: dict[str, Any] = _plain(asdict(judgement))
    for name, one in judgement.scores.items():
        plain["scores"][name]["false_per_1000"] = _plain(one.false_per_1000)
    plain["tuned_on_seeds"] = [TUNED_ON.start, TUNED_ON.stop - 1]
    plain["fresh"] = judgement.seed >= FRESH_FROM
    return plain


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if isinstance(value, float):
        return float(value) if isfinite(value) else None
    return value


def lines_of(judgement: Judgement) -> list[str]:
    """The judgement as lines of text."""
    j = judgement
    return [
        f"{j.vessels} vessels, {j.years} years, {j.drums} drums, {j.tests} tests; {_seeds(j)}: {seed_words(j.seed)}",
        f"one analysis of all the years took {j.seconds:.2f} s; each test is judged as it looked in its own year",
        "",
        *_false_lines(j),
        "",
        "Found at the fault's first test, % (a fault of several drums is one; * = could hurt somebody)",
        *_table(j, "at_once"),
        "",
        "Found by the test after the fault's last, %",
        *_table(j, "ever"),
        "",
        "The analysis alone: rightly named, found by its false flags alone, years from first test to flag",
        *_named_lines(j),
        "",
        *_coverage_lines(j),
        "",
        *_reliability_lines(j),
    ]


def _seeds(j: Judgement) -> str:
    if j.fleets == 1:
        return f"seed {j.seed}"
    return f"{j.fleets} such fleets together, seeds {j.seed} to {j.seed + j.fleets - 1}"


def seed_words(seed: int) -> str:
    """What a seed may be used to say."""
    if seed in TUNED_ON:
        return f"the analysis was tuned on seeds {TUNED_ON.start} to {TUNED_ON.stop - 1}, so no proof"
    if seed < FRESH_FROM:
        return f"not tuned on; figures are reported from seeds {FRESH_FROM} on"
    return "fresh, not tuned on"


WAYS = {
    ANALYSIS: "ours",
    TENTH_AS_FEW: "tenth=",
    CHART_AS_FEW: "chart=",
    TENTH: "tenth",
    CHART: "chart",
}


def _false_lines(j: Judgement) -> list[str]:
    by_code = ", ".join(f"{code} {rate:.2f}" for code, rate in j.flag_codes.items() if rate)
    return [
        f"False flags per 1,000 good tests ({j.scores[ANALYSIS].good_tests} of them): "
        + ", ".join(f"{words} {j.scores[way].false_per_1000:.1f}" for way, words in WAYS.items()),
        f"  ours by code: {by_code}",
        '  ours: the drift analysis; tenth: "more than 10 % from last year"; chart: individuals chart at 3 sigmas;',
        "  tenth=, chart=: the same two, their limits set so that they flag as few good tests as ours;",
        "  limit: one who knows every parameter and looks for this one fault, at as few false flags",
    ]


def _table(j: Judgement, name: str) -> list[str]:
    lines = [f"{'':34}{'faults':>7}{'ours':>8}{'limit':>8}" + "".join(f"{WAYS[way]:>8}" for way in list(WAYS)[1:])]
    for kind in Kind:
        found = {way: getattr(j.scores[way].kinds[kind], name) for way in WAYS}
        limit = getattr(j.limits[kind], name) if kind in j.limits else np.nan
        words = INJECTED[kind].words + (" *" if INJECTED[kind].serious else "")
        figures = [found[ANALYSIS], limit, *(found[way] for way in list(WAYS)[1:])]
        number = j.scores[ANALYSIS].kinds[kind].number
        lines.append(f"{words:34}{number:>7}" + "".join(_percent(figure) for figure in figures))
    return lines


def _named_lines(j: Judgement) -> list[str]:
    lines = [f"{'':34}{'named':>8}{'chance':>8}{'delay':>8}"]
    for kind in Kind:
        one = j.scores[ANALYSIS].kinds[kind]
        delay = f"{one.delay_y:8.1f}" if isfinite(one.delay_y) else f"{'–':>8}"
        lines.append(f"{INJECTED[kind].words:34}{_percent(one.named)}{_percent(one.by_chance)}{delay}")
    return lines


def _coverage_lines(j: Judgement) -> list[str]:
    words = {
        "mark": "mark, from the second test of a segment on",
        "mark_first": "mark, first test of a segment",
        "as_found": "share as found, from the second test on",
        "as_found_first": "share as found, first test",
    }
    lines = ["Inside the 95 % prediction interval, of good tests"]
    for name, one in j.coverage.items():
        lines.append(f"  {words[name]:44}{_percent(one.inside)} % of {one.tests}")
    return lines


def _reliability_lines(j: Judgement) -> list[str]:
    lines = ["Forecasts: what was said against what happened (Brier's score, beside always saying the mean)"]
    for one in j.reliability:
        event, horizon = one.event.replace("_", " "), one.horizon.replace("_", " ")
        lines.append(
            f"  {event}, by {horizon}: {one.number} given, {one.withheld} withheld;"
            f" {one.brier:.4f} beside {one.brier_of_mean:.4f}"
        )
        lines += [
            f"    said {100 * b.low:3.0f} to {100 * b.high:3.0f} %: mean {100 * b.said:5.1f} %,"
            f" happened {100 * b.happened:5.1f} % of {b.number}"
            for b in one.bins
        ]
    return lines


def _percent(part: float) -> str:
    return f"{100 * part:8.1f}" if isfinite(part) else f"{'–':>8}"
