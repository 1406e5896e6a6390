"""One line of a recheck: what was compared, and what came of it."""

from dataclasses import dataclass
from math import isclose
from typing import Any

# Two machines may differ in the last bits of a float; nothing that anyone reads lies near this.
RELATIVE = 1e-9

SIGNATURE, DATA, FIGURES, TRUST, PRINTED = "signature", "data", "figures", "trust", "printed"


@dataclass(frozen=True)
class Line:
    """`agrees` is None where the comparison could not be made; that is never counted as agreement."""

    part: str
    what: str
    agrees: bool | None
    said: str = ""


def compared(part: str, what: str, kept: Any, again: Any) -> Line:
    """A line on one figure: as kept in the record, and as worked out again."""
    if same(kept, again):
        return Line(part, what, True, _shown(kept))
    return Line(part, what, False, f"the record says {_words(kept)}, worked out again it is {_words(again)}")


def same(kept: Any, again: Any) -> bool:
    """Equal words, figures equal but for the last bits, lists and mappings part by part."""
    if isinstance(kept, bool) or isinstance(again, bool):
        return kept is again
    if isinstance(kept, int | float) and isinstance(again, int | float):
        return isclose(kept, again, rel_tol=RELATIVE, abs_tol=1e-12)
    if isinstance(kept, list | tuple) and isinstance(again, list | tuple):
        return len(kept) == len(again) and all(map(same, kept, again))
    if isinstance(kept, dict) and isinstance(again, dict):
        return kept.keys() == again.keys() and all(same(kept[key], again[key]) for key in kept)
    return type(kept) is type(again) and bool(kept == again)


def _shown(value: Any) -> str:
    """What a person reads of a value that agrees: of several parts, those that are words."""
    if isinstance(value, dict):
        value = [part for name, part in value.items() if name.endswith("shown")] or list(value.values())
    if isinstance(value, list | tuple):
        return ", ".join(map(_shown, [part for part in value if isinstance(part, str | list)] or value))
    return _words(value)


def _words(value: Any) -> str:
    """A value in full, for telling two apart."""
    if isinstance(value, dict):
        value = list(value.values())
    if isinstance(value, list | tuple):
        return ", ".join(map(_words, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "nothing" if value is None or value == "" else f"{value:.9g}" if isinstance(value, float) else str(value)
