"""How long a million brake rendering loads with their uncertainty take, beside the same sums in bare NumPy.

By hand, on one core: python -m tests.benchmarks.uncertainty_speed
"""

from math import sqrt
from time import perf_counter

import numpy as np
from scipy import stats

from fleet.calculation.assumptions import Tolerances
from fleet.calculation.brake import equal_jacks
from fleet.calculation.budget import load_budget
from fleet.calculation.measurement import GaugeInUse, Measurement
from fleet.calculation.uncertainty import probability_of_conformity

NUMBER = 1_000_000
ROUNDS = 5
SDMBL_N = 637e3
ROOT_3 = sqrt(3)

draw = np.random.default_rng(1)
PRESSURE = draw.uniform(120e5, 220e5, NUMBER)
AREA = draw.uniform(60e-4, 80e-4, NUMBER)
ARM = draw.uniform(0.9, 1.1, NUMBER)
DRUM = draw.uniform(0.5, 0.7, NUMBER)
LINE = draw.uniform(0.03, 0.04, NUMBER)
KNOWN = Tolerances(piston_area_relative=0.005, lever_arm_m=0.003, drum_diameter_m=0.004, line_diameter_m=0.001)


def ours() -> tuple[np.ndarray, ...]:
    """Load, standard uncertainty, expanded uncertainty and probability by the package, all assumptions in."""
    target = equal_jacks(area_m2=AREA, lever_arm_m=ARM, drum_diameter_m=DRUM, line_diameter_m=LINE)  # type: ignore[arg-type]
    gauge = GaugeInUse(full_scale_si=400e5, accuracy_class=1.6, smallest_division_si=2e5)
    result = load_budget(Measurement(reading_si=PRESSURE, target=target, gauge=gauge, tolerances=KNOWN))
    total = result.combined
    share, share_u = result.load_n / SDMBL_N, total.standard_uncertainty / SDMBL_N
    figures = (
        result.load_n,
        total.standard_uncertainty,
        total.expanded_uncertainty,
        probability_of_conformity(share, share_u, 0.55, 0.65),
    )
    return tuple(np.asarray(figure) for figure in figures)


def bare() -> tuple[np.ndarray, ...]:
    """Load and standard uncertainty of the five measured figures alone, written out for NumPy."""
    load = PRESSURE * AREA * ARM / ((DRUM + LINE) / 2)
    variance = (load / PRESSURE * 6.4e5 / ROOT_3) ** 2 + (load / PRESSURE * 1e5 / ROOT_3) ** 2
    variance += (load * 0.005 / ROOT_3) ** 2 + (load / ARM * 0.003 / ROOT_3) ** 2
    variance += (load / (DRUM + LINE) * 0.004 / ROOT_3) ** 2 + (load / (DRUM + LINE) * 0.001 / ROOT_3) ** 2
    return load, np.sqrt(variance)


def seconds(function: object) -> float:
    """The best of a few rounds."""
    times = []
    for _ in range(ROUNDS):
        start = perf_counter()
        function()  # type: ignore[operator]
        times.append(perf_counter() - start)
    return min(times)


def main() -> None:
    """Print both times and their ratio."""
    load, standard, expanded, probability = ours()
    assert load.shape == standard.shape == expanded.shape == probability.shape == (NUMBER,)
    k = expanded / standard
    assert np.all((k > stats.norm.ppf(0.975)) & (k < 3))
    package, plain = seconds(ours), seconds(bare)
    print(
        f"{NUMBER} loads: package {package:.3f} s (11 rows, k from t, probability), plain NumPy {plain:.3f} s (6 rows)"
    )
    print(f"ratio {package / plain:.1f}")


if __name__ == "__main__":
    main()
