"""How often the suggested procedure brings a virtual brake into the band, beside naive halving.

The bounds of the brakes (fleet/simulation/ranges.py) were committed before anything was tuned. The rules of the step
were tuned on the seeds 0 to 2 999. Counts on other seeds, 1 000 000, 2 000 000 and 3 000 000 onwards, were reported
earlier, and two of them led to a change: all those count as tuned on too. What is reported comes from fresh ones.
"""

from tests.simulation.procedure import Tally, by_halving, by_our_rules
from tests.simulation.procedure import run as set_drums
from tests.soak.part import Part, Report, share_line, upper_limit

TUNED_ON = (
    range(3_000),
    range(1_000_000, 1_002_000),
    range(2_000_000, 2_002_000),
    range(3_000_000, 3_002_000),
)
REPORTED_ON = range(5_000_000, 5_002_000)
PROMISED = 0.95


def lines(name: str, counted: Tally) -> list[str]:
    """The counts of one way of setting, each share with its one-sided 95 % upper limit."""
    missed = counted.brakes - counted.reached
    wide = counted.reached - counted.truly_in_band
    by_number = ", ".join(f"{count} with {number}" for number, count in enumerate(counted.by_number, start=1))
    counts = [
        f"{name}, {counted.brakes} brakes",
        f"  reading in band within four slips or holds: {counted.reached} ({counted.reached / counted.brakes:.2%})"
        f": {by_number}",
        f"  not within four: {share_line(missed, counted.brakes)};"
        f" within four at least {1 - upper_limit(missed, counted.brakes):.2%}",
        f"  truly above 80 % of SDMBL at a mark it chose: {share_line(counted.overshot, counted.brakes)};"
        f" at the mark it found: {counted.started_over}",
        f"  read in band, truly outside (gauge, jack, lever, scatter): {share_line(wide, counted.reached)}",
        f"  truly in band within four: {share_line(counted.truly_in_band, counted.brakes)}",
    ]
    if counted.intervals:
        counts.append(
            f"  intervals meant to hold 95 %, of {counted.intervals}: setting for the target"
            f" {counted.targets_covered / counted.intervals:.1%}, slope"
            f" {counted.slopes_covered / counted.intervals:.1%}"
        )
    return counts


def run(first_seed: int, count: int) -> Report:
    """Set the drums of these seeds both ways; what is promised is promised of ours."""
    seeds = range(first_seed, first_seed + count)
    ours, naive = set_drums(seeds, by_our_rules), set_drums(seeds, by_halving)
    told = (*lines("suggested procedure", ours), *lines("naive halving", naive))
    return Report(lines=told, holds=ours.reached >= PROMISED * ours.brakes and ours.overshot == 0)


PART = Part(
    name="setting-procedure",
    what="nineteen brakes in twenty read in band within four slips or holds, none is set above 80 % of SDMBL",
    first_seed=REPORTED_ON.start,
    count=len(REPORTED_ON),
    run=run,
    tuned_on=TUNED_ON,
)
