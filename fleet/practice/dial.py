"""A pressure gauge as a picture: its needle, its division marks, and STOP."""

from dataclasses import dataclass
from math import cos, radians, sin

from fleet.calculation import units
from fleet.core.pictures.numbers import coordinate, point
from fleet.practice.brakes import GAUGE_UNIT, PracticeBrake

SIZE, MIDDLE, RIM = 240, 120.0, 104.0
# The scale runs clockwise over three quarters of the dial, from lower left.
FROM_DEG, SWEEP_DEG = 225.0, 270.0


@dataclass(frozen=True)
class Number:
    x: str
    y: str
    text: str


@dataclass(frozen=True)
class DialPicture:
    """Path data of one gauge at one reading."""

    needle: str
    fine_marks: str
    long_marks: str
    stop_mark: str
    numbers: tuple[Number, ...]
    description: str


def dial_picture(brake: PracticeBrake, shown_pa: float) -> DialPicture:
    """The gauge of this brake at a reading; the needle stays within the scale."""
    dial = brake.drum.trial.rig.dial
    full = dial.full_scale_pa
    fine = [part / dial.divisions for part in range(int(dial.divisions) + 1)]
    long = [part / 10 for part in range(11)]
    needle = min(max(shown_pa / full, 0.0), 1.0)
    return DialPicture(
        needle=f"M{_at(needle, -16)}L{_at(needle, 82)}",
        fine_marks="".join(_mark(part, 96) for part in fine),
        long_marks="".join(_mark(part, 88) for part in long),
        stop_mark=f"M{_at(brake.stop_mark_pa / full, 78)}L{_at(brake.stop_mark_pa / full, RIM)}",
        numbers=tuple(_number(part, full * part) for part in long[::2]),
        description=units.display(shown_pa, GAUGE_UNIT),
    )


def _angle(part: float) -> float:
    return radians(FROM_DEG - SWEEP_DEG * part)


def _at(part: float, radius: float) -> str:
    angle = _angle(part)
    return point(MIDDLE + radius * cos(angle), MIDDLE - radius * sin(angle))


def _mark(part: float, inner: float) -> str:
    return f"M{_at(part, inner)}L{_at(part, RIM)}"


def _number(part: float, pressure_pa: float) -> Number:
    angle = _angle(part)
    x, y = MIDDLE + 68 * cos(angle), MIDDLE - 68 * sin(angle)
    text = units.digits(pressure_pa, GAUGE_UNIT).removesuffix(".0")
    return Number(coordinate(x), coordinate(y + 4), text)
