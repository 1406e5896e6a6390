"""A virtual band brake: at what line load it renders for a mark, by the Euler-Eytelwein equation and its own springs.

The spindle does not turn by itself once it is set, so what is fixed is its travel, not the tension: the band stretches
and the spindle yields until both together use the travel up. All figures SI.
"""

from dataclasses import dataclass, replace
from math import expm1

import numpy as np
from scipy import optimize

from fleet.calculation.brake import belt_tension_ratio
from fleet.calculation.checks import InputError, require_not_negative, require_positive

STATIC = "static"
SLIDING = "sliding"


@dataclass(frozen=True, kw_only=True)
class BandTensions:
    """Tensions of a band about to slip, N."""

    tight_n: float
    slack_n: float

    def torque_nm(self, radius_m: float) -> float:
        """Torque on the rim: the difference of the tensions times the radius of the rim."""
        return (self.tight_n - self.slack_n) * radius_m


def tensions_for_torque(*, torque_nm: float, radius_m: float, friction: float, wrap_rad: float) -> BandTensions:
    """Tensions of a band that just holds a torque.

    Args: torque_nm: N·m; radius_m: of the rim, m; friction: μ, above zero; wrap_rad: rad. Raises: InputError.
    Source: Euler-Eytelwein equation and moment balance at the rim.

    >>> band = tensions_for_torque(torque_nm=225.0, radius_m=0.225, friction=0.25, wrap_rad=4.712389)
    >>> round(band.tight_n, 1), round(band.slack_n, 1)
    (1444.8, 444.8)
    """
    require_positive(radius_m=radius_m, friction=friction, wrap_rad=wrap_rad)
    require_not_negative(torque_nm=torque_nm)
    slack_n = torque_nm / radius_m / expm1(friction * wrap_rad)
    return BandTensions(tight_n=slack_n * belt_tension_ratio(friction, wrap_rad), slack_n=slack_n)


@dataclass(frozen=True, kw_only=True)
class BandBrake:
    """One band brake as it truly is, which nobody aboard knows.

    Args:
        rim_radius_m, line_radius_m: at which the band and the line pull.
        wrap_rad: angle over which the band bears.
        friction_sliding, static_over_sliding: running friction, and friction at first movement over it; dry.
        band_stiffness_n: Young's modulus times section of the band, N.
        spindle_stiffness_n_per_m: of spindle, links and bearings, at the band's end.
        take_up_m: travel of the band's end until it bears all round; the stiffness grows over it.
        mark_per_band_travel: movement of the mark per movement of the band's end.
        mark_when_bearing_m: the mark at which the band with its lining unworn begins to bear.
        tighter_sign: +1 where the mark's distance grows as the brake is tightened, −1 where it gets shorter.
        lining_loss_m: lining worn off since ``mark_when_bearing_m`` held.
        wetness: 0 dry to 1 soaked; wet_loss: part of the load that a soaked brake loses.

    Raises: InputError. Source: Euler-Eytelwein equation; elastic stretch of a band whose tension grows exponentially
    over the wrap; band travel = wrap angle × lining loss.
    """

    rim_radius_m: float
    line_radius_m: float
    wrap_rad: float
    friction_sliding: float
    static_over_sliding: float
    band_stiffness_n: float
    spindle_stiffness_n_per_m: float
    take_up_m: float
    mark_per_band_travel: float
    mark_when_bearing_m: float
    tighter_sign: float = -1.0
    lining_loss_m: float = 0.0
    wetness: float = 0.0
    wet_loss: float = 0.75

    def __post_init__(self) -> None:
        require_positive(
            rim_radius_m=self.rim_radius_m,
            line_radius_m=self.line_radius_m,
            wrap_rad=self.wrap_rad,
            friction_sliding=self.friction_sliding,
            static_over_sliding=self.static_over_sliding,
            band_stiffness_n=self.band_stiffness_n,
            spindle_stiffness_n_per_m=self.spindle_stiffness_n_per_m,
            mark_per_band_travel=self.mark_per_band_travel,
        )
        require_not_negative(
            take_up_m=self.take_up_m,
            lining_loss_m=self.lining_loss_m,
            mark_when_bearing_m=self.mark_when_bearing_m,
            wetness=self.wetness,
            wet_loss=self.wet_loss,
        )
        if abs(self.tighter_sign) != 1:
            raise InputError("tighter_sign", "must be 1 or −1")
        if self.wetness > 1 or self.wet_loss > 1:
            raise InputError("wetness", "and wet_loss must be at most 1")

    def friction(self, movement: str = STATIC) -> float:
        """Friction of the dry lining, at first movement (STATIC) or once it slides (SLIDING)."""
        return self.friction_sliding * (self.static_over_sliding if movement == STATIC else 1.0)

    def band_travel_m(self, mark_m: float) -> float:
        """How far the band's end has come since the band began to bear, less what the worn lining leaves open.

        Below zero: the band hangs clear. Source: a lining worn by h leaves wrap angle × h of the band's travel open.
        """
        travelled_m = self.tighter_sign * (mark_m - self.mark_when_bearing_m) / self.mark_per_band_travel
        return travelled_m - self.wrap_rad * self.lining_loss_m

    def tensions(self, mark_m: float, *, friction: float, own_sense: bool = True) -> BandTensions:
        """Tensions at the point of slipping, from what the springs of band and spindle make of the travel."""
        travel_m = _taken_up(self.band_travel_m(mark_m), self.take_up_m)
        bend = friction * self.wrap_rad
        band_give = self.wrap_rad * self.rim_radius_m / self.band_stiffness_n
        if own_sense:
            # The spindle holds the slack end; the tension grows away from it.
            give = 1 / self.spindle_stiffness_n_per_m + band_give * expm1(bend) / bend
            slack_n = travel_m / give
            return BandTensions(tight_n=slack_n * belt_tension_ratio(friction, self.wrap_rad), slack_n=slack_n)
        give = 1 / self.spindle_stiffness_n_per_m - band_give * expm1(-bend) / bend
        tight_n = travel_m / give
        return BandTensions(tight_n=tight_n, slack_n=tight_n / belt_tension_ratio(friction, self.wrap_rad))

    def rendering_load(
        self, mark_m: float, *, movement: str = STATIC, friction_factor: float = 1.0, own_sense: bool = True
    ) -> float:
        """Line load in N at which the brake renders.

        Args: mark_m: the marker distance, m; movement: STATIC or SLIDING; friction_factor: this application's friction
        over the usual; own_sense: False with the line reeled the wrong way. Raises: InputError.

        >>> brake = BandBrake(rim_radius_m=0.5, line_radius_m=0.32, wrap_rad=5.2, friction_sliding=0.3,
        ...     static_over_sliding=1.1, band_stiffness_n=3e8, spindle_stiffness_n_per_m=5e7, take_up_m=0.001,
        ...     mark_per_band_travel=8.0, mark_when_bearing_m=0.1)
        >>> [round(brake.rendering_load(mark / 1000) / 1000) for mark in (100, 90, 80, 70)]
        [0, 89, 262, 459]
        >>> round(brake.rendering_load(0.07, movement=SLIDING) / 1000)
        398
        """
        require_positive(friction_factor=friction_factor)
        friction = self.friction(movement) * friction_factor
        band = self.tensions(mark_m, friction=friction, own_sense=own_sense)
        return band.torque_nm(self.rim_radius_m) / self.line_radius_m * (1 - self.wet_loss * self.wetness)

    def mark_for(self, load_n: float) -> float:
        """The marker distance in m at which the brake truly renders, from rest, at a load in N."""
        require_positive(load_n=load_n)
        reach_m = 1.0
        while self.rendering_load(self._mark_at(reach_m)) < load_n:
            reach_m *= 2
        travel_m = optimize.brentq(lambda at: self.rendering_load(self._mark_at(at)) - load_n, 0.0, reach_m, xtol=1e-12)
        return self._mark_at(travel_m)

    def slope_at(self, mark_m: float) -> float:
        """How much the load truly grows per movement of the mark towards tighter, N/m."""
        step_m = 1e-5
        ahead = self.rendering_load(mark_m + self.tighter_sign * step_m)
        behind = self.rendering_load(mark_m - self.tighter_sign * step_m)
        return (ahead - behind) / (2 * step_m)

    def worn(self, lining_loss_m: float) -> "BandBrake":
        """The same brake with so much more of its lining gone."""
        return replace(self, lining_loss_m=self.lining_loss_m + lining_loss_m)

    def drier(self, part_left: float) -> "BandBrake":
        """The same brake with only this part of its wetness left."""
        return replace(self, wetness=self.wetness * part_left)

    def _mark_at(self, band_travel_m: float) -> float:
        open_m = self.wrap_rad * self.lining_loss_m
        return self.mark_when_bearing_m + self.tighter_sign * self.mark_per_band_travel * (band_travel_m + open_m)


def _taken_up(travel_m: float, take_up_m: float) -> float:
    """The part of the travel that stretches the band: nothing at first, all of it once the band bears all round."""
    if travel_m <= 0:
        return 0.0
    if take_up_m == 0:
        return travel_m
    return float(travel_m + take_up_m * np.expm1(-travel_m / take_up_m))
