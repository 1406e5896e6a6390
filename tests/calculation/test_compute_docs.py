"""docs/compute.md and docs/compute.schema.json say what the command does."""

import json
import re
from typing import Any

import pytest

from fleet.calculation import budget, compute, compute_trust, conformity, gauge, units
from fleet.calculation.compute import compute_json
from tests.calculation import schema
from tests.calculation.schema import DOCS, SCHEMA, complaints
from tests.calculation.test_compute import GOOD
from tests.calculation.test_compute_trust import FULL, wrong

BLOCKS = [
    json.loads(block) for block in re.findall(r"```json\n(.*?)```", (DOCS / "compute.md").read_text("utf-8"), re.S)
]
TARGET, TARGET_ANSWER, COARSE, COARSE_ANSWER, CERTIFIED, CERTIFIED_PARTS, BAD, BAD_ANSWER = BLOCKS
DEFS = SCHEMA["$defs"]


def close(got: Any, shown: Any) -> bool:
    """The same, the documents' figures being rounded to six digits."""
    if isinstance(shown, dict):
        return list(got) == list(shown) and all(close(got[name], shown[name]) for name in shown)
    if isinstance(shown, list):
        return len(got) == len(shown) and all(close(one, other) for one, other in zip(got, shown, strict=True))
    if isinstance(shown, float):
        return bool(got == pytest.approx(shown, rel=6e-6))
    return bool(got == shown)


@pytest.mark.parametrize(("asked", "answer"), [(TARGET, TARGET_ANSWER), (COARSE, COARSE_ANSWER)])
def test_the_examples_give_the_answers_beside_them(asked: dict, answer: dict) -> None:
    got, code = compute_json(json.dumps(asked))
    assert code == 0
    assert close(got, answer)


def test_the_example_with_a_certificate_gives_the_parts_beside_it() -> None:
    got, code = compute_json(json.dumps(CERTIFIED))
    assert code == 0
    assert close(got["uncertainty"]["gauge_correction"], CERTIFIED_PARTS["gauge_correction"])
    assert close(got["conformity"], CERTIFIED_PARTS["conformity"])


def test_the_bad_example_gives_the_errors_beside_it() -> None:
    assert compute_json(json.dumps(BAD)) == (BAD_ANSWER, 2)
    assert complaints(BAD_ANSWER, {"$ref": "#/$defs/refusal"}) == []


@pytest.mark.parametrize("asked", [TARGET, COARSE, CERTIFIED, GOOD, FULL])
def test_the_schema_holds_for_good_inputs_and_their_answers(asked: dict) -> None:
    assert complaints(asked, SCHEMA) == []
    answer, code = compute_json(json.dumps(asked))
    assert code == 0
    assert complaints(answer, {"$ref": "#/$defs/answer"}) == []


def test_the_lists_in_the_schema_are_those_of_the_code() -> None:
    assert set(DEFS["input"]["properties"]) == set(compute.FIELDS)
    assert set(DEFS["input"]["required"]) == set(compute.REQUIRED)
    assert tuple(DEFS["gauge"]["properties"]) == compute_trust.GAUGE_FIELDS
    assert tuple(DEFS["point"]["properties"]) == compute_trust.POINT_FIELDS
    assert tuple(DEFS["tolerances"]["properties"]) == tuple(compute_trust.TOLERANCES)
    assert tuple(DEFS["gauge"]["properties"]["accuracy_class"]["enum"]) == gauge.ACCURACY_CLASSES
    assert tuple(DEFS["conformity"]["properties"]["verdict"]["enum"]) == tuple(conformity.VERDICTS.values())
    assert tuple(DEFS["conformity"]["properties"]["rule"]["enum"]) == conformity.RULES
    of_other_bases = {budget.JACK_FORCE, budget.MAKERS_TABLE_ROW}
    assert set(DEFS["row"]["properties"]["key"]["enum"]) == set(budget.ROW_NAMES) - of_other_bases
    for kind in ("length", "area", "force", "pressure", "angle"):
        assert tuple(DEFS[kind]["properties"]["unit"]["enum"]) == units.KINDS[kind]


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("sdmbl", None), ("gauge_unit", "kPa"), ("share", 1), ("layer", 3), ("drum", "halved"),
        ("piston_diameter", {"value": 95, "unit": "mm"}), ("piston_area", None), ("colour", "red"),
        ("sdmbl.value", 0), ("sdmbl.value", True), ("sdmbl.unit", "bar"), ("sdmbl.note", 1), ("jacks", 0),
        ("jacks", "1"), ("gauge", None), ("gauge.full_scale", None), ("gauge.accuracy_class", 1.5),
        ("gauge.maker", "x"), ("gauge.calibration.1.reading", None), ("gauge.calibration.1.k", 0.5),
        ("gauge.calibration.1.direction", "up"),
        ("gauge.calibration", []), ("tolerances.mood", 1), ("tolerances.piston_area_relative", 0),
        ("tolerances.lever_angle", {"value": 60, "unit": "deg"}), ("slips", []), ("slips.1", 173), ("band", [0.55]),
        ("band", [55, 65]), ("rule", "lenient"),
    ],
)  # fmt: skip
def test_what_the_schema_refuses_the_command_refuses_too(path: str, value: Any) -> None:
    text = wrong(path, value)
    assert complaints(json.loads(text), SCHEMA) != []
    assert compute_json(text)[1] == 2


def test_an_undivided_drum_needs_its_layer_in_the_schema_too() -> None:
    undivided = {**GOOD, "drum": "undivided"}
    assert complaints({**undivided, "layer": 3}, SCHEMA) == []
    del undivided["layer"]
    assert complaints(undivided, SCHEMA) != []


def test_the_checker_of_schemas_knows_every_keyword_it_meets() -> None:
    with pytest.raises(KeyError):
        schema.complaints(1, {"multipleOf": 2})
