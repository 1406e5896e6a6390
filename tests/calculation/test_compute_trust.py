"""The command's optional part: how far the load can be trusted, and every bad input named."""

import copy
import json
from math import hypot, sqrt
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.calculation import compute, compute_reader, compute_trust, uncertainty
from tests.calculation import cases, schema
from tests.calculation.test_compute import GOOD, answer_to, errors_of


def q(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit}


GAUGE = {"full_scale": q(400, "bar"), "accuracy_class": 1.6, "smallest_division": q(2, "bar")}
KNOWN = {
    "piston_area_relative": 0.005,
    "lever_arm": q(3, "mm"),
    "drum_diameter": q(4, "mm"),
    "line_diameter": q(1, "mm"),
}
POINTS = [
    {"reading": q(0, "bar"), "reference": q(0, "bar"), "U": q(1, "bar"), "k": 2},
    {"reading": q(100, "bar"), "reference": q(99, "bar"), "U": q(1, "bar"), "k": 2},
    {"reading": q(200, "bar"), "reference": q(198, "bar"), "U": q(2, "bar"), "k": 2},
    {"reading": q(100, "bar"), "reference": q(97, "bar"), "U": q(1, "bar"), "direction": "falling"},
]
FULL: dict[str, Any] = {
    **GOOD,
    "gauge_reading": q(170, "bar"),
    "gauge": {**GAUGE, "calibration": POINTS},
    "tolerances": {
        **KNOWN, "lever_angle": q(3, "deg"), "jack_friction_relative": 0.02, "lever_weight_relative": 0.005,
        "pump_stroke": q(5, "bar"),
    },
    "slips": [q(172, "bar"), q(17.4, "MPa")],
    "band": [0.55, 0.65],
    "rule": "guarded",
}  # fmt: skip


def trusted(**more: Any) -> dict[str, Any]:
    return answer_to({**GOOD, "gauge": GAUGE, **more})


def rows(answer: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {row["key"]: row for row in answer["uncertainty"]["budget"]}


def test_without_them_the_answer_stays_as_it_was() -> None:
    assert not {"uncertainty", "conformity"} & set(answer_to(GOOD))
    with_them = trusted()
    assert {name: with_them[name] for name in answer_to(GOOD)} == answer_to(GOOD)


def test_the_computed_case_comes_out_of_the_command() -> None:
    case = cases.load("uncertainty")["lever_and_jack"]
    found = trusted(tolerances=KNOWN)["uncertainty"]
    assert found["at"] == "target_reading"
    assert 100 * found["u_kN"] / found["estimate"]["kN"] == pytest.approx(case["relative_standard_percent"], abs=5e-4)
    assert found["U_points"] / found["k"] * 2 == pytest.approx(case["expanded_k2_points_at_60"], abs=5e-3)
    assert (found["dof"], found["coverage"]) == (None, 0.95)


def test_the_rows_add_up_to_what_is_told() -> None:
    answer = answer_to(FULL)
    found = answer["uncertainty"]
    assert hypot(*(row["contribution_kN"] for row in found["budget"])) == pytest.approx(found["u_kN"], rel=1e-12)
    assert sum(row["share"] for row in found["budget"]) == pytest.approx(1, rel=1e-12)
    assert sum(row["correction_kN"] for row in found["budget"]) == pytest.approx(found["correction_kN"], rel=1e-12)
    assert found["U_kN"] == pytest.approx(found["k"] * found["u_kN"], rel=1e-12)
    assert found["U_points"] == pytest.approx(100 * found["U_kN"] / 637, rel=1e-12)
    assert found["estimate"]["share_of_sdmbl"] == pytest.approx(found["estimate"]["kN"] / 637, rel=1e-12)
    shares = [row["share"] for row in found["budget"]]
    assert shares == sorted(shares, reverse=True)
    for row in found["budget"]:
        product = abs(row["sensitivity"]["value"]) * row["standard_uncertainty"]["value"]
        assert product == pytest.approx(row["contribution_kN"], rel=1e-12)
        assert row["sensitivity"]["unit"] == f"kN/{row['standard_uncertainty']['unit']}"
        if row["divisor"] is not None:
            assert row["spread"]["value"] / row["divisor"] == pytest.approx(
                row["standard_uncertainty"]["value"], rel=1e-12
            )
    again = uncertainty.probability_of_conformity(found["estimate"]["share_of_sdmbl"], found["u_kN"] / 637, 0.55, 0.65)
    assert answer["conformity"]["probability"] == pytest.approx(again, rel=1e-12)


def test_the_gauge_row_is_the_class_limit_in_the_gauges_unit() -> None:
    # EN 837-1: class 1.6 over 400 bar is 6.4 bar anywhere on the scale.
    row = rows(trusted())["gauge_class"]
    assert row["spread"] == q(pytest.approx(6.4), "bar")
    assert row["standard_uncertainty"]["value"] == pytest.approx(6.4 / sqrt(3))
    in_mpa = rows(trusted(gauge_unit="MPa"))["gauge_class"]
    assert in_mpa["spread"] == q(pytest.approx(0.64), "MPa")
    assert in_mpa["contribution_kN"] == pytest.approx(row["contribution_kN"], rel=1e-12)


def test_slips_come_before_the_reading_and_the_reading_before_the_target() -> None:
    slips = [q(172, "bar"), q(176, "bar")]
    assert trusted()["uncertainty"]["reading"]["value"] == pytest.approx(173.23968565815326)
    reading = trusted(gauge_reading=q(150, "bar"))
    assert (reading["uncertainty"]["at"], reading["uncertainty"]["reading"]) == ("gauge_reading", q(150.0, "bar"))
    both = trusted(gauge_reading=q(150, "bar"), slips=slips)
    assert (both["uncertainty"]["at"], both["uncertainty"]["reading"]["value"]) == ("slips", pytest.approx(174.0))
    assert both["load_at_reading"] == reading["load_at_reading"]


def test_given_tolerances_are_the_whole_statement_and_none_are_all_assumed() -> None:
    some = trusted(tolerances={"lever_arm": q(3, "mm")})["uncertainty"]
    assert [row["key"] for row in some["budget"]] == ["gauge_class", "smallest_division", "lever_arm"]
    assert not any(row["assumed"] for row in some["budget"])
    assert some["not_counted"] == [
        "piston_area", "drum_diameter", "line_diameter", "lever_angle", "jack_friction", "lever_weight", "pump_stroke",
        "slips",
    ]  # fmt: skip
    none = trusted()["uncertainty"]
    assert none["not_counted"] == []
    assert {row["key"] for row in none["budget"] if not row["assumed"]} == {"gauge_class", "smallest_division"}


def test_two_equal_slips_are_not_certain_and_no_student_on_one_degree() -> None:
    found = trusted(tolerances=KNOWN, slips=[q(173, "bar"), q(173, "bar")])["uncertainty"]
    row = {row["key"]: row for row in found["budget"]}["slips"]
    assert row["assumed"]
    assert row["degrees_of_freedom"] == 9
    assert row["contribution_kN"] > 0
    assert found["k"] < 2.3


def test_a_certificate_corrects_moves_the_target_and_tells_of_hysteresis() -> None:
    certified = {"full_scale": q(250, "bar"), "calibration": POINTS}
    found = trusted(gauge=certified, gauge_reading=q(150, "bar"))["uncertainty"]
    told = found["gauge_correction"]
    assert told["reference"]["value"] == pytest.approx(148.5)
    assert told["error"]["value"] == pytest.approx(1.5)
    assert told["target_on_gauge"]["value"] == pytest.approx(173.23968565815326 / 0.99)
    assert told["hysteresis_noticed"] is True
    assert told["sentence"] == "The gauge reads 1.5 bar high here: 150.0 bar on the dial is 148.5 bar."
    row = {row["key"]: row for row in found["budget"]}["gauge_calibration"]
    assert row["standard_uncertainty"]["value"] == pytest.approx(0.75)
    without = trusted(gauge={**GAUGE, "full_scale": q(250, "bar")}, gauge_reading=q(148.5, "bar"))["uncertainty"]
    assert found["estimate"]["kN"] == pytest.approx(without["estimate"]["kN"], rel=1e-12)


@pytest.mark.parametrize(
    ("band", "rule", "verdict"),
    [
        ([0.55, 0.65], "simple", "in band"),
        ([0.55, 0.65], "guarded", "in band"),
        ([0.58, 0.62], "simple", "in band"),
        ([0.58, 0.62], "guarded", "not proven"),
        ([0.65, 0.75], "simple", "low"),
        ([0.65, 0.75], "guarded", "low"),
        ([0.45, 0.55], "simple", "high"),
        ([0.45, 0.55], "guarded", "high"),
    ],
)
def test_the_verdict_in_our_words(band: list[float], rule: str, verdict: str) -> None:
    found = trusted(tolerances=KNOWN, band=band, rule=rule)["conformity"]
    assert (found["verdict"], found["rule"], found["band"]) == (verdict, rule, band)
    total = found["probability"] + found["probability_low"] + found["probability_high"]
    assert total == pytest.approx(1, abs=1e-12)
    assert (found["advice"] is not None) == (band == [0.58, 0.62])


def test_what_is_left_out_takes_its_documented_value() -> None:
    assert trusted(band=[0.55, 0.65], rule="simple") == trusted()
    bare = copy.deepcopy(FULL)
    for point in bare["gauge"]["calibration"]:
        point.pop("k", None)
    assert answer_to(bare) == answer_to(FULL)


@pytest.mark.parametrize("name", ["tolerances", "slips", "band", "rule"])
def test_nothing_is_said_of_trust_without_the_gauge(name: str) -> None:
    assert errors_of(json.dumps({**GOOD, name: FULL[name]})) == {"gauge": compute_trust.GAUGE_NEEDED}


def wrong(path: str, value: Any) -> str:
    """The full input with one place changed; `value` None takes the place out."""
    text = copy.deepcopy(FULL)
    place: Any = text
    *way, last = [int(part) if part.isdigit() else part for part in path.split(".")]
    for part in way:
        place = place[part]
    if value is None:
        del place[last]
    else:
        place[last] = value
    return json.dumps(text)


@pytest.mark.parametrize(
    ("path", "value", "field", "message"),
    [
        ("gauge", [], "gauge", "Give an object with these names"),
        ("gauge.full_scale", None, "gauge.full_scale", compute.MISSING),
        ("gauge.full_scale", 400, "gauge.full_scale", compute.NOT_A_QUANTITY),
        ("gauge.full_scale", q(400, "kN"), "gauge.full_scale.unit", "'kN' is not a unit of pressure"),
        ("gauge.accuracy_class", 1.5, "gauge.accuracy_class", "Give one of: 0.1, 0.25, 0.6, 1, 1.6, 2.5, 4"),
        ("gauge.accuracy_class", True, "gauge.accuracy_class", compute.NOT_A_NUMBER),
        ("gauge.smallest_division", q(0, "bar"), "gauge.smallest_division.value", compute.NOT_POSITIVE),
        ("gauge.maker", "x", "gauge.maker", "This name is not known here"),
        ("gauge.calibration", POINTS[:1], "gauge.calibration", "Give a list"),
        ("gauge.calibration", {"reading": 1}, "gauge.calibration", "Give a list"),
        ("gauge.calibration", [POINTS[0], POINTS[3]], "gauge.calibration", compute_trust.NOT_A_CERTIFICATE),
        ("gauge.calibration.2.reference", q(98, "bar"), "gauge.calibration", compute_trust.NOT_A_CERTIFICATE),
        ("gauge.calibration.1.reading", None, "gauge.calibration.1.reading", compute.MISSING),
        ("gauge.calibration.1.reading", q(-1, "bar"), "gauge.calibration.1.reading.value", compute_reader.NEGATIVE),
        ("gauge.calibration.1.U", q(0, "bar"), "gauge.calibration.1.U.value", compute.NOT_POSITIVE),
        ("gauge.calibration.1.k", 0.5, "gauge.calibration.1.k", compute_trust.FACTOR_RANGE),
        ("gauge.calibration.1.k", "2", "gauge.calibration.1.k", compute.NOT_A_NUMBER),
        ("gauge.calibration.1.direction", "up", "gauge.calibration.1.direction", "Give one of: rising, falling"),
        ("gauge.calibration.1", 5, "gauge.calibration.1", "Give an object with these names"),
        ("tolerances", 0.01, "tolerances", "Give an object with these names"),
        ("tolerances.lever_arm", q(-3, "mm"), "tolerances.lever_arm.value", compute.NOT_POSITIVE),
        ("tolerances.lever_arm", q(3, "bar"), "tolerances.lever_arm.unit", "'bar' is not a unit of length"),
        ("tolerances.lever_angle", q(60, "deg"), "tolerances.lever_angle.value", compute_trust.ANGLE_RANGE),
        ("tolerances.piston_area_relative", 0, "tolerances.piston_area_relative", compute_reader.FRACTION_RANGE),
        ("tolerances.jack_friction_relative", 2, "tolerances.jack_friction_relative", compute_reader.FRACTION_RANGE),
        ("tolerances.jack_friction_relative", True, "tolerances.jack_friction_relative", compute.NOT_A_NUMBER),
        ("tolerances.mood", 1, "tolerances.mood", "This name is not known here"),
        ("slips", [], "slips", "Give a list"),
        ("slips", q(173, "bar"), "slips", "Give a list"),
        ("slips.1", 173, "slips.1", compute.NOT_A_QUANTITY),
        ("slips.1", q(0, "bar"), "slips.1.value", compute.NOT_POSITIVE),
        ("band", [0.55], "band", compute_trust.BAND_RANGE),
        ("band", 0.55, "band", compute_trust.BAND_RANGE),
        ("band", [0.65, 0.55], "band", compute_trust.BAND_RANGE),
        ("band", [0.6, 0.6], "band", compute_trust.BAND_RANGE),
        ("band", [55, 65], "band.0", compute_trust.BAND_RANGE),
        ("band", [True, 0.65], "band.0", compute.NOT_A_NUMBER),
        ("rule", "Guarded", "rule", "Give one of: simple, guarded"),
        ("rule", ["simple"], "rule", "Give one of: simple, guarded"),
    ],
)
def test_a_bad_figure_is_named_at_its_place(path: str, value: Any, field: str, message: str) -> None:
    errors = errors_of(wrong(path, value))
    assert errors[field].startswith(message)


def test_not_a_number_and_repeated_names_are_refused_at_any_depth() -> None:
    text = json.dumps(FULL)
    for number in ("NaN", "Infinity", "-Infinity", "1e999"):
        errors = errors_of(text.replace('"jack_friction_relative": 0.02', f'"jack_friction_relative": {number}'))
        assert errors == {"tolerances.jack_friction_relative": compute.OUT_OF_REACH}
    twice = text.replace('"accuracy_class": 1.6', '"accuracy_class": 1.6, "accuracy_class": 1.0')
    assert errors_of(twice) == {"gauge.accuracy_class": compute.REPEATED}


def test_a_gauge_needs_its_class_or_a_calibration_with_its_uncertainty() -> None:
    bare = {"full_scale": q(250, "bar")}
    without_u = [{name: point[name] for name in ("reading", "reference")} for point in POINTS[:3]]
    for gauge in (bare, {**bare, "calibration": without_u}):
        assert errors_of(json.dumps({**GOOD, "gauge": gauge})) == {"gauge.accuracy_class": compute_trust.CLASS_NEEDED}
    classed = trusted(gauge={**bare, "accuracy_class": 1.0, "calibration": without_u})
    assert "gauge_class" in rows(classed)
    assert classed["uncertainty"]["gauge_correction"]["error"]["value"] > 0


def test_nothing_is_told_beyond_the_certificate_or_the_scale() -> None:
    certified = {"full_scale": q(250, "bar"), "calibration": POINTS}
    for beyond in ({"gauge_reading": q(201, "bar")}, {"share": 0.7}):
        errors = errors_of(json.dumps({**GOOD, "gauge": certified, **beyond}))
        assert list(errors) == ["gauge.calibration"]
        assert "covers readings of 0.0 bar to 200.0 bar" in errors["gauge.calibration"]
    errors = errors_of(json.dumps({**GOOD, "gauge": GAUGE, "slips": [q(500, "bar")]}))
    assert errors == {"gauge.full_scale": "A reading of 500.0 bar does not fit on this gauge, which ends at 400.0 bar."}


@pytest.mark.parametrize(
    "more",
    [
        {"gauge": {**GAUGE, "full_scale": q(1e305, "bar")}},
        {"gauge": {**GAUGE, "smallest_division": q(1e303, "bar")}},
        {"tolerances": {"drum_diameter": q(1e300, "m")}},
        {"gauge": {"full_scale": q(250, "bar"), "calibration": [*POINTS[:2], {**POINTS[2], "U": q(1e300, "bar")}]}},
    ],
)
def test_figures_too_far_out_to_reckon_with_are_refused_not_printed(more: dict[str, Any]) -> None:
    answer, code = compute.compute_json(json.dumps({**GOOD, "gauge": GAUGE, **more}))
    assert code == 2
    assert [error["message"] for error in answer["errors"]] == [compute.OUT_OF_REACH]


nested = (*compute_trust.GAUGE_FIELDS, *compute_trust.POINT_FIELDS, *compute_trust.TOLERANCES)
names = st.sampled_from([*compute.FIELDS, *nested, "value", "unit"])
leaves = st.none() | st.booleans() | st.floats() | st.integers() | st.sampled_from(["mm", "bar", "simple", "falling"])
anything = st.recursive(leaves, lambda inner: st.lists(inner) | st.dictionaries(names, inner), max_leaves=20)


@given(st.sampled_from(compute_trust.TRUST_FIELDS), anything)
def test_no_json_whatever_breaks_it(name: str, value: object) -> None:
    answer, code = compute.compute_json(json.dumps({**FULL, name: value}))
    assert code in (0, 2)
    json.dumps(answer, allow_nan=False)
    assert schema.complaints(answer, {"$ref": f"#/$defs/{'refusal' if code else 'answer'}"}) == []


@given(
    scale=st.floats(200, 1000), accuracy_class=st.sampled_from([0.1, 0.25, 0.6, 1, 1.6, 2.5, 4]),
    division=st.floats(0.1, 20), reading=st.floats(1, 199), arm=st.floats(0.1, 50), friction=st.floats(0.001, 0.2),
    low=st.floats(0.05, 0.6), width=st.floats(0.001, 0.3), rule=st.sampled_from(["simple", "guarded"]),
)  # fmt: skip
def test_every_answer_is_as_the_schema_says(
    scale: float, accuracy_class: float, division: float, reading: float, arm: float, friction: float,
    low: float, width: float, rule: str,
) -> None:  # fmt: skip
    asked = {
        **GOOD,
        "gauge": {
            "full_scale": q(scale, "bar"),
            "accuracy_class": accuracy_class,
            "smallest_division": q(division, "bar"),
        },
        "gauge_reading": q(reading, "bar"),
        "tolerances": {"lever_arm": q(arm, "mm"), "jack_friction_relative": friction},
        "band": [low, low + width],
        "rule": rule,
    }
    assert schema.complaints(asked, schema.SCHEMA) == []
    assert schema.complaints(answer_to(asked), {"$ref": "#/$defs/answer"}) == []
