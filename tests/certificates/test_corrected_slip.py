"""The slip that a reader of the certificate works backwards, where the gauge's own certificate corrects it."""

import pytest
from django.template.loader import render_to_string

from fleet.certificates.paper import slip_check
from fleet.records.assess import assess
from tests.cast import Cast
from tests.records.scenario import filled_test
from tests.records.test_gauge_correction import calibrated_test

pytestmark = pytest.mark.django_db


def number(text: str) -> float:
    return float(text.split()[0])


def test_the_load_comes_out_of_the_corrected_reading(cast: Cast) -> None:
    content = assess(calibrated_test(cast)).content
    assert content is not None
    check = slip_check(content)
    assert check is not None
    # 172 bar on the dial is 148.9 + 22 × 49.8 ÷ 50 = 170.812 bar, by hand.
    assert (check["gauge"], check["corrected"]) == ("172 bar", "170.812 bar")
    by_hand = number(check["target_load"]) * number(check["corrected"]) / number(check["target_reading"])
    assert f"{by_hand:.1f} kN" == check["load"]
    page = render_to_string("certificates/_sheet.html", {"record": content, "slip_check": check, "working": []})
    assert "corrected reading (172 bar on the dial)" in page


def test_without_a_certificate_of_points_it_is_the_reading_itself(cast: Cast) -> None:
    content = assess(filled_test(cast)).content
    assert content is not None
    check = slip_check(content)
    assert check is not None
    assert check["corrected"] == ""
    by_hand = number(check["target_load"]) * number(check["gauge"]) / number(check["target_reading"])
    assert f"{by_hand:.1f} kN" == check["load"]
    assert all("corrected_si" not in row for row in content["readings"])
