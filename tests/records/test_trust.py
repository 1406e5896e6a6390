import json
from datetime import date, timedelta
from math import degrees, sqrt
from typing import Any

import pytest

from fleet.calculation import units
from fleet.calculation.compute import compute_json
from fleet.core.typed import Typed
from fleet.records.assess import assess
from fleet.records.canonical import read_content
from fleet.records.models import DrumTest, Round, Submission
from fleet.records.trust_content import trust_content
from tests.cast import Cast
from tests.factories import DrumParticularsFactory, RoundFactory
from tests.records.scenario import GOOD_READINGS, confirm_and_submit, filled_test, on, round_for, submitted

pytestmark = pytest.mark.django_db

# The scenario's drum, jack and gauge as the public command takes them.
SCENARIO: dict[str, Any] = {
    "sdmbl": {"value": 637, "unit": "kN"},
    "lever_arm": {"value": 1000, "unit": "mm"},
    "piston_area": {"value": 71.26, "unit": "cm2"},
    "drum_diameter": {"value": 610, "unit": "mm"},
    "line_diameter": {"value": 36, "unit": "mm"},
    "gauge_unit": "bar",
    "gauge": {
        "full_scale": {"value": 250, "unit": "bar"},
        "accuracy_class": 1,
        "smallest_division": {"value": 1, "unit": "bar"},
    },
    "slips": [{"value": 172, "unit": "bar"}, {"value": 174, "unit": "bar"}],
}


def compute(**more: Any) -> dict[str, Any]:
    answer, code = compute_json(json.dumps({**SCENARIO, **more}))
    assert code == 0, answer
    return answer


def with_slips(*slips: str) -> tuple[tuple[str, str, str, bool, bool], ...]:
    return (*GOOD_READINGS[:2], *(("verification", "49", slip, True, True) for slip in slips))


def content_of(test: DrumTest) -> dict[str, Any]:
    content = assess(test).content
    assert content is not None
    return content


def test_the_record_and_the_command_say_the_same_to_the_last_digit(cast: Cast) -> None:
    trust = content_of(filled_test(cast))["trust"]
    answer = compute()
    uncertainty, conformity = answer["uncertainty"], answer["conformity"]
    assert trust["load_shown"] == f"{units.shown(uncertainty['estimate']['kN'], 1)} kN"
    assert trust["share_shown"] == units.display(uncertainty["estimate"]["share_of_sdmbl"], "percent")
    assert trust["U_shown"] == f"{units.shown(uncertainty['U_kN'], 1)} kN"
    assert trust["U_points_shown"] == units.shown(uncertainty["U_points"], 1)
    assert trust["k_shown"] == units.shown(uncertainty["k"], 2)
    assert trust["dof_shown"] == units.shown(int(uncertainty["dof"]), 0)
    assert trust["probability"] == pytest.approx(conformity["probability"], rel=1e-12)
    assert (trust["verdict_label"], trust["rule"]) == (conformity["verdict"], "simple")
    # The command names the base load "ship design MBL", as this vessel's is.
    assert trust["sentence"] == conformity["sentence"]
    assert trust["advice"] == (conformity["advice"] or "")
    assert [(row["key"], row["assumed"]) for row in trust["rows"]] == [
        (row["key"], row["assumed"]) for row in uncertainty["budget"]
    ]
    assert [row["share_shown"] for row in trust["rows"]] == [
        units.display(row["share"], "percent") for row in uncertainty["budget"]
    ]


def test_the_combined_figure_can_be_redone_from_the_printed_rows(cast: Cast) -> None:
    trust = content_of(filled_test(cast))["trust"]
    # JCGM 100:2008, 5.1.2: independent contributions add as squares; the printed ones carry two decimals.
    combined = sqrt(sum(float(row["contribution_shown"]) ** 2 for row in trust["rows"]))
    assert combined * float(trust["k_shown"]) == pytest.approx(float(trust["U_points_shown"]), abs=0.06)
    assert sum(row["share"] for row in trust["rows"]) == pytest.approx(1.0)
    shares = [row["share"] for row in trust["rows"]]
    assert shares == sorted(shares, reverse=True)
    low, high = trust["whisker"]
    assert (low + high) / 2 == pytest.approx(trust["share"])
    assert high - low == pytest.approx(2 * trust["U_n"] / 637e3)


def test_the_best_estimate_lies_below_what_is_read_by_what_jack_and_lever_take(cast: Cast) -> None:
    content = content_of(filled_test(cast))
    trust = content["trust"]
    assert trust["as_read_share_shown"] == content["results"]["as_left_share_shown"]
    # 1 % of mean seal friction, 0.35 % of mean lever weight and the mean cosine of 3° off square at most:
    # the halves of the stated bounds and angle²/6, by hand.
    kept = (1 - 0.01) * (1 - 0.0035) * (1 - (3 * 3.14159265 / 180) ** 2 / 6)
    assert trust["share"] == pytest.approx(content["results"]["as_left_share"] * kept, rel=1e-5)
    assert all(row["assumed_by"] for row in trust["rows"] if row["assumed"])


def test_two_equal_slips_do_not_make_the_spread_vanish(cast: Cast) -> None:
    alike = content_of(filled_test(cast, readings=with_slips("173", "173")))["trust"]
    slips = next(row for row in alike["rows"] if row["key"] == "slips")
    # Pooled with the assumption of 2 % worth 8 degrees: sqrt(8 × 3.46² / 9) = 3.26 bar, by hand.
    assert slips["half_width_shown"] == "3.3 bar"
    assert float(alike["k_shown"]) < 2.2  # never Student's 12.7


def test_a_single_slip_is_taken_with_the_assumed_spread(cast: Cast) -> None:
    trust = content_of(filled_test(cast, readings=with_slips("173")))["trust"]
    assert next(row for row in trust["rows"] if row["key"] == "slips")["half_width_shown"] == "3.5 bar"


def test_nothing_is_said_before_the_mark_is_verified(cast: Cast) -> None:
    assessment = assess(filled_test(cast, readings=GOOD_READINGS[:2]))
    assert assessment.trust is None
    assert assessment.trust_unknown == ""
    assert assessment.content is not None
    assert "trust" not in assessment.content


def test_an_angle_measured_in_this_test_takes_the_place_of_the_assumed_one(cast: Cast) -> None:
    assessment = assess(filled_test(cast, draft={"lever_angle": "2", "lever_angle_unit": "deg"}))
    assert assessment.trust is not None
    row = next(row for row in assessment.trust.budget.combined.rows if row.key == "lever_angle")
    assert row.half_width_si is not None
    assert (round(degrees(float(row.half_width_si)), 6), row.assumed) == (2.0, False)
    level = assess(filled_test(cast, draft={"lever_angle": "0", "lever_angle_unit": "deg"}))
    assert level.trust is not None
    row = next(row for row in level.trust.budget.combined.rows if row.key == "lever_angle")
    assert row.half_width_si is not None
    assert round(degrees(float(row.half_width_si)), 6) == 1.0  # nobody reads an angle on deck finer than that


def test_the_weight_of_the_lever_counts_as_it_is_recorded(cast: Cast) -> None:
    round_ = round_for(cast)
    lever = round_.kit.lever
    lever.weight = Typed.read("150", "kgf")
    lever.save()
    assessment = assess(filled_test(cast, round=round_))
    assert assessment.trust is not None
    row = next(row for row in assessment.trust.budget.combined.rows if row.key == "lever_weight")
    # Half of 150 kgf, 735.5 N, of 123 451 N on the jack: at most 0.60 %, by hand; the row holds its half.
    assert row.half_width_si == pytest.approx(0.00298, abs=0.00001)
    assert not row.assumed


def last_year(cast: Cast, drum: Any, slips: tuple[str, ...], years: int = 1) -> Submission:
    day = date(2026 - years, 11, 18)
    round_: Round = RoundFactory(
        vessel=cast.vessel, opened_by=cast.officer, kit=Round.objects.order_by("-started_on")[0].kit, started_on=day
    )
    draft = {"tested_on": day.isoformat()}
    test = filled_test(cast, round=round_, drum=drum, draft=draft, readings=with_slips(*slips))
    return confirm_and_submit(cast, test, at=on(day) + timedelta(hours=2))


def test_earlier_tests_of_the_drum_and_with_the_gauge_are_pooled_in(cast: Cast) -> None:
    this_year = round_for(cast)
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel, author=cast.officer).drum
    sister = DrumParticularsFactory(drum__winch__vessel=cast.vessel, author=cast.officer).drum
    last_year(cast, drum, ("170", "174"))
    last_year(cast, sister, ("168", "176"))
    assessment = assess(filled_test(cast, round=this_year, drum=drum, readings=with_slips("173", "173")))
    assert assessment.trust is not None
    spread = assessment.trust.budget.measurement.spread
    assert spread is not None
    # One degree each of 4 bar in 172 and of 8 bar in 172, eight of the assumption, one of this test's equal slips.
    pooled = (2**2 * 2 + 4**2 * 2) / 172**2 + 8 * 0.02**2
    assert spread.degrees_of_freedom == 11
    assert spread.standard_deviation_si / 173e5 == pytest.approx(sqrt(pooled / 11), rel=1e-9)


def test_a_sister_sent_in_the_same_round_changes_nothing_that_was_confirmed(cast: Cast) -> None:
    round_ = round_for(cast)
    mine = filled_test(cast, round=round_)
    before = assess(mine).content_sha256
    other = filled_test(cast, round=round_, readings=with_slips("168", "177"))
    confirm_and_submit(cast, other)
    assert assess(DrumTest.objects.whole().get(pk=mine.pk)).content_sha256 == before


def test_the_submission_keeps_the_whisker_where_lists_find_it(cast: Cast) -> None:
    sent = submitted(cast)
    kept = read_content(sent)["trust"]
    assert sent.verdict == kept["verdict"] == "in_band"
    assert sent.decision_rule == "simple"
    assert sent.whisker == pytest.approx(tuple(kept["whisker"]))
    assert Submission(estimate_share=None).whisker is None


def test_the_sentence_on_the_page_is_that_of_the_record(cast: Cast) -> None:
    assessment = assess(filled_test(cast))
    assert assessment.trust is not None
    assert assessment.content is not None
    shown = trust_content(assessment.trust, as_read_share=0.5992, was_dry=True)
    assert shown == assessment.content["trust"] | {"as_read_share_shown": "59.9 %"}
