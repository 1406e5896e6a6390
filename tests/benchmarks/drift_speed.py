"""How long the drift of a large fleet takes in one call, beside a loop that fits each drum by itself with statsmodels.

By hand: python -m tests.benchmarks.drift_speed
"""

from time import perf_counter

import numpy as np
import statsmodels.api as sm

from fleet.calculation.drift import analyse
from fleet.calculation.drift_histories import Histories
from fleet.simulation.fleet import simulate
from fleet.simulation.fleet_histories import histories_of

VESSELS, YEARS, SEED = 1200, 20, 10_001
ROUNDS = 3
SAMPLE = 400


def kernel_seconds(histories: Histories) -> float:
    """The best of a few rounds."""
    times = []
    for _ in range(ROUNDS):
        start = perf_counter()
        analyse(histories)
        times.append(perf_counter() - start)
    return min(times)


def loop_seconds(histories: Histories) -> float:
    """A line through each drum's marks with the prediction of its next test, one drum after another; no pooling, no
    flags, no segments. Timed on the first SAMPLE drums and scaled to all.
    """
    start = perf_counter()
    for drum in range(SAMPLE):
        rows = np.flatnonzero(histories.drum == drum)
        if len(rows) < 3:
            continue
        year, mark = histories.year[rows], histories.mark_si[rows]
        fitted = sm.OLS(mark, sm.add_constant(year)).fit()
        fitted.get_prediction(np.array([[1.0, year[-1] + 1]])).summary_frame(alpha=0.05)
    return (perf_counter() - start) / SAMPLE * histories.drums


def main() -> None:
    """Print both and their ratio."""
    histories = histories_of(simulate(vessels=VESSELS, years=YEARS, seed=SEED))
    whole, loop = kernel_seconds(histories), loop_seconds(histories)
    print(f"{histories.drums} drums, {YEARS} years, {histories.tests} tests: whole analysis {whole:.2f} s")
    print(f"lines drum by drum with statsmodels, {SAMPLE} drums timed and scaled to all: {loop:.1f} s")
    print(f"ratio {loop / whole:.0f}")


if __name__ == "__main__":
    main()
