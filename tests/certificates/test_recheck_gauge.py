"""Records whose readings were corrected by the gauge's certificate are worked out again with it."""

import json
from typing import Any

import pytest

from fleet.calculation import brake
from fleet.certificates.paper import slip_check
from fleet.certificates.recheck_figures import Rebuilt, figure_lines
from fleet.certificates.recheck_trust import trust_lines
from fleet.records.assess import assess
from tests.cast import Cast
from tests.records.test_gauge_correction import ROWS, calibrated_test, points

pytestmark = pytest.mark.django_db


def content_of(cast: Cast, **columns: Any) -> dict[str, Any]:
    content = assess(calibrated_test(cast, **columns)).content
    assert content is not None
    found: dict[str, Any] = json.loads(json.dumps(content))
    return found


def wrong(content: dict[str, Any]) -> list[str]:
    return [f"{line.what}: {line.said}" for line in (*figure_lines(content), *trust_lines(content)) if not line.agrees]


def test_a_certificate_that_counts_is_counted_again(cast: Cast) -> None:
    content = content_of(cast)
    assert isinstance(Rebuilt(content).target, brake.TargetOnGauge)
    assert wrong(content) == []
    # Load × dial ÷ target would not give the load that is printed beside it; the corrected reading does.
    check = slip_check(content)
    assert check is not None
    assert check["corrected"] != check["gauge"]


def test_one_that_does_not_reach_is_left_out_again(cast: Cast) -> None:
    content = content_of(cast, points=points(ROWS[:2]))
    assert content["target"]["uncovered"]
    assert Rebuilt(content).certificate is None
    assert wrong(content) == []


def test_an_altered_point_of_the_certificate_is_noticed_in_the_figures(cast: Cast) -> None:
    content = content_of(cast)
    point = content["kit"]["gauge"]["calibration"]["points"][2]["reference"]
    point |= {"text": "140", "si": 14_000_000.0, "shown": "140 bar"}
    assert any(line.startswith("target reading") for line in wrong(content))
