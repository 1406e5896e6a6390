"""As much of JSON Schema (draft 2020-12) as the schemas in docs/ use; an unknown keyword is an error, no pass."""

import json
import re
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parents[2] / "docs"
SCHEMA: dict[str, Any] = json.loads((DOCS / "compute.schema.json").read_text(encoding="utf-8"))
CERTIFICATE: dict[str, Any] = json.loads((DOCS / "certificate.schema.json").read_text(encoding="utf-8"))
assert not SCHEMA["$defs"].keys() & CERTIFICATE["$defs"].keys(), "one name for two things"
DEFINITIONS = {**SCHEMA["$defs"], **CERTIFICATE["$defs"]}

_TYPES = {
    "object": lambda value: isinstance(value, dict),
    "array": lambda value: isinstance(value, list),
    "string": lambda value: isinstance(value, str),
    "number": lambda value: isinstance(value, int | float) and not isinstance(value, bool),
    "integer": lambda value: isinstance(value, int) and not isinstance(value, bool),
    "boolean": lambda value: isinstance(value, bool),
    "null": lambda value: value is None,
}
_WORDS_ONLY = {"title", "description", "default", "$schema", "$id", "$defs"}


def complaints(value: Any, schema: dict[str, Any], at: str = "") -> list[str]:
    """What is wrong with a value, by place; empty when it is valid."""
    found = []
    for keyword, wanted in schema.items():
        if keyword in _WORDS_ONLY or keyword in ("then", "else"):
            continue
        found += _look(keyword, wanted, value, schema, at)
    return found


def _look(keyword: str, wanted: Any, value: Any, schema: dict[str, Any], at: str) -> list[str]:
    def valid(part: dict[str, Any]) -> bool:
        return not complaints(value, part, at)

    if keyword == "$ref":
        return complaints(value, DEFINITIONS[wanted.removeprefix("#/$defs/")], at)
    if keyword == "allOf":
        return [text for part in wanted for text in complaints(value, part, at)]
    if keyword == "if":
        return complaints(value, schema.get("then" if valid(wanted) else "else", {}), at)
    if keyword in ("properties", "items"):
        return _inside(keyword, wanted, value, at)
    is_object, is_number = isinstance(value, dict), _TYPES["number"](value)
    wrong = {
        "type": lambda: not _TYPES[wanted](value),
        "enum": lambda: not any(value == one and isinstance(value, bool) == isinstance(one, bool) for one in wanted),
        "anyOf": lambda: not any(valid(part) for part in wanted),
        "oneOf": lambda: sum(valid(part) for part in wanted) != 1,
        "required": lambda: is_object and not set(wanted) <= set(value),
        "dependentRequired": lambda: (
            is_object and any(n in value and not set(w) <= set(value) for n, w in wanted.items())
        ),
        "additionalProperties": lambda: is_object and wanted is False and not set(value) <= set(schema["properties"]),
        "minItems": lambda: isinstance(value, list) and len(value) < wanted,
        "maxItems": lambda: isinstance(value, list) and len(value) > wanted,
        "pattern": lambda: isinstance(value, str) and not re.search(wanted, value),
        "minimum": lambda: is_number and not value >= wanted,
        "maximum": lambda: is_number and not value <= wanted,
        "exclusiveMinimum": lambda: is_number and not value > wanted,
        "exclusiveMaximum": lambda: is_number and not value < wanted,
    }
    return [f"{at or 'whole'}: {keyword} {wanted}"] if wrong[keyword]() else []


def _inside(keyword: str, wanted: Any, value: Any, at: str) -> list[str]:
    if keyword == "items" and isinstance(value, list):
        return [text for index, item in enumerate(value) for text in complaints(item, wanted, f"{at}.{index}")]
    if keyword == "properties" and isinstance(value, dict):
        pairs = [(name, part) for name, part in wanted.items() if name in value]
        return [text for name, part in pairs for text in complaints(value[name], part, f"{at}.{name}".lstrip("."))]
    return []
