"""What stands between a virtual brake and what its crew reads: lever, jack, pump and gauge, none of them perfect.

``target`` is what the crew believes of lever and jack; the flaws here make the truth differ from it. All figures SI.
"""

from dataclasses import dataclass
from math import cos

import numpy as np

from fleet.calculation.brake import GeometryTarget
from fleet.calculation.checks import InputError, require_not_negative, require_positive
from fleet.calculation.gauge import nearest_division, permissible_error

STANDARD_GRAVITY = 9.80665


@dataclass(frozen=True, kw_only=True)
class Dial:
    """A pressure gauge with its error.

    Args: full_scale_pa; accuracy_class: EN 837-1; divisions: on the scale, read to half of one; error: part of the
    class limit, −1 to 1; offset_part: how much of the error is the same all over the scale. Raises: InputError.

    >>> dial = Dial(full_scale_pa=400e5, accuracy_class=1.6, divisions=80, error=0.5, offset_part=1.0)
    >>> round(dial.shows(100e5) / 1e5, 2), round(dial.read(100e5) / 1e5, 2)
    (103.2, 102.5)
    """

    full_scale_pa: float
    accuracy_class: float
    divisions: float = 100.0
    error: float = 0.0
    offset_part: float = 1.0

    def __post_init__(self) -> None:
        require_positive(full_scale_pa=self.full_scale_pa, divisions=self.divisions)
        if not (abs(self.error) <= 1 and 0 <= self.offset_part <= 1):
            raise InputError("error", "must lie between −1 and 1, and offset_part between 0 and 1")

    @property
    def smallest_division_pa(self) -> float:
        """Pressure between two marks of the scale."""
        return self.full_scale_pa / self.divisions

    def shows(self, pressure_pa: float) -> float:
        """Where the needle stands at a true pressure, Pa; its pin keeps it from going below zero.

        Source: EN 837-1 for the bound of the error.
        """
        limit_pa = permissible_error(accuracy_class=self.accuracy_class, span_pa=self.full_scale_pa)
        growing = (1 - self.offset_part) * pressure_pa / self.full_scale_pa
        return max(0.0, pressure_pa + self.error * limit_pa * (self.offset_part + growing))

    def read(self, pressure_pa: float) -> float:
        """What a person reads at a true pressure, to half a division, Pa."""
        shown_pa = self.shows(pressure_pa)
        return nearest_division(shown_pa, self.smallest_division_pa / 2) if shown_pa > 0 else 0.0


@dataclass(frozen=True, kw_only=True)
class Pumped:
    """How one application ended: the reading at first movement, or the highest reading held."""

    slipped: bool
    reading_pa: float
    strokes: int


@dataclass(frozen=True, kw_only=True)
class Rig:
    """Lever and jack as the crew believes them (``target``), and what is wrong with them.

    Args: lever_arm_m: of the jack; jack_friction: part of the jack's force that its seals take; lever_mass_kg with
    lever_centre: mass, and where it acts as a part of the lever arm (0 where the lever is not lifted);
    lever_angle_rad: how far from square; stroke_pa: greatest pressure step of one stroke. Raises: InputError.
    """

    target: GeometryTarget
    dial: Dial
    lever_arm_m: float
    jack_friction: float = 0.0
    lever_mass_kg: float = 0.0
    lever_centre: float = 0.5
    lever_angle_rad: float = 0.0
    stroke_pa: float = 5e5

    def __post_init__(self) -> None:
        require_positive(lever_arm_m=self.lever_arm_m, stroke_pa=self.stroke_pa)
        require_not_negative(
            jack_friction=self.jack_friction, lever_mass_kg=self.lever_mass_kg, lever_centre=self.lever_centre
        )
        if self.jack_friction >= 1 or not -0.75 < self.lever_angle_rad < 0.75:
            raise InputError("jack_friction", "must be below 1, and lever_angle_rad within 0.75 rad of square")

    def pressure_at_slip(self, load_n: float) -> float:
        """True pressure in Pa at which a brake slips that renders at a line load in N.

        The jack lifts the lever, overcomes its own seals and pushes askew: all of it takes more pressure than the load
        alone. Source: moment balance at the drum.
        """
        lever_nm = self.lever_mass_kg * STANDARD_GRAVITY * self.lever_centre * self.lever_arm_m
        load_on_top_n = load_n + lever_nm / self.target.radius_m
        return self.target.pressure_for(load_on_top_n / ((1 - self.jack_friction) * cos(self.lever_angle_rad)))

    def load_read(self, reading_pa: float) -> float:
        """Line load in N that the crew makes of a reading."""
        return self.target.load_at(reading_pa)

    def after_stroke(self, pressure_pa: float, *, rng: np.random.Generator) -> float:
        """Pressure in Pa after one more stroke, which makes between six tenths of ``stroke_pa`` and all of it."""
        return pressure_pa + self.stroke_pa * float(rng.uniform(0.6, 1.0))

    def pump(self, load_n: float, *, stop_load_n: float, rng: np.random.Generator) -> Pumped:
        """Pump stroke by stroke until the brake slips or the gauge shows the STOP reading.

        Args: load_n: at which the brake truly renders, N; stop_load_n: the load of the STOP reading, N. A stroke is
        seldom full: each makes between six tenths of ``stroke_pa`` and all of it; the last one is cut short at STOP.
        """
        slip_pa = self.pressure_at_slip(load_n)
        stop_pa = self.target.pressure_for(stop_load_n)
        pressure_pa, strokes = 0.0, 0
        while True:
            ahead_pa = self.after_stroke(pressure_pa, rng=rng)
            strokes += 1
            at_stop = self.dial.shows(ahead_pa) >= stop_pa
            if at_stop:
                ahead_pa -= self.dial.shows(ahead_pa) - stop_pa
            if slip_pa <= ahead_pa:
                return Pumped(slipped=True, reading_pa=min(self.dial.read(ahead_pa), stop_pa), strokes=strokes)
            if at_stop:
                return Pumped(slipped=False, reading_pa=stop_pa, strokes=strokes)
            pressure_pa = max(ahead_pa, pressure_pa)
