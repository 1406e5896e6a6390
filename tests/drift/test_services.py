"""One point for each test that counts, taken from its approved bytes."""

import json
from math import sqrt

import pytest
from django.core.management import call_command

from fleet.drift.models import HistoryPoint
from fleet.drift.services import history_points_renew
from fleet.drift.taken_out import taken_out
from fleet.records.canonical import read_content
from fleet.review.services import drum_test_withdraw, submission_approve
from tests.cast import Cast
from tests.records.scenario import submitted

pytestmark = pytest.mark.django_db


def approved(cast: Cast) -> HistoryPoint:
    submission = submitted(cast)
    answers = {row.code: "seen" for row in submission.findings.all() if row.level != "note"}
    submission_approve(submission=submission, finding_answers=answers, actor=cast.superintendent, paper_at_once=False)
    return HistoryPoint.objects.get(test=submission.test_id)


def test_approval_keeps_a_point_and_withdrawal_forgets_it(cast: Cast) -> None:
    point = approved(cast)
    content = read_content(point.submission)
    assert point.setting_kind == "marker_distance"
    assert point.setting_si == pytest.approx(0.049)
    assert point.lining_m == pytest.approx(0.0107)  # the least of 10.8, 10.7 and 10.9 mm
    assert point.as_left_share == content["results"]["as_left_share"]
    assert (point.as_found_phase, point.set_in_band) == ("as_found_untouched", True)
    drum_test_withdraw(test=point.test, reason="the wrong drum", actor=cast.superintendent)
    assert not HistoryPoint.objects.exists()
    assert history_points_renew() == 0


def test_the_points_can_be_made_again_from_the_submissions(cast: Cast, capsys: pytest.CaptureFixture[str]) -> None:
    fields = [field.attname for field in HistoryPoint._meta.concrete_fields if field.name != "id"]
    approved(cast)
    before = list(HistoryPoint.objects.values_list(*fields))
    HistoryPoint.objects.update(setting_si=1.0)
    call_command("history_points")
    assert "1 points made" in capsys.readouterr().out
    assert list(HistoryPoint.objects.values_list(*fields)) == before


def test_the_gauges_share_comes_from_the_budget_and_else_from_its_class(cast: Cast) -> None:
    content = read_content(submitted(cast))
    by_budget = taken_out(content, base_load_n=637_000, target_share=0.6)["gauge_share"]
    del content["trust"]
    by_class = taken_out(content, base_load_n=637_000, target_share=0.6)["gauge_share"]
    # EN 837-1, class 1 of 250 bar: 2.5 bar either way, rectangular by JCGM 100, 4.3.7, at the target reading.
    by_hand = 0.6 * 2.5e5 / content["target"]["reading_si"] / sqrt(3)
    assert by_class == pytest.approx(by_hand, rel=1e-9)
    assert by_budget == pytest.approx(by_hand, rel=0.05)


@pytest.mark.parametrize(("low", "high", "told"), [(9e6, 11e6, True), (2e6, 50e6, False)])
def test_a_slope_counts_only_where_the_test_tells_it(low: float, high: float, told: bool) -> None:
    analysis = {"slope_n_per_si": 1e7, "slope_low_n_per_si": low, "slope_high_n_per_si": high}
    found = taken_out({"setting_analysis": analysis}, base_load_n=5e5, target_share=0.6)
    assert found["slope_share_per_si"] == (pytest.approx(20.0) if told else None)


def test_a_record_without_any_of_it_is_read_all_the_same() -> None:
    found = taken_out(json.loads("{}"), base_load_n=5e5, target_share=0.6)
    assert set(found.values()) == {None, ""}
