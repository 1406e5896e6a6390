"""The undivided drum: what the brake renders at on every layer, the working load limit, the hazard both ways."""

from typing import Any

import pytest

from fleet.calculation import layers
from fleet.calculation.checks import InputError
from tests.calculation import cases

LAYERS = cases.load("layers")
D16: dict[str, Any] = {"sdmbl_n": 100.0, "drum_diameter_m": 0.16, "line_diameter_m": 0.01}


def table(share: float, set_layer: int, kind: str = layers.WIRE, **more: Any) -> layers.LayerTable:
    return layers.over_layers(load_n=100 * share, line_kind=kind, set_layer=set_layer, **{**D16, **more})


def shown(found: layers.LayerTable) -> list[str]:
    return [warning.text for warning in found.warnings]


def test_loads_over_layers_fall_on_line_and_nested() -> None:
    # Computed from geometry at D = 16 d; MEG 7.5.6 gives about 65 % on layer 3 for 80 % on layer 1.
    rows = table(0.8, 1, layers=(1, 2, 3, 4)).rows
    for name, got in (("line_on_line", [r.on_line for r in rows]), ("nested", [r.nested for r in rows])):
        assert [row.relative for row in got] == pytest.approx(LAYERS["computed"][name], abs=5e-5)
    assert rows[2].on_line.share == pytest.approx(LAYERS["published"]["share_on_layer_3"], abs=0.005)


def test_a_layer_below_the_working_load_limit_is_warned_of() -> None:
    # WLL: 55 % of SDMBL for wire, 50 % for other lines (MEG4, published summary).
    assert [row.below_wll for row in table(0.6, 1).rows] == [False, True, True, True, True]
    assert [row.below_wll for row in table(0.6, 1, layers.OTHER).rows] == [False, False, True, True, True]
    assert shown(table(0.6, 1, layers=(1, 2)))[0] == (
        "With the line on layer 2 the brake renders at 53.7 % of ship design MBL, below the line's working load limit "
        "of 55.0 %: it may slip in normal work."
    )
    assert table(0.55, 1, layers=(1,)).warnings == ()
    assert len(table(0.5499, 1, layers=(1,)).warnings) == 1


def test_many_layers_below_the_limit_are_said_in_one_sentence() -> None:
    # Computed at D = 16 d: the radii are 17, 19 … 25 half lines, so 60 % × 17/19 and 60 % × 17/25.
    (said,) = shown(table(0.6, 1, base_name="the base load"))
    assert said == (
        "From layer 2 upwards the brake renders below the line's working load limit of 55.0 %: 53.7 % of the base load "
        "on layer 2, 40.8 % on layer 5. There it may slip in normal work."
    )


def test_the_line_s_own_working_load_limit_counts_before_the_usual_share() -> None:
    found = table(0.6, 1, layers=(1, 2, 3), wll_n=50.0)
    assert [row.below_wll for row in found.rows] == [False, False, True]
    assert found.wll_share == 0.5
    assert "working load limit of 50.0 %" in shown(found)[0]


def test_set_on_the_third_layer_the_first_may_hold_more_than_the_brake_is_made_for() -> None:
    # Computed: 60 % on layer 3 is 74.1 % on layer 1; 65 % there is 80.3 %, above the design holding load (ISO 3730).
    calm = table(0.6, 3)
    assert calm.rows[0].on_line.share == pytest.approx(LAYERS["computed"]["sixty_on_layer_3_is_on_layer_1"], abs=5e-4)
    assert not calm.rows[0].above_design
    over = table(0.65, 3)
    assert over.rows[0].above_design
    above = next(text for text in shown(over) if "above its design holding load of 80.0 %" in text)
    assert above.startswith("With the line on layer 1")


def test_stop_on_the_layer_of_the_test_is_said_for_the_layer_where_it_is_too_much() -> None:
    # Computed: 65 % on layer 3 is 80.3 % on layer 1 at D = 16 d, line on line (facts of the trade).
    found = layers.warning_at_stop(table(0.6, 3), stop_share=0.65, set_layer=3, base_name="SDMBL")
    assert found is not None
    assert found.text.startswith(
        "STOP is 65.0 % of SDMBL on layer 3. With the line down to layer 1 that setting holds 80.3 %, above the "
        "brake's design holding load of 80.0 %."
    )
    # The border itself: 80 % on layer 1 is 64.76 % on layer 3 (MEG 7.5.6 says about 65 %).
    assert layers.warning_at_stop(table(0.6, 3), stop_share=0.6476, set_layer=3) is None
    assert layers.warning_at_stop(table(0.6, 3), stop_share=0.6477, set_layer=3) is not None
    # On layer 1 the STOP reading itself never passes 80 %.
    assert layers.warning_at_stop(table(0.6, 1), stop_share=0.8, set_layer=1) is None


def test_both_ways_is_the_least_and_the_greatest() -> None:
    hazard = layers.both_ways(table(0.6, 1, layers=(1, 2, 3)), set_layer=1)
    assert hazard.lowest_share == pytest.approx(LAYERS["computed"]["sixty_on_layer_1_is_on_layer_3"], abs=5e-4)
    assert (hazard.lowest_layer, hazard.highest_layer) == (3, 1)
    assert hazard.slips_in_normal_work
    assert not hazard.above_design
    with pytest.raises(InputError, match="set_layer"):
        layers.both_ways(table(0.6, 1, layers=(1, 2)), set_layer=3)


def test_nonsense_is_refused() -> None:
    with pytest.raises(InputError, match="line_kind"):
        table(0.6, 1, "string")
    with pytest.raises(InputError, match="wll_n"):
        table(0.6, 1, wll_n=0.0)
    with pytest.raises(InputError, match="stop_share"):
        layers.warning_at_stop(table(0.6, 1), stop_share=0.0, set_layer=1)
