"""From what a crew reads and sets to what the next move rests on: strokes as loads, steps of a hand, turns."""

from collections.abc import Callable
from contextlib import suppress
from math import floor

from fleet.calculation import units
from fleet.calculation.checks import require_not_negative, require_positive
from fleet.calculation.setting_likelihood import SettingReading
from fleet.calculation.setting_task import SettingRules
from fleet.calculation.tables import OutsideTable

# The smallest move of a setting that a hand makes and finds again, in the unit the setting is written in: a rule read
# to half a millimetre, a torque wrench and a dial read to about one division, one shim. Ours, common practice, no
# published source.
SMALLEST_MOVES: dict[str, float] = {
    "mm": 0.5,
    "cm": 0.05,
    "in": 0.02,
    "N_m": 5.0,
    "bar": 1.0,
    "MPa": 0.1,
    "kgf/cm2": 1.0,
    "psi": 20.0,
    "kPa": 100.0,
    "count": 1.0,
}


def smallest_move(setting_unit: str) -> float:
    """The smallest move in SI for a setting written in a unit. Raises: KeyError for a unit no setting is written in.

    >>> smallest_move("mm"), smallest_move("bar"), smallest_move("count")
    (0.0005, 100000.0, 1.0)
    """
    move = SMALLEST_MOVES[setting_unit]
    return move if setting_unit == "count" else units.to_si(move, setting_unit)


def rules_for(setting_unit: str) -> SettingRules:
    """The rules of the step for a setting written in a unit."""
    return SettingRules(smallest_move_si=smallest_move(setting_unit))


def reading_as_taken(
    *,
    setting_si: float,
    reading_si: float,
    load_n: float,
    slipped: bool,
    stroke_si: float,
    division_si: float,
    load_at: Callable[[float], float] | None = None,
) -> SettingReading:
    """One application as the likelihood takes it: a slip is known to one stroke of the pump, or to one division.

    Args: reading_si: at first movement, or the highest held, with the load in N it stands for; stroke_si: pressure step
    of one stroke, 0 where nothing is pumped in steps; division_si: smallest division of the gauge; load_at: the load of
    another reading. Where that is not given, or a table does not reach so low, the load is taken to go with the
    reading. Raises: InputError.

    >>> one = reading_as_taken(setting_si=0.05, reading_si=170e5, load_n=340e3, slipped=True, stroke_si=5e5,
    ...     division_si=2e5)
    >>> round(one.at_least_n), round(one.stroke_n)
    (330000, 10000)
    """
    require_positive(reading_si=reading_si, division_si=division_si)
    require_not_negative(stroke_si=stroke_si)
    below_si = reading_si - max(stroke_si, division_si)
    below_n = load_n * max(0.0, below_si) / reading_si
    if load_at is not None and below_si > 0:
        with suppress(OutsideTable):
            below_n = load_at(below_si)
    return SettingReading(
        setting_si=setting_si, load_n=load_n, slipped=slipped, stroke_n=max(0.0, load_n - below_n) if slipped else 0.0
    )


# Parts of a turn that a hand can tell apart, as twenty-fourths: an eighth, a quarter, a third, a half ...
_PARTS = (0, 3, 6, 8, 12, 16, 18, 24)


def handy_turns(turns: float) -> tuple[int, int]:
    """Turns of a handwheel as a hand makes them: whole turns, and twenty-fourths of one more; at least an eighth.

    Args: turns: above zero. Raises: InputError. Source: ours, common practice, no published source.

    >>> handy_turns(0.36), handy_turns(0.69), handy_turns(1.27), handy_turns(0.96), handy_turns(0.01)
    ((0, 8), (0, 16), (1, 6), (1, 0), (0, 3))
    """
    require_positive(turns=turns)
    whole = floor(turns)
    part = min(_PARTS, key=lambda part: abs(part - 24 * (turns - whole)))
    if part == 24:
        return whole + 1, 0
    return (whole, part) if whole or part else (0, 3)
