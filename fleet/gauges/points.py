"""The rows of a calibration certificate and of a force calibration, as typed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from fleet.calculation.gauge_certificate import RISING
from fleet.core.typed import Typed


@dataclass(frozen=True)
class Point:
    """What the gauge showed and what the reference showed, with the laboratory's expanded uncertainty where given."""

    reading: Typed
    reference: Typed
    U: Typed | None = None
    k: float | None = None
    direction: str = RISING

    def to_dict(self) -> dict[str, Any]:
        return {
            "reading": self.reading.to_dict(),
            "reference": self.reference.to_dict(),
            "U": self.U.to_dict() if self.U else None,
            "k": self.k,
            "direction": self.direction,
        }

    @classmethod
    def from_dict(cls, stored: dict[str, Any]) -> "Point":
        U = stored.get("U")
        return cls(
            Typed.from_dict(stored["reading"]),
            Typed.from_dict(stored["reference"]),
            Typed.from_dict(U) if U else None,
            stored.get("k"),
            stored.get("direction", RISING),  # points recorded before they had a direction were taken rising
        )


@dataclass(frozen=True)
class ForceRow:
    """What the gauge showed and the force the jack then gave."""

    reading: Typed
    force: Typed

    def to_dict(self) -> dict[str, Any]:
        return {"reading": self.reading.to_dict(), "force": self.force.to_dict()}

    @classmethod
    def from_dict(cls, stored: dict[str, Any]) -> "ForceRow":
        return cls(Typed.from_dict(stored["reading"]), Typed.from_dict(stored["force"]))


def first_not_rising(rows: Sequence[tuple[float, float]]) -> int | None:
    """The number (from 1) of the first row whose two figures are not both above those of the row before."""
    steps: Iterable[tuple[int, Any]] = enumerate(pairwise(rows), start=2)
    return next((number for number, (last, row) in steps if row[0] <= last[0] or row[1] <= last[1]), None)
