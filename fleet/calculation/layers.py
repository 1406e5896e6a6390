"""What the brake of an undivided drum renders at with the line on another layer than that of the test.

Loads in N, diameters in m; shares are fractions of the base load. ``base_name`` is what that load is called in words.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.calculation import units
from fleet.calculation.brake import LayerLoad, layer_table
from fleet.calculation.checks import InputError, require_positive
from fleet.calculation.geometry import LINE_ON_LINE, NESTED
from fleet.calculation.sentences import Sentence, gettext_noop
from fleet.calculation.stop import BRAKE_DESIGN_SHARE

WIRE = "wire"
OTHER = "other"
WLL_SHARES = {WIRE: 0.55, OTHER: 0.50}
BASE_NAME = "ship design MBL"

BELOW_WLL_ALONE = gettext_noop(
    "With the line on layer {layer} the brake renders at {share} of {base}, below the line's working load limit of "
    "{wll}: it may slip in normal work."
)
BELOW_WLL = gettext_noop(
    "From layer {layer} upwards the brake renders below the line's working load limit of {wll}: {share} of {base} on "
    "layer {layer}, {last_share} on layer {last_layer}. There it may slip in normal work."
)
ABOVE_DESIGN = gettext_noop(
    "With the line on layer {layer} the brake renders at {share} of {base}, above its design holding load of {limit}: "
    "it must not be left so."
)
AT_STOP = gettext_noop(
    "STOP is {stop} of {base} on layer {set_layer}. With the line down to layer {layer} that setting holds {share}, "
    "above the brake's design holding load of {limit}. If the brake holds up to STOP, slacken it at once; never work "
    "the line down to layer {layer} on such a setting."
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
    wll_n: float | None = None,
    base_name: str = BASE_NAME,
) -> LayerTable:
    """Brake rendering load on every layer, on line and nested, with warnings.

    A row is below the working load limit, or above the brake's design load, when either way of lying is. The line is
    taken to lie on every layer as it lay in the test.

    Args: load_n: at which the brake renders on set_layer; line_kind: ``wire`` or ``other``; layers: rising; wll_n: the
    line's own working load limit, N, where it is known.
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
    if wll_n is not None:
        require_positive(wll_n=wll_n)
        wll = wll_n / sdmbl_n
    rows = tuple(_layer_row(first, second, wll) for first, second in zip(on_line, nested, strict=True))
    below = [row for row in rows if row.below_wll]
    warnings = [_below(below, wll, base_name)] if below else []
    warnings += [_above(row, base_name) for row in rows if row.above_design]
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


def _least(row: LayerRow) -> float:
    return min(row.on_line.share, row.nested.share)


def _greatest(row: LayerRow) -> float:
    return max(row.on_line.share, row.nested.share)


def _below(rows: Sequence[LayerRow], wll: float, base_name: str) -> Sentence:
    first, last = rows[0], rows[-1]
    figures = {**_figures(first.layer, _least(first), base_name), "wll": _percent(wll)}
    if first is last:
        return Sentence(template=BELOW_WLL_ALONE, figures=figures)
    more = {"last_layer": str(last.layer), "last_share": _percent(_least(last))}
    return Sentence(template=BELOW_WLL, figures={**figures, **more})


def _above(row: LayerRow, base_name: str) -> Sentence:
    figures = {**_figures(row.layer, _greatest(row), base_name), "limit": _percent(BRAKE_DESIGN_SHARE)}
    return Sentence(template=ABOVE_DESIGN, figures=figures)


def _figures(layer: int, share: float, base_name: str) -> dict[str, str]:
    return {"layer": str(layer), "share": _percent(share), "base": base_name}


def _percent(share: float) -> str:
    return units.display(share, "percent")


def warning_at_stop(
    table: LayerTable, *, stop_share: float, set_layer: int, base_name: str = BASE_NAME
) -> Sentence | None:
    """The warning where a brake that holds up to STOP holds more than its design load on a lower layer, else None.

    STOP itself stays as it is: it limits what the test puts on the brake, on the layer of the test.

    Args: table: any table of this drum, set on that layer; stop_share: of the base load at STOP. Raises: InputError.
    Source: moment balance; 65 % on layer 3 is 80.3 % on layer 1 (D = 16 d, line on line; computed).

    >>> table = over_layers(load_n=60.0, sdmbl_n=100.0, drum_diameter_m=0.16, line_diameter_m=0.01, line_kind="wire",
    ...     set_layer=3, layers=(1, 2, 3))
    >>> warning_at_stop(table, stop_share=0.65, set_layer=3).figures["share"]
    '80.3 %'
    >>> warning_at_stop(table, stop_share=0.60, set_layer=3) is None
    True
    """
    require_positive(stop_share=stop_share)
    worst = max(table.rows, key=lambda row: max(row.on_line.relative, row.nested.relative))
    share = stop_share * max(worst.on_line.relative, worst.nested.relative)
    if worst.layer == set_layer or share <= BRAKE_DESIGN_SHARE * (1 + 1e-12):
        return None
    figures = {
        **_figures(worst.layer, share, base_name),
        "stop": _percent(stop_share),
        "set_layer": str(set_layer),
        "limit": _percent(BRAKE_DESIGN_SHARE),
    }
    return Sentence(template=AT_STOP, figures=figures)


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
    lowest, highest = min(table.rows, key=_least), max(table.rows, key=_greatest)
    return BothWays(
        set_share=at.on_line.share,
        set_layer=set_layer,
        lowest_share=_least(lowest),
        lowest_layer=lowest.layer,
        highest_share=_greatest(highest),
        highest_layer=highest.layer,
        slips_in_normal_work=any(row.below_wll for row in table.rows),
        above_design=any(row.above_design for row in table.rows),
    )
