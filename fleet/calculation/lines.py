"""The line on the drum: one of another diameter, a worn one, one reeled the wrong way round.

Loads in N, diameters in m; shares are fractions of the base load. ``base_name`` is what that load is called in words.
"""

from dataclasses import dataclass

from fleet.calculation import units
from fleet.calculation.brake import wrong_way_load
from fleet.calculation.checks import InputError, require_positive
from fleet.calculation.geometry import LINE_ON_LINE, moment_radius
from fleet.calculation.layers import BASE_NAME
from fleet.calculation.sentences import Sentence, gettext_noop, points_shown
from fleet.calculation.units import to_si

# Ours, common practice, no published source: over 270° of wrap it makes a factor of three to six.
LINING_FRICTION = (0.25, 0.38)

# Ours, common practice, no published source; textbooks reckon with it.
USUAL_WRAP_RAD = to_si(270.0, "deg")

# From memory: a line is retired at three quarters of SDMBL.
RETIRED_AT_SHARE = 0.75

# Ours, common practice, no published source, until an operator sets another: of what is left of a worn line the brake
# may take this much.
MOST_OF_RESIDUAL = 0.75

# Ours, common practice, no published source: two measurements of one line differ by so much.
SAME_LINE_WITHIN = 0.02

NEW_LINE_LOWER = gettext_noop(
    "At the old mark the brake would render at {after} of {base} with the new line, {points} points lower than the "
    "{before} it was set to. Do not use the old mark: test again with the new line."
)
NEW_LINE_HIGHER = gettext_noop(
    "At the old mark the brake would render at {after} of {base} with the new line, {points} points higher than the "
    "{before} it was set to. Do not use the old mark: test again with the new line."
)
SAME_LINE = gettext_noop("The new line is as thick as the old one: by its diameter alone the load stays at {after}.")
WORN_LINE = gettext_noop("The brake renders at {of_residual} of what is left of this line ({residual} of {base}).")
RETIRE_LINE = gettext_noop(
    "The brake renders at {of_residual} of what is left of this line ({residual} of {base}). A line is usually retired "
    "at {retired_at} (from memory): see the maker's criteria."
)
NO_WEAK_LINK = gettext_noop(
    "The brake renders at {of_residual} of what is left of this line ({residual} of {base}): the line may part before "
    "the brake slips. Take it out of use."
)
WRONG_WAY = gettext_noop(
    "Estimate only: with the line reeled the wrong way round, a band brake set to {before} of {base} would hold about "
    "{low} to {high}, for a lining friction of {friction_low} to {friction_high} and a wrap of {wrap}."
)
WRONG_WAY_ONE = gettext_noop(
    "Estimate only: with the line reeled the wrong way round, a band brake set to {before} of {base} would hold about "
    "{low}, for a lining friction of {friction_low} and a wrap of {wrap}."
)


@dataclass(frozen=True, kw_only=True)
class LineChange:
    """What the old mark is worth with a line of another diameter: loads in N, shares of the base load."""

    load_before_n: float
    load_after_n: float
    share_before: float
    share_after: float
    sentence: Sentence


def is_another_line(*, old_diameter_m: float, new_diameter_m: float) -> bool:
    """Whether two diameters are those of two lines, not of one line measured twice. Raises: InputError.

    Source: common practice, no published source.

    >>> is_another_line(old_diameter_m=0.036, new_diameter_m=0.0365)
    False
    >>> is_another_line(old_diameter_m=0.036, new_diameter_m=0.040)
    True
    """
    require_positive(old_diameter_m=old_diameter_m, new_diameter_m=new_diameter_m)
    return abs(new_diameter_m / old_diameter_m - 1) > SAME_LINE_WITHIN


def line_change(
    *,
    load_n: float,
    sdmbl_n: float,
    drum_diameter_m: float,
    old_diameter_m: float,
    new_diameter_m: float,
    layer: int = 1,
    nesting: str = LINE_ON_LINE,
    base_name: str = BASE_NAME,
) -> LineChange:
    """Brake rendering load at the old mark once another line is on the drum.

    The mark keeps the brake's torque; a thicker line pulls at a longer radius, so the brake renders at less: F·r / r'.

    Args: load_n: with the old line; layer, nesting: of the test. Raises: InputError. Source: moment balance.

    >>> change = line_change(load_n=382.2e3, sdmbl_n=637e3, drum_diameter_m=0.610, old_diameter_m=0.036,
    ...     new_diameter_m=0.044)
    >>> round(change.load_after_n), units.digits(change.share_after, "percent")
    (377525, '59.3')
    """
    require_positive(load_n=load_n, sdmbl_n=sdmbl_n)
    old_m, new_m = (
        moment_radius(drum_diameter_m=drum_diameter_m, line_diameter_m=diameter_m, layer=layer, nesting=nesting)
        for diameter_m in (old_diameter_m, new_diameter_m)
    )
    after_n = load_n * (old_m / new_m)
    before, after = load_n / sdmbl_n, after_n / sdmbl_n
    figures = {
        "before": _percent(before),
        "after": _percent(after),
        "points": points_shown(abs(after - before)),
        "base": base_name,
    }
    changed = NEW_LINE_LOWER if after < before else NEW_LINE_HIGHER
    return LineChange(
        load_before_n=load_n,
        load_after_n=after_n,
        share_before=before,
        share_after=after,
        sentence=Sentence(template=SAME_LINE if new_diameter_m == old_diameter_m else changed, figures=figures),
    )


def _percent(share: float) -> str:
    return units.display(share, "percent")


@dataclass(frozen=True, kw_only=True)
class WornLine:
    """The brake against what is left of a line.

    ``line_may_part_first`` when that is no more than the brake holds; ``near`` when the brake takes too much of it.
    """

    residual_share: float
    share_of_residual: float
    near: bool
    line_may_part_first: bool
    sentence: Sentence


def worn_line(
    *,
    load_n: float,
    sdmbl_n: float,
    residual_n: float,
    most_of_residual: float = MOST_OF_RESIDUAL,
    base_name: str = BASE_NAME,
) -> WornLine:
    """The brake rendering load as a share of a worn line's residual strength.

    Args: residual_n: breaking load that is left, N; most_of_residual: of it the brake may take less than this share,
    the operator's figure. Raises: InputError.
    Source: division; retirement at 75 % of SDMBL is from memory, so a brake at 60 % is then at 80 % of what is left.

    >>> units.digits(worn_line(load_n=60.0, sdmbl_n=100.0, residual_n=75.0).share_of_residual, "percent")
    '80.0'
    """
    require_positive(load_n=load_n, sdmbl_n=sdmbl_n, residual_n=residual_n, most_of_residual=most_of_residual)
    residual, of_residual = residual_n / sdmbl_n, load_n / residual_n
    stronger_than_brake = RETIRE_LINE if residual <= RETIRED_AT_SHARE else WORN_LINE
    return WornLine(
        residual_share=residual,
        share_of_residual=of_residual,
        near=of_residual >= most_of_residual,
        line_may_part_first=of_residual >= 1,
        sentence=Sentence(
            template=NO_WEAK_LINK if of_residual >= 1 else stronger_than_brake,
            figures={
                "of_residual": _percent(of_residual),
                "residual": _percent(residual),
                "retired_at": _percent(RETIRED_AT_SHARE),
                "base": base_name,
            },
        ),
    )


@dataclass(frozen=True, kw_only=True)
class WrongWay:
    """An estimate of what a band brake holds with the line reeled the wrong way: shares of the base load."""

    lowest_share: float
    highest_share: float
    sentence: Sentence


def wrong_way(
    *,
    load_n: float,
    sdmbl_n: float,
    wrap_rad: float,
    friction: tuple[float, float] = LINING_FRICTION,
    base_name: str = BASE_NAME,
) -> WrongWay:
    """Between what shares of the base load a band brake would hold, reeled the wrong way; always shown as an estimate.

    Args: load_n: with the line reeled as marked; wrap_rad: angle over which the band lies on the drum; friction: least
    and greatest of the lining, twice the same where one figure is known. Not for disc brakes. Raises: InputError.
    Source: Euler-Eytelwein equation, the band's tight and slack ends exchanged (``brake.wrong_way_load``).

    >>> estimate = wrong_way(load_n=60.0, sdmbl_n=100.0, wrap_rad=units.to_si(270.0, "deg"))
    >>> units.digits(estimate.lowest_share, "percent"), units.digits(estimate.highest_share, "percent")
    ('10.0', '18.5')
    """
    require_positive(sdmbl_n=sdmbl_n)
    least, greatest = friction
    if not least <= greatest:
        raise InputError("friction", "must be given with its least value first")
    high, low = (wrong_way_load(load_n=load_n, friction=mu, wrap_rad=wrap_rad) / sdmbl_n for mu in friction)
    return WrongWay(
        lowest_share=low,
        highest_share=high,
        sentence=Sentence(
            template=WRONG_WAY_ONE if least == greatest else WRONG_WAY,
            figures={
                "before": _percent(load_n / sdmbl_n),
                "base": base_name,
                "low": _percent(low),
                "high": _percent(high),
                "friction_low": units.shown(least, 2),
                "friction_high": units.shown(greatest, 2),
                "wrap": units.display(wrap_rad, "deg"),
            },
        ),
    )
