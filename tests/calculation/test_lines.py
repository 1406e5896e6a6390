"""The line on the drum: layers against the working load limit, another diameter, wear, the undivided drum."""

from math import exp, radians
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation import brake, lines
from fleet.calculation.checks import InputError
from tests.calculation import cases

LAYERS = cases.load("layers")
D16: dict[str, Any] = {"sdmbl_n": 100.0, "drum_diameter_m": 0.16, "line_diameter_m": 0.01}


def table(share: float, set_layer: int, kind: str = lines.WIRE, **more: Any) -> lines.LayerTable:
    return lines.over_layers(load_n=100 * share, line_kind=kind, set_layer=set_layer, **{**D16, **more})


def shown(found: lines.LayerTable) -> list[str]:
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
    assert [row.below_wll for row in table(0.6, 1, lines.OTHER).rows] == [False, False, True, True, True]
    assert shown(table(0.6, 1, layers=(1, 2)))[0] == (
        "With the line on layer 2 the brake renders at 53.7 % of ship design MBL, below the line's working load limit "
        "of 55.0 %: it may slip in normal work."
    )
    assert table(0.55, 1, layers=(1,)).warnings == ()
    assert len(table(0.5499, 1, layers=(1,)).warnings) == 1


def test_set_on_the_third_layer_the_first_may_hold_more_than_the_brake_is_made_for() -> None:
    # Computed: 60 % on layer 3 is 74.1 % on layer 1; 65 % there is 80.3 %, above the design holding load (ISO 3730).
    calm = table(0.6, 3, ceiling_share=0.65)
    assert calm.rows[0].on_line.share == pytest.approx(LAYERS["computed"]["sixty_on_layer_3_is_on_layer_1"], abs=5e-4)
    assert not calm.rows[0].above_design
    assert "Allowed up to 65.0 % on layer 3, this brake would render at 80.3 %" in shown(calm)[-1]
    over = table(0.65, 3, ceiling_share=0.65)
    assert over.rows[0].above_design
    above = next(text for text in shown(over) if "above its design holding load of 80.0 %" in text)
    assert above.startswith("With the line on layer 1")
    assert not any("Allowed up to" in text for text in shown(table(0.6, 1, ceiling_share=0.65)))


def test_both_ways_is_the_least_and_the_greatest() -> None:
    hazard = lines.both_ways(table(0.6, 1, layers=(1, 2, 3)), set_layer=1)
    assert hazard.lowest_share == pytest.approx(LAYERS["computed"]["sixty_on_layer_1_is_on_layer_3"], abs=5e-4)
    assert (hazard.lowest_layer, hazard.highest_layer) == (3, 1)
    assert hazard.slips_in_normal_work
    assert not hazard.above_design
    with pytest.raises(InputError, match="set_layer"):
        lines.both_ways(table(0.6, 1, layers=(1, 2)), set_layer=3)


@given(st.floats(0.15, 1.5), st.floats(0.008, 0.13), st.floats(0.008, 0.13), st.integers(1, 5))
def test_a_new_line_changes_the_load_by_the_radius_alone(drum: float, old: float, new: float, layer: int) -> None:
    change = lines.line_change(
        load_n=382e3, sdmbl_n=637e3, drum_diameter_m=drum, old_diameter_m=old, new_diameter_m=new, layer=layer
    )
    # Independent: the target of the old line turned into pressure, read back through the new line's target.
    arm = {"area_m2": 70e-4, "lever_arm_m": 1.0, "drum_diameter_m": drum, "layer": layer}
    before, after = (brake.equal_jacks(line_diameter_m=diameter, **arm) for diameter in (old, new))
    assert change.load_after_n == pytest.approx(after.load_at(before.pressure_for(382e3)), rel=1e-12)
    if abs(new - old) > 1e-9:
        assert (change.load_after_n < 382e3) == (new > old)
    else:
        assert change.load_after_n == pytest.approx(382e3, rel=1e-6)
    assert change.share_after == pytest.approx(change.load_after_n / 637e3)


def test_a_new_line_is_told_in_words() -> None:
    known: dict[str, Any] = {"load_n": 60.0, "sdmbl_n": 100.0, "drum_diameter_m": 0.610, "old_diameter_m": 0.044}
    thin = lines.line_change(new_diameter_m=0.028, **known).sentence.text
    assert thin == (
        "At the old mark the brake would render at 61.5 % of ship design MBL with the new line, 1.5 points higher than "
        "the 60.0 % it was set to. Do not use the old mark: test again with the new line."
    )
    assert "points lower" in lines.line_change(new_diameter_m=0.06, **known).sentence.text
    assert "as thick as the old one" in lines.line_change(new_diameter_m=0.044, **known).sentence.text


def test_a_worn_line_is_measured_by_what_is_left_of_it() -> None:
    def worn(residual: float) -> lines.WornLine:
        return lines.worn_line(load_n=60.0, sdmbl_n=100.0, residual_n=residual)

    # From memory: retired at 75 % of SDMBL; 60 / 75 = 80 %.
    assert worn(75.0).share_of_residual == pytest.approx(0.80)
    assert "usually retired at 75.0 % (from memory)" in worn(75.0).sentence.text
    assert "retired" not in worn(90.0).sentence.text
    assert not worn(61.0).line_may_part_first
    assert worn(60.0).line_may_part_first
    assert "Take it out of use" in worn(59.0).sentence.text


def test_reeled_the_wrong_way_is_an_estimate_and_says_so() -> None:
    # Euler-Eytelwein; the factor over 270 degrees is three to six (common practice, no published source).
    found = lines.wrong_way(load_n=60.0, sdmbl_n=100.0, wrap_rad=radians(270))
    assert (0.6 / found.highest_share, 0.6 / found.lowest_share) == (
        pytest.approx(exp(0.25 * radians(270))),
        pytest.approx(exp(0.38 * radians(270))),
    )
    assert (0.6 / found.highest_share, 0.6 / found.lowest_share) == (
        pytest.approx(3, abs=0.3),
        pytest.approx(6, abs=0.05),
    )
    assert found.sentence.text == (
        "Estimate only: with the line reeled the wrong way round, a band brake set to 60.0 % of ship design MBL would "
        "hold about 10.0 % to 18.5 %, for a lining friction of 0.25 to 0.38 and a wrap of 270.0 °."
    )
    with pytest.raises(InputError, match="friction"):
        lines.wrong_way(load_n=60.0, sdmbl_n=100.0, wrap_rad=4.7, friction=(0.4, 0.2))


def test_nonsense_is_refused() -> None:
    with pytest.raises(InputError, match="line_kind"):
        table(0.6, 1, "string")
    with pytest.raises(InputError, match="ceiling_share"):
        table(0.6, 1, ceiling_share=0.0)
    with pytest.raises(InputError, match="residual_n"):
        lines.worn_line(load_n=60.0, sdmbl_n=100.0, residual_n=0.0)
    with pytest.raises(InputError, match="line_diameter_m"):
        lines.line_change(load_n=1.0, sdmbl_n=2.0, drum_diameter_m=0.6, old_diameter_m=0.04, new_diameter_m=-0.04)
