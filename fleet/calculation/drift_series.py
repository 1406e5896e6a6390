"""The two series that are followed test by test, mark and lining, each with what the fleet says of it."""

from dataclasses import dataclass, replace

import numpy as np

from fleet.calculation.drift_filter import run_filter
from fleet.calculation.drift_histories import SETTING_KINDS, UNKNOWN, BoolArray, Histories, IntArray
from fleet.calculation.drift_model import BROKEN, FIRST, WITHIN, Filtered, Hyper, Series
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

WALKS = (0.0, 0.05, 0.15, 0.4, 1.0)
"""What a year of wear may add to the line itself, in variances of one value: the fleet chooses."""
ENOUGH_VALUES = 400
TRIAL_VESSELS = 60
_FEW_JUMPS = 8
_NOISE_RANGE = (0.2, 6.0)


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
        gauge_share=histories.gauge_share,
        vessel=histories.vessel,
    )
    is_length = np.isin(histories.setting_kind, [SETTING_KINDS.index(name) for name in LENGTHS])
    # Each kind of setting has a scale of its own; priors go by length or not.
    kind = histories.setting_kind
    priors = [MARK_PRIOR if name in LENGTHS else OTHER_PRIOR for name in SETTING_KINDS]
    hyper = first_guess(series, prepared.before, kind, prepared.unit, priors)
    found = run_filter(series, hyper)
    series = replace(series, noise=_noise(series, found, hyper, prepared))
    hyper = refined(series, found, hyper, prepared.group, kind, prepared.unit, priors)
    jump, variance = _jumps(histories, prepared, series, hyper, lining, is_length)
    series = replace(series, jump=jump, jump_variance=variance)
    hyper = _with_best_walk(series, hyper)
    return Followed(rows=np.arange(tests), series=series, hyper=hyper, found=run_filter(series, hyper))


def _before(drum: IntArray) -> IntArray:
    row = np.arange(len(drum))
    return np.where(np.r_[False, drum[1:] == drum[:-1]][: len(drum)], row - 1, UNKNOWN)


def _noise(series: Series, found: Filtered, hyper: Hyper, prepared: Prepared) -> FloatArray:
    """Relative variance of one value: a part in the setting (hand and rule) and a part in the load (slip, gauge).

    The load's part weighs more where a load needs a longer way of the setting. Fitted to the squares of what tests
    were off by; two parts, least squares on clipped values.
    """
    use = found.became == WITHIN
    d = series.drum
    per_share = series.per_share / prepared.unit[d]
    if use.sum() < ENOUGH_VALUES:
        return np.ones(len(d))
    squares = (found.off[use] ** 2) * hyper.variance[d[use]] / prepared.unit[d[use]] ** 2
    load = per_share[use] ** 2
    fitted = np.full(len(squares), squares.mean())
    for _ in range(6):
        clipped = np.minimum(squares, 6 * fitted)
        weight = 1 / fitted**2
        s11, s12, s22 = weight.sum(), (weight * load).sum(), (weight * load * load).sum()
        r1, r2 = (weight * clipped).sum(), (weight * load * clipped).sum()
        determinant = s11 * s22 - s12 * s12
        if determinant <= 1e-9 * s11 * s22:
            return np.ones(len(d))
        setting, of_load = (s22 * r1 - s12 * r2) / determinant, (s11 * r2 - s12 * r1) / determinant
        if of_load <= 0:
            return np.ones(len(d))
        setting = max(setting, 0.02 * float(squares.mean()))
        fitted = setting + of_load * load
    noise = setting + of_load * per_share**2
    return np.clip(noise / noise.mean(), *_NOISE_RANGE)


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
            wide = (MAD * float(np.median(np.abs(off - middle)))) ** 2
            jump[start[use]] = expected[use] + middle * unit[use]
            variance[start[use]] = (wide * 1.2 + 0.1) * unit[use] ** 2
    return jump, variance


def _with_best_walk(series: Series, hyper: Hyper) -> Hyper:
    """The walk under which the fleet's tests, each seen from those before it, are likeliest."""
    vessels = np.unique(series.vessel)
    some = np.isin(series.vessel[series.drum], vessels[:: max(1, len(vessels) // TRIAL_VESSELS)])
    if some.sum() < ENOUGH_VALUES:
        return hyper
    trial = replace(
        series,
        **{
            name: getattr(series, name)[some]
            for name in (
                "drum",
                "step",
                "wear_time",
                "value",
                "noise",
                "starts",
                "bedding",
                "jump",
                "jump_variance",
                "per_share",
                "gauge",
                "gauge_share",
            )
        },
    )
    best, most = hyper, -np.inf
    for walk in WALKS:
        one = replace(hyper, walk=walk)
        found = run_filter(trial, one)
        use = (found.became != FIRST) & np.isfinite(found.scale)
        off = np.clip(found.off[use], -4, 4)
        dof = found.dof[use]
        likelihood = float(np.mean(-0.5 * (dof + 1) * np.log1p(off**2 / dof) - np.log(found.scale[use])))
        likelihood -= 4 * float(np.mean(found.became[use] == BROKEN))
        if likelihood > most:
            best, most = one, likelihood
    return best
