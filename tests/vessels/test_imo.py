"""The IMO number's check digit, held to the example printed with the scheme (tests/cases/imo_numbers.json)."""

import json
from pathlib import Path

import pytest
from django.core.exceptions import ValidationError

from fleet.vessels.imo import check_digit, validate_imo_number

CASES = json.loads((Path(__file__).parent.parent / "cases" / "imo_numbers.json").read_text(encoding="utf-8"))


def code_of(number: str) -> str:
    with pytest.raises(ValidationError) as error:
        validate_imo_number(number)
    return str(error.value.code)


@pytest.mark.parametrize("number", CASES["valid"])
def test_the_published_example_has_its_check_digit(number: str) -> None:
    assert check_digit(number[:6]) == int(number[6])
    validate_imo_number(number)


@pytest.mark.parametrize("number", CASES["one_digit_wrong"] + CASES["two_neighbours_swapped"])
def test_a_mistyped_digit_is_noticed(number: str) -> None:
    assert code_of(number) == "imo_check_digit"


@pytest.mark.parametrize("number", ["907472", "90747290", "IMO9074729", "90747a9", "", "９０７４７２９", "9074 729"])
def test_anything_but_seven_digits_is_refused(number: str) -> None:
    assert code_of(number) == "imo_shape"
