"""The test gauges of a virtual fleet over the years: each with its error, its wandering, its end and its successor."""

from dataclasses import dataclass

import numpy as np

from fleet.calculation.drift_histories import BoolArray, IntArray
from fleet.calculation.gauge import USABLE_TO
from fleet.calculation.units import FloatArray
from fleet.simulation import ranges
from fleet.simulation.fleet_noise import GAUGES, Noise
from fleet.simulation.fleet_ranges import BY_KEY


@dataclass(frozen=True, kw_only=True)
class Gauges:
    """Gauges in use, (years, drums): ``number`` names the gauge, ``error`` is a part of its class limit."""

    number: IntArray
    error: FloatArray
    gain: FloatArray
    offset_part: FloatArray
    limit_pa: FloatArray
    full_scale_pa: FloatArray
    half_division_pa: FloatArray

    def shows(self, year: int, pressure_pa: FloatArray) -> FloatArray:
        """What a person reads at a true pressure, to half a division. Source: EN 837-1 for the bound of the error."""
        off_pa, slope = self._line(year)
        needle_pa = np.maximum(0.0, off_pa + slope * pressure_pa)
        return np.asarray(np.round(needle_pa / self.half_division_pa) * self.half_division_pa)

    def pressure_for(self, year: int, reading_pa: FloatArray) -> FloatArray:
        """The true pressure at which the needle stands at a reading."""
        off_pa, slope = self._line(year)
        return (reading_pa - off_pa) / slope

    def _line(self, year: int) -> tuple[FloatArray, FloatArray]:
        limit_pa = self.error[year] * self.limit_pa
        growing = (1 - self.offset_part[year]) * limit_pa / self.full_scale_pa
        return limit_pa * self.offset_part[year], 1 + growing + self.gain[year]


def gauges_of(
    *,
    noise: Noise,
    vessel: IntArray,
    slot: IntArray,
    target_pa: FloatArray,
    accuracy_class: FloatArray,
    divisions: FloatArray,
    gain: FloatArray,
    renewed: FloatArray,
) -> Gauges:
    """Follow two gauges a vessel through the years.

    Args: vessel, slot (first or second gauge), target_pa, accuracy_class, divisions: per drum; gain (years, drums):
    what a fault adds; renewed (years, drums): 1 where a fault's beginning or end brings another gauge.
    """
    years, vessels = noise.care_z.shape
    forced = np.zeros((years, GAUGES, vessels), dtype=bool)
    forced_at = np.nonzero(renewed)
    forced[forced_at[0], slot[forced_at[1]], vessel[forced_at[1]]] = True
    faulty = np.zeros((years, GAUGES, vessels), dtype=bool)
    gain_at = np.nonzero(gain)
    faulty[gain_at[0], slot[gain_at[1]], vessel[gain_at[1]]] = True
    new = forced | ((noise.gauge_renewed_u < BY_KEY["gauge_renewed"].low) & ~faulty)
    new[0] = True
    error, offset_part, number = _through_the_years(noise, new)
    full_scale_pa = _scales(target_pa, vessel)
    where = (slice(None), slot, vessel)
    return Gauges(
        number=number[where],
        error=error[where],
        gain=gain,
        offset_part=offset_part[where],
        limit_pa=accuracy_class / 100 * full_scale_pa,
        full_scale_pa=full_scale_pa,
        half_division_pa=full_scale_pa / divisions / 2,
    )


def _through_the_years(noise: Noise, new: BoolArray) -> tuple[FloatArray, FloatArray, IntArray]:
    shape = new.shape
    fresh = 2 * noise.gauge_new_u - 1
    # Any fixed mixing of the same chance will do for the shape of a new gauge's error; its size stays uniform.
    mixed = (noise.gauge_new_u * 997.0) % 1.0
    wander = BY_KEY["gauge_drift_per_year"].low * noise.gauge_z
    error, offset_part = np.empty(shape), np.empty(shape)
    number = (np.cumsum(new.reshape(shape[0], -1).T.ravel()) - 1).reshape(-1, shape[0]).T.reshape(shape)
    for year in range(shape[0]):
        before = (error[year - 1], offset_part[year - 1]) if year else (fresh[0], mixed[0])
        error[year] = np.where(new[year], fresh[year], before[0] + wander[year])
        offset_part[year] = np.where(new[year], mixed[year], before[1])
    return error, offset_part, number.astype(np.int64)


def _scales(target_pa: FloatArray, vessel: IntArray) -> FloatArray:
    highest_pa = np.zeros(int(vessel.max()) + 1)
    np.maximum.at(highest_pa, vessel, target_pa)
    scales_pa = np.array(ranges.BY_KEY["full_scale_pa"].values)
    place = np.searchsorted(USABLE_TO * scales_pa, highest_pa)
    return scales_pa[np.minimum(place, len(scales_pa) - 1)][vessel]
