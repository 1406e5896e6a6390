"""One series of the whole fleet, read test by test in order of time: what each test was expected to be.

Each drum has a line (level and wear) that the tests move; each test is first predicted from those before it, then
taken in. A test that breaks the line is not taken in: it waits until the next one says whether the line goes on as
before or has moved. What all drums of a round move together is the gauge's.
"""

import numpy as np

from fleet.calculation.drift_histories import BoolArray, IntArray
from fleet.calculation.drift_model import BROKEN, FIRST, MOVED, WITHIN, Filtered, Hyper, Series, gates
from fleet.calculation.units import FloatArray

LEAST_TOGETHER = 3
_KEEP = 0.5
"""Part of the spread between drums that a new lining brings afresh. Ours."""
_SETTLED = 0.1
_AGREES, _MOST = 2.5, 0.7
_WEAR_ALIKE, _YEARS_ALIKE = 0.7, 0.25
"""Part of the variance of wear that drums of a vessel share, and how far a year departs from the usual. Ours."""
_FARTHEST_SHARE = 0.3
_MOST_SQUARE = 6.0


def run_filter(series: Series, hyper: Hyper) -> Filtered:
    """Predict and take in every value of the fleet, in order of time.

    Args: series: sorted by drum and time; hyper: of the fleet. Returns: Filtered. Source: recursive least squares with
    a prior (Kalman filter), variance by conjugate updating; a step or a slip of the pen by comparing two lines.
    """
    order = np.argsort(series.step, kind="stable")
    return _Run(series, hyper, order).result()


class _Run:
    def __init__(self, series: Series, hyper: Hyper, order: IntArray) -> None:
        self.series, self.hyper, self.order = series, hyper, order
        drums = len(series.vessel)
        vessels = int(series.vessel.max(initial=-1)) + 1
        n = len(series.drum)
        self.out = {name: np.full(n, np.nan) for name in _FLOATS}
        self.out["shift_share"][:] = 0.0
        self.out["together"][:] = 0.0
        self.became = np.zeros(n, dtype=np.int64)
        self.after = np.zeros(n, dtype=bool)
        self.changed = np.zeros(n, dtype=bool)
        zero = np.zeros
        # Variances of level and wear are kept relative to the drum's own variance of one value.
        self.level, self.wear, self.time = zero(drums), hyper.wear.copy(), zero(drums)
        self.ll, self.lw, self.ww = zero(drums), zero(drums), hyper.wear_variance / hyper.variance
        self.ww_before = self.ww.copy()
        self.sum, self.number = zero(drums), zero(drums)
        self.seen, self.waits = zero(drums, dtype=bool), zero(drums, dtype=bool)
        self.last_bed = zero(drums)
        self.wait_level, self.wait_time, self.wait_ll = zero(drums), zero(drums), zero(drums)
        self.vessel_sum, self.vessel_number = zero(vessels), zero(vessels)
        # What a gauge adds is common to the drums tested with it; it is carried along by each of them.
        self.bias, self.last_shift = zero(drums), zero(drums)
        key = series.vessel[series.drum] * (int(series.gauge.max(initial=-1)) + 2) + series.gauge + 1
        _, self.together_with = np.unique(key, return_inverse=True)
        self.gauge, self.gauge_share = np.full(drums, -1), zero(drums)
        steps = series.step[order]
        edges = np.flatnonzero(np.diff(steps)) + 1
        for rows in np.split(order, edges) if n else ():
            self._step(rows)

    def _variance(self, d: IntArray, v: IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Variance of one value, its degrees of freedom, and how many of these are borrowed."""
        hyper = self.hyper
        of_vessel = hyper.vessel_dof[d] + self.vessel_number[v]
        vessel = (hyper.vessel_dof[d] + self.vessel_sum[v]) / of_vessel
        borrowed = 1 / (1 / hyper.drum_dof[d] + 1 / of_vessel)
        dof = borrowed + self.number[d]
        return hyper.variance[d] * (borrowed * vessel + self.sum[d]) / dof, dof, borrowed

    def _step(self, rows: IntArray) -> None:
        s, h = self.series, self.hyper
        d = s.drum[rows]
        v = s.vessel[d]
        y, noise, bed = s.value[rows], s.noise[rows], s.bedding[rows]
        variance, dof, _ = self._variance(d, v)
        start, time = s.starts[rows], s.wear_time[rows]
        dt = time - self.time[d]
        wear, ww, lw0 = self.wear[d], self.ww[d], self.lw[d]
        level = self.level[d] + wear * dt
        ll = self.ll[d] + 2 * dt * lw0 + dt * dt * ww + h.walk[d] * np.abs(dt)
        ll = ll + h.wear_part[d] * (wear * dt) ** 2 / variance
        lw = lw0 + dt * ww
        known, waits = self.seen[d].copy(), self.waits[d]
        begins = start > 0
        if begins.any():
            jump, spread = s.jump[rows], s.jump_variance[rows]
            expected = begins & np.isfinite(jump) & np.isfinite(spread)
            known &= ~begins | expected
            level = np.where(expected, level + np.where(expected, jump, 0.0), level)
            ll = np.where(expected, ll + np.where(expected, spread, 0.0) / variance, ll)
            prior = h.wear_variance[d] / variance
            relined = start == 1
            ww = np.where(relined, np.minimum(ww + _KEEP * prior, prior), ww)
            lw = np.where(begins, 0.0, lw)
            # A line that waits for its second test ends with its segment.
            waits = waits & ~begins
            self.ww_before[d] = np.where(relined, prior, self.ww_before[d])
        bed_variance = h.bedding_variance[d] / variance * bed * bed
        spread0 = ll + noise + bed_variance
        changed, gauge_variance = self._gauge(rows, d)
        in_value = s.per_share[rows]
        extra = gauge_variance * in_value * in_value / variance
        ll_all = ll + extra
        spread = spread0 + extra
        mean = level - h.bedding[d] * bed
        off = y - self.bias[d] * in_value - mean
        scale = np.sqrt(variance * spread)
        report = known & ~self.waits[d]
        out = self.out
        out["mean"][rows] = np.where(report, mean + self.bias[d] * in_value, np.nan)
        out["scale"][rows] = np.where(report, scale, np.nan)
        out["dof"][rows] = dof
        # New linings bed in together too, and that is not the gauge.
        settled = known & ~waits & ~begins & (self.last_bed[d] <= _SETTLED)
        self.last_bed[d] = bed
        of_wear = (
            dt
            * np.sqrt(_WEAR_ALIKE * variance * ww + (_YEARS_ALIKE * wear) ** 2)
            / np.where(in_value > 0, in_value, 1.0)
        )
        shift = self._together(rows, d, off, variance * spread0, settled, changed, gauge_variance, of_wear)
        off = off - shift * in_value
        if np.any(shift):
            spread = np.where(shift != 0, spread0, spread)
            ll_all = np.where(shift != 0, ll, ll_all)
        standard = off / np.sqrt(variance * spread)
        gate = gates(dof)
        within = known & (np.abs(standard) < gate)
        dt_wait = time - self.wait_time[d]
        wait_ll = self.wait_ll[d] + dt_wait * dt_wait * ww + h.walk[d] * np.abs(dt_wait)
        wait_ll = wait_ll + h.wear_part[d] * (wear * dt_wait) ** 2 / variance
        wait_spread = wait_ll + noise + bed_variance + extra
        wait_mean = self.wait_level[d] + wear * dt_wait - h.bedding[d] * bed
        corrected = y - self.bias[d] * in_value
        wait_off = corrected - wait_mean
        wait_standard = wait_off / np.sqrt(variance * wait_spread)
        likelier = _log_density(wait_standard, wait_spread, dof) > _log_density(standard, spread, dof)
        moved = known & waits & (np.abs(wait_standard) < gate) & likelier
        within &= ~moved
        broken = known & ~within & ~moved
        out["off"][rows] = np.where(known, np.where(moved, wait_standard, standard), np.nan)
        self.became[rows] = np.where(~known, FIRST, np.where(moved, MOVED, np.where(broken, BROKEN, WITHIN)))
        self.after[rows] = self.waits[d] & known
        out["wear"][rows], out["wear_standard"][rows] = wear, np.sqrt(variance * ww)
        out["borrowed"][rows] = np.clip(ww / self.ww_before[d], 0.0, 1.0)
        out["corrected"][rows] = corrected
        self._take_in(
            rows,
            d,
            v,
            time,
            variance,
            known=known,
            broken=broken,
            level=np.where(
                ~known, corrected + h.bedding[d] * bed, np.where(moved, wait_mean, mean) + h.bedding[d] * bed
            ),
            off=np.where(known, np.where(moved, wait_off, off), 0.0),
            spread=np.where(~known, 1.0, np.where(moved, wait_spread, spread)),
            ll=np.where(~known, noise + bed_variance, np.where(moved, wait_ll + extra, ll_all)),
            lw=np.where(~known, 0.0, np.where(moved, dt_wait * ww, lw)),
            ww=ww,
            wear=wear,
            waiting_level=corrected + h.bedding[d] * bed,
            waiting_ll=noise + bed_variance,
        )

    def _take_in(
        self,
        rows: IntArray,
        d: IntArray,
        v: IntArray,
        time: FloatArray,
        variance: FloatArray,
        *,
        known: BoolArray,
        broken: BoolArray,
        level: FloatArray,
        off: FloatArray,
        spread: FloatArray,
        ll: FloatArray,
        lw: FloatArray,
        ww: FloatArray,
        wear: FloatArray,
        waiting_level: FloatArray,
        waiting_ll: FloatArray,
    ) -> None:
        keep = ~broken
        gain = np.where(known, ll / spread, 0.0)
        wear_gain = np.where(known, lw / spread, 0.0)
        k = d[keep]
        self.level[k] = (level + gain * off)[keep]
        self.wear[k] = (wear + wear_gain * off)[keep]
        self.ll[k] = (ll - gain * ll)[keep]
        self.lw[k] = (lw - gain * lw)[keep]
        self.ww[k] = (ww - wear_gain * lw)[keep]
        self.time[k] = time[keep]
        self.seen[k] = True
        counts = keep & known
        # A far value that was let pass is not to make its drum's next ones look at home.
        square = np.minimum(off * off / spread, _MOST_SQUARE * variance) / self.hyper.variance[d]
        square = np.where(counts, square, 0.0)
        self.sum[d] += square
        self.number[d] += counts
        out = self.out
        out["wear_after"][rows] = self.wear[d]
        out["wear_standard_after"][rows] = np.sqrt(variance * self.ww[d])
        out["squares"][rows], out["number"][rows] = self.sum[d], self.number[d]
        self.vessel_sum += np.bincount(v, square, len(self.vessel_sum))
        self.vessel_number += np.bincount(v, counts, len(self.vessel_sum))
        self.waits[d] = broken
        b = d[broken]
        self.wait_level[b], self.wait_time[b] = waiting_level[broken], time[broken]
        self.wait_ll[b] = waiting_ll[broken]

    def _gauge(self, rows: IntArray, d: IntArray) -> tuple[BoolArray, FloatArray]:
        """Which values were read on another gauge than the drum's value before, and what that may bring (share²)."""
        s = self.series
        gauge, share = s.gauge[rows], np.nan_to_num(s.gauge_share[rows])
        changed = (gauge >= 0) & (self.gauge[d] >= 0) & (gauge != self.gauge[d])
        variance = np.where(changed, self.hyper.gauge_factor * (share**2 + self.gauge_share[d] ** 2), 0.0)
        has = gauge >= 0
        self.gauge[d[has]], self.gauge_share[d[has]] = gauge[has], share[has]
        self.changed[rows] = changed
        return changed, variance

    def _together(
        self,
        rows: IntArray,
        d: IntArray,
        off: FloatArray,
        variance: FloatArray,
        use: BoolArray,
        changed: BoolArray,
        gauge_variance: FloatArray,
        of_wear: FloatArray,
    ) -> FloatArray:
        """What the vessel's drums moved together in this round, as a share; taken off and carried on as the gauge's."""
        in_value = self.series.per_share[rows]
        use = use & (in_value > 0)
        none = np.zeros(len(rows))
        if use.sum() < LEAST_TOGETHER:
            return none
        group, number = self._groups(rows)
        share = off[use] / in_value[use]
        precision = in_value[use] ** 2 / variance[use]
        gu = group[use]
        count = np.bincount(gu, minlength=number)
        middle = _medians(share, gu, count)
        standard = 1 / np.sqrt(precision)
        pulled = middle[gu] + np.clip(share - middle[gu], -2 * standard, 2 * standard)
        total = np.bincount(gu, precision, number)
        enough = count >= LEAST_TOGETHER
        common = np.where(enough, np.bincount(gu, precision * pulled, number) / np.maximum(total, 1e-300), 0.0)
        # Clipped values tell a little less than all that they weigh.
        error = np.where(enough, 1.2 / np.maximum(total, 1e-300), 1.0)
        # Drums that all moved by the same do agree with each other; figures that are nonsense do not.
        agree = np.abs(share - common[gu]) < _AGREES * standard
        enough &= np.bincount(gu, agree, number) >= _MOST * count
        everyone = np.maximum(np.bincount(group, minlength=number), 1)
        last = np.bincount(group, self.last_shift[d], number) / everyone
        # Where the last movement is undone (a unit put right, the old gauge back), nothing new has happened.
        back = enough & (last != 0) & (np.abs(common + last) < np.abs(common))
        found = np.where(back, common + last, common)
        of_gauge = np.bincount(group, gauge_variance, number) / everyone
        any_changed = np.bincount(group, changed, number) > everyone / 2
        # One vessel's trade wears all its brakes alike, more in one year than in another.
        alike = (np.bincount(gu, np.abs(of_wear[use]), number) / np.maximum(count, 1)) ** 2
        expected = self.hyper.round_share**2 + of_gauge + alike
        deviations = np.where(enough, found / np.sqrt(expected + error), 0.0)
        limit = np.where(any_changed, self.hyper.together_new_gauge, self.hyper.together)
        strange = enough & (np.abs(deviations) > limit) & (np.abs(found) < _FARTHEST_SHARE)
        of_new_gauge = np.where(any_changed & enough, found * of_gauge / (of_gauge + error), 0.0)
        take = np.where(strange, found, of_new_gauge)
        shift = np.where(back, take - last, take)
        self.bias[d] += shift[group]
        self.last_shift[d] = np.where(strange & ~back, take, 0.0)[group]
        self.out["together"][rows] = deviations[group]
        self.out["common_variance"][rows] = np.where(enough, error, np.nan)[group]
        self.out["gauge_variance"][rows] = of_gauge[group]
        self.out["wear_variance"][rows] = alike[group]
        self.out["shift_share"][rows] = np.where(strange, take, 0.0)[group]
        return shift[group]

    def _groups(self, rows: IntArray) -> tuple[IntArray, int]:
        """The tests of a step by vessel and gauge, numbered from 0, and how many such groups there are."""
        _, group = np.unique(self.together_with[rows], return_inverse=True)
        return group.ravel(), int(group.max()) + 1

    def result(self) -> Filtered:
        every = np.arange(len(self.series.vessel))
        variance, dof, borrowed = self._variance(every, self.series.vessel)
        return Filtered(
            **self.out,
            became=self.became,
            after_break=self.after,
            gauge_changed=self.changed,
            level=self.level,
            last_time=self.time,
            level_level=self.ll * variance,
            level_wear=self.lw * variance,
            wear_wear=self.ww * variance,
            now_wear=self.wear,
            now_variance=variance,
            now_dof=dof,
            now_borrowed=np.clip(self.ww / self.ww_before, 0.0, 1.0),
            scatter_borrowed=borrowed / dof,
            waiting=self.waits,
            seen=self.seen,
            gauge_share=self.bias,
        )


_FLOATS = (
    "mean",
    "scale",
    "dof",
    "off",
    "wear",
    "wear_standard",
    "borrowed",
    "shift_share",
    "together",
    "corrected",
    "wear_after",
    "wear_standard_after",
    "squares",
    "number",
    "common_variance",
    "gauge_variance",
    "wear_variance",
)


def _log_density(standard: FloatArray, spread: FloatArray, dof: FloatArray) -> FloatArray:
    return -0.5 * (dof + 1) * np.log1p(standard * standard / dof) - 0.5 * np.log(spread)


def _medians(values: FloatArray, group: IntArray, count: IntArray) -> FloatArray:
    """Median of each group, 0 where it is empty."""
    order = np.lexsort((values, group))
    sorted_values = values[order]
    start = np.r_[0, np.cumsum(count)[:-1]]
    low = np.minimum(start + (np.maximum(count, 1) - 1) // 2, max(len(values) - 1, 0))
    high = np.minimum(start + count // 2, max(len(values) - 1, 0))
    return np.where(count > 0, (sorted_values[low] + sorted_values[high]) / 2, 0.0)
