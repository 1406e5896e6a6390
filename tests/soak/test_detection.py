"""The long count of what the drift analysis finds: on a small sample, and what makes it not hold."""

from dataclasses import replace

import pytest

from fleet.simulation.fleet_faults import Kind
from fleet.simulation.judging_forecasts import Coverage
from tests.simulation.test_judging_aims import judgement, score
from tests.soak import detection


def test_a_sample_is_reported_with_its_aims() -> None:
    report = detection.run(30_000, 2, vessels=4, years=4)
    told = "\n".join(report.lines)
    assert "2 such fleets together, seeds 30000 to 30001" in told
    assert "at most 5 false flags per 1,000 good tests" in told


def test_what_is_promised_can_be_broken() -> None:
    sound = judgement()
    assert detection.holds(sound)
    narrow = sound.coverage | {"mark": Coverage(tests=100, inside=0.90)}
    assert not detection.holds(replace(sound, coverage=narrow))
    behind = sound.scores | {"analysis": score(1.0, wet_brake=0.4)}
    assert not detection.holds(replace(sound, scores=behind))


@pytest.mark.parametrize("kind", [Kind.GAUGE_DRIFTS, Kind.UNIT_TWO_PERCENT])
def test_a_kind_that_hurts_nobody_is_not_promised(kind: Kind) -> None:
    behind = judgement().scores | {"analysis": score(1.0, **{kind.value: 0.4})}
    assert detection.holds(replace(judgement(), scores=behind))
