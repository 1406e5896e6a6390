"""All chance in a virtual fleet's years, drawn before anything happens, each kind from a stream of its own.

So a fleet with faults and the same fleet without them differ by the faults alone, and one parameter more changes none.
"""

from dataclasses import dataclass
from zlib import crc32

import numpy as np

from fleet.calculation.units import FloatArray

SLIPS = 5
AS_FOUND, FIRST_TRY, SECOND_TRY = 0, 1, 3
GAUGES = 2


def stream(seed: int, name: str) -> np.random.Generator:
    """The generator of one kind of chance."""
    return np.random.default_rng([seed, crc32(name.encode())])


@dataclass(frozen=True, kw_only=True)
class Noise:
    """Standard normal (``…_z``) and uniform (``…_u``) values; (years, drums), (years, vessels), or as said.

    Slips are (SLIPS, years, drums): one as found, two at the first mark, two at the second where the first missed.
    """

    friction_z: FloatArray
    wear_z: FloatArray
    aim_z: FloatArray
    slope_z: FloatArray
    lining_z: FloatArray
    invented_z: FloatArray
    as_found_u: FloatArray
    creep_u: FloatArray
    damp_u: FloatArray
    measured_u: FloatArray
    renewed_u: FloatArray
    bedding_u: FloatArray
    new_friction_u: FloatArray
    work_u: FloatArray
    moved_u: FloatArray
    hand_z: FloatArray
    slip_z: FloatArray
    stroke_u: FloatArray
    round_z: FloatArray
    moorings_z: FloatArray
    care_z: FloatArray
    laid_up_u: FloatArray
    gauge_z: FloatArray
    gauge_renewed_u: FloatArray
    gauge_new_u: FloatArray


SHAPES = {
    "hand_z": "slips", "slip_z": "slips", "stroke_u": "slips",
    "round_z": "vessels", "moorings_z": "vessels", "care_z": "vessels", "laid_up_u": "vessels",
    "gauge_z": "gauges", "gauge_renewed_u": "gauges", "gauge_new_u": "gauges",
}  # fmt: skip


def draw_noise(seed: int, *, years: int, drums: int, vessels: int) -> Noise:
    """The chance of a whole fleet's years."""
    shapes = {"slips": (SLIPS, years, drums), "vessels": (years, vessels), "gauges": (years, GAUGES, vessels)}

    def values(name: str) -> FloatArray:
        shape = shapes.get(SHAPES.get(name, ""), (years, drums))
        rng = stream(seed, name)
        return rng.standard_normal(shape) if name.endswith("_z") else rng.random(shape)

    return Noise(**{name: values(name) for name in Noise.__dataclass_fields__})
