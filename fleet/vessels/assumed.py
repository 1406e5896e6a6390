"""What the operator assumes of the things that nobody on board measured: each figure as typed, beside our own."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.calculation import units
from fleet.calculation.assumptions import Assumptions, Tolerances
from fleet.core.typed import Typed

PER_CENT, MILLIMETRES, DEGREES, BAR, COUNT = "percent", "mm", "deg", "bar", "count"
TOLERANCE_NAMES = {field.name for field in fields(Tolerances)}


@dataclass(frozen=True)
class Assumed:
    """One figure that a policy may set: its words, its one unit, and what stands in until it does."""

    name: str
    label: str | Promise
    unit: str
    text: str
    most: str
    help: str | Promise = ""
    may_be_zero: bool = True

    @property
    def is_count(self) -> bool:
        return self.unit == COUNT

    @property
    def ours(self) -> Typed:
        """The figure that we ship: common practice, no published source."""
        return self.read(self.text)

    @property
    def most_si(self) -> float:
        return self.read(self.most).si

    def read(self, text: str) -> Typed:
        """Typed text in this figure's one unit. Raises: NumberError."""
        return Typed(text.strip(), COUNT, units.parse_number(text)) if self.is_count else Typed.read(text, self.unit)

    def of(self, stored: Mapping[str, Any]) -> Typed:
        """What stands: the operator's figure where there is one, else ours."""
        return Typed.from_dict(stored[self.name]) if self.name in stored else self.ours

    def fits(self, value: Typed) -> bool:
        """Whether a figure can be taken: not absurd, and zero only where that says that there is nothing to count."""
        least = 0.0 if self.may_be_zero else (1.0 if self.is_count else 1e-4)
        return value.unit == self.unit and least <= value.si <= self.most_si * (1 + 1e-9)


ASSUMED: tuple[Assumed, ...] = (
    Assumed(
        "piston_area_relative",
        _("Effective piston area, known within ±"),
        PER_CENT,
        "0.5",
        "10",
        _("Of the area, where the maker or a certificate gives no closer figure."),
    ),
    Assumed("lever_arm_m", _("Lever arm, known within ±"), MILLIMETRES, "3", "50"),
    Assumed("drum_diameter_m", _("Drum diameter, known within ±"), MILLIMETRES, "4", "50"),
    Assumed("line_diameter_m", _("Line diameter, known within ±"), MILLIMETRES, "1", "20"),
    Assumed(
        "lever_angle_rad",
        _("Lever off square to the jack, at most"),
        DEGREES,
        "3",
        "20",
        _("Only where no angle was written down in the test."),
    ),
    Assumed(
        "jack_friction_relative",
        _("Friction of the jack's seals takes at most"),
        PER_CENT,
        "2",
        "20",
        _("Of the jack's force. It can only take force away, so half of it is taken off the load."),
    ),
    Assumed(
        "lever_weight_relative",
        _("Lifting the lever takes at most"),
        PER_CENT,
        "0.7",
        "20",
        _("Of the jack's force, where the lever's weight is not recorded. Half of it is taken off the load."),
    ),
    Assumed("pump_stroke_pa", _("One stroke of the pump raises the pressure by at most"), BAR, "5", "50"),
    Assumed("makers_table_relative", _("The maker's table, good to ±"), PER_CENT, "2", "20", _("Of the load in it.")),
    Assumed(
        "jack_force_relative",
        _("A jack calibrated as force, good to ±"),
        PER_CENT,
        "1",
        "20",
        _("Of the force in its calibration."),
    ),
    Assumed(
        "smallest_division_of_scale",
        _("Smallest division of a gauge, where nobody wrote it down"),
        PER_CENT,
        "2",
        "10",
        _("Of its full scale."),
        may_be_zero=False,
    ),
    Assumed(
        "slip_spread_relative",
        _("Spread of one slip, as a standard deviation"),
        PER_CENT,
        "2",
        "20",
        _("Of the reading, until the drum's and the vessel's own tests say more than this guess."),
        may_be_zero=False,
    ),
    Assumed(
        "slip_spread_degrees",
        _("That guess is worth so many repeats"),
        COUNT,
        "8",
        "100",
        _("Degrees of freedom: the vessel's own tests take over once they hold more repeats than this."),
        may_be_zero=False,
    ),
)


def assumptions_of(stored: Mapping[str, Any]) -> Assumptions:
    """The figures of a policy for the calculation; what it does not set is ours."""
    own = {one.name: one.of(stored).si for one in ASSUMED if one.name in stored}
    ours = Assumptions()
    tolerances = replace(ours.tolerances, **{name: own.pop(name) for name in TOLERANCE_NAMES & set(own)})
    return replace(ours, tolerances=tolerances, **own)


def changed_only(given: Mapping[str, Typed]) -> dict[str, dict[str, str | float]]:
    """What a policy keeps: the figures that differ from ours, as typed."""
    return {one.name: given[one.name].to_dict() for one in ASSUMED if given[one.name].si != one.ours.si}


def set_by_operator(stored: Mapping[str, Any], name: str) -> bool:
    """Whether a figure of the budget is the operator's own."""
    return name in stored
