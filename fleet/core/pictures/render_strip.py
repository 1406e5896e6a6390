"""The render strip: % of the base load with the band, as found and as left; shares come in as fractions."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleet.calculation.units import digits
from fleet.core.pictures.numbers import coordinate, point

LOWEST, HIGHEST, HOLDING = 0.40, 0.90, 0.80


@dataclass(frozen=True)
class Size:
    """Measures of one variant of the strip."""

    width: int
    height: int
    left: int
    right: int
    bar_top: int
    bar_height: int
    mark: float
    font: int
    text_y: int
    figure_y: int
    whisker_y: float
    whisker_cap: float

    @property
    def middle(self) -> float:
        return self.bar_top + self.bar_height / 2

    def x(self, share: float) -> float:
        """Where a share lies, held within the scale."""
        part = (min(max(share, LOWEST), HIGHEST) - LOWEST) / (HIGHEST - LOWEST)
        return self.left + part * (self.right - self.left)


FULL = Size(360, 66, 20, 332, 24, 12, 7, 12, 58, 13, 43.5, 3.2)
COMPACT = Size(240, 38, 16, 212, 7, 9, 5, 11, 34, 34, 20.5, 2.5)


@dataclass(frozen=True)
class Tick:
    x: str
    text: str
    anchor: str = "middle"


@dataclass(frozen=True)
class Mark:
    """A diamond or disc on the scale, or an arrow at its edge with the figure; off is "", "low" or "high"."""

    off: str
    x: str
    outline: str
    figure: str
    figure_x: str
    figure_anchor: str
    title: str


@dataclass(frozen=True)
class Whisker:
    """A line under the scale, where no mark covers it, with an end cap where an end lies on the scale.

    In full size the best estimate in its middle is a tick.
    """

    left: str
    right: str
    path: str


@dataclass(frozen=True)
class Strip:
    compact: bool
    size: Size
    middle: str
    dot: str
    bar_x: str
    bar_width: str
    band_x: str
    band_width: str
    band_edges: str
    target: str
    hatching: str
    ticks: tuple[Tick, ...]
    found: Mark | None
    left: Mark | None
    whisker: Whisker | None
    truth: Mark | None
    title: str
    description: str


def _mark(size: Size, share: float, *, solid: bool, inward: float = 0) -> Mark:
    word = _("as left") if solid else _("as found")
    figure = digits(share, "percent")
    title = _("%(word)s %(figure)s %% of the base load") % {"word": word, "figure": figure}
    y = size.middle
    if share < LOWEST or share > HIGHEST:
        low = share < LOWEST
        out = -1 if low else 1
        edge = (size.left if low else size.right) - out * inward
        tip, base, half = edge + out * size.mark * 1.7, edge + out * 1, size.mark * 0.85
        outline = " ".join([point(tip, y), point(base, y - half), point(base, y + half)])
        anchor = "start" if low else "end"
        return Mark("low" if low else "high", coordinate(edge), outline, figure, coordinate(tip), anchor, title)
    x = size.x(share)
    reach = size.mark * 1.25
    outline = " ".join([point(x, y - reach), point(x + reach, y), point(x, y + reach), point(x - reach, y)])
    return Mark("", coordinate(x), outline, figure, coordinate(x), "middle", title)


def _apart(size: Size, found: Mark, left: Mark) -> tuple[Mark, Mark]:
    """Move the two figures above the marks apart where they would touch; the marks stay."""
    room = size.font * 3.1
    if found.off or left.off:
        return found, left
    found_x, left_x = float(found.figure_x), float(left.figure_x)
    lacking = room - abs(left_x - found_x)
    if lacking <= 0:
        return found, left
    way = 1 if left_x >= found_x else -1

    def moved(mark: Mark, by: float) -> Mark:
        return Mark(**{**mark.__dict__, "figure_x": coordinate(float(mark.figure_x) + by)})

    return moved(found, -way * lacking / 2), moved(left, way * lacking / 2)


def _marks(size: Size, as_found: float | None, as_left: float | None) -> tuple[Mark | None, Mark | None]:
    found = None if as_found is None else _mark(size, as_found, solid=False)
    left = None if as_left is None else _mark(size, as_left, solid=True)
    if found and left and as_left is not None:
        if found.off and found.off == left.off:
            # Both beyond the same edge: one arrow behind the other, each with its figure.
            left = _mark(size, as_left, solid=True, inward=size.font * 3.8)
        elif size is FULL:
            found, left = _apart(size, found, left)
    return found, left


def _ticks(
    size: Size, band_low: float, band_high: float, target: float | None, marks: Sequence[Mark | None]
) -> tuple[Tick, ...]:
    """Labels in order of worth, leaving out those that would touch one already set."""
    if size is FULL:
        wanted: Sequence[float | None] = (target, LOWEST, HIGHEST, band_low, band_high, HOLDING)
    else:
        wanted = (band_low, band_high, LOWEST, HIGHEST, HOLDING, target)
    room = size.font * 2.0
    # In the compact strip an off-scale figure stands in the row of the labels, under its arrow.
    out = [mark for mark in marks if mark and mark.off] if size is COMPACT else []
    taken = [float(mark.figure_x) + (1 if mark.off == "low" else -1) * size.font * 1.3 for mark in out]
    placed: list[tuple[float, Tick]] = []
    for share in wanted:
        if share is None or not LOWEST <= share <= HIGHEST:
            continue
        x = size.x(share)
        text = digits(share, "percent").removesuffix(".0")
        if share == HIGHEST:
            tick = Tick(coordinate(x - size.font * 0.6), f"{text}\N{NO-BREAK SPACE}%", "start")
        else:
            tick = Tick(coordinate(x), text)
        crowded = any(abs(x - other) < room for other, _tick in placed)
        if not crowded and all(abs(x - other) >= room * 1.35 for other in taken):
            placed.append((x, tick))
    return tuple(tick for _x, tick in sorted(placed, key=lambda pair: pair[0]))


def _hatching(size: Size) -> str:
    start, end, height = size.x(HOLDING), size.x(HIGHEST), size.bar_height
    step, lean = (6.0, height * 0.6)
    bottom, top = size.bar_top + height, size.bar_top
    count = int((end - start - lean) // step) + 1
    lines = (start + index * step for index in range(count))
    return "".join(f"M{point(x, bottom)}L{point(x + lean, top)}" for x in lines)


def _whisker(size: Size, as_left: float | None, ends: tuple[float, float] | None) -> Whisker | None:
    if as_left is None or ends is None or ends[1] < LOWEST or ends[0] > HIGHEST:
        return None
    left, right = size.x(ends[0]), size.x(ends[1])
    y, cap = size.whisker_y, size.whisker_cap
    ticks = [(size.x(share), cap) for share in ends if LOWEST <= share <= HIGHEST]
    middle = (ends[0] + ends[1]) / 2
    if size is FULL and LOWEST <= middle <= HIGHEST:
        ticks.append((size.x(middle), cap * 1.5))
    path = f"M{point(left, y)}H{coordinate(right)}"
    path += "".join(f"M{point(x, y - reach)}V{coordinate(y + reach)}" for x, reach in ticks)
    return Whisker(coordinate(left), coordinate(right), path)


def _truth(size: Size, truth: float | None) -> Mark | None:
    """A triangle on top of the scale that points at what a virtual brake truly does; the whisker lies below."""
    if truth is None:
        return None
    figure = digits(truth, "percent")
    title = _("truly %(figure)s %% of the base load") % {"figure": figure}
    off = "low" if truth < LOWEST else "high" if truth > HIGHEST else ""
    x, tip_y, half = size.x(truth), size.bar_top - 1, size.mark * 0.8
    if off:
        # Beyond the scale it points out of it.
        tip = x - 9 if off == "low" else x + 9
        corners = [(tip, tip_y - half), (x, tip_y), (x, tip_y - 2 * half)]
    else:
        corners = [(x, tip_y), (x - half, tip_y - 9), (x + half, tip_y - 9)]
    outline = " ".join(point(*corner) for corner in corners)
    return Mark(off, coordinate(x), outline, figure, coordinate(x), "middle", title)


def _words(
    as_found: float | None,
    as_left: float | None,
    band: tuple[float, float],
    target: float | None,
    whisker: tuple[float, float] | None,
    truth: float | None,
) -> str:
    said = []
    if as_found is not None:
        said.append(_("As found %(figure)s %%.") % {"figure": digits(as_found, "percent")})
    if as_left is not None:
        said.append(_("As left %(figure)s %%.") % {"figure": digits(as_left, "percent")})
    if as_left is not None and whisker is not None:
        low, high = (digits(share, "percent") for share in whisker)
        said.append(_("With its uncertainty, 95 %%: %(low)s to %(high)s %%.") % {"low": low, "high": high})
    if truth is not None:
        said.append(_("Truly %(figure)s %%.") % {"figure": digits(truth, "percent")})
    if not said:
        said.append(_("No result yet."))
    low, high = (digits(share, "percent") for share in band)
    said.append(
        _("Band %(low)s to %(high)s %% (operator's setting, not from a standard).") % {"low": low, "high": high}
    )
    if target is not None:
        said.append(_("Target %(figure)s %%.") % {"figure": digits(target, "percent")})
    said.append(_("Hatched from 80 %, the brake's design holding load."))
    return " ".join(said)


def render_strip(
    *,
    as_found: float | None,
    as_left: float | None,
    band_low: float,
    band_high: float,
    target: float | None,
    whisker: tuple[float, float] | None = None,
    compact: bool = False,
    truth: float | None = None,
) -> Strip:
    """Lay out one strip.

    The solid mark is the load as read; the whisker runs from low to high about the best estimate, which lies a little
    lower, because friction and weight only take force away. It is drawn only where there is a solid mark. ``truth`` is
    for virtual brakes alone: nobody knows it of a real one.
    """
    size = COMPACT if compact else FULL
    found, left = _marks(size, as_found, as_left)
    band_x, band_end = size.x(band_low), size.x(band_high)
    top, bottom = size.bar_top, size.bar_top + size.bar_height
    drawn = _whisker(size, as_left, whisker)
    # Down to the whisker, so that one sees whether it stays between them.
    edge_end = coordinate(size.whisker_y + size.whisker_cap) if drawn else str(bottom)
    edges = "".join(
        f"M{point(size.x(share), top)}V{edge_end}" for share in (band_low, band_high) if LOWEST <= share <= HIGHEST
    )
    on_scale = target is not None and LOWEST <= target <= HIGHEST
    return Strip(
        compact=compact,
        size=size,
        middle=coordinate(size.middle),
        dot=coordinate(size.mark * 0.75),
        bar_x=coordinate(size.left),
        bar_width=coordinate(size.right - size.left),
        band_x=coordinate(band_x),
        band_width=coordinate(max(band_end - band_x, 0)),
        band_edges=edges,
        target=f"M{point(size.x(target), top - 5)}V{bottom + 5}" if target is not None and on_scale else "",
        hatching=_hatching(size),
        ticks=_ticks(size, band_low, band_high, target, (found, left)),
        found=found,
        left=left,
        whisker=drawn,
        truth=_truth(size, truth),
        title=_("% of the base load, scale from 40 to 90"),
        description=_words(as_found, as_left, (band_low, band_high), target, whisker, truth),
    )
