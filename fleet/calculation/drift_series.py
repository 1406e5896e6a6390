"""The two series that are followed test by test, mark and lining, each with what the fleet says of it."""

from dataclasses import dataclass, replace

import numpy as np
from scipy import optimize

from fleet.calculation.drift_calibration import calibrated
from fleet.calculation.drift_filter import run_filter
from fleet.calculation.drift_histories import SETTING_KINDS, UNKNOWN, BoolArray, Histories, IntArray
from fleet.calculation.drift_model import WITHIN, Filtered, Hyper, Series
from fleet.calculation.drift_pooling import (
    LINING_PRIOR,
    MAD,
    MARK_PRIOR,
    OTHER_PRIOR,
    first_guess,
    refined,
)
from fleet.calculation.drift_preparation import LENGTHS, Prepared
from fleet.calculation.units import FloatArray

ENOUGH_VALUES = 400
UNKNOWN_GAUGE_SHARE = 0.012
"""Standard uncertainty of a gauge of which nothing is known: about class 1.6 read at half its span. Ours."""
_FEW_JUMPS = 8
_SETTLED_AFTER = 3
_LEAST_SETTING = 0.01
_MOST_WEAR_PART = 0.3
_NOISE_RANGE = (0.01, 100.0)


@dataclass(frozen=True, kw_only=True)
class Followed:
    """A series, the rows of the tests it was taken from, the fleet's figures, and what the filter found."""

    rows: IntArray
    series: Series
    hyper: Hyper
    found: Filtered

    def spread(self, values: FloatArray, tests: int, fill: float = np.nan) -> FloatArray:
        """Values of the series as an array over all tests."""
        full = np.full(tests, fill, dtype=float)
        full[self.rows] = values
        return full


def follow_lining(histories: Histories, prepared: Prepared) -> Followed:
    """Lining thickness, turned so that it grows with wear.

    Args: histories, prepared. Returns: Followed over the tests at which the lining was measured.
    """
    rows = np.flatnonzero(np.isfinite(histories.lining_m))
    drum = histories.drum[rows]
    # Only new lining starts the thickness anew; what was not measured passes its start on to the next that was.
    lining = np.cumsum(prepared.starts == 1)[rows]
    before = _before(drum)
    starts = np.where(before == UNKNOWN, 3, np.where(lining != lining[before], 1, 0)) if len(rows) else lining
    nothing = np.full(len(rows), np.nan)
    series = Series(
        drum=drum,
        step=prepared.step[rows],
        wear_time=prepared.wear_time[rows],
        value=-histories.lining_m[rows],
        noise=np.ones(len(rows)),
        starts=starts,
        bedding=np.zeros(len(rows)),
        jump=nothing,
        jump_variance=nothing,
        per_share=np.zeros(len(rows)),
        gauge=np.full(len(rows), UNKNOWN),
        gauge_share=nothing,
        vessel=histories.vessel,
    )
    kind = np.zeros(histories.drums, dtype=np.int64)
    unit = np.full(histories.drums, 1e-3)
    hyper = first_guess(series, before, kind, unit, [LINING_PRIOR])
    found = run_filter(series, hyper)
    hyper = refined(series, found, hyper, prepared.group, kind, unit, [LINING_PRIOR])
    hyper = calibrated(series, hyper, kind)
    return Followed(rows=rows, series=series, hyper=hyper, found=run_filter(series, hyper))


def follow_mark(histories: Histories, prepared: Prepared, lining: Followed) -> Followed:
    """The mark for exactly the target, turned so that it grows with wear.

    Args: histories, prepared; lining: what the lining did, for the mark expected with a new one.
    Returns: Followed over all tests.
    """
    tests = histories.tests
    nothing = np.full(tests, np.nan)
    series = Series(
        drum=histories.drum,
        step=prepared.step,
        wear_time=prepared.wear_time,
        value=prepared.tight,
        noise=np.ones(tests),
        starts=prepared.starts,
        bedding=prepared.bedding,
        jump=nothing,
        jump_variance=nothing,
        per_share=1 / prepared.slope,
        gauge=histories.gauge,
        gauge_share=np.where(np.isfinite(histories.gauge_share), histories.gauge_share, UNKNOWN_GAUGE_SHARE),
        vessel=histories.vessel,
    )
    is_length = np.isin(histories.setting_kind, [SETTING_KINDS.index(name) for name in LENGTHS])
    # Each kind of setting has a scale of its own; priors go by length or not.
    kind = histories.setting_kind
    priors = [MARK_PRIOR if name in LENGTHS else OTHER_PRIOR for name in SETTING_KINDS]
    hyper = first_guess(series, prepared.before, kind, prepared.unit, priors)
    found = run_filter(series, hyper)
    noise, wear_part = _noise(series, found, hyper, prepared, kind)
    series = replace(series, noise=noise)
    hyper = replace(hyper, wear_part=wear_part)
    hyper = refined(series, found, hyper, prepared.group, kind, prepared.unit, priors)
    jump, variance = _jumps(histories, prepared, series, hyper, lining, is_length)
    series = replace(series, jump=jump, jump_variance=variance)
    hyper = calibrated(series, hyper, kind)
    return Followed(rows=np.arange(tests), series=series, hyper=hyper, found=run_filter(series, hyper))


def _before(drum: IntArray) -> IntArray:
    row = np.arange(len(drum))
    return np.where(np.r_[False, drum[1:] == drum[:-1]][: len(drum)], row - 1, UNKNOWN)


def _noise(
    series: Series, found: Filtered, hyper: Hyper, prepared: Prepared, kind: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Relative variance of one value, and of a year's wear, (n,) and (D,).

    One value: a part in the setting (hand and rule) and a part in the load (friction, slip, gauge), which weighs more
    where a load needs a longer way of the setting. A year's wear: how far a year departs from the drum's usual. All
    three parts fitted together, none below zero, to the squares of what tests were off by, the far ones clipped.
    """
    d = series.drum
    per_share = series.per_share / prepared.unit[d]
    noise, wear_part = np.ones(len(d)), hyper.wear_part.copy()
    dt = np.where(prepared.before == UNKNOWN, 0.0, series.wear_time - series.wear_time[prepared.before])
    worn = found.wear * dt / prepared.unit[d]
    settled = (
        (found.became == WITHIN) & (series.starts == 0) & (found.number >= _SETTLED_AFTER) & np.isfinite(found.mean)
    )
    for one in np.unique(kind):
        of_kind = kind[d] == one
        use = np.flatnonzero(settled & of_kind)
        if len(use) < ENOUGH_VALUES:
            continue
        squares = (found.off[use] * found.scale[use] / prepared.unit[d[use]]) ** 2
        columns = np.stack([np.ones(len(use)), per_share[use] ** 2, worn[use] ** 2], axis=1)
        fitted = np.full(len(squares), squares.mean())
        parts = np.array([squares.mean(), 0.0, 0.0])
        for _ in range(6):
            weight = 1 / fitted
            weighted = columns * weight[:, None]
            # Through the triangle of the columns, so that three rows are left to solve.
            basis, triangle = np.linalg.qr(weighted)
            parts, _ = optimize.nnls(triangle, basis.T @ (np.minimum(squares, 6 * fitted) * weight))
            parts[0] = max(parts[0], _LEAST_SETTING * float(squares.mean()))
            fitted = columns @ parts
        own = parts[0] + parts[1] * per_share[of_kind] ** 2
        noise[of_kind] = np.clip(own / np.exp(np.mean(np.log(own))), *_NOISE_RANGE)
        wear_part[kind == one] = min(float(parts[2]), _MOST_WEAR_PART)
    return noise, wear_part


def _jumps(
    histories: Histories,
    prepared: Prepared,
    series: Series,
    hyper: Hyper,
    lining: Followed,
    is_length: BoolArray,
) -> tuple[FloatArray, FloatArray]:
    """How the mark is expected to move where a segment starts, and with what variance; NaN where nobody can say.

    After new lining of known thickness the mark goes back as far as wear has brought it over the same loss of lining;
    after other work it is expected where it was. How well that holds, the fleet says.
    """
    tests, drum, before = histories.tests, histories.drum, prepared.before
    jump, variance = np.full(tests, np.nan), np.full(tests, np.nan)
    start = np.flatnonzero((prepared.starts == 1) | (prepared.starts == 2))
    if not len(start):
        return jump, variance
    lost = np.maximum(lining.hyper.wear, 1e-5)
    ratio = np.clip(hyper.wear / lost, 0.0, 20.0)
    d, last = drum[start], before[start]
    dt = prepared.wear_time[start] - prepared.wear_time[last]
    gained = histories.lining_m[start] - (histories.lining_m[last] - lost[d] * dt)
    relined = prepared.starts[start] == 1
    expected = np.where(relined, np.where(is_length[d], -ratio[d] * gained, np.nan), 0.0)
    seen = (
        series.value[start]
        - series.value[last]
        - hyper.wear[d] * dt
        - hyper.bedding[d] * (prepared.bedding[last] - series.bedding[start])
    )
    unit = prepared.unit[d]
    for kind in np.unique(histories.setting_kind):
        for of_lining in (False, True):
            use = (histories.setting_kind[d] == kind) & (relined == of_lining) & np.isfinite(expected)
            if use.sum() < _FEW_JUMPS:
                continue
            if of_lining:
                # The way of the mark per loss of lining is better known from the jumps themselves.
                steep = float(np.median(seen[use] / np.where(np.abs(gained[use]) > 1e-4, -gained[use], np.nan)[...]))
                if np.isfinite(steep) and steep > 0:
                    expected[use] = -steep * gained[use]
            off = (seen[use] - expected[use]) / unit[use]
            middle = float(np.median(off))
            # Two tests scatter in that already; the filter adds the scatter of the later one itself.
            chance = 1.5 * float(np.median(hyper.variance[d[use]] * series.noise[start[use]] / unit[use] ** 2))
            wide = max((MAD * float(np.median(np.abs(off - middle)))) ** 2 - chance, 0.2 * chance)
            jump[start[use]] = expected[use] + middle * unit[use]
            variance[start[use]] = wide * unit[use] ** 2
    return jump, variance
