"""The rows of an uncertainty budget as lines to read: a bar by its share, and in words how the figure is spread."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from fleet.core.pictures.numbers import coordinate

SPREAD_WORDS: dict[str, str | Promise] = {
    "normal": lazy("mostly near the middle, seldom far out (normal)"),
    "rectangular": lazy("anywhere between, all equally likely (rectangular)"),
    "one_sided": lazy("can only take force away, from nothing to twice this (rectangular)"),
    "cosine": lazy("either side of square, costs force either way (cosine)"),
}
LEAST_SEEN = 0.8


@dataclass(frozen=True)
class Bar:
    """Measures of one bar's picture; the full width stands for the whole uncertainty."""

    width: int
    height: int


BAR = Bar(120, 8)


@dataclass(frozen=True)
class BudgetLine:
    """One row with its bar's length and the words for its distribution."""

    row: Mapping[str, Any]
    length: str
    spread: str
    assumed_by: str


def budget_lines(rows: Sequence[Mapping[str, Any]]) -> list[BudgetLine]:
    """Lay out the rows of a budget in the order they come in, which is the largest share first."""
    return [
        BudgetLine(row, _length(float(row["share"])), _words(str(row["distribution"])), _assumed(row["assumed"]))
        for row in rows
    ]


def _length(share: float) -> str:
    # Even the smallest part is to be seen as a part.
    return coordinate(max(min(share, 1.0) * BAR.width, LEAST_SEEN))


def _words(distribution: str) -> str:
    return str(SPREAD_WORDS.get(distribution, distribution))


def _assumed(assumed: object) -> str:
    """Who assumed a figure; a record may name the one who did."""
    if not assumed:
        return ""
    if isinstance(assumed, str):
        return assumed
    return _("assumed; ours, common practice, no published source")
