"""Coordinates as text, with a point in every language."""


def coordinate(value: float) -> str:
    """A picture coordinate to a tenth of a unit, without trailing zeros."""
    text = f"{value:.1f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def point(x: float, y: float) -> str:
    """One point of a path or polygon."""
    return f"{coordinate(x)},{coordinate(y)}"
