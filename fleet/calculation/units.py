"""Quantities in and out: the closed lists of units, typed numbers, and the only rounding.

People and files speak in unit codes (``"kgf/cm2"``), the rest of the package in SI floats. The conversion factors
come from one pint registry, as exact fractions, once per unit; after that a conversion is one float operation.
Factors: NIST SP 811, Appendix B (kgf = 9.80665 N, bar = 100 000 Pa and inch = 25.4 mm exactly).
"""

import re
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from functools import cache
from math import isfinite
from typing import TypeAlias, TypeVar

import numpy as np
import pint
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]
Number: TypeAlias = float | FloatArray
N = TypeVar("N", float, FloatArray)

KINDS: dict[str, tuple[str, ...]] = {
    "length": ("mm", "cm", "m", "in", "ft"),
    "area": ("mm2", "cm2", "m2", "in2"),
    "force": ("N", "kN", "kgf", "tf", "lbf"),
    "pressure": ("MPa", "bar", "kgf/cm2", "psi", "kPa"),
    "angle": ("deg",),
    "torque": ("N_m",),
    "share": ("percent",),
}

GAUGE_UNITS = ("MPa", "bar", "kgf/cm2", "psi")

# Our code on the left, the name in pint on the right: pint's own `t`, `T` and `ton` mean other things to a seaman.
_PINT_NAMES = {
    "mm": "millimeter", "cm": "centimeter", "m": "meter", "in": "inch", "ft": "foot",
    "mm2": "millimeter ** 2", "cm2": "centimeter ** 2", "m2": "meter ** 2", "in2": "inch ** 2",
    "N": "newton", "kN": "kilonewton", "kgf": "kilogram_force", "tf": "force_metric_ton", "lbf": "pound_force",
    "MPa": "megapascal", "bar": "bar", "kgf/cm2": "kilogram_force / centimeter ** 2", "psi": "psi", "kPa": "kilopascal",
    "deg": "degree", "N_m": "newton * meter", "percent": "percent",
}  # fmt: skip

_LABELS = {
    "mm2": "mm²", "cm2": "cm²", "m2": "m²", "in2": "in²",
    "tf": "t (tonne-force)", "kgf/cm2": "kgf/cm²", "deg": "°", "N_m": "N·m", "percent": "%",
    "count": "", "ratio": "",
}  # fmt: skip

SHOWN_DECIMALS: dict[str, int] = {
    "mm": 1, "cm": 2, "m": 4, "in": 3, "ft": 4,
    "mm2": 0, "cm2": 2, "m2": 6, "in2": 3,
    "N": 0, "kN": 1, "kgf": 0, "tf": 2, "lbf": 0,
    "MPa": 2, "bar": 1, "kgf/cm2": 1, "psi": 0, "kPa": 0,
    "deg": 1, "N_m": 1, "percent": 1,
    "count": 0, "ratio": 4,
}  # fmt: skip

_PLAIN = ("count", "ratio")
_KIND_BY_UNIT = {unit: kind for kind, units in KINDS.items() for unit in units}


class UnitError(ValueError):
    """A unit that is not on the closed list, or is of another kind than the quantity asks for."""


class NumberError(ValueError):
    """A typed number that cannot be read without guessing; the message says what to type.

    ``code`` names the reason (a key of ``NUMBER_ERRORS``) so that a form can say it in another language.
    """

    def __init__(self, code: str) -> None:
        super().__init__(NUMBER_ERRORS[code])
        self.code = code


NUMBER_ERRORS = {
    "empty": "Type a number, for example 71.26 or 71,26.",
    "separators": "Use one decimal comma or one decimal point, and no separators between thousands: 1234.5 or 1234,5.",
    "spaces": "A space is only allowed between groups of three digits: 1 234,5. Otherwise type the digits together.",
    "exponent": "Write the number out in full, without an exponent: 1200, not 1.2e3.",
    "edge": "Put a digit on both sides of the decimal sign: 0.5, not .5.",
    "not_a_number": "Type digits only, with one decimal comma or point where needed; the unit has its own field.",
    "too_long": "This number has too many digits; type at most 30.",
}


@cache
def registry() -> pint.UnitRegistry:
    """The one pint registry. It reckons in fractions, so that its factors are exact.

    Never hand it text that a person typed: pint evaluates what it parses.
    """
    return pint.UnitRegistry(non_int_type=Fraction, autoconvert_offset_to_baseunit=False)


@cache
def exact_factor(unit: str) -> Fraction:
    """SI units in one ``unit``, exactly (for ``deg``: to 50 digits of pi).

    Args: unit: a code from ``KINDS``. Raises: UnitError. Source: NIST SP 811, Appendix B.

    >>> exact_factor("kgf/cm2")
    Fraction(196133, 2)
    """
    kind_of(unit)
    ureg = registry()
    return Fraction(ureg.Quantity(Fraction(1), ureg.parse_units(_PINT_NAMES[unit])).to_base_units().magnitude)


@cache
def _multiplier_and_divisor(unit: str) -> tuple[float, float]:
    # Dividing by an exact 10 000 keeps 71.26 cm² at the nearest float; multiplying by 0.0001 would not.
    factor = exact_factor(unit)
    return (1.0, float(factor.denominator)) if factor.numerator == 1 else (float(factor), 1.0)


def _conversion(unit: str) -> tuple[float, float]:
    try:
        return _multiplier_and_divisor(unit)
    except TypeError:  # not hashable, so surely no code; kind_of says so in words
        kind_of(unit)
        raise


def kind_of(unit: str) -> str:
    """The kind of quantity that a unit code measures.

    Raises: UnitError, with the whole list, when the code is on no list.

    >>> kind_of("tf")
    'force'
    """
    try:
        return _KIND_BY_UNIT[unit]
    except (KeyError, TypeError):
        raise UnitError(f"{_quoted(unit)} is not a unit used here. Allowed: {', '.join(_KIND_BY_UNIT)}.") from None


def check_unit(unit: str, kind: str) -> str:
    """Return ``unit`` when it measures ``kind``; otherwise raise UnitError with the list for that kind.

    >>> check_unit("kN", "pressure")
    Traceback (most recent call last):
    fleet.calculation.units.UnitError: 'kN' is not a unit of pressure. Allowed: MPa, bar, kgf/cm2, psi, kPa.
    """
    if not isinstance(unit, str) or unit not in KINDS[kind]:
        raise UnitError(f"{_quoted(unit)} is not a unit of {kind}. Allowed: {', '.join(KINDS[kind])}.")
    return unit


def _quoted(unit: object) -> str:
    return repr(unit[:40]) if isinstance(unit, str) else "This"


def label(unit: str) -> str:
    """What people see for a unit code; empty for the plain ``"count"`` and ``"ratio"``. Raises: UnitError.

    >>> label("kgf/cm2"), label("tf"), label("N_m")
    ('kgf/cm²', 't (tonne-force)', 'N·m')
    """
    if unit not in _PLAIN:
        kind_of(unit)
    return _LABELS.get(unit, unit)


def to_si(value: N, unit: str) -> N:
    """A value in ``unit`` as SI (m, m², N, Pa, rad, N·m; ``percent`` as a fraction). Float or array. Raises: UnitError.

    Source: NIST SP 811, Appendix B.

    >>> to_si(1.0, "kgf/cm2"), to_si(71.26, "cm2")
    (98066.5, 0.007126)
    """
    multiplier, divisor = _conversion(unit)
    return value * multiplier / divisor


def from_si(value_si: N, unit: str) -> N:
    """An SI value in ``unit``; the inverse of ``to_si``. Float or array. Raises: UnitError.

    >>> from_si(98066.5, "bar")
    0.980665
    """
    multiplier, divisor = _conversion(unit)
    return value_si * divisor / multiplier


_SPACES = "\u0020\u00a0\u2007\u2009\u200a\u202f\t"
_PLAIN_NUMBER = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?", re.ASCII)
_GROUPED_NUMBER = re.compile(r"[+-]?[0-9]{1,3}(?: [0-9]{3})+(?:[.,][0-9]+)?", re.ASCII)


def parse_number(text: str) -> float:
    """Read a number as a person types it: decimal comma or point, spaces around it or between thousands.

    A single comma is always a decimal comma, a single point always a decimal point. Nothing is guessed.
    Raises: NumberError, whose message tells the person what to do.

    >>> parse_number(" 1 234,5 "), parse_number("1,234"), parse_number("-0.5")
    (1234.5, 1.234, -0.5)
    >>> parse_number("18,2,3")
    Traceback (most recent call last):
    fleet.calculation.units.NumberError: Use one decimal comma or one decimal point, and no separators between thousands: 1234.5 or 1234,5.
    """  # noqa: E501
    tidy = re.sub(f"[{_SPACES}]", " ", text).strip().replace("\u2212", "-")
    if not tidy:
        raise NumberError("empty")
    if sum(character.isdigit() for character in tidy) > 30:
        raise NumberError("too_long")
    if _PLAIN_NUMBER.fullmatch(tidy) or _GROUPED_NUMBER.fullmatch(tidy):
        return float(tidy.replace(" ", "").replace(",", "."))
    raise NumberError(_why_not_a_number(tidy))


def _why_not_a_number(tidy: str) -> str:
    if re.fullmatch(r"[+-]?[0-9.,]+[eE][+-]?[0-9]+", tidy):
        return "exponent"
    if not re.fullmatch(r"[+-]?[0-9 .,]+", tidy) or not re.search("[0-9]", tidy):
        return "not_a_number"
    if len(re.findall("[.,]", tidy)) > 1:
        return "separators"
    if re.fullmatch(r"[+-]?(?:[.,][0-9]+|[0-9]+[.,])", tidy):
        return "edge"
    return "spaces"


def shown(value: float, decimals: int) -> str:
    """The only rounding: the shortest decimal that names this float, rounded once, half to even.

    Args: value: finite; decimals: 0 or more. Raises: ValueError for NaN and infinities.

    >>> shown(0.125, 2), shown(2.675, 2), shown(-0.04, 1)
    ('0.12', '2.68', '0.0')
    """
    value = float(value)
    if not isfinite(value):
        raise ValueError("Only a finite number can be shown.")
    exact = Decimal(repr(value))
    rounded = exact.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_EVEN, Context(prec=400))
    return f"{abs(rounded) if rounded == 0 else rounded:f}"


def shown_quantity(value_si: float, unit: str, decimals: int) -> str:
    """An SI value in ``unit``, rounded to ``decimals``, digits only. Raises: UnitError, ValueError.

    >>> shown_quantity(17_324_000.0, "bar", 2)
    '173.24'
    """
    return shown(value_si if unit in _PLAIN else from_si(float(value_si), unit), decimals)


def digits(value_si: float, unit: str) -> str:
    """An SI value as the product always shows it in ``unit``, without the unit (for columns headed by it).

    >>> digits(17_324_000.0, "bar"), digits(0.6, "percent")
    ('173.2', '60.0')
    """
    if unit not in SHOWN_DECIMALS:
        kind_of(unit)
    return shown_quantity(value_si, unit, SHOWN_DECIMALS[unit])


def display(value_si: float, unit: str) -> str:
    """An SI value as pages, papers and the command all show it: the digits and the unit. Raises: UnitError.

    ``"count"`` and ``"ratio"`` stand for plain numbers.

    >>> display(17_324_000.0, "kgf/cm2"), display(382_200.0, "tf"), display(0.6, "percent"), display(2, "count")
    ('176.7 kgf/cm²', '38.97 t (tonne-force)', '60.0 %', '2')
    """
    name = label(unit)
    return f"{digits(value_si, unit)} {name}" if name else digits(value_si, unit)
