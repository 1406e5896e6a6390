"""The bars of an uncertainty budget: each as long as its row's share of the whole."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fleet.core.pictures.numbers import coordinate

# Even the smallest part is to be seen as a part.
LEAST_SEEN = 0.8


@dataclass(frozen=True)
class Bar:
    """Measures of one bar's picture; the full width stands for the whole uncertainty."""

    width: int
    height: int


BAR = Bar(120, 8)


@dataclass(frozen=True)
class BudgetLine:
    """One row with its bar's length."""

    row: Mapping[str, Any]
    length: str


def budget_lines(rows: Sequence[Mapping[str, Any]]) -> list[BudgetLine]:
    """Lay out the rows of a budget in the order they come in, which is the largest share first."""
    return [BudgetLine(row, _length(float(row["share"]))) for row in rows]


def _length(share: float) -> str:
    return coordinate(max(min(share, 1.0) * BAR.width, LEAST_SEEN))
