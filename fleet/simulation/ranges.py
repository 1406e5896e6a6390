"""Between what bounds a virtual brake, its hand, jack and gauge are drawn, and why. Fixed before anything was tuned.

The bounds say what brakes there may be, not what suits a procedure: they are not to be narrowed to make one look
better. SI throughout; angles in rad; shares and ratios as fractions.
"""

from dataclasses import dataclass
from math import radians

PUBLISHED = "published"
FROM_MEMORY = "from memory"
COMMON_PRACTICE = "common practice, no published source"
STATUSES = (PUBLISHED, FROM_MEMORY, COMMON_PRACTICE)

UNIFORM = "uniform"
LOG_UNIFORM = "log_uniform"
ONE_OF = "one_of"


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """One parameter's bounds: how it is drawn between them, why there, and how well that is known.

    ``values`` are the choices where it is drawn as one of a list; low and high are then their ends.
    """

    key: str
    low: float
    high: float
    unit: str
    reason: str
    status: str
    drawn: str = UNIFORM
    values: tuple[float, ...] = ()


def _between(key: str, low: float, high: float, unit: str, status: str, reason: str, *, drawn: str = UNIFORM) -> Bounds:
    return Bounds(key=key, low=low, high=high, unit=unit, status=status, reason=reason, drawn=drawn)


def _one_of(key: str, values: tuple[float, ...], unit: str, status: str, reason: str) -> Bounds:
    return Bounds(
        key=key,
        low=min(values),
        high=max(values),
        unit=unit,
        status=status,
        reason=reason,
        drawn=ONE_OF,
        values=values,
    )


_BRAKE = (
    _between("sdmbl_n", 300e3, 1200e3, "N", FROM_MEMORY,
             "ship design MBL of merchant ships from a coaster to a large tanker", drawn=LOG_UNIFORM),
    _between("drum_diameter_m", 0.40, 0.80, "m", FROM_MEMORY, "barrels of mooring winches"),
    _between("drum_over_line", 12.0, 22.0, "ratio", FROM_MEMORY,
             "ISO 3730 asks 16 times the wire's diameter at least; fibre lines are thicker for their strength"),
    _between("brake_over_drum", 1.4, 2.0, "ratio", FROM_MEMORY,
             "the brake rim stands outside the flange, the flange outside several layers of line"),
    _between("wrap_rad", radians(270), radians(330), "rad", FROM_MEMORY,
             "270 degrees in textbooks; more where the gap for the spindle is small"),
    _between("friction_sliding", 0.25, 0.40, "ratio", FROM_MEMORY, "moulded or woven lining on dry steel, handbooks"),
    _between("static_over_sliding", 1.05, 1.30, "ratio", FROM_MEMORY,
             "friction at first movement stands above running friction"),
    _between("band_stress_pa", 60e6, 150e6, "Pa", FROM_MEMORY,
             "tension in the steel of the band at its tight end at 80 % of SDMBL; sizes the band", drawn=LOG_UNIFORM),
    _between("spindle_give_m", 0.5e-3, 2.5e-3, "m", COMMON_PRACTICE,
             "how far spindle, links and bearings yield at the band's end at 80 % of SDMBL; our estimate"),
    _between("take_up_m", 0.5e-3, 3.0e-3, "m", COMMON_PRACTICE,
             "travel of the band's end until it bears all round a rim that is not quite round; our estimate"),
    _between("mark_per_band_travel", 4.0, 12.0, "ratio", COMMON_PRACTICE,
             "the linkage makes the spindle, on which the mark sits, move several times as far as the band's end"),
    _between("mark_per_turn_m", 4e-3, 12e-3, "m", COMMON_PRACTICE, "pitch of a trapezoidal spindle, one or two starts"),
    _one_of("tighter_sign", (-1.0, 1.0), "sign", COMMON_PRACTICE,
            "the mark gets shorter or longer when tightened: it goes by drum"),
    _between("mark_when_bearing_m", 60e-3, 150e-3, "m", FROM_MEMORY,
             "distance at which the band begins to bear; distances of 10 to 150 mm are met with"),
)  # fmt: skip

_STATE = (
    _between("friction_scatter", 0.003, 0.015, "ratio", COMMON_PRACTICE,
             "standard deviation of friction from one application to the next; makes 0.5 to 3 % of the load, which "
             "holds the 2 % assumed for a slip in the budget"),
    _between("rest_growth", 0.0, 0.02, "ratio", FROM_MEMORY,
             "static friction gains about so much for each tenfold time at rest"),
    _between("run_in_per_slip", -0.005, 0.010, "ratio", COMMON_PRACTICE,
             "each slip polishes or cleans the rim a little; our estimate"),
    _between("wetness", 0.0, 0.05, "ratio", COMMON_PRACTICE,
             "what is left after the drum was run dry with the brake lightly on; 1 would be soaked"),
    _between("wet_loss", 0.75, 0.75, "ratio", PUBLISHED,
             "a wet, oily or rusty brake holds up to 75 % less, MEG 7.5.5.1.2"),
    _between("lining_loss_m", 0.0, 0.2e-3, "m", COMMON_PRACTICE,
             "lining worn since the last test; each mm costs wrap angle times one mm of band travel"),
    _between("friction_since_last", 0.85, 1.15, "ratio", COMMON_PRACTICE,
             "friction now over friction at the last test: polish, rust, oil mist; our estimate", drawn=LOG_UNIFORM),
    _between("after_work_chance", 0.30, 0.30, "ratio", COMMON_PRACTICE,
             "part of the tests that follow work on the brake: no as-found test, no last slope, a start well slack"),
    _between("after_work_start", 0.20, 0.45, "ratio of SDMBL", COMMON_PRACTICE,
             "where a crew that starts well slack begins after work on the brake"),
    _between("last_slope_error", 0.80, 1.25, "ratio", COMMON_PRACTICE,
             "last year's slope as measured over what it truly was", drawn=LOG_UNIFORM),
)  # fmt: skip

_HAND = (
    _between("hand_spread_m", 0.1e-3, 0.4e-3, "m", COMMON_PRACTICE,
             "standard deviation of a mark set and measured with a steel rule on a wet deck"),
)  # fmt: skip

_RIG = (
    _between("lever_arm_m", 0.6, 1.5, "m", FROM_MEMORY, "levers bolted to the flange"),
    _one_of("piston_area_m2", (33.2e-4, 42.1e-4, 71.2e-4, 102.6e-4, 133.3e-4), "m²", FROM_MEMORY,
            "single-acting jacks of 25 to 100 t; the smallest that slips the brake below highest_target_pa is taken"),
    _between("highest_target_pa", 350e5, 350e5, "Pa", COMMON_PRACTICE,
             "a crew takes the larger jack before the target goes higher"),
    _between("jack_friction", 0.0, 0.03, "ratio", COMMON_PRACTICE,
             "part of the jack's force that its seals take; it only ever takes; the budget assumes at most 2 %"),
    _between("lever_mass_kg", 80.0, 150.0, "kg", FROM_MEMORY, "lever of two bars"),
    _between("lever_centre", 0.35, 0.60, "ratio of lever arm", COMMON_PRACTICE,
             "where the lever's weight acts; an upward push lifts it first"),
    _between("lever_angle_rad", 0.0, radians(5), "rad", COMMON_PRACTICE, "how far the lever stands from square"),
    _between("stroke_pa", 3e5, 10e5, "Pa", FROM_MEMORY, "pressure step of one stroke of a hand pump: 3 to 10 bar"),
    _one_of("accuracy_class", (1.0, 1.6, 2.5), "% of span", PUBLISHED,
            "classes of EN 837-1; which of them are met with on board is common practice"),
    _one_of("full_scale_pa", (160e5, 250e5, 400e5, 600e5, 700e5, 1000e5), "Pa", FROM_MEMORY,
            "usual scales; the smallest of which the target takes at most 75 % (EN 837-2), or a coarser one"),
    _one_of("scales_too_coarse", (0.0, 0.0, 1.0), "count", COMMON_PRACTICE,
            "a third of the rigs have a gauge one size larger than it need be"),
    _one_of("divisions", (50.0, 100.0), "count", COMMON_PRACTICE, "divisions on a dial; read to half of one"),
    _between("gauge_error", -1.0, 1.0, "part of the class limit", PUBLISHED,
             "EN 837-1 bounds the error; within the bounds nothing is known, so uniform (JCGM 100, 4.3.7)"),
    _between("gauge_offset_part", 0.0, 1.0, "ratio", COMMON_PRACTICE,
             "how much of that error is the same all over the scale; the rest grows with the reading"),
)  # fmt: skip

TABLE: tuple[Bounds, ...] = (*_BRAKE, *_STATE, *_HAND, *_RIG)
BY_KEY: dict[str, Bounds] = {bounds.key: bounds for bounds in TABLE}
