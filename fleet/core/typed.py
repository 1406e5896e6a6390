"""A quantity as a person typed it, beside its SI value: what was typed is evidence."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fleet.calculation import units


@dataclass(frozen=True)
class Typed:
    """The text and unit code as typed, and the value in SI."""

    text: str
    unit: str
    si: float

    @classmethod
    def read(cls, text: str, unit: str) -> "Typed":
        """Read typed text in a unit of the closed lists; raises NumberError or UnitError with what to do."""
        units.kind_of(unit)
        return cls(text=text.strip(), unit=unit, si=float(units.to_si(units.parse_number(text), unit)))

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> "Typed":
        """Take back what to_dict gave; KeyError or ValueError when a part is missing or no number."""
        return cls(text=str(data["text"]), unit=str(data["unit"]), si=float(data["si"]))

    def to_dict(self) -> dict[str, str | float]:
        """Plain data for a JSON column."""
        return {"text": self.text, "unit": self.unit, "si": self.si}

    @property
    def as_typed(self) -> str:
        """The words of the person: the typed digits and the unit's label."""
        name = units.label(self.unit)
        return f"{self.text} {name}" if name else self.text

    def __str__(self) -> str:
        return self.as_typed
