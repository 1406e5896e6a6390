"""The public command's inside: one JSON object in, one JSON object out. Text to plain data; it reads no file.

Input (``q`` is ``{"value": 640, "unit": "mm"}``)::

    {"sdmbl": q, "share": 0.60, "drum": "split" | "undivided", "layer": 1, "nesting": "line_on_line" | "nested",
     "lever_arm": q, "piston_area": q | "piston_diameter": q, "jacks": 1, "drum_diameter": q, "line_diameter": q,
     "gauge_unit": "MPa" | "bar" | "kgf/cm2" | "psi", "gauge_reading": q (optional)}

The optional ``gauge``, ``tolerances``, ``slips``, ``band`` and ``rule`` ask how far the load can be trusted: see
``compute_trust``. docs/compute.md tells it all with examples, docs/compute.schema.json in JSON Schema.

Left out, ``share`` is 0.60, ``drum`` is ``split``, ``nesting`` is ``line_on_line`` and ``jacks`` is 1. An undivided
drum must name its layer; on a split drum it is the first of the tension section, so ``layer`` is 1 or left out.
Figures come out unrounded.
"""

import json
from collections.abc import Callable
from math import isfinite
from typing import Any

import numpy as np

from fleet.calculation import brake, geometry, units
from fleet.calculation.compute_reader import (
    MISSING,
    NOT_A_NUMBER,
    NOT_A_QUANTITY,
    NOT_AN_OBJECT,
    NOT_POSITIVE,
    NOT_WHOLE,
    ONE_OF,
    OUT_OF_REACH,
    REPEATED,
    UNKNOWN,
    JsonObject,
    Reader,
)
from fleet.calculation.compute_trust import TRUST_FIELDS, NotCovered, Trust, read_trust, trust_answer

__all__ = [
    "BAD_INPUT",
    "FIELDS",
    "MISSING",
    "NOT_AN_OBJECT",
    "NOT_A_NUMBER",
    "NOT_A_QUANTITY",
    "NOT_POSITIVE",
    "NOT_WHOLE",
    "OK",
    "ONE_OF",
    "OUT_OF_REACH",
    "QUANTITIES",
    "REPEATED",
    "REQUIRED",
    "UNKNOWN",
    "compute_bytes",
    "compute_json",
    "refusal",
]

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
FIELDS = (*QUANTITIES, "share", "drum", "layer", "nesting", "jacks", "gauge_unit", *TRUST_FIELDS)
DRUMS = ("split", "undivided")

OK = 0
BAD_INPUT = 2

BOTH_AREAS = "Give either piston_area or piston_diameter, not both."
NO_AREA = "Give piston_area or piston_diameter."
LAYER_NEEDED = "An undivided drum needs its layer: the layer on which the line lies in the test."
LAYER_ON_SPLIT = "On a split drum the brake is set on the first layer of the tension section: give 1 or leave it out."
SHARE_RANGE = "Give a fraction above 0 and below 1, for example 0.60."
NOT_JSON = "The input is not valid JSON: {reason}."
TOO_DEEP = "The input is nested too deeply."
NOT_UTF8 = "The input is not valid UTF-8 text."
EMPTY = "The input is empty; give one JSON object."


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
        given = json.loads(text, object_pairs_hook=JsonObject, parse_int=_whole_or_infinite)
    except RecursionError:
        return refusal("", TOO_DEEP)
    except ValueError as error:
        return refusal("", NOT_JSON.format(reason=error))
    if not isinstance(given, JsonObject):
        return refusal("", NOT_AN_OBJECT)
    reader = _DrumReader(given)
    figures = reader.figures()
    if reader.errors:
        return {"errors": reader.errors}, BAD_INPUT
    try:
        with np.errstate(over="raise", divide="raise", invalid="raise"):
            answer = _answer(**figures)
    except NotCovered as error:
        return refusal(error.field, str(error))
    except (ArithmeticError, ValueError):
        return refusal("", OUT_OF_REACH)
    return (answer, OK) if _in_reach(answer) else refusal("", OUT_OF_REACH)


def refusal(field: str, message: str) -> tuple[dict[str, Any], int]:
    """The answer to an input with a single error."""
    return {"errors": [{"field": field, "message": message}]}, BAD_INPUT


def _whole_or_infinite(digits: str) -> int | float:
    # Beyond any float; Python itself stops reading whole numbers at some 4,000 digits, with advice for programmers.
    return int(digits) if len(digits) <= 400 else float(digits)


class _DrumReader(Reader):
    """Takes the drum's figures out of the input."""

    def __init__(self, given: JsonObject) -> None:
        super().__init__()
        self.given = given

    def figures(self) -> dict[str, Any]:
        """Every figure in SI; fit for use only when ``errors`` stayed empty."""
        self.names(self.given, FIELDS)
        for name in REQUIRED:
            if name not in self.given:
                self.refuse(name, MISSING)
        self._one_area()
        si = {
            name: self.quantity(name, self.given[name], kind) for name, kind in QUANTITIES.items() if name in self.given
        }
        self.choice("drum", self.given.get("drum", "split"), DRUMS)
        return {
            "si": si,
            "share": self.fraction("share", self.given.get("share", DEFAULT_SHARE), SHARE_RANGE),
            "layer": self._layer(),
            "nesting": self.choice(
                "nesting", self.given.get("nesting", geometry.LINE_ON_LINE), tuple(geometry.NESTINGS)
            ),
            "jacks": self.whole("jacks", self.given.get("jacks", 1)),
            "gauge_unit": self._gauge_unit(),
            "trust": read_trust(self, self.given),
        }

    def _one_area(self) -> None:
        if "piston_area" in self.given and "piston_diameter" in self.given:
            self.refuse("piston_diameter", BOTH_AREAS)
        elif "piston_area" not in self.given and "piston_diameter" not in self.given:
            self.refuse("piston_area", NO_AREA)

    def _gauge_unit(self) -> str | None:
        if "gauge_unit" not in self.given:
            return None
        return self.choice("gauge_unit", self.given["gauge_unit"], units.GAUGE_UNITS)

    def _layer(self) -> int | None:
        drum = self.given.get("drum", "split")
        if drum == "undivided" and "layer" not in self.given:
            self.refuse("layer", LAYER_NEEDED)
        layer = self.whole("layer", self.given.get("layer", 1))
        if drum == "split" and layer not in (1, None):
            self.refuse("layer", LAYER_ON_SPLIT)
        return layer


def _answer(
    *, si: dict[str, float], share: float, layer: int, nesting: str, jacks: int, gauge_unit: str, trust: Trust | None
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
    if trust is not None:
        answer |= trust_answer(
            trust,
            target=target,
            sdmbl_n=si["sdmbl"],
            target_si=result.reading_si,
            reading_si=si.get("gauge_reading"),
            gauge_unit=gauge_unit,
        )
    return answer


def _in_force(load_n: float) -> dict[str, float]:
    return {unit: units.from_si(load_n, unit) for unit in ("kN", "tf")}


def _in_reach(answer: dict[str, Any]) -> bool:
    """Every figure finite; those of the drum itself above zero too."""
    of_drum = [answer[name] for name in answer if name not in ("uncertainty", "conformity")]
    return _all(of_drum, lambda number: isfinite(number) and number > 0) and _all(answer, isfinite)


def _all(value: object, holds: Callable[[float], bool]) -> bool:
    if isinstance(value, dict):
        return all(_all(part, holds) for part in value.values())
    if isinstance(value, list):
        return all(_all(part, holds) for part in value)
    return value is None or isinstance(value, str | bool) or (isinstance(value, int | float) and holds(value))
