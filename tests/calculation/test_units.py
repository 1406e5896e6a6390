"""Units against NIST SP 811, typed numbers, and the one rounding."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation import units
from tests.calculation import cases

NIST = cases.load("units")
ALL_UNITS = [unit for codes in units.KINDS.values() for unit in codes]
positive = st.floats(min_value=1e-6, max_value=1e9)


def test_the_closed_lists_are_those_of_the_public_command() -> None:
    assert units.KINDS["length"] == ("mm", "cm", "m", "in", "ft")
    assert units.KINDS["area"] == ("mm2", "cm2", "m2", "in2")
    assert units.KINDS["force"] == ("N", "kN", "kgf", "tf", "lbf")
    assert units.KINDS["pressure"] == ("MPa", "bar", "kgf/cm2", "psi", "kPa")
    assert units.KINDS["angle"] == ("deg",)


@pytest.mark.parametrize("case", NIST["to_si"], ids=lambda case: case["unit"])
def test_factors_are_those_of_nist_sp_811(case: dict) -> None:
    if case["exact"]:
        assert units.exact_factor(case["unit"]) == Fraction(case["si"])
    assert units.to_si(1.0, case["unit"]) == float(case["si"])


@pytest.mark.parametrize("case", NIST["between"], ids=lambda case: f"{case['from']} to {case['to']}")
def test_conversions_between_units_print_as_in_nist_sp_811(case: dict) -> None:
    got = units.from_si(units.to_si(float(case["value"]), case["from"]), case["to"])
    assert got == pytest.approx(case["is"], rel=5e-10)


def test_psi_follows_from_pound_gravity_and_inch() -> None:
    pound, gravity, inch = Fraction("0.45359237"), Fraction("9.80665"), Fraction("0.0254")
    assert units.exact_factor("psi") == pound * gravity / inch**2


def test_short_and_long_tons_are_not_on_offer() -> None:
    for code in ("t", "T", "ton", "MT", "kg/cm2", "lton", "short_ton_force"):
        with pytest.raises(units.UnitError):
            units.kind_of(code)


@pytest.mark.parametrize("bad", [None, 1, [], {}, "", "kn", "9**9**6", "x" * 5000])
def test_an_unknown_unit_is_refused_with_the_list(bad: object) -> None:
    with pytest.raises(units.UnitError, match=r"Allowed: MPa, bar, kgf/cm2, psi, kPa\.$") as caught:
        units.check_unit(bad, "pressure")  # type: ignore[arg-type]
    assert len(str(caught.value)) < 150
    with pytest.raises(units.UnitError, match="Allowed: mm, cm"):
        units.to_si(1.0, bad)  # type: ignore[arg-type]


@pytest.mark.parametrize("unit", ALL_UNITS)
@given(value=positive)
def test_a_value_survives_the_way_to_si_and_back(unit: str, value: float) -> None:
    assert units.from_si(units.to_si(value, unit), unit) == pytest.approx(value, rel=4e-16, abs=0)


@pytest.mark.parametrize("unit", ALL_UNITS)
@given(value=positive)
def test_conversion_agrees_with_exact_fractions(unit: str, value: float) -> None:
    exact = Fraction(value) * units.exact_factor(unit)
    assert abs(Fraction(units.to_si(value, unit)) - exact) <= exact * Fraction(4, 10**16)


@pytest.mark.parametrize("unit", ALL_UNITS)
def test_arrays_convert_as_their_elements(unit: str) -> None:
    values = np.array([0.1, 71.26, 640.0, 1e6])
    assert units.to_si(values, unit).tolist() == [units.to_si(value, unit) for value in values.tolist()]
    assert units.from_si(values, unit).tolist() == [units.from_si(value, unit) for value in values.tolist()]


@pytest.mark.parametrize("unit", [*ALL_UNITS, "count", "ratio"])
def test_every_unit_has_a_label_and_its_decimals(unit: str) -> None:
    assert units.label(unit) or unit in ("count", "ratio")
    assert units.SHOWN_DECIMALS[unit] >= 0
    assert units.display(1.0, unit)


def test_labels_are_what_people_read() -> None:
    read = [units.label(unit) for unit in ("kgf/cm2", "tf", "cm2", "N_m", "deg", "mm")]
    assert read == ["kgf/cm²", "t (tonne-force)", "cm²", "N·m", "°", "mm"]


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("71.26", 71.26),
        ("71,26", 71.26),
        ("  640 ", 640.0),
        ("\u00a0640\u202f", 640.0),
        ("1 234", 1234.0),
        ("1\u00a0234,5", 1234.5),
        ("1\u2009234\u202f567.25", 1234567.25),
        ("1,234", 1.234),
        ("1.234", 1.234),
        ("-5", -5.0),
        ("\u22125,5", -5.5),
        ("+3", 3.0),
        ("007", 7.0),
        ("0", 0.0),
    ],
)
def test_a_typed_number_is_read_as_it_was_meant(typed: str, number: float) -> None:
    assert units.parse_number(typed) == number


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("", "empty"),
        (" \u00a0 ", "empty"),
        ("18,2,3", "separators"),
        ("1.234,5", "separators"),
        ("1,234.5", "separators"),
        ("1.2.3", "separators"),
        ("1..2", "separators"),
        ("12 34", "spaces"),
        ("1 2345", "spaces"),
        ("1  234", "spaces"),
        ("1234 567", "spaces"),
        ("1 234,5 6", "spaces"),
        ("1e3", "exponent"),
        ("1.5E-3", "exponent"),
        (".5", "edge"),
        (",5", "edge"),
        ("5.", "edge"),
        ("nan", "not_a_number"),
        ("inf", "not_a_number"),
        ("-Infinity", "not_a_number"),
        ("0x1f", "not_a_number"),
        ("1_000", "not_a_number"),
        ("1'234", "not_a_number"),
        ("173 bar", "not_a_number"),
        ("60%", "not_a_number"),
        ("٣", "not_a_number"),
        ("²", "not_a_number"),
        ("--5", "not_a_number"),
        ("-", "not_a_number"),
        (",", "not_a_number"),
        ("9" * 400, "too_long"),
    ],
)
def test_a_number_that_would_be_guessed_is_refused_with_what_to_do(typed: str, code: str) -> None:
    with pytest.raises(units.NumberError) as caught:
        units.parse_number(typed)
    assert caught.value.code == code
    assert str(caught.value) == units.NUMBER_ERRORS[code]


@given(st.text(max_size=30))
def test_any_text_is_either_a_finite_number_or_a_number_error(text: str) -> None:
    try:
        number = units.parse_number(text)
    except units.NumberError:
        return
    assert np.isfinite(number)


@given(st.floats(min_value=-1e12, max_value=1e12), st.integers(0, 6))
def test_what_is_shown_can_be_typed_again(value: float, decimals: int) -> None:
    again = units.parse_number(units.shown(value, decimals))
    assert abs(again - value) <= 0.5 * 10**-decimals * (1 + 1e-9) + abs(value) * 1e-15


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (0.5, 0, "0"),
        (1.5, 0, "2"),
        (2.5, 0, "2"),
        (0.125, 2, "0.12"),
        (0.375, 2, "0.38"),
        (2.675, 2, "2.68"),
        (-0.04, 1, "0.0"),
        (-0.06, 1, "-0.1"),
        (1e22, 0, "10000000000000000000000"),
        (1e-9, 3, "0.000"),
        (3, 1, "3.0"),
        (np.float64(173.239685), 1, "173.2"),
    ],
)
def test_rounding_happens_once_half_to_even(value: float, decimals: int, text: str) -> None:
    assert units.shown(value, decimals) == text


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_what_is_not_finite_is_never_shown(value: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        units.shown(value, 1)


def test_the_screen_decimals_are_the_agreed_ones() -> None:
    agreed = {"bar": 1, "MPa": 2, "kgf/cm2": 1, "psi": 0, "kPa": 0, "kN": 1, "tf": 2, "mm": 1, "cm2": 2, "percent": 1}
    assert {unit: units.SHOWN_DECIMALS[unit] for unit in agreed} == agreed
    assert units.display(17_323_968.6, "bar") == "173.2 bar"
    assert units.display(17_323_968.6, "psi") == "2513 psi"
    assert units.digits(0.60004, "percent") == "60.0"
    assert units.shown_quantity(17_323_968.6, "bar", 3) == "173.240"
