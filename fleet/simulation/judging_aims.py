"""What is asked of the analysis, each aim with what came of it."""

from dataclasses import dataclass

from fleet.simulation.fleet_faults import INJECTED, Kind
from fleet.simulation.judging_report import ANALYSIS, CHART_AS_FEW, TENTH_AS_FEW, Judgement

MOST_FALSE_PER_1000 = 5.0
LEAST_FOUND = 0.95
COVERED = (0.93, 0.97)


@dataclass(frozen=True, kw_only=True)
class Aim:
    """One aim in words, whether it is met, and what speaks against it."""

    words: str
    met: bool
    against: str = ""


def aims(judgement: Judgement) -> list[Aim]:
    """Every aim: few false flags, intervals that hold what they say, serious faults found, ahead of the baselines."""
    ours = judgement.scores[ANALYSIS]
    return [
        Aim(
            words=f"at most {MOST_FALSE_PER_1000:.0f} false flags per 1,000 good tests",
            met=not ours.false_per_1000 > MOST_FALSE_PER_1000,
            against=f"{ours.false_per_1000:.1f}",
        ),
        *(_covered(judgement, name, words) for name, words in (("mark", "mark"), ("as_found", "share as found"))),
        _found(judgement, "at_once", "at its first test"),
        _found(judgement, "ever", "by the test after its last"),
        _ahead(judgement),
    ]


def _covered(judgement: Judgement, name: str, words: str) -> Aim:
    inside = judgement.coverage[name].inside
    return Aim(
        words=f"intervals of the {words} hold {100 * COVERED[0]:.0f} to {100 * COVERED[1]:.0f} % from a second test on",
        met=not (inside < COVERED[0] or inside > COVERED[1]),
        against=f"{100 * inside:.1f} %",
    )


def _found(judgement: Judgement, name: str, when: str) -> Aim:
    missed = []
    for kind in Kind:
        found = getattr(judgement.scores[ANALYSIS].kinds[kind], name)
        if INJECTED[kind].serious and found < LEAST_FOUND:
            limit = judgement.limits.get(kind)
            beside = f" (limit {100 * getattr(limit, name):.0f})" if limit else ""
            missed.append(f"{INJECTED[kind].words} {100 * found:.0f} %{beside}")
    return Aim(
        words=f"{100 * LEAST_FOUND:.0f} % of each serious kind found {when}", met=not missed, against=", ".join(missed)
    )


def _ahead(judgement: Judgement) -> Aim:
    behind = []
    for kind in Kind:
        ours = judgement.scores[ANALYSIS].kinds[kind].ever
        others = [judgement.scores[way].kinds[kind].ever for way in (TENTH_AS_FEW, CHART_AS_FEW)]
        if ours < max(others):
            behind.append(f"{INJECTED[kind].words} {100 * ours:.0f} % beside {100 * max(others):.0f} %")
    return Aim(
        words="not behind either baseline held to as few false flags, on any kind",
        met=not behind,
        against=", ".join(behind),
    )


def lines_of_aims(judgement: Judgement) -> list[str]:
    """Each aim on a line, met or missed, and by what."""
    return [
        f"  {'met   ' if aim.met else 'MISSED'} {aim.words}{': ' + aim.against if aim.against else ''}"
        for aim in aims(judgement)
    ]
