"""How often the suggested procedure brings a virtual brake into the band, beside naive halving.

By hand, about a minute: python -m tests.benchmarks.setting_procedure

The bounds of the brakes (fleet/simulation/ranges.py) were committed before anything was tuned. The rules of the step
were tuned on the seeds 0 to 2 999. Two earlier counts on other seeds, 1 000 000 and 2 000 000 onwards, led to a change
(two of the latter 2 000 went above 80 %), so those seeds count as tuned on too; what is printed comes from fresh ones.
"""

import sys
from time import perf_counter

from tests.simulation.procedure import Tally, by_halving, by_our_rules, run, upper_limit

TUNED_ON = (range(3_000), range(1_000_000, 1_002_000), range(2_000_000, 2_002_000))
REPORTED_ON = range(3_000_000, 3_002_000)


def lines(name: str, counted: Tally) -> list[str]:
    """The counts of one way of setting, each share with its one-sided 95 % upper limit."""
    missed = counted.brakes - counted.reached
    wide = counted.reached - counted.truly_in_band
    by_number = ", ".join(f"{count} with {number}" for number, count in enumerate(counted.by_number, start=1))
    counts = [
        f"{name}, {counted.brakes} brakes",
        f"  reading in band within four slips or holds: {counted.reached} ({counted.reached / counted.brakes:.2%})"
        f": {by_number}",
        f"  not within four: {missed} ({missed / counted.brakes:.2%}, upper limit"
        f" {upper_limit(missed, counted.brakes):.2%})",
        f"  truly above 80 % of SDMBL at a mark it chose: {counted.overshot} ({counted.overshot / counted.brakes:.2%},"
        f" upper limit {upper_limit(counted.overshot, counted.brakes):.2%});"
        f" at the mark it found: {counted.started_over}",
        f"  read in band, truly outside (gauge, jack, lever, scatter): {wide}"
        f" ({wide / counted.reached:.2%} of those in band, upper limit {upper_limit(wide, counted.reached):.2%})",
    ]
    if counted.intervals:
        counts.append(
            f"  intervals meant to hold 95 %, of {counted.intervals}: setting for the target"
            f" {counted.targets_covered / counted.intervals:.1%}, slope"
            f" {counted.slopes_covered / counted.intervals:.1%}"
        )
    return counts


def main() -> int:
    """Print both ways; 1 when the procedure misses what it promises, else 0."""
    tuned_on = ", ".join(_ends(seeds) for seeds in TUNED_ON)
    print(f"tuned on seeds {tuned_on}; reported on {_ends(REPORTED_ON)}")
    ways = {"suggested procedure": by_our_rules, "naive halving": by_halving}
    counts = {}
    for name, way in ways.items():
        start = perf_counter()
        counts[name] = run(REPORTED_ON, way)
        print("\n".join(lines(name, counts[name])))
        print(f"  {perf_counter() - start:.0f} s")
    ours = counts["suggested procedure"]
    return 0 if ours.reached >= 0.95 * ours.brakes and ours.overshot == 0 else 1


def _ends(seeds: range) -> str:
    return f"{seeds.start} to {seeds.stop - 1}"


if __name__ == "__main__":
    sys.exit(main())
