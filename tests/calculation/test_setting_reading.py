"""Strokes as loads, the steps of a hand in each unit, and turns of a handwheel."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.calculation.checks import InputError
from fleet.calculation.setting_reading import (
    SMALLEST_MOVES,
    handy_turns,
    reading_as_taken,
    rules_for,
    smallest_move,
)
from fleet.calculation.tables import OutsideTable

TAKEN = {"setting_si": 0.05, "reading_si": 170e5, "load_n": 340e3, "stroke_si": 5e5, "division_si": 1e5}


def test_a_slip_is_known_to_one_stroke_and_a_hold_is_at_least() -> None:
    slip = reading_as_taken(**TAKEN, slipped=True)
    hold = reading_as_taken(**TAKEN, slipped=False)
    # By hand: 2 kN a bar, five bar.
    assert slip.stroke_n == pytest.approx(10e3)
    assert (slip.at_least_n, slip.middle_n) == (pytest.approx(330e3), pytest.approx(335e3))
    assert (hold.stroke_n, hold.at_least_n) == (0.0, 340e3)


def test_a_coarse_gauge_leaves_more_open_than_the_stroke() -> None:
    assert reading_as_taken(**{**TAKEN, "division_si": 10e5}, slipped=True).stroke_n == pytest.approx(20e3)
    assert reading_as_taken(**{**TAKEN, "stroke_si": 0.0}, slipped=True).stroke_n == pytest.approx(2e3)


def test_the_load_below_comes_from_the_target_where_it_reaches() -> None:
    def bent(reading_si: float) -> float:
        return 300e3 + (reading_si - 160e5) / 1e5 * 4e3

    def too_low(_reading_si: float) -> float:
        raise OutsideTable("pressure", 160e5, 250e5, is_below=True)

    assert reading_as_taken(**TAKEN, slipped=True, load_at=bent).stroke_n == pytest.approx(20e3)
    assert reading_as_taken(**TAKEN, slipped=True, load_at=too_low).stroke_n == pytest.approx(10e3)


def test_a_stroke_longer_than_the_reading_leaves_everything_open() -> None:
    assert reading_as_taken(**{**TAKEN, "stroke_si": 200e5}, slipped=True).at_least_n == 0.0


@pytest.mark.parametrize("wrong", [{"reading_si": 0.0}, {"division_si": 0.0}, {"stroke_si": -1.0}, {"load_n": 0.0}])
def test_what_no_reading_can_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError, match=next(iter(wrong))):
        reading_as_taken(**{**TAKEN, **wrong}, slipped=True)


# Exact by definition: inch 25.4 mm, bar 1e5 Pa, kgf/cm² 98 066.5 Pa, psi 6894.757 Pa; NIST SP 811, Appendix B.
IN_SI = {"mm": 1e-3, "cm": 1e-2, "in": 25.4e-3, "N_m": 1.0, "bar": 1e5, "MPa": 1e6, "kgf/cm2": 98066.5,
         "psi": 6894.757293168362, "kPa": 1e3, "count": 1.0}  # fmt: skip


@pytest.mark.parametrize("unit", SMALLEST_MOVES)
def test_the_smallest_move_is_round_in_the_unit_the_setting_is_written_in(unit: str) -> None:
    assert smallest_move(unit) == pytest.approx(SMALLEST_MOVES[unit] * IN_SI[unit], rel=1e-12)
    assert rules_for(unit).smallest_move_si == smallest_move(unit)


@settings(max_examples=200, deadline=None)
@given(st.floats(0.01, 20))
def test_turns_are_never_off_by_more_than_half_a_step_of_a_hand(turns: float) -> None:
    whole, part = handy_turns(turns)
    assert whole >= 0
    assert 0 <= part < 24
    assert whole or part
    # The widest gap is a quarter: between three quarters and a whole turn.
    assert abs(whole + part / 24 - turns) <= 0.125 + 1e-9
