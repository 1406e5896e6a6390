"""Areas the oil pushes on, and the radius at which the line pulls. Lengths in m, areas in m²; floats or arrays."""

from math import pi, sqrt
from typing import overload

from fleet.calculation.checks import InputError, require_positive, require_whole
from fleet.calculation.units import N, Number

PLAIN_JACK = "plain"
PULL_CYLINDER = "pull"
HOLLOW_PLUNGER = "hollow"
DISPLACEMENT_RAM = "ram"
JACK_TYPES = (PLAIN_JACK, PULL_CYLINDER, HOLLOW_PLUNGER, DISPLACEMENT_RAM)

LINE_ON_LINE = "line_on_line"
NESTED = "nested"
NESTINGS: dict[str, float] = {LINE_ON_LINE: 1.0, NESTED: sqrt(3.0) / 2.0}


def circle_area(*, diameter_m: N) -> N:
    """Area of a circle in m² from its diameter in m. Raises: InputError. Source: geometry.

    >>> round(circle_area(diameter_m=0.0952) * 1e4, 2)
    71.18
    """
    require_positive(diameter_m=diameter_m)
    return pi / 4 * diameter_m**2


@overload
def ring_area(*, outer_m: float, inner_m: float) -> float: ...
@overload
def ring_area(*, outer_m: Number, inner_m: Number) -> Number: ...
def ring_area(*, outer_m: Number, inner_m: Number) -> Number:
    """Area in m² between a bore and the rod or hole inside it. Raises: InputError. Source: geometry.

    >>> round(ring_area(outer_m=0.100, inner_m=0.060) * 1e4, 3)
    50.265
    """
    require_positive(outer_m=outer_m, inner_m=inner_m)
    require_positive(ring_width_m=outer_m - inner_m)
    return pi / 4 * (outer_m - inner_m) * (outer_m + inner_m)


def effective_area(
    *, jack_type: str, bore_m: float | None = None, inner_m: float | None = None, plunger_m: float | None = None
) -> float:
    """The sealed area the oil pushes on, in m², by the type of jack; never its base, cap or saddle.

    Args:
        jack_type: ``plain`` (the bore), ``pull`` or ``hollow`` (bore less rod or hole), ``ram`` (the plunger itself,
            sealed in the gland).
        bore_m: bore in m; for all but the ram.
        inner_m: rod of a pull cylinder or hole of a hollow plunger, in m.
        plunger_m: plunger of a displacement ram, in m.

    Raises: InputError for an unknown type, a missing diameter, or one that this type does not have.
    Source: hydrostatics; mechanics of the seal.

    >>> round(effective_area(jack_type="hollow", bore_m=0.100, inner_m=0.060) * 1e4, 3)
    50.265
    """
    wanted = {
        PLAIN_JACK: ("bore_m",),
        PULL_CYLINDER: ("bore_m", "inner_m"),
        HOLLOW_PLUNGER: ("bore_m", "inner_m"),
        DISPLACEMENT_RAM: ("plunger_m",),
    }
    if jack_type not in wanted:
        raise InputError("jack_type", f"must be one of {', '.join(JACK_TYPES)}")
    given = {"bore_m": bore_m, "inner_m": inner_m, "plunger_m": plunger_m}
    for argument, value in given.items():
        if (value is None) == (argument in wanted[jack_type]):
            raise InputError(argument, f"{'is needed' if value is None else 'does not belong'} for a {jack_type} jack")
    if bore_m is not None and inner_m is not None:
        return ring_area(outer_m=bore_m, inner_m=inner_m)
    return circle_area(diameter_m=float(bore_m or plunger_m or 0))


@overload
def moment_radius(
    *, drum_diameter_m: float, line_diameter_m: float, layer: float = 1, nesting: str = LINE_ON_LINE
) -> float: ...
@overload
def moment_radius(
    *, drum_diameter_m: Number, line_diameter_m: Number, layer: Number = 1, nesting: str = LINE_ON_LINE
) -> Number: ...
def moment_radius(
    *, drum_diameter_m: Number, line_diameter_m: Number, layer: Number = 1, nesting: str = LINE_ON_LINE
) -> Number:
    """Distance in m from the drum's centre to the centre of the line on a layer: D/2 + d/2 + (k - 1)·d·c.

    Args:
        drum_diameter_m: barrel diameter D (not the flange), m.
        line_diameter_m: line diameter d, m.
        layer: layer k on which the line lies, from 1.
        nesting: ``line_on_line`` (c = 1) or ``nested`` (c = √3/2, the line lies in the grooves of the layer below).

    Raises: InputError. Source: geometry.

    >>> round(moment_radius(drum_diameter_m=0.610, line_diameter_m=0.036), 6)
    0.323
    >>> round(moment_radius(drum_diameter_m=0.610, line_diameter_m=0.036, layer=3), 6)
    0.395
    """
    require_positive(drum_diameter_m=drum_diameter_m, line_diameter_m=line_diameter_m)
    require_whole(layer=layer)
    if nesting not in NESTINGS:
        raise InputError("nesting", f"must be one of {', '.join(NESTINGS)}")
    return (drum_diameter_m + line_diameter_m) / 2 + (layer - 1) * line_diameter_m * NESTINGS[nesting]


@overload
def band_travel(*, wrap_rad: float, lining_loss_m: float) -> float: ...
@overload
def band_travel(*, wrap_rad: Number, lining_loss_m: Number) -> Number: ...
def band_travel(*, wrap_rad: Number, lining_loss_m: Number) -> Number:
    """How far the end of a brake band travels, in m, to bear again on a lining that has lost so much: θ·h.

    Args: wrap_rad: angle over which the band lies on the rim, rad; lining_loss_m: of the thickness, m; below zero where
    the lining is thicker. Raises: InputError. Source: geometry of an arc, whose length is its radius times its angle;
    the band's radius shrinks by what the lining loses.

    >>> from math import radians
    >>> round(band_travel(wrap_rad=radians(270), lining_loss_m=0.001) * 1000, 2)
    4.71
    """
    require_positive(wrap_rad=wrap_rad)
    return wrap_rad * lining_loss_m
