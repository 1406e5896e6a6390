"""The line on the drum: working load limit by layer, a line of another diameter, a worn line, an undivided drum.

Loads in N, diameters in m; shares are fractions of SDMBL.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.calculation import units
from fleet.calculation.brake import LayerLoad, layer_table, wrong_way_load
from fleet.calculation.checks import InputError, require_positive
from fleet.calculation.geometry import LINE_ON_LINE, NESTED, moment_radius
from fleet.calculation.sentences import Sentence, gettext_noop, points_shown
from fleet.calculation.stop import BRAKE_DESIGN_SHARE

WIRE = "wire"
OTHER = "other"
WLL_SHARES = {WIRE: 0.55, OTHER: 0.50}

# Ours, common practice, no published source: over 270° of wrap it makes a factor of three to six.
LINING_FRICTION = (0.25, 0.38)

# From memory: a line is retired at three quarters of SDMBL.
RETIRED_AT_SHARE = 0.75

BELOW_WLL = gettext_noop(
    "With the line on layer {layer} the brake renders at {share} of ship design MBL, below the line's working load "
    "limit of {wll}: it may slip in normal work."
)
ABOVE_DESIGN = gettext_noop(
    "With the line on layer {layer} the brake renders at {share} of ship design MBL, above its design holding load of "
    "{limit}: it must not be left so."
)
MAY_EXCEED_DESIGN = gettext_noop(
    "Allowed up to {ceiling} on layer {set_layer}, this brake would render at {share} of ship design MBL on layer "
    "{layer}, above its design holding load of {limit}."
)
NEW_LINE_LOWER = gettext_noop(
    "At the old mark the brake would render at {after} of ship design MBL with the new line, {points} points lower "
    "than the {before} it was set to. Do not use the old mark: test again with the new line."
)
NEW_LINE_HIGHER = gettext_noop(
    "At the old mark the brake would render at {after} of ship design MBL with the new line, {points} points higher "
    "than the {before} it was set to. Do not use the old mark: test again with the new line."
)
SAME_LINE = gettext_noop("The new line is as thick as the old one: by its diameter alone the load stays at {after}.")
WORN_LINE = gettext_noop(
    "The brake renders at {of_residual} of what is left of this line ({residual} of ship design MBL)."
)
RETIRE_LINE = gettext_noop(
    "The brake renders at {of_residual} of what is left of this line ({residual} of ship design MBL). A line is "
    "usually retired at {retired_at} (from memory): see the maker's criteria."
)
WRONG_WAY = gettext_noop(
    "Estimate only: with the line reeled the wrong way round, a band brake set to {before} of ship design MBL would "
    "hold about {low} to {high}, for a lining friction of {friction_low} to {friction_high} and a wrap of {wrap}."
)
NO_WEAK_LINK = gettext_noop(
    "The brake renders at {of_residual} of what is left of this line ({residual} of ship design MBL): the line may "
    "part before the brake slips. Take it out of use."
)


@dataclass(frozen=True, kw_only=True)
class LayerRow:
    """One layer, the line lying on top of the line below (``on_line``) or in its grooves (``nested``)."""

    layer: int
    on_line: LayerLoad
    nested: LayerLoad
    below_wll: bool
    above_design: bool


@dataclass(frozen=True, kw_only=True)
class LayerTable:
    """The brake rendering load over the layers of an undivided drum, with what to warn of."""

    rows: tuple[LayerRow, ...]
    wll_share: float
    warnings: tuple[Sentence, ...]


def over_layers(
    *,
    load_n: float,
    sdmbl_n: float,
    drum_diameter_m: float,
    line_diameter_m: float,
    line_kind: str,
    set_layer: int,
    layers: Sequence[int] = (1, 2, 3, 4, 5),
    ceiling_share: float | None = None,
) -> LayerTable:
    """Brake rendering load on every layer, on line and nested, with warnings.

    A row is below the working load limit, or above the brake's design load, when either way of lying is. The line is
    taken to lie on every layer as it lay in the test.

    Args: load_n: at which the brake renders on set_layer; line_kind: ``wire`` or ``other``; ceiling_share: the
    operator's ceiling on the layer of the test, to warn where it would pass the design load on another.
    Raises: InputError.
    Source: moment balance; WLL 55 % of SDMBL for wire and 50 % for other lines, MEG4 (published summary); brake design
    holding load 80 % on the first layer, ISO 3730, MEG 7.5.6.

    >>> table = over_layers(load_n=60.0, sdmbl_n=100.0, drum_diameter_m=0.16, line_diameter_m=0.01, line_kind="wire",
    ...     set_layer=1, layers=(1, 3))
    >>> [(row.layer, units.digits(row.on_line.share, "percent"), row.below_wll) for row in table.rows]
    [(1, '60.0', False), (3, '48.6', True)]
    >>> table.warnings[0].figures["share"], table.warnings[0].figures["wll"]
    ('48.6 %', '55.0 %')
    """
    if line_kind not in WLL_SHARES:
        raise InputError("line_kind", f"must be one of {', '.join(WLL_SHARES)}")
    if ceiling_share is not None:
        require_positive(ceiling_share=ceiling_share)
    on_line, nested = (
        layer_table(
            load_n=load_n,
            sdmbl_n=sdmbl_n,
            drum_diameter_m=drum_diameter_m,
            line_diameter_m=line_diameter_m,
            set_layer=set_layer,
            layers=layers,
            nesting=nesting,
        )
        for nesting in (LINE_ON_LINE, NESTED)
    )
    wll = WLL_SHARES[line_kind]
    rows = tuple(_layer_row(first, second, wll) for first, second in zip(on_line, nested, strict=True))
    warnings = [_below(row, wll) for row in rows if row.below_wll] + [_above(row) for row in rows if row.above_design]
    if ceiling_share is not None:
        warnings += [_at_ceiling(row, ceiling_share, set_layer) for row in rows if _passes_design(row, ceiling_share)]
    return LayerTable(rows=rows, wll_share=wll, warnings=tuple(warnings))


def _layer_row(on_line: LayerLoad, nested: LayerLoad, wll: float) -> LayerRow:
    # Rounding of the last bit must not make a warning of exactly 55 %.
    return LayerRow(
        layer=on_line.layer,
        on_line=on_line,
        nested=nested,
        below_wll=min(on_line.share, nested.share) < wll * (1 - 1e-12),
        above_design=max(on_line.share, nested.share) > BRAKE_DESIGN_SHARE * (1 + 1e-12),
    )


def _below(row: LayerRow, wll: float) -> Sentence:
    share = min(row.on_line.share, row.nested.share)
    return Sentence(template=BELOW_WLL, figures={**_layer_figures(row.layer, share), "wll": _percent(wll)})


def _above(row: LayerRow) -> Sentence:
    share = max(row.on_line.share, row.nested.share)
    return Sentence(
        template=ABOVE_DESIGN, figures={**_layer_figures(row.layer, share), "limit": _percent(BRAKE_DESIGN_SHARE)}
    )


def _highest_relative(row: LayerRow) -> float:
    return max(row.on_line.relative, row.nested.relative)


def _passes_design(row: LayerRow, ceiling_share: float) -> bool:
    return not row.above_design and _highest_relative(row) * ceiling_share > BRAKE_DESIGN_SHARE * (1 + 1e-12)


def _at_ceiling(row: LayerRow, ceiling_share: float, set_layer: int) -> Sentence:
    return Sentence(
        template=MAY_EXCEED_DESIGN,
        figures={
            **_layer_figures(row.layer, _highest_relative(row) * ceiling_share),
            "limit": _percent(BRAKE_DESIGN_SHARE),
            "ceiling": _percent(ceiling_share),
            "set_layer": str(set_layer),
        },
    )


def _layer_figures(layer: int, share: float) -> dict[str, str]:
    return {"layer": str(layer), "share": _percent(share)}


def _percent(share: float) -> str:
    return units.display(share, "percent")


@dataclass(frozen=True, kw_only=True)
class LineChange:
    """What the old mark is worth with a line of another diameter: loads in N, shares of SDMBL."""

    load_before_n: float
    load_after_n: float
    share_before: float
    share_after: float
    sentence: Sentence


def line_change(
    *,
    load_n: float,
    sdmbl_n: float,
    drum_diameter_m: float,
    old_diameter_m: float,
    new_diameter_m: float,
    layer: int = 1,
    nesting: str = LINE_ON_LINE,
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
    figures = {"before": _percent(before), "after": _percent(after), "points": points_shown(abs(after - before))}
    changed = NEW_LINE_LOWER if after < before else NEW_LINE_HIGHER
    return LineChange(
        load_before_n=load_n,
        load_after_n=after_n,
        share_before=before,
        share_after=after,
        sentence=Sentence(template=SAME_LINE if new_diameter_m == old_diameter_m else changed, figures=figures),
    )


@dataclass(frozen=True, kw_only=True)
class WornLine:
    """The brake against what is left of a line; ``line_may_part_first`` when that is no more than the brake holds."""

    residual_share: float
    share_of_residual: float
    line_may_part_first: bool
    sentence: Sentence


def worn_line(*, load_n: float, sdmbl_n: float, residual_n: float) -> WornLine:
    """The brake rendering load as a share of a worn line's residual strength.

    Args: residual_n: breaking load that is left, N. Raises: InputError.
    Source: division; retirement at 75 % of SDMBL is from memory, so a brake at 60 % is then at 80 % of what is left.

    >>> units.digits(worn_line(load_n=60.0, sdmbl_n=100.0, residual_n=75.0).share_of_residual, "percent")
    '80.0'
    """
    require_positive(load_n=load_n, sdmbl_n=sdmbl_n, residual_n=residual_n)
    residual, of_residual = residual_n / sdmbl_n, load_n / residual_n
    stronger_than_brake = RETIRE_LINE if residual <= RETIRED_AT_SHARE else WORN_LINE
    return WornLine(
        residual_share=residual,
        share_of_residual=of_residual,
        line_may_part_first=of_residual >= 1,
        sentence=Sentence(
            template=NO_WEAK_LINK if of_residual >= 1 else stronger_than_brake,
            figures={
                "of_residual": _percent(of_residual),
                "residual": _percent(residual),
                "retired_at": _percent(RETIRED_AT_SHARE),
            },
        ),
    )


@dataclass(frozen=True, kw_only=True)
class BothWays:
    """The hazard of an undivided drum, whose line may lie on any layer: the least and the greatest share of SDMBL."""

    set_share: float
    set_layer: int
    lowest_share: float
    lowest_layer: int
    highest_share: float
    highest_layer: int
    slips_in_normal_work: bool
    above_design: bool


def both_ways(table: LayerTable, *, set_layer: int) -> BothWays:
    """From a layer table, how far the same mark is off both ways. Raises: InputError without the layer of the test.

    Source: the table; 60 % set on layer 1 is 48.6 % on layer 3, 60 % set on layer 3 is 74.1 % on layer 1, and 65 %
    there 80.3 % (D = 16 d, line on line; computed).

    >>> table = over_layers(load_n=65.0, sdmbl_n=100.0, drum_diameter_m=0.16, line_diameter_m=0.01, line_kind="wire",
    ...     set_layer=3, layers=(1, 2, 3))
    >>> hazard = both_ways(table, set_layer=3)
    >>> units.digits(hazard.highest_share, "percent"), hazard.highest_layer, hazard.above_design
    ('80.3', 1, True)
    """
    at = next((row for row in table.rows if row.layer == set_layer), None)
    if at is None:
        raise InputError("set_layer", "must be one of the table's layers")
    lowest = min(table.rows, key=lambda row: min(row.on_line.share, row.nested.share))
    highest = max(table.rows, key=lambda row: max(row.on_line.share, row.nested.share))
    return BothWays(
        set_share=at.on_line.share,
        set_layer=set_layer,
        lowest_share=min(lowest.on_line.share, lowest.nested.share),
        lowest_layer=lowest.layer,
        highest_share=max(highest.on_line.share, highest.nested.share),
        highest_layer=highest.layer,
        slips_in_normal_work=any(row.below_wll for row in table.rows),
        above_design=any(row.above_design for row in table.rows),
    )


@dataclass(frozen=True, kw_only=True)
class WrongWay:
    """An estimate of what a band brake holds with the line reeled the wrong way: shares of SDMBL."""

    lowest_share: float
    highest_share: float
    sentence: Sentence


def wrong_way(
    *, load_n: float, sdmbl_n: float, wrap_rad: float, friction: tuple[float, float] = LINING_FRICTION
) -> WrongWay:
    """Between what shares of SDMBL a band brake would hold, reeled the wrong way; always to be shown as an estimate.

    Args: load_n: with the line reeled as marked; wrap_rad: angle over which the band lies on the drum; friction: least
    and greatest of the lining. Not for disc brakes. Raises: InputError.
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
            template=WRONG_WAY,
            figures={
                "before": _percent(load_n / sdmbl_n),
                "low": _percent(low),
                "high": _percent(high),
                "friction_low": units.shown(least, 2),
                "friction_high": units.shown(greatest, 2),
                "wrap": units.display(wrap_rad, "deg"),
            },
        ),
    )
