"""The public command's inside: one JSON object in, one JSON object out. Text to plain data; it reads no file.

Input (``q`` is ``{"value": 640, "unit": "mm"}``)::

    {"sdmbl": q, "share": 0.60, "drum": "split" | "undivided", "layer": 1, "nesting": "line_on_line" | "nested",
     "lever_arm": q, "piston_area": q | "piston_diameter": q, "jacks": 1, "drum_diameter": q, "line_diameter": q,
     "gauge_unit": "MPa" | "bar" | "kgf/cm2" | "psi", "gauge_reading": q (optional)}

Left out, ``share`` is 0.60, ``drum`` is ``split``, ``nesting`` is ``line_on_line`` and ``jacks`` is 1. An undivided
drum must name its layer; on a split drum it is the first of the tension section, so ``layer`` is 1 or left out.
Figures come out unrounded.
"""

import json
from collections import Counter
from math import isfinite
from typing import Any

from fleet.calculation import brake, geometry, units

DEFAULT_SHARE = 0.60

QUANTITIES = {
    "sdmbl": "force",
    "lever_arm": "length",
    "piston_area": "area",
    "piston_diameter": "length",
    "drum_diameter": "length",
    "line_diameter": "length",
    "gauge_reading": "pressure",
}
REQUIRED = ("sdmbl", "lever_arm", "drum_diameter", "line_diameter", "gauge_unit")
FIELDS = (*QUANTITIES, "share", "drum", "layer", "nesting", "jacks", "gauge_unit")
DRUMS = ("split", "undivided")

OK = 0
BAD_INPUT = 2

NOT_AN_OBJECT = "The input must be one JSON object."
MISSING = "This is needed and was not given."
NOT_A_QUANTITY = 'Give an object with a value and a unit, for example {"value": 640, "unit": "mm"}.'
NOT_A_NUMBER = "Give a plain number, for example 640; not text, true, false or null."
NOT_POSITIVE = "The value must be above zero."
OUT_OF_REACH = "This value is not finite, or it is too large or too small to reckon with."
BOTH_AREAS = "Give either piston_area or piston_diameter, not both."
NO_AREA = "Give piston_area or piston_diameter."
LAYER_NEEDED = "An undivided drum needs its layer: the layer on which the line lies in the test."
LAYER_ON_SPLIT = "On a split drum the brake is set on the first layer of the tension section: give 1 or leave it out."
NOT_WHOLE = "Give a whole number, 1 or more, without a decimal point."
SHARE_RANGE = "Give a fraction above 0 and below 1, for example 0.60."
REPEATED = "This name is given more than once."
UNKNOWN = "This name is not known here. Known: {known}."
ONE_OF = "Give one of: {choices}."
NOT_JSON = "The input is not valid JSON: {reason}."
TOO_DEEP = "The input is nested too deeply."
NOT_UTF8 = "The input is not valid UTF-8 text."
EMPTY = "The input is empty; give one JSON object."

Errors = list[dict[str, str]]


class _Object(dict[str, Any]):
    """A JSON object that remembers which of its names were given more than once."""

    def __init__(self, pairs: list[tuple[str, Any]]) -> None:
        super().__init__(pairs)
        self.repeated = [name for name, count in Counter(name for name, _ in pairs).items() if count > 1]


def compute_bytes(raw: bytes) -> tuple[dict[str, Any], int]:
    """As ``compute_json``, from the bytes of a file or a pipe; they must be UTF-8 (a byte order mark is allowed).

    >>> compute_bytes(b"\\xff")
    ({'errors': [{'field': '', 'message': 'The input is not valid UTF-8 text.'}]}, 2)
    """
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return refusal("", NOT_UTF8)
    return compute_json(text)


def compute_json(text: str) -> tuple[dict[str, Any], int]:
    """Work out the target for one drum. Returns the answer and 0, or every error found and 2.

    Each error is ``{"field": dotted name or "" for the whole, "message": what to do}``. Raises nothing for bad input.
    Source: moment balance at the drum (``fleet.calculation.brake``).

    >>> answer, code = compute_json('''{"sdmbl": {"value": 637, "unit": "kN"}, "share": 0.60,
    ...     "lever_arm": {"value": 1000, "unit": "mm"}, "piston_area": {"value": 71.26, "unit": "cm2"},
    ...     "drum_diameter": {"value": 610, "unit": "mm"}, "line_diameter": {"value": 36, "unit": "mm"},
    ...     "gauge_unit": "bar"}''')
    >>> code, round(answer["target_reading"]["value"], 2), answer["target_reading"]["unit"]
    (0, 173.24, 'bar')
    """
    if not text.strip():
        return refusal("", EMPTY)
    try:
        # NaN and Infinity pass here so that they can be refused beside the name they were given for.
        given = json.loads(text, object_pairs_hook=_Object, parse_int=_whole_or_infinite)
    except RecursionError:
        return refusal("", TOO_DEEP)
    except ValueError as error:
        return refusal("", NOT_JSON.format(reason=error))
    if not isinstance(given, _Object):
        return refusal("", NOT_AN_OBJECT)
    reader = _Reader(given)
    figures = reader.figures()
    if reader.errors:
        return {"errors": reader.errors}, BAD_INPUT
    try:
        answer = _answer(**figures)
    except (ArithmeticError, ValueError):
        return refusal("", OUT_OF_REACH)
    return (answer, OK) if _all_finite(answer) else refusal("", OUT_OF_REACH)


def refusal(field: str, message: str) -> tuple[dict[str, Any], int]:
    """The answer to an input with a single error."""
    return {"errors": [{"field": field, "message": message}]}, BAD_INPUT


def _whole_or_infinite(digits: str) -> int | float:
    # Beyond any float; Python itself stops reading whole numbers at some 4,000 digits, with advice for programmers.
    return int(digits) if len(digits) <= 400 else float(digits)


class _Reader:
    """Takes one figure after another out of the input and gathers what is wrong with it."""

    def __init__(self, given: _Object) -> None:
        self.given = given
        self.errors: Errors = []

    def figures(self) -> dict[str, Any]:
        """Every figure in SI; fit for use only when ``errors`` stayed empty."""
        self._names(self.given, FIELDS, "")
        for name in REQUIRED:
            if name not in self.given:
                self._refuse(name, MISSING)
        self._one_area()
        si = {name: self._quantity(name, kind) for name, kind in QUANTITIES.items() if name in self.given}
        self._choice("drum", DRUMS, default="split")
        return {
            "si": si,
            "share": self._share(),
            "layer": self._layer(),
            "nesting": self._choice("nesting", tuple(geometry.NESTINGS), default=geometry.LINE_ON_LINE),
            "jacks": self._whole("jacks", default=1),
            "gauge_unit": self._choice("gauge_unit", units.GAUGE_UNITS, default=units.GAUGE_UNITS[0]),
        }

    def _refuse(self, field: str, message: str) -> None:
        self.errors.append({"field": field, "message": message})

    def _names(self, given: _Object, known: tuple[str, ...], prefix: str) -> None:
        for name in given:
            if name not in known:
                self._refuse(f"{prefix}{name}", UNKNOWN.format(known=", ".join(known)))
        for name in given.repeated:
            self._refuse(f"{prefix}{name}", REPEATED)

    def _one_area(self) -> None:
        if "piston_area" in self.given and "piston_diameter" in self.given:
            self._refuse("piston_diameter", BOTH_AREAS)
        elif "piston_area" not in self.given and "piston_diameter" not in self.given:
            self._refuse("piston_area", NO_AREA)

    def _number(self, field: str, given: object) -> float | None:
        if isinstance(given, bool) or not isinstance(given, int | float):
            self._refuse(field, NOT_A_NUMBER)
            return None
        try:
            number = float(given)
        except OverflowError:
            number = float("inf")
        if not isfinite(number):
            self._refuse(field, OUT_OF_REACH)
            return None
        return number

    def _quantity(self, name: str, kind: str) -> float | None:
        given = self.given[name]
        if not isinstance(given, _Object):
            self._refuse(name, NOT_A_QUANTITY)
            return None
        self._names(given, ("value", "unit"), f"{name}.")
        number = unit = None
        if "value" not in given:
            self._refuse(f"{name}.value", MISSING)
        else:
            number = self._number(f"{name}.value", given["value"])
        if "unit" not in given:
            self._refuse(f"{name}.unit", MISSING)
        else:
            unit = self._unit(f"{name}.unit", given["unit"], kind)
        if number is not None and number <= 0:
            self._refuse(f"{name}.value", NOT_POSITIVE)
            return None
        return None if number is None or unit is None else self._in_si(f"{name}.value", number, unit)

    def _unit(self, field: str, given: object, kind: str) -> str | None:
        if not isinstance(given, str):
            self._refuse(field, ONE_OF.format(choices=", ".join(units.KINDS[kind])))
            return None
        try:
            return units.check_unit(given, kind)
        except units.UnitError as error:
            self._refuse(field, str(error))
            return None

    def _in_si(self, field: str, number: float, unit: str) -> float | None:
        value_si = units.to_si(number, unit)
        if isfinite(value_si) and value_si > 0:
            return value_si
        self._refuse(field, OUT_OF_REACH)
        return None

    def _share(self) -> float | None:
        share = self._number("share", self.given.get("share", DEFAULT_SHARE))
        if share is not None and not 0 < share < 1:
            self._refuse("share", SHARE_RANGE)
        return share

    def _choice(self, name: str, choices: tuple[str, ...], *, default: str) -> str:
        given = self.given.get(name, default)
        if not isinstance(given, str) or given not in choices:
            self._refuse(name, ONE_OF.format(choices=", ".join(choices)))
            return default
        return given

    def _whole(self, name: str, *, default: int) -> int:
        given = self.given.get(name, default)
        if isinstance(given, bool) or not isinstance(given, int) or given < 1:
            self._refuse(name, NOT_WHOLE)
            return default
        if given > 10_000:
            self._refuse(name, OUT_OF_REACH)
            return default
        return given

    def _layer(self) -> int:
        drum = self.given.get("drum", "split")
        if drum == "undivided" and "layer" not in self.given:
            self._refuse("layer", LAYER_NEEDED)
        layer = self._whole("layer", default=1)
        if drum == "split" and layer != 1:
            self._refuse("layer", LAYER_ON_SPLIT)
        return layer


def _answer(
    *, si: dict[str, float], share: float, layer: int, nesting: str, jacks: int, gauge_unit: str
) -> dict[str, Any]:
    area_m2 = si["piston_area"] if "piston_area" in si else geometry.circle_area(diameter_m=si["piston_diameter"])
    target = brake.equal_jacks(
        area_m2=area_m2,
        lever_arm_m=si["lever_arm"],
        drum_diameter_m=si["drum_diameter"],
        line_diameter_m=si["line_diameter"],
        jacks=jacks,
        layer=layer,
        nesting=nesting,
    )
    result = brake.rendering_target(sdmbl_n=si["sdmbl"], share=share, target=target, gauge_unit=gauge_unit)
    answer: dict[str, Any] = {
        "brake_rendering_load": _in_force(result.load_n),
        "piston_area_cm2": units.from_si(area_m2, "cm2"),
        "moment_radius_mm": units.from_si(target.radius_m, "mm"),
        "jack_pressure": {unit: units.from_si(result.reading_si, unit) for unit in units.GAUGE_UNITS},
        "target_reading": {"value": units.from_si(result.reading_si, gauge_unit), "unit": gauge_unit},
        "jack_force_kN": units.from_si(target.jack_forces_at(result.reading_si)[0], "kN"),
        "deck_reaction_kN": units.from_si(sum(target.jack_forces_at(result.reading_si)), "kN"),
    }
    if "gauge_reading" in si:
        at_reading = brake.load_at_reading(reading_si=si["gauge_reading"], sdmbl_n=si["sdmbl"], target=target)
        answer["load_at_reading"] = {**_in_force(at_reading.load_n), "share_of_sdmbl": at_reading.share}
    return answer


def _in_force(load_n: float) -> dict[str, float]:
    return {unit: units.from_si(load_n, unit) for unit in ("kN", "tf")}


def _all_finite(answer: dict[str, Any]) -> bool:
    return all(
        _all_finite(value) if isinstance(value, dict) else isinstance(value, str) or (isfinite(value) and value > 0)
        for value in answer.values()
    )
