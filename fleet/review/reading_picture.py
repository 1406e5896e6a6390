"""The readings of a test as a picture: the share of each, in order, by phase, against the band."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fleet.calculation.units import digits
from fleet.core.pictures.numbers import coordinate

LEFT, TOP, BOTTOM, RIGHT_ROOM = 44.0, 22.0, 168.0, 12.0
STEP, LEAST_WIDTH, HEIGHT = 62.0, 360.0, 214
LOW, HIGH = 0.40, 0.90


@dataclass(frozen=True)
class Dot:
    """One reading; `beyond` is "", "low" or "high" when it lies off the scale."""

    x: str
    y: str
    figure: str
    figure_y: str
    phase: str
    slipped: bool
    beyond: str
    triangle: str
    diamond: str
    title: str


@dataclass(frozen=True)
class Stretch:
    """Readings of one phase standing side by side."""

    x: str
    label: str
    line_x: str


@dataclass(frozen=True)
class Level:
    y: str
    text: str
    text_y: str


@dataclass(frozen=True)
class ReadingPicture:
    width: str
    height: int
    right: str
    inner_width: str
    band_y: str
    band_height: str
    target_y: str
    design_y: str
    levels: tuple[Level, ...]
    dots: tuple[Dot, ...]
    stretches: tuple[Stretch, ...]


def _y(share: float) -> float:
    held = min(max(share, LOW), HIGH)
    return BOTTOM - (held - LOW) / (HIGH - LOW) * (BOTTOM - TOP)


def reading_picture(record: Mapping[str, Any]) -> ReadingPicture | None:
    """Lay the picture out from a record's readings; None where no reading has a share."""
    rows = [row for row in record["readings"] if row["share"] is not None]
    if not rows:
        return None
    policy = record["policy"]
    width = max(LEAST_WIDTH, LEFT + STEP * len(rows) + RIGHT_ROOM)
    step = (width - LEFT - RIGHT_ROOM) / len(rows)
    band_top, band_bottom = _y(policy["band_high"]), _y(policy["band_low"])
    # Ten points apart: closer they would touch.
    levels = [share / 100 for share in range(40, 91, 10)]
    return ReadingPicture(
        width=coordinate(width),
        height=HEIGHT,
        right=coordinate(width - RIGHT_ROOM),
        inner_width=coordinate(width - RIGHT_ROOM - LEFT),
        band_y=coordinate(band_top),
        band_height=coordinate(band_bottom - band_top),
        target_y=coordinate(_y(policy["share"])),
        design_y=coordinate(_y(0.80)),
        levels=tuple(
            Level(coordinate(_y(share)), digits(share, "percent").removesuffix(".0"), coordinate(_y(share) + 4))
            for share in levels
        ),
        dots=tuple(_dot(row, LEFT + step * (place + 0.5)) for place, row in enumerate(rows)),
        stretches=_stretches(rows, step),
    )


def _dot(row: Mapping[str, Any], x: float) -> Dot:
    share = float(row["share"])
    y = _y(share)
    beyond = "low" if share < LOW else "high" if share > HIGH else ""
    up = -1 if beyond == "high" or not row["slipped"] else 1
    tip, base = y + up * 8, y - up * 4
    points = [(x, tip), (x - 6, base), (x + 6, base)]
    diamond = [(x, y - 7), (x + 7, y), (x, y + 7), (x - 7, y)]
    return Dot(
        x=coordinate(x),
        y=coordinate(y),
        figure=row["share_shown"],
        figure_y=coordinate(y - 12 if y > TOP + 14 else y + 22),
        phase="found" if row["phase"].startswith("as_found") else row["phase"],
        slipped=bool(row["slipped"]),
        beyond=beyond,
        triangle=" ".join(f"{coordinate(a)},{coordinate(b)}" for a, b in points),
        diamond=" ".join(f"{coordinate(a)},{coordinate(b)}" for a, b in diamond),
        title=f"{row['phase_label']}: {row['gauge_text']} {row['gauge_unit']}, {row['share_shown']} %",
    )


def _stretches(rows: Sequence[Mapping[str, Any]], step: float) -> tuple[Stretch, ...]:
    stretches: list[Stretch] = []
    start = 0
    for place in range(1, len(rows) + 1):
        if place == len(rows) or rows[place]["phase"] != rows[start]["phase"]:
            middle = LEFT + step * (start + place) / 2
            words = str(rows[start]["phase_label"]).split(",")[0]
            stretches.append(Stretch(coordinate(middle), words, coordinate(LEFT + step * place)))
            start = place
    return tuple(stretches)
