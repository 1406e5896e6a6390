"""Reads the figures of the public command out of its JSON object and gathers what is wrong with them, in words."""

from collections import Counter
from math import isfinite
from typing import Any

from fleet.calculation import units

NOT_AN_OBJECT = "The input must be one JSON object."
MISSING = "This is needed and was not given."
NOT_A_QUANTITY = 'Give an object with a value and a unit, for example {"value": 640, "unit": "mm"}.'
NOT_A_NUMBER = "Give a plain number, for example 640; not text, true, false or null."
NOT_POSITIVE = "The value must be above zero."
NEGATIVE = "The value must be zero or more."
OUT_OF_REACH = "This value is not finite, or it is too large or too small to reckon with."
NOT_WHOLE = "Give a whole number, 1 or more, without a decimal point."
FRACTION_RANGE = "Give a fraction above 0 and below 1, for example 0.005 for half a per cent."
REPEATED = "This name is given more than once."
UNKNOWN = "This name is not known here. Known: {known}."
ONE_OF = "Give one of: {choices}."
NOT_A_NESTED_OBJECT = "Give an object with these names: {known}."
NOT_A_LIST = "Give a list, in square brackets, of at least {least}."

Errors = list[dict[str, str]]


class JsonObject(dict[str, Any]):
    """A JSON object that remembers which of its names were given more than once."""

    def __init__(self, pairs: list[tuple[str, Any]]) -> None:
        super().__init__(pairs)
        self.repeated = [name for name, count in Counter(name for name, _ in pairs).items() if count > 1]


class Reader:
    """Takes figure after figure; each method gives None, and enters an error, for what cannot be used.

    ``field`` is the dotted name at which an error is told: ``gauge.calibration.0.U.value``.
    """

    def __init__(self) -> None:
        self.errors: Errors = []

    def refuse(self, field: str, message: str) -> None:
        """Enter an error."""
        self.errors.append({"field": field, "message": message})

    def names(self, given: JsonObject, known: tuple[str, ...], prefix: str = "") -> None:
        """Refuse names that are unknown or repeated."""
        for name in given:
            if name not in known:
                self.refuse(f"{prefix}{name}", UNKNOWN.format(known=", ".join(known)))
        for name in given.repeated:
            self.refuse(f"{prefix}{name}", REPEATED)

    def number(self, field: str, given: object) -> float | None:
        """A finite number."""
        if isinstance(given, bool) or not isinstance(given, int | float):
            self.refuse(field, NOT_A_NUMBER)
            return None
        try:
            number = float(given)
        except OverflowError:
            number = float("inf")
        if not isfinite(number):
            self.refuse(field, OUT_OF_REACH)
            return None
        return number

    def fraction(self, field: str, given: object, message: str = FRACTION_RANGE) -> float | None:
        """A number above 0 and below 1."""
        number = self.number(field, given)
        if number is None or 0 < number < 1:
            return number
        self.refuse(field, message)
        return None

    def quantity(self, field: str, given: object, kind: str, *, zero_allowed: bool = False) -> float | None:
        """A value with a unit of one kind, in SI."""
        if not isinstance(given, JsonObject):
            self.refuse(field, NOT_A_QUANTITY)
            return None
        self.names(given, ("value", "unit"), f"{field}.")
        number = unit = None
        if "value" not in given:
            self.refuse(f"{field}.value", MISSING)
        else:
            number = self.number(f"{field}.value", given["value"])
        if "unit" not in given:
            self.refuse(f"{field}.unit", MISSING)
        else:
            unit = self._unit(f"{field}.unit", given["unit"], kind)
        if number is not None and (number < 0 or (number == 0 and not zero_allowed)):
            self.refuse(f"{field}.value", NEGATIVE if zero_allowed else NOT_POSITIVE)
            return None
        if number is None or unit is None:
            return None
        value_si = units.to_si(number, unit)
        if isfinite(value_si) and (value_si > 0 or number == 0):
            return value_si
        self.refuse(f"{field}.value", OUT_OF_REACH)
        return None

    def _unit(self, field: str, given: object, kind: str) -> str | None:
        if not isinstance(given, str):
            self.refuse(field, ONE_OF.format(choices=", ".join(units.KINDS[kind])))
            return None
        try:
            return units.check_unit(given, kind)
        except units.UnitError as error:
            self.refuse(field, str(error))
            return None

    def choice(self, field: str, given: object, choices: tuple[str, ...]) -> str | None:
        """One of a list of words."""
        if isinstance(given, str) and given in choices:
            return given
        self.refuse(field, ONE_OF.format(choices=", ".join(choices)))
        return None

    def whole(self, field: str, given: object) -> int | None:
        """A whole number of at least one, and not absurd."""
        if isinstance(given, bool) or not isinstance(given, int) or given < 1:
            self.refuse(field, NOT_WHOLE)
            return None
        if given > 10_000:
            self.refuse(field, OUT_OF_REACH)
            return None
        return given

    def nested(self, field: str, given: object, known: tuple[str, ...]) -> JsonObject | None:
        """An object inside the object, with known names only."""
        if not isinstance(given, JsonObject):
            self.refuse(field, NOT_A_NESTED_OBJECT.format(known=", ".join(known)))
            return None
        self.names(given, known, f"{field}.")
        return given

    def items(self, field: str, given: object, *, least: int) -> list[Any] | None:
        """A list with at least so many entries."""
        if isinstance(given, list) and len(given) >= least:
            return given
        self.refuse(field, NOT_A_LIST.format(least=least))
        return None
