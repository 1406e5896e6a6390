"""Values drawn from a JSON Schema as it stands: what a client generated from it would send to the command."""

from typing import Any

from hypothesis import strategies as st

from tests.calculation.schema import DEFINITIONS

# Where the schema names no end: far beyond any winch, so that the command's own limits are met too.
GREATEST = 1e9
STRANGE = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(allow_nan=True, allow_infinity=True),
    st.text(max_size=12),
    st.lists(st.integers(), max_size=3),
    st.dictionaries(st.text(max_size=5), st.integers(), max_size=3),
)


def values_of(schema: dict[str, Any]) -> st.SearchStrategy[Any]:
    """Values of the kind the schema names; what it says across fields is left to chance."""
    if "$ref" in schema:
        return values_of(DEFINITIONS[schema["$ref"].removeprefix("#/$defs/")])
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    return {"object": _object, "array": _array, "number": _number, "integer": _integer}[schema["type"]](schema)


def _object(schema: dict[str, Any]) -> st.SearchStrategy[Any]:
    fields = {name: values_of(part) for name, part in schema["properties"].items()}
    needed = set(schema["required"])
    return st.fixed_dictionaries(
        {name: one for name, one in fields.items() if name in needed},
        optional={name: one for name, one in fields.items() if name not in needed},
    )


def _array(schema: dict[str, Any]) -> st.SearchStrategy[Any]:
    least = schema.get("minItems", 0)
    return st.lists(values_of(schema["items"]), min_size=least, max_size=schema.get("maxItems", least + 3))


def _number(schema: dict[str, Any]) -> st.SearchStrategy[Any]:
    low = schema.get("exclusiveMinimum", schema.get("minimum", -GREATEST))
    high = schema.get("exclusiveMaximum", schema.get("maximum", GREATEST))
    return st.floats(
        low, high, exclude_min="exclusiveMinimum" in schema, exclude_max="exclusiveMaximum" in schema
    ) | st.integers(max(1, int(low) + 1), max(1, int(high) - 1))


def _integer(schema: dict[str, Any]) -> st.SearchStrategy[Any]:
    return st.integers(schema.get("minimum", -100), schema.get("maximum", 10**9))


@st.composite
def spoiled(draw: st.DrawFn, whole: st.SearchStrategy[Any]) -> Any:
    """A drawn value with one part of it replaced by something else altogether, taken out, or added."""
    value = draw(whole)
    at: Any = value
    while True:
        keys = list(at) if isinstance(at, dict) else list(range(len(at)))
        if not keys:
            return value
        key = draw(st.sampled_from(keys))
        deeper = isinstance(at[key], dict | list) and draw(st.booleans())
        if deeper:
            at = at[key]
            continue
        act = draw(st.sampled_from(["replace", "remove", "add"]))
        if act == "remove" or (act == "add" and isinstance(at, list)):
            del at[key]
        elif act == "add":
            at[draw(st.text(min_size=1, max_size=8))] = draw(STRANGE)
        else:
            at[key] = draw(STRANGE)
        return value


@st.composite
def near(draw: st.DrawFn, example: dict[str, Any]) -> Any:
    """An example with its quantities a little other than they were: mostly what a real brake could have."""

    def moved(part: Any) -> Any:
        if isinstance(part, dict):
            return {
                name: value * draw(st.floats(0.8, 1.25)) if name == "value" else moved(value)
                for name, value in part.items()
            }
        return [moved(one) for one in part] if isinstance(part, list) else part

    return moved(example)
