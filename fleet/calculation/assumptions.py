"""What is assumed of the things that nobody on board measured, and what was measured instead.

Every figure of ``Assumptions`` is ours: common practice, no published source. The operator may set others, and
whatever comes from here is shown as "assumed".
"""

from dataclasses import dataclass, fields
from math import radians

from fleet.calculation.checks import InputError, require_not_negative, require_positive

SOURCE = "ours, common practice, no published source"


@dataclass(frozen=True, kw_only=True)
class Tolerances:
    """Half-widths that somebody measured, read on a drawing or on a certificate; None where nobody did.

    Args:
        piston_area_relative: of the effective area, as a fraction.
        lever_arm_m, drum_diameter_m, line_diameter_m: m.
        lever_angle_rad: how far the lever may stand from square to the jack, either way.
        jack_friction_relative: the greatest part of the jack's force that its seals may take; at least none.
        lever_weight_relative: the greatest part that lifting the lever may take; 0 where the lever is not lifted.
        pump_stroke_pa: pressure step of one stroke of the pump.
        makers_table_relative: of a load in the maker's table.
        jack_force_relative: of a force in the jack's calibration.

    0 says that there is nothing to count. Raises: InputError.
    """

    piston_area_relative: float | None = None
    lever_arm_m: float | None = None
    drum_diameter_m: float | None = None
    line_diameter_m: float | None = None
    lever_angle_rad: float | None = None
    jack_friction_relative: float | None = None
    lever_weight_relative: float | None = None
    pump_stroke_pa: float | None = None
    makers_table_relative: float | None = None
    jack_force_relative: float | None = None

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if value is None:
                continue
            require_not_negative(**{field.name: value})
            if field.name.endswith("_relative") and value >= 1:
                raise InputError(field.name, "must be below 1, as a fraction")
        if (self.lever_angle_rad or 0) > radians(45):
            raise InputError("lever_angle_rad", "must be at most 45 degrees")


@dataclass(frozen=True, kw_only=True)
class Assumptions:
    """The operator's figures for what nobody measured; the defaults are ours, common practice, no published source.

    Args: tolerances: as there, none of them None; smallest_division_of_scale: fraction of full scale, for a gauge of
    which nobody wrote down the division; slip_spread_relative: standard deviation of one slip, as a fraction of the
    reading; slip_spread_degrees: how many degrees of freedom that guess is worth.
    Raises: InputError.
    """

    tolerances: Tolerances = Tolerances(
        piston_area_relative=0.005,
        lever_arm_m=0.003,
        drum_diameter_m=0.004,
        line_diameter_m=0.001,
        lever_angle_rad=radians(3.0),
        jack_friction_relative=0.02,
        lever_weight_relative=0.007,
        pump_stroke_pa=5e5,
        makers_table_relative=0.02,
        jack_force_relative=0.01,
    )
    smallest_division_of_scale: float = 0.02
    slip_spread_relative: float = 0.02
    slip_spread_degrees: float = 8.0

    def __post_init__(self) -> None:
        for field in fields(self.tolerances):
            if getattr(self.tolerances, field.name) is None:
                raise InputError(field.name, "needs a figure, or 0 for nothing to count")
        require_positive(
            smallest_division_of_scale=self.smallest_division_of_scale,
            slip_spread_relative=self.slip_spread_relative,
            slip_spread_degrees=self.slip_spread_degrees,
        )
