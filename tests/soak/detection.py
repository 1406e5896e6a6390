"""How well the drift analysis finds what is wrong in virtual fleets; what is printed is that of ``judge_detection``.

The bounds of the fleets and their faults (fleet/simulation/fleet_ranges.py, fleet_faults.py) were committed before
the analysis was tuned; it was tuned on the seeds 0 to 99. Reports on seeds from 10 000, 20 000 and 40 000 on were made
of it, so what is counted here begins at 30 000.
"""

from fleet.simulation.fleet_faults import INJECTED, Kind
from fleet.simulation.judging_aims import COVERED, lines_of_aims
from fleet.simulation.judging_pool import pooled
from fleet.simulation.judging_report import ANALYSIS, CHART_AS_FEW, TENTH_AS_FEW, TUNED_ON, Judgement, judge, lines_of
from tests.soak.part import Part, Report

VESSELS, YEARS = 200, 12


def holds(judgement: Judgement) -> bool:
    """Whether the intervals hold what they say, and no serious kind of fault is found less often than by a baseline
    that strikes as few good tests.

    Whether all the further aims are met is printed, not promised: docs/detection.md says which are not.
    """
    serious = [kind for kind in Kind if INJECTED[kind].serious]
    found = {
        way: [judgement.scores[way].kinds[kind].ever for kind in serious]
        for way in (ANALYSIS, TENTH_AS_FEW, CHART_AS_FEW)
    }
    behind = any(
        ours < max(others)
        for ours, *others in zip(found[ANALYSIS], found[TENTH_AS_FEW], found[CHART_AS_FEW], strict=True)
    )
    outside = any(not COVERED[0] <= judgement.coverage[name].inside <= COVERED[1] for name in ("mark", "as_found"))
    return not (behind or outside)


def run(first_seed: int, count: int, *, vessels: int = VESSELS, years: int = YEARS) -> Report:
    """Judge so many fleets as one."""
    fleets = [judge(vessels=vessels, years=years, seed=seed) for seed in range(first_seed, first_seed + count)]
    judgement = pooled(fleets)
    return Report(lines=(*lines_of(judgement), *lines_of_aims(judgement)), holds=holds(judgement))


PART = Part(
    name="detection",
    what="drift intervals hold what they say; no serious fault is found less often than by the baselines",
    first_seed=30_000,
    count=5,
    run=run,
    tuned_on=(TUNED_ON,),
)
