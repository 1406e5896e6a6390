"""Entry ranges: hard ones are refused by the forms, soft ones are asked about. SI throughout.

Source: from memory of the trade, or derived; no standard gives them. Soft: "are you sure?".
"""

from __future__ import annotations

from dataclasses import dataclass

from fleet.calculation.plausibility.finding import gettext_noop
from fleet.calculation.units import display, to_si


@dataclass(frozen=True)
class Range:
    """A closed range of one quantity in SI, and the unit that people read it in."""

    low_si: float
    high_si: float
    unit: str

    def holds(self, value_si: float) -> bool:
        # A figure typed exactly at the limit may miss it by the last bit of its conversion.
        slack = 1e-9 * self.high_si
        return self.low_si - slack <= value_si <= self.high_si + slack


HARD_RANGES: dict[str, Range] = {
    "drum_diameter": Range(0.150, 1.500, "mm"),
    "line_diameter": Range(0.008, 0.130, "mm"),
    "diameter_ratio": Range(5, 60, "ratio"),
    "base_load": Range(30e3, 2500e3, "kN"),
    "piston_area": Range(3e-4, 400e-4, "cm2"),
    "lever_arm": Range(0.300, 3.000, "mm"),
    "test_pressure": Range(10e5, 700e5, "bar"),
    "gauge_full_scale": Range(100e5, 1600e5, "bar"),
    "marker_distance": Range(0.0, 0.500, "mm"),
    "lining": Range(0.002, 0.040, "mm"),
    "share": Range(0.40, 0.80, "percent"),
    "arm_ratio": Range(0.08, 0.80, "ratio"),
    "wrap_angle": Range(to_si(90.0, "deg"), to_si(720.0, "deg"), "deg"),
    "lining_friction": Range(0.05, 0.80, "ratio"),
    "mark_per_band_travel": Range(0.2, 40.0, "ratio"),
}

SOFT_RANGES: dict[str, Range] = {
    "drum_diameter": Range(0.300, 0.900, "mm"),
    "line_diameter": Range(0.018, 0.096, "mm"),
    "diameter_ratio": Range(7, 25, "ratio"),
    "diameter_ratio_wire": Range(12, 25, "ratio"),
    "base_load": Range(150e3, 1400e3, "kN"),
    "piston_area": Range(14e-4, 135e-4, "cm2"),
    "lever_arm": Range(0.600, 1.500, "mm"),
    "test_pressure": Range(80e5, 450e5, "bar"),
    "marker_distance": Range(0.010, 0.150, "mm"),
    "lining": Range(0.006, 0.020, "mm"),
    "arm_ratio": Range(0.15, 0.50, "ratio"),
}

USUAL_FULL_SCALES_PA: tuple[float, ...] = (250e5, 400e5, 600e5, 700e5, 1000e5)

OUTSIDE_HARD = gettext_noop(
    "{value} cannot be right: between {low} and {high} is possible. Check the figure and its unit against the document."
)


@dataclass(frozen=True)
class OutsideHard:
    """A refusal: the template is translated by the web layer, then filled."""

    template: str
    figures: dict[str, str]

    @property
    def sentence(self) -> str:
        return self.template.format(**self.figures)


def outside_hard(quantity: str, value_si: float) -> OutsideHard | None:
    """The refusal when a value lies outside the hard range of a quantity, otherwise None.

    Args: quantity: a key of `HARD_RANGES`; value_si: the value in SI. Raises: KeyError for an unknown quantity.

    >>> outside_hard("lever_arm", 12.0).sentence
    '12000.0 mm cannot be right: between 300.0 mm and 3000.0 mm is possible. Check the figure and its unit against the document.'
    >>> outside_hard("lever_arm", 1.2) is None
    True
    """  # noqa: E501
    limits = HARD_RANGES[quantity]
    if limits.holds(value_si):
        return None
    return OutsideHard(
        OUTSIDE_HARD,
        {
            "value": display(value_si, limits.unit),
            "low": display(limits.low_si, limits.unit),
            "high": display(limits.high_si, limits.unit),
        },
    )
