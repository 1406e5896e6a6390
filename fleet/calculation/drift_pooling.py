"""What a fleet says of one of its drums: wear and its spread in each group, scatter, bedding-in, common movement.

All of it is estimated from the fleet that is passed in; where that is small, the priors below stand in, each counted
as a stated number of drums. They are ours: common practice, no published source.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from fleet.calculation.drift_histories import BoolArray, IntArray
from fleet.calculation.drift_model import BROKEN, Filtered, Hyper, Series
from fleet.calculation.units import FloatArray, N

MAD = 1.4826
"""Standard deviations in one median absolute deviation of the normal distribution."""


@dataclass(frozen=True, kw_only=True)
class Prior:
    """What is assumed of any fleet, in units (1 mm of setting, or 1 % of it; lining in mm) and years of wear."""

    wear: float
    wear_spread: float
    scatter: float
    wear_as_drums: float = 2.0
    spread_as_drums: float = 6.0
    scatter_as_tests: float = 12.0
    bedding: float = 0.4
    bedding_spread: float = 0.6
    bedding_as_linings: float = 6.0


MARK_PRIOR = Prior(wear=0.8, wear_spread=0.5, scatter=0.7)
OTHER_PRIOR = Prior(wear=0.3, wear_spread=0.7, scatter=1.5)
LINING_PRIOR = Prior(wear=0.25, wear_spread=0.15, scatter=0.2, bedding=0.0, bedding_spread=0.0)
SMALL_GROUP = 6.0
"""A group of so many drums counts as much as the whole fleet in what is said of it."""
ROUND_SHARE = 0.002
WEAR_PART = 0.06
"""Relative variance of one year's wear where the fleet is too small to tell: a quarter up or down. Ours."""
_FEW_MOVEMENTS = 100
_GAUGE_FACTORS = (0.2, 0.8)
"""A gauge keeps its class, and seldom uses all of it. Ours."""
_VARIANCE_DOF = (4.0, 200.0)


@dataclass(frozen=True, kw_only=True)
class Pooled:
    """Between drums: ``mean`` and ``variance`` of each group's wear, (groups,), and of the fleet as one."""

    mean: FloatArray
    variance: FloatArray


def pooled_wear(wear: FloatArray, variance: FloatArray, group: IntArray, *, passes: int = 60) -> Pooled:
    """Mean and variance between drums in each group, by restricted maximum likelihood.

    Args: wear: (n,) each drum's own slope; variance: (n,) its sampling variance; group: (n,) codes from 0.
    Returns: shape (groups,); variance 0 where the slopes differ no more than by chance, NaN for an empty group.
    Source: restricted maximum likelihood for one random effect with known sampling variances, by scoring.

    >>> found = pooled_wear(np.array([1.0, 3.0]), np.array([0.5, 0.5]), np.array([0, 0]))
    >>> round(float(found.mean[0]), 6), round(float(found.variance[0]), 6)
    (2.0, 1.5)
    """
    groups = int(group.max(initial=-1)) + 1
    between = np.zeros(groups)
    mean = np.full(groups, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        for _ in range(passes):
            weight = 1 / (between[group] + variance)
            total = np.bincount(group, weight, groups)
            mean = np.bincount(group, weight * wear, groups) / total
            square = np.bincount(group, weight**2, groups)
            left = np.bincount(group, weight**2 * ((wear - mean[group]) ** 2 - variance), groups)
            new = np.maximum(left / square + 1 / total, 0.0)
            # A single drum says nothing of a spread.
            new = np.where(np.bincount(group, minlength=groups) > 1, new, 0.0)
            if np.allclose(new, between, rtol=1e-9, atol=0):
                break
            between = new
    return Pooled(mean=mean, variance=np.where(np.isfinite(mean), between, np.nan))


def first_guess(series: Series, before: IntArray, kind: IntArray, unit: FloatArray, priors: list[Prior]) -> Hyper:
    """A start from changes between neighbouring tests, sturdy against a few wild ones.

    Args: series; before: row of the drum's value before, -1; kind: (D,) index into priors; unit: (D,).
    """
    drums = len(series.vessel)
    inside = (before >= 0) & (series.starts == 0)
    rows = np.flatnonzero(inside)
    last = before[rows]
    dt = series.wear_time[rows] - series.wear_time[last]
    steady = (dt > 0.3) & (series.bedding[last] == 0)
    rows, last, dt = rows[steady], last[steady], dt[steady]
    d = series.drum[rows]
    change = (series.value[rows] - series.value[last]) / unit[d]
    wear, spread, scatter = np.zeros(drums), np.zeros(drums), np.zeros(drums)
    bedding, bedding_spread = np.zeros(drums), np.zeros(drums)
    for one, prior in enumerate(priors):
        of_kind, use = kind == one, kind[d] == one
        mean, noise = prior.wear, prior.scatter
        n = int(use.sum())
        if n:
            rate = float(np.median(change[use] / dt[use]))
            mean = (rate * n + prior.wear * prior.scatter_as_tests) / (n + prior.scatter_as_tests)
            off = np.median(np.abs(change[use] - rate * dt[use]))
            found = (MAD * off) ** 2 / 2
            noise = np.sqrt((found * n + prior.scatter**2 * prior.scatter_as_tests) / (n + prior.scatter_as_tests))
        wear[of_kind], spread[of_kind], scatter[of_kind] = mean, prior.wear_spread, noise
        bedding[of_kind], bedding_spread[of_kind] = prior.bedding, prior.bedding_spread
    return Hyper(
        wear=wear * unit,
        wear_variance=(spread * unit) ** 2,
        variance=(scatter * unit) ** 2,
        bedding=bedding * unit,
        bedding_variance=(bedding_spread * unit) ** 2,
        vessel_dof=np.full(drums, 8.0),
        drum_dof=np.full(drums, 12.0),
        walk=np.full(drums, 0.05),
        wear_part=np.full(drums, WEAR_PART),
        round_share=ROUND_SHARE,
        gauge_factor=0.5,
    )


@dataclass(frozen=True, kw_only=True)
class _Lines:
    """Least squares by segment with one slope per drum and lining, all at once."""

    slope: FloatArray
    per_variance: FloatArray
    drum: IntArray
    squares: FloatArray
    dof: FloatArray
    left: FloatArray


def _lines(series: Series, value: FloatArray, use: BoolArray, drums: int) -> _Lines:
    row = np.flatnonzero(use)
    d, t, y = series.drum[row], series.wear_time[row], value[row]
    segment = (np.cumsum(series.starts > 0) - 1)[row]
    lining = (np.cumsum((series.starts == 1) | (series.starts == 3)) - 1)[row]
    weight = 1 / series.noise[row]
    number = int(segment.max(initial=-1)) + 1
    total = np.maximum(np.bincount(segment, weight, number), 1e-300)
    dx = t - (np.bincount(segment, weight * t, number) / total)[segment]
    dy = y - (np.bincount(segment, weight * y, number) / total)[segment]
    linings = int(lining.max(initial=-1)) + 1
    sxx = np.bincount(lining, weight * dx * dx, linings)
    slope = np.bincount(lining, weight * dx * dy, linings) / np.maximum(sxx, 1e-300)
    left = dy - slope[lining] * dx
    has_slope = sxx > 1e-6
    count = np.bincount(segment, minlength=number)
    of_drum = np.bincount(d, minlength=drums)
    segments = np.bincount(d, 1 / np.maximum(count[segment], 1), drums)
    of_lining = np.zeros(linings, dtype=np.int64)
    of_lining[lining] = d
    slopes = np.bincount(of_lining[has_slope], minlength=drums)
    left_all = np.full(len(series.drum), np.nan)
    left_all[row] = left
    return _Lines(
        slope=slope[has_slope],
        per_variance=1 / sxx[has_slope],
        drum=of_lining[has_slope],
        squares=np.bincount(d, weight * left * left, drums).astype(float),
        dof=np.round(of_drum - segments - slopes),
        left=left_all,
    )


def refined(
    series: Series,
    found: Filtered,
    start: Hyper,
    group: IntArray,
    kind: IntArray,
    unit: FloatArray,
    priors: list[Prior],
) -> Hyper:
    """The fleet's figures anew from what the first pass left standing.

    Args: as for first_guess; found: the first pass; group: (D,) comparable drums. Returns: Hyper.
    """
    drums = len(series.vessel)
    good = (found.became != BROKEN) & (series.bedding == 0)
    lines = _lines(series, found.corrected, good, drums)
    base = start.variance.copy()
    for one, prior in enumerate(priors):
        of_kind = kind == one
        dof = lines.dof[of_kind].sum() + prior.scatter_as_tests
        own = (prior.scatter * unit[of_kind]) ** 2 * prior.scatter_as_tests
        if of_kind.any():
            base[of_kind] = (lines.squares[of_kind].sum() + own) / dof
    vessel_dof, drum_dof, usual = _scatter_dof(lines, base, series.vessel)
    base = base * usual
    wear, wear_variance = _wear(lines, base, group, kind, unit, priors)
    bedding, bedding_variance = _bedding(series, found, wear, base, kind, unit, priors)
    round_share, gauge_factor = common_movement(found, start)
    return replace(
        start,
        wear=wear,
        wear_variance=wear_variance,
        variance=base,
        bedding=bedding,
        bedding_variance=bedding_variance,
        vessel_dof=np.full(drums, vessel_dof),
        drum_dof=np.full(drums, drum_dof),
        round_share=round_share,
        gauge_factor=gauge_factor,
    )


def _wear(
    lines: _Lines, base: FloatArray, group: IntArray, kind: IntArray, unit: FloatArray, priors: list[Prior]
) -> tuple[FloatArray, FloatArray]:
    d = lines.drum
    slope, variance = lines.slope / unit[d], base[d] * lines.per_variance / unit[d] ** 2
    wear, spread = np.zeros(len(group)), np.zeros(len(group))
    for one, prior in enumerate(priors):
        of_kind = kind == one
        if not of_kind.any():
            continue
        use = kind[d] == one
        # A drum that wears like no other is to be flagged, not to widen what is usual.
        middle, reach = _sturdy(slope[use], variance[use], prior)
        use = use.copy()
        use[use] = np.abs(slope[use] - middle) < 4 * np.sqrt(reach**2 + variance[use])
        n = int(use.sum())
        fleet = pooled_wear(slope[use], variance[use], np.zeros(n, dtype=np.int64)) if n else None
        whole_mean = (
            prior.wear if fleet is None else _mixed(float(fleet.mean[0]), float(n), prior.wear, prior.wear_as_drums)
        )
        whole_variance = prior.wear_spread**2
        if fleet is not None:
            whole_variance = _mixed(float(fleet.variance[0]), float(n), whole_variance, prior.spread_as_drums)
        codes, inside = np.unique(group[of_kind], return_inverse=True)
        place = np.searchsorted(codes, group[d[use]])
        number = np.bincount(place, minlength=len(codes)).astype(float)
        own = pooled_wear(slope[use], variance[use], place) if n else None
        mean, between = np.full(len(codes), whole_mean), np.full(len(codes), whole_variance)
        if own is not None:
            filled = np.pad(own.mean, (0, len(codes) - len(own.mean)), constant_values=np.nan)
            spread_of = np.pad(own.variance, (0, len(codes) - len(own.variance)), constant_values=np.nan)
            some = np.isfinite(filled)
            mean[some] = _mixed(filled[some], number[some], whole_mean, SMALL_GROUP)
            between[some] = _mixed(spread_of[some], number[some] - 1.0, whole_variance, SMALL_GROUP)
        wear[of_kind] = mean[inside.ravel()]
        spread[of_kind] = np.maximum(between[inside.ravel()], (0.1 * prior.wear_spread) ** 2)
    return wear * unit, spread * unit**2


def _sturdy(slope: FloatArray, variance: FloatArray, prior: Prior) -> tuple[float, float]:
    if len(slope) < 5:
        return prior.wear, 3 * prior.wear_spread
    tight = variance <= np.median(variance)
    middle = float(np.median(slope[tight]))
    return middle, float(MAD * np.median(np.abs(slope[tight] - middle)))


def _mixed(found: N, number: N, prior: float, as_many: float) -> N:
    return (found * number + prior * as_many) / (number + as_many)


def _scatter_dof(lines: _Lines, base: FloatArray, vessel: IntArray) -> tuple[float, float, float]:
    """How alike scatter is from vessel to vessel and from drum to drum, as degrees of freedom, by moments of logs; and
    what the usual drum's variance is of the mean one.

    Source: moments of the logarithm of a variance (digamma, trigamma), as in the moderated-variance literature.
    """
    use = lines.dof >= 2
    if use.sum() < 20:
        return 8.0, 12.0, 1.0
    dof, v = lines.dof[use], vessel[use]
    logs = np.log(np.maximum(lines.squares[use] / dof / base[use], 1e-4)) - special.digamma(dof / 2) + np.log(dof / 2)
    logs = np.clip(logs, *np.quantile(logs, [0.01, 0.99]))
    sampling = special.polygamma(1, dof / 2)
    number = np.bincount(v)
    mean = np.bincount(v, logs) / np.maximum(number, 1)
    many = number > 1
    inside = np.bincount(v, (logs - mean[v]) ** 2)[many].sum() / max(float((number[many] - 1).sum()), 1.0)
    drum_part = max(inside - float(sampling.mean()), 0.0)
    vessel_part = 0.0
    if many.sum() > 4:
        of_mean = (drum_part + float(sampling.mean())) / number[many]
        vessel_part = max(float(np.var(mean[many], ddof=1) - of_mean.mean()), 0.0)
    vessel_dof, drum_dof = _dof_for(vessel_part), _dof_for(drum_part)
    usual = float(np.median(logs))
    for one in (vessel_dof, drum_dof):
        usual += float(special.digamma(one / 2) - np.log(one / 2))
    return vessel_dof, drum_dof, float(np.exp(np.clip(usual, -2.0, 1.0)))


def _dof_for(variance_of_log: float) -> float:
    """The degrees of freedom whose trigamma of a half is this variance."""
    low, high = _VARIANCE_DOF
    grid = np.geomspace(low, high, 200)
    return float(grid[np.argmin(np.abs(special.polygamma(1, grid / 2) - variance_of_log))])


def _bedding(
    series: Series,
    found: Filtered,
    wear: FloatArray,
    base: FloatArray,
    kind: IntArray,
    unit: FloatArray,
    priors: list[Prior],
) -> tuple[FloatArray, FloatArray]:
    """By how much a lining just fitted moves on beyond its wear, and how differently from lining to lining."""
    mean, variance = np.zeros(len(unit)), np.zeros(len(unit))
    n = len(series.drum)
    after = np.arange(1, n)
    pair = (series.drum[1:] == series.drum[:-1]) & (series.starts[1:] == 0) if n else np.empty(0, dtype=bool)
    pair = pair & (series.bedding[:-1] > 0.5) & (series.bedding[1:] < 0.3)
    row = after[pair] if n else np.empty(0, dtype=np.int64)
    d = series.drum[row]
    dt = series.wear_time[row] - series.wear_time[row - 1]
    weight = series.bedding[row - 1] - series.bedding[row]
    more = (found.corrected[row] - found.corrected[row - 1] - wear[d] * dt) / weight / unit[d]
    chance = base[d] * (series.noise[row] + series.noise[row - 1]) / weight**2 / unit[d] ** 2
    for one, prior in enumerate(priors):
        of_kind, use = kind == one, kind[d] == one
        middle, spread = prior.bedding, prior.bedding_spread**2
        number = int(use.sum())
        if number and prior.bedding_spread > 0:
            typical = float(np.median(more[use]))
            scatter = (MAD * float(np.median(np.abs(more[use] - typical)))) ** 2
            middle = _mixed(typical, float(number), middle, prior.bedding_as_linings)
            own = max(scatter - float(np.median(chance[use])), 0.0)
            spread = _mixed(own, float(number), spread, prior.bedding_as_linings)
        mean[of_kind], variance[of_kind] = middle, spread
    return mean * unit, variance * unit**2


def common_movement(found: Filtered, start: Hyper) -> tuple[float, float]:
    """Standard deviation of what a round's tests have in common, and the factor on what gauges are said to be worth.

    From the common movements seen: their spread, less what chance gives.
    """
    seen = np.isfinite(found.common_variance) & (found.together != 0)
    chance, gauge = found.common_variance + found.wear_variance, found.gauge_variance
    moved = found.together * np.sqrt(start.round_share**2 + gauge + chance)
    round_share, factor = start.round_share, start.gauge_factor
    same, other = seen & ~found.gauge_changed, seen & found.gauge_changed & (gauge > 0)
    if same.sum() >= _FEW_MOVEMENTS:
        own = _spread(moved[same]) - float(np.median(chance[same]))
        round_share = float(np.sqrt(np.clip(own, (ROUND_SHARE / 4) ** 2, (20 * ROUND_SHARE) ** 2)))
    if other.sum() >= _FEW_MOVEMENTS:
        own = _spread(moved[other]) - float(np.median(chance[other])) - round_share**2
        factor *= float(np.clip(own / float(np.median(gauge[other])), 0.1, 4.0))
        factor = float(np.clip(factor, *_GAUGE_FACTORS))
    return round_share, factor


def _spread(values: FloatArray) -> float:
    """Variance, sturdy against a few wild values."""
    return (MAD * float(np.median(np.abs(values)))) ** 2
