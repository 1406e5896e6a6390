"""Where the jack stands so that it turns the drum the way the line pays out: seen from the drum's side."""

import math
from dataclasses import dataclass

from fleet.core.pictures.numbers import coordinate, point

WIDTH, HEIGHT = 360, 250
CENTRE_X, CENTRE_Y = 180.0, 104.0
BARREL, FLANGE = 36.0, 58.0
LEVER = 128.0
DECK_Y = 214.0


@dataclass(frozen=True)
class JackSide:
    """Which way the drum turns when it pays out, and on which side of it the jack stands."""

    anticlockwise: bool
    right: bool
    away_from_lead: bool


def jack_side(*, line_off: str, jack_acts: str, lead: str = "left") -> JackSide:
    """Follow the moments: line off top or bottom, jack acting by push or pull, line leading left or right."""
    lead_x = {"left": -1, "right": 1}[lead]
    contact_y = {"top": 1, "bottom": -1}[line_off]
    force_y = {"push": 1, "pull": -1}[jack_acts]
    # Paying out, the drum's skin at the contact point moves toward the lead: v_x = -turn * contact_y (x right, y up).
    turn = -lead_x * contact_y
    # A vertical force at the lever's end turns the drum by lever_x * force_y; it must turn it the pay-out way.
    lever_x = turn * force_y
    return JackSide(anticlockwise=turn > 0, right=lever_x > 0, away_from_lead=lever_x != lead_x)


@dataclass(frozen=True)
class Arrow:
    """A line or an arc with its head, as path data."""

    shaft: str
    head: str


@dataclass(frozen=True)
class JackPicture:
    side: JackSide
    line_off: str
    jack_acts: str
    lead: str
    width: int
    height: int
    line: str
    line_head: str
    line_text_x: str
    line_text_y: str
    line_text_anchor: str
    lever: str
    jack_x: str
    rod_x: str
    jack_arrow: Arrow
    jack_text_x: str
    jack_text_anchor: str
    turn_arrow: Arrow


def _head(x: float, y: float, direction_x: float, direction_y: float, size: float = 9) -> str:
    """A filled arrow head whose tip lies at (x, y); the direction is a unit vector on the page (y down)."""
    base_x, base_y = x - size * direction_x, y - size * direction_y
    across_x, across_y = -direction_y * size * 0.55, direction_x * size * 0.55
    corners = [(x, y), (base_x + across_x, base_y + across_y), (base_x - across_x, base_y - across_y)]
    return "M" + " ".join(point(*corner) for corner in corners) + "z"


def _turn_arrow(anticlockwise: bool, right: bool) -> Arrow:
    """An arc between barrel and flange, on the side where no lever lies."""
    radius = (BARREL + FLANGE) / 2
    middle = math.pi if right else 0.0
    half = math.radians(36)
    # Angles run anticlockwise from the right; the page's y points down.
    start, end = (middle - half, middle + half) if anticlockwise else (middle + half, middle - half)
    start_at = (CENTRE_X + radius * math.cos(start), CENTRE_Y - radius * math.sin(start))
    end_at = (CENTRE_X + radius * math.cos(end), CENTRE_Y - radius * math.sin(end))
    sign = 1 if anticlockwise else -1
    along = (-math.sin(end) * sign, -math.cos(end) * sign)
    sweep = 0 if anticlockwise else 1
    tip = (end_at[0] + 8 * along[0], end_at[1] + 8 * along[1])
    size = coordinate(radius)
    return Arrow(f"M{point(*start_at)}A{size},{size} 0 0 {sweep} {point(*end_at)}", _head(*tip, *along, size=11))


def jack_picture(*, line_off: str, jack_acts: str, lead: str = "left") -> JackPicture:
    """The drawing as plain path data; the choice of side comes from jack_side alone."""
    side = jack_side(line_off=line_off, jack_acts=jack_acts, lead=lead)
    lead_x = -1 if lead == "left" else 1
    line_y = CENTRE_Y + (-BARREL if line_off == "top" else BARREL)
    # The line's words go between jack and drum where the jack stands under the line.
    crossed = line_off == "bottom" and not side.away_from_lead
    text_in = 68 if crossed else 10
    line_end = CENTRE_X + lead_x * 166
    out = 1 if side.right else -1
    jack_x = CENTRE_X + out * LEVER
    arrow_x = jack_x + out * 30
    up = jack_acts == "push"
    bottom, top = DECK_Y - 10, CENTRE_Y + 48
    tip_y, tail_y, direction = (top, bottom, -1.0) if up else (bottom, top, 1.0)
    return JackPicture(
        side=side,
        line_off=line_off,
        jack_acts=jack_acts,
        lead=lead,
        width=WIDTH,
        height=HEIGHT,
        line=f"M{point(CENTRE_X, line_y)}L{point(line_end - lead_x * 8, line_y)}",
        line_head=_head(line_end, line_y, lead_x, 0, size=11),
        line_text_x=coordinate(text_in if lead == "left" else WIDTH - text_in),
        line_text_y=coordinate(line_y - 10 if line_off == "top" else line_y + 20),
        line_text_anchor="start" if lead == "left" else "end",
        lever=f"M{point(CENTRE_X, CENTRE_Y)}L{point(jack_x + out * 14, CENTRE_Y)}",
        jack_x=coordinate(jack_x - 13),
        rod_x=coordinate(jack_x - 5),
        jack_arrow=Arrow(f"M{point(arrow_x, tail_y)}L{point(arrow_x, tip_y)}", _head(arrow_x, tip_y, 0, direction, 11)),
        jack_text_x=coordinate(WIDTH - 10 if side.right else 10),
        jack_text_anchor="end" if side.right else "start",
        turn_arrow=_turn_arrow(side.anticlockwise, side.right),
    )
