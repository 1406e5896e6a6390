"""The line on the drum: another diameter, wear, the wrong way round."""

from math import exp, radians
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation import brake, lines
from fleet.calculation.checks import InputError


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
    # Ours, common practice, no published source: three quarters of what is left at most.
    assert [worn(left).near for left in (81.0, 80.0, 75.0)] == [False, True, True]
    own = lines.worn_line(load_n=60.0, sdmbl_n=100.0, residual_n=75.0, most_of_residual=0.85)
    assert not own.near
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
    one = lines.wrong_way(
        load_n=60.0, sdmbl_n=100.0, wrap_rad=radians(270), friction=(0.25, 0.25), base_name="the base load"
    )
    # Textbook band brake: μ 0.25 over 270 degrees is a ratio of tensions of 3.25 (1444 N to 444 N; from memory).
    assert 0.6 / one.highest_share == pytest.approx(1444.80 / 444.80, rel=1e-4)
    assert "of the base load would hold about 18.5 %, for a lining friction of 0.25 and" in one.sentence.text
    with pytest.raises(InputError, match="friction"):
        lines.wrong_way(load_n=60.0, sdmbl_n=100.0, wrap_rad=4.7, friction=(0.4, 0.2))


def test_one_line_measured_twice_is_not_another_line() -> None:
    # Common practice, no published source: within 2 % it is the same line.
    assert not lines.is_another_line(old_diameter_m=0.036, new_diameter_m=0.0367)
    assert lines.is_another_line(old_diameter_m=0.036, new_diameter_m=0.038)
    assert lines.is_another_line(old_diameter_m=0.036, new_diameter_m=0.034)
    with pytest.raises(InputError, match="new_diameter_m"):
        lines.is_another_line(old_diameter_m=0.036, new_diameter_m=0.0)


def test_nonsense_is_refused() -> None:
    with pytest.raises(InputError, match="residual_n"):
        lines.worn_line(load_n=60.0, sdmbl_n=100.0, residual_n=0.0)
    with pytest.raises(InputError, match="line_diameter_m"):
        lines.line_change(load_n=1.0, sdmbl_n=2.0, drum_diameter_m=0.6, old_diameter_m=0.04, new_diameter_m=-0.04)
