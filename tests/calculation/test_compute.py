"""The inside of the public command: right figures, and every bad input named."""

import copy
import json
import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation import compute, units
from tests.calculation import cases

GOOD: dict[str, Any] = {
    "sdmbl": {"value": 637, "unit": "kN"},
    "share": 0.60,
    "drum": "split",
    "layer": 1,
    "nesting": "line_on_line",
    "lever_arm": {"value": 1000, "unit": "mm"},
    "piston_area": {"value": 71.26, "unit": "cm2"},
    "jacks": 1,
    "drum_diameter": {"value": 610, "unit": "mm"},
    "line_diameter": {"value": 36, "unit": "mm"},
    "gauge_unit": "bar",
}
QUANTITIES = ("sdmbl", "lever_arm", "piston_area", "drum_diameter", "line_diameter", "gauge_reading")
WITH_READING = {**GOOD, "gauge_reading": {"value": 170, "unit": "bar"}}


def changed(*without: str, **values: Any) -> dict[str, Any]:
    given = {**copy.deepcopy(GOOD), **values}
    return {name: value for name, value in given.items() if name not in without}


def answer_to(given: dict[str, Any]) -> dict[str, Any]:
    answer, code = compute.compute_json(json.dumps(given))
    assert code == 0, answer
    return answer


def errors_of(text: str) -> dict[str, str]:
    answer, code = compute.compute_json(text)
    assert code == 2
    assert list(answer) == ["errors"]
    assert answer["errors"]
    for error in answer["errors"]:
        assert list(error) == ["field", "message"]
        assert error["message"].strip()
    json.dumps(answer, allow_nan=False)
    return {error["field"]: error["message"] for error in answer["errors"]}


@pytest.mark.parametrize("case", cases.load("jack_and_lever")["cases"], ids=lambda case: case["id"])
def test_constructed_cases_come_out_of_the_command(case: dict) -> None:
    answer = answer_to(
        {
            "sdmbl": case["sdmbl"],
            "share": case["share"],
            "lever_arm": {"value": case["lever_arm_mm"], "unit": "mm"},
            "piston_area": {"value": case["piston_area_cm2"], "unit": "cm2"},
            "drum_diameter": {"value": case["drum_diameter_mm"], "unit": "mm"},
            "line_diameter": {"value": case["line_diameter_mm"], "unit": "mm"},
            "gauge_unit": "kgf/cm2",
        }
    )
    assert answer["brake_rendering_load"]["kN"] == pytest.approx(case["load_kN"], abs=5.01e-4)
    assert answer["jack_force_kN"] == pytest.approx(case["jack_force_kN"], abs=5.01e-4)
    for unit, half_digit in (("bar", 5e-4), ("MPa", 5e-5), ("kgf/cm2", 5e-4), ("psi", 0.05)):
        assert answer["jack_pressure"][unit] == pytest.approx(case["pressure"][unit], abs=half_digit * 1.001)
    assert answer["target_reading"] == {"value": answer["jack_pressure"]["kgf/cm2"], "unit": "kgf/cm2"}


def test_the_answer_has_exactly_the_agreed_names() -> None:
    answer = answer_to(WITH_READING)
    assert list(answer) == [
        "brake_rendering_load", "piston_area_cm2", "moment_radius_mm", "jack_pressure", "target_reading",
        "jack_force_kN", "deck_reaction_kN", "load_at_reading",
    ]  # fmt: skip
    assert list(answer["brake_rendering_load"]) == ["kN", "tf"]
    assert list(answer["jack_pressure"]) == ["MPa", "bar", "kgf/cm2", "psi"]
    assert list(answer["load_at_reading"]) == ["kN", "tf", "share_of_sdmbl"]
    assert "load_at_reading" not in answer_to(GOOD)


def test_a_reading_gives_its_load_and_share() -> None:
    at = answer_to(WITH_READING)["load_at_reading"]
    exact = Fraction(170 * 10**5) * Fraction("0.007126") / Fraction(323, 1000)
    assert at["kN"] == pytest.approx(float(exact / 1000), rel=1e-14)
    assert at["tf"] == pytest.approx(float(exact / Fraction("9806.65")), rel=1e-14)
    assert at["share_of_sdmbl"] == pytest.approx(float(exact / 637000), rel=1e-14)
    in_psi = {**GOOD, "gauge_reading": {"value": units.from_si(17e6, "psi"), "unit": "psi"}}
    assert answer_to(in_psi)["load_at_reading"]["kN"] == pytest.approx(at["kN"], rel=1e-13)


def test_what_is_left_out_takes_its_documented_value() -> None:
    assert answer_to(changed("share", "drum", "layer", "nesting", "jacks")) == answer_to(GOOD)


def test_jacks_share_the_force_and_the_deck_takes_it_all() -> None:
    one, two = answer_to(GOOD), answer_to(changed(jacks=2))
    assert two["jack_pressure"]["bar"] == pytest.approx(one["jack_pressure"]["bar"] / 2, rel=1e-14)
    assert two["jack_force_kN"] == pytest.approx(one["jack_force_kN"] / 2, rel=1e-14)
    assert two["deck_reaction_kN"] == pytest.approx(one["deck_reaction_kN"], rel=1e-14)


def test_a_piston_diameter_stands_for_its_circle() -> None:
    diameter = answer_to(changed("piston_area", piston_diameter={"value": 95.2, "unit": "mm"}))
    assert diameter["piston_area_cm2"] == pytest.approx(math.pi / 4 * 9.52**2, rel=1e-14)


@pytest.mark.parametrize(("nesting", "radius"), [("line_on_line", 395.0), ("nested", 323 + 36 * math.sqrt(3))])
def test_an_undivided_drum_reckons_on_its_layer(nesting: str, radius: float) -> None:
    answer = answer_to(changed(drum="undivided", layer=3, nesting=nesting))
    assert answer["moment_radius_mm"] == pytest.approx(radius, rel=1e-14)
    first = answer_to(GOOD)["jack_pressure"]["bar"]
    assert answer["jack_pressure"]["bar"] == pytest.approx(first * radius / 323, rel=1e-13)


def test_an_undivided_drum_must_name_its_layer() -> None:
    assert errors_of(json.dumps(changed("layer", drum="undivided"))) == {"layer": compute.LAYER_NEEDED}


def test_a_split_drum_has_only_its_first_layer() -> None:
    for wrong in (changed(layer=3), changed("drum", layer=3)):
        assert errors_of(json.dumps(wrong)) == {"layer": compute.LAYER_ON_SPLIT}


@pytest.mark.parametrize("name", QUANTITIES)
@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("0", compute.NOT_POSITIVE),
        ("-0.0", compute.NOT_POSITIVE),
        ("-640", compute.NOT_POSITIVE),
        ("true", compute.NOT_A_NUMBER),
        ("false", compute.NOT_A_NUMBER),
        ("null", compute.NOT_A_NUMBER),
        ('"640"', compute.NOT_A_NUMBER),
        ("[640]", compute.NOT_A_NUMBER),
        ('{"value": 640}', compute.NOT_A_NUMBER),
        ("NaN", compute.OUT_OF_REACH),
        ("Infinity", compute.OUT_OF_REACH),
        ("-Infinity", compute.OUT_OF_REACH),
        ("1e999", compute.OUT_OF_REACH),
        ("9" * 350, compute.OUT_OF_REACH),
        ("9" * 6000, compute.OUT_OF_REACH),
        ("1e-999", compute.NOT_POSITIVE),
    ],
)
def test_a_bad_value_is_named_at_its_field(name: str, value: str, message: str) -> None:
    text = json.dumps({**WITH_READING, name: {"value": "HERE", "unit": WITH_READING[name]["unit"]}})
    assert errors_of(text.replace('"HERE"', value)) == {f"{name}.value": message}


@pytest.mark.parametrize("name", QUANTITIES)
@pytest.mark.parametrize("unit", ["deg", "furlong", "", "T", None, 5, True, ["mm"], {"mm": 1}])
def test_a_unit_of_another_kind_is_refused_with_the_list(name: str, unit: object) -> None:
    errors = errors_of(json.dumps({**WITH_READING, name: {"value": 1, "unit": unit}}))
    assert list(errors) == [f"{name}.unit"]
    assert ", ".join(units.KINDS[compute.QUANTITIES[name]]) in errors[f"{name}.unit"]


def test_each_quantity_takes_only_its_own_kind() -> None:
    for name, kind in compute.QUANTITIES.items():
        base = changed("piston_area") if name == "piston_diameter" else WITH_READING
        for other, codes in units.KINDS.items():
            for unit in codes:
                answer, code = compute.compute_json(json.dumps({**base, name: {"value": 1, "unit": unit}}))
                assert (code == 0) == (other == kind), (name, unit, answer)


@pytest.mark.parametrize("name", QUANTITIES)
def test_a_quantity_is_an_object_of_value_and_unit(name: str) -> None:
    for wrong in (640, "640 mm", None, [640, "mm"], True):
        assert errors_of(json.dumps({**WITH_READING, name: wrong})) == {name: compute.NOT_A_QUANTITY}
    assert errors_of(json.dumps({**WITH_READING, name: {}})) == {
        f"{name}.value": compute.MISSING,
        f"{name}.unit": compute.MISSING,
    }
    extra = errors_of(json.dumps({**WITH_READING, name: {**WITH_READING[name], "note": 1}}))
    assert list(extra) == [f"{name}.note"]


@pytest.mark.parametrize("name", compute.REQUIRED)
def test_a_needed_name_left_out_is_missed(name: str) -> None:
    assert errors_of(json.dumps(changed(name))) == {name: compute.MISSING}


def test_area_and_diameter_exclude_each_other_and_one_is_needed() -> None:
    both = changed(piston_diameter={"value": 95.2, "unit": "mm"})
    assert errors_of(json.dumps(both)) == {"piston_diameter": compute.BOTH_AREAS}
    assert errors_of(json.dumps(changed("piston_area"))) == {"piston_area": compute.NO_AREA}


@pytest.mark.parametrize("name", ["jacks", "layer"])
@pytest.mark.parametrize("value", ["0", "-1", "1.0", "1.5", "true", "null", '"1"', "[1]", "NaN", "9" * 5000])
def test_jacks_and_layers_are_whole_numbers(name: str, value: str) -> None:
    text = json.dumps(changed(**{"drum": "undivided", name: "HERE"})).replace('"HERE"', value)
    assert errors_of(text) == {name: compute.NOT_WHOLE}


@pytest.mark.parametrize("name", ["jacks", "layer"])
def test_an_absurd_count_is_refused(name: str) -> None:
    errors = errors_of(json.dumps(changed(**{"drum": "undivided", name: 10**300})))
    assert errors == {name: compute.OUT_OF_REACH}


@pytest.mark.parametrize("share", [0, 1, -0.6, 60, 1.0000001])
def test_a_share_lies_between_nought_and_one(share: float) -> None:
    assert errors_of(json.dumps(changed(share=share))) == {"share": compute.SHARE_RANGE}


@pytest.mark.parametrize("share", [True, None, "0.6", [0.6]])
def test_a_share_is_a_plain_number(share: object) -> None:
    assert errors_of(json.dumps(changed(share=share))) == {"share": compute.NOT_A_NUMBER}


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("drum", ["Split", "", None, 1, ["split"]]),
        ("nesting", ["loose", None, True]),
        ("gauge_unit", ["kPa", "kgf/cm²", "Bar", "kN", None, 1, {}]),
    ],
)
def test_a_choice_outside_its_list_is_refused(name: str, values: list[object]) -> None:
    for value in values:
        errors = errors_of(json.dumps(changed(**{name: value})))
        assert list(errors) == [name]
        assert errors[name].startswith("Give one of: ")


def test_a_repeated_name_is_refused_at_any_depth() -> None:
    text = json.dumps(GOOD)
    assert errors_of(text[:-1] + ', "share": 0.6}') == {"share": compute.REPEATED}
    nested = text.replace('{"value": 610,', '{"value": 600, "value": 610,')
    assert errors_of(nested) == {"drum_diameter.value": compute.REPEATED}


def test_an_unknown_name_is_refused_with_the_known_ones() -> None:
    errors = errors_of(json.dumps(changed(SDMBL={"value": 1, "unit": "kN"})))
    assert list(errors) == ["SDMBL"]
    assert "sdmbl, lever_arm" in errors["SDMBL"]


@pytest.mark.parametrize(
    ("text", "start"),
    [
        ("", compute.EMPTY),
        (" \n", compute.EMPTY),
        ("[]", compute.NOT_AN_OBJECT),
        ("5", compute.NOT_AN_OBJECT),
        ("null", compute.NOT_AN_OBJECT),
        ("NaN", compute.NOT_AN_OBJECT),
        ('"text"', compute.NOT_AN_OBJECT),
        ("{", "The input is not valid JSON"),
        ("{'a': 1}", "The input is not valid JSON"),
        ("{} {}", "The input is not valid JSON"),
        ("[" * 200_000, compute.TOO_DEEP),
        ('{"a":' * 200_000, compute.TOO_DEEP),
    ],
)
def test_what_is_not_one_json_object_is_refused_as_a_whole(text: str, start: str) -> None:
    errors = errors_of(text)
    assert list(errors) == [""]
    assert errors[""].startswith(start)


@pytest.mark.parametrize(
    "raw", [b"\xff\xfe", b'{"sdmbl": "\xe9"}', json.dumps(GOOD).encode("utf-16"), b"\xc0\x80", b"\xed\xa0\x80"]
)
def test_bytes_that_are_not_utf_8_are_refused(raw: bytes) -> None:
    assert compute.compute_bytes(raw) == ({"errors": [{"field": "", "message": compute.NOT_UTF8}]}, 2)


def test_a_byte_order_mark_is_let_pass() -> None:
    assert compute.compute_bytes(b"\xef\xbb\xbf" + json.dumps(GOOD).encode()) == (answer_to(GOOD), 0)


def test_all_errors_are_told_at_once() -> None:
    given = changed("gauge_unit", share=60, jacks=0, colour="red", lever_arm={"value": -1, "unit": "kN"})
    assert set(errors_of(json.dumps(given))) == {
        "gauge_unit", "share", "jacks", "colour", "lever_arm.value", "lever_arm.unit",
    }  # fmt: skip


@pytest.mark.parametrize(
    "values",
    [
        {"sdmbl": {"value": 1e308, "unit": "kN"}},
        {"sdmbl": {"value": 1e306, "unit": "N"}, "lever_arm": {"value": 1e-300, "unit": "mm"}},
        {"drum_diameter": {"value": 1e308, "unit": "ft"}, "line_diameter": {"value": 1e308, "unit": "ft"}},
        {"piston_area": {"value": 1e-320, "unit": "mm2"}},
    ],
)
def test_figures_too_far_out_to_reckon_with_are_refused_not_printed(values: dict) -> None:
    assert set(errors_of(json.dumps(changed(**values))).values()) == {compute.OUT_OF_REACH}


def test_a_diameter_whose_circle_is_out_of_reach_is_refused() -> None:
    for value in (1e-200, 1e200):
        given = changed("piston_area", piston_diameter={"value": value, "unit": "mm"})
        assert errors_of(json.dumps(given)) == {"": compute.OUT_OF_REACH}


names = st.sampled_from([*compute.FIELDS, "value", "unit", "x"])
leaves = st.none() | st.booleans() | st.floats() | st.integers() | st.text() | st.sampled_from(["mm", "kN", "split"])


@given(st.recursive(leaves, lambda inner: st.lists(inner) | st.dictionaries(names, inner)))
def test_no_json_whatever_breaks_it(given: object) -> None:
    answer, code = compute.compute_json(json.dumps(given))
    assert code in (0, 2)
    json.dumps(answer, allow_nan=False)


@given(st.text())
def test_no_text_whatever_breaks_it(text: str) -> None:
    assert compute.compute_json(text)[1] == 2


@given(
    sdmbl_kn=st.floats(30, 2500), share=st.floats(0.4, 0.8), drum_mm=st.floats(150, 1500), line_mm=st.floats(8, 130),
    area_cm2=st.floats(3, 400), arm_mm=st.floats(300, 3000), jacks=st.integers(1, 4), layer=st.integers(1, 8),
)  # fmt: skip
def test_the_command_agrees_with_exact_fractions(
    sdmbl_kn: float,
    share: float,
    drum_mm: float,
    line_mm: float,
    area_cm2: float,
    arm_mm: float,
    jacks: int,
    layer: int,
) -> None:
    answer = answer_to(
        {
            "sdmbl": {"value": sdmbl_kn, "unit": "kN"},
            "share": share,
            "drum": "undivided",
            "layer": layer,
            "lever_arm": {"value": arm_mm, "unit": "mm"},
            "piston_area": {"value": area_cm2, "unit": "cm2"},
            "jacks": jacks,
            "drum_diameter": {"value": drum_mm, "unit": "mm"},
            "line_diameter": {"value": line_mm, "unit": "mm"},
            "gauge_unit": "psi",
        }
    )
    radius = (Fraction(drum_mm) + Fraction(line_mm) * (2 * layer - 1)) / 2000
    moment = Fraction(sdmbl_kn) * 1000 * Fraction(share) * radius
    pressure = moment / (jacks * Fraction(area_cm2) / 10**4 * Fraction(arm_mm) / 1000)
    assert answer["jack_pressure"]["bar"] == pytest.approx(float(pressure / 10**5), rel=1e-13)
    assert answer["moment_radius_mm"] == pytest.approx(float(radius * 1000), rel=1e-13)
    assert answer["deck_reaction_kN"] == pytest.approx(float(moment / (Fraction(arm_mm) / 1000) / 1000), rel=1e-13)
