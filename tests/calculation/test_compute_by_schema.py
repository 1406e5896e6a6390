"""The command against its own published schema: whatever is sent, it answers in the schema's words.

`FLEET_DRAWN` sets how many inputs are drawn, as the long run does; the suite draws the same few each time.
"""

import json
import os
from collections import Counter
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.calculation.compute import compute_bytes, compute_json
from tests.calculation.drawn import near, spoiled, values_of
from tests.calculation.schema import SCHEMA, complaints
from tests.calculation.test_compute import GOOD, WITH_READING
from tests.calculation.test_compute_trust import FULL

DRAWN = int(os.environ.get("FLEET_DRAWN", "300"))
EXAMPLES = [GOOD, WITH_READING, FULL]
INPUT = values_of({"$ref": "#/$defs/input"})
many = settings(max_examples=DRAWN, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
counted: Counter[str] = Counter()


def check(given: Any) -> None:
    answer, code = compute_json(json.dumps(given))
    counted["answered" if code == 0 else "refused"] += 1
    json.dumps(answer, allow_nan=False)
    if code == 0:
        assert complaints(given, SCHEMA) == []
        assert complaints(answer, {"$ref": "#/$defs/answer"}) == []
    else:
        assert code == 2
        assert complaints(answer, {"$ref": "#/$defs/refusal"}) == []


@many
@given(INPUT)
def test_what_the_schema_lets_through_is_answered_or_refused_in_its_words(asked: Any) -> None:
    check(asked)


@many
@given(st.sampled_from(EXAMPLES).flatmap(near))
def test_what_a_real_brake_could_have_is_answered_as_the_schema_says(asked: Any) -> None:
    check(asked)


@many
@given(spoiled(INPUT) | spoiled(st.sampled_from(EXAMPLES).flatmap(near)))
def test_what_was_spoiled_is_refused_or_answered_never_more(asked: Any) -> None:
    check(asked)


@many
@given(spoiled(INPUT).map(lambda one: json.dumps(one).encode()[:-3] + b"\xff\x00"))
def test_bytes_that_are_no_json_are_refused(raw: bytes) -> None:
    answer, code = compute_bytes(raw)
    counted["refused"] += 1
    assert code == 2
    assert complaints(answer, {"$ref": "#/$defs/refusal"}) == []


def test_both_outcomes_came_up(capsys: pytest.CaptureFixture[str]) -> None:
    """Runs last in this file: a run in which nothing was answered would show nothing."""
    assert counted["answered"] > 0
    assert counted["refused"] > 0
    if "FLEET_DRAWN" in os.environ:
        with capsys.disabled():
            print(f"\n{sum(counted.values())} inputs of compute drawn from its schema: {dict(counted)}")
