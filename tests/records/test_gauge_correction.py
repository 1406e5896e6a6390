"""A gauge's certificate counts in every figure of a test, and where it does not reach this is said."""

import json
from datetime import date
from typing import Any

import pytest

from fleet.calculation import units
from fleet.calculation.compute import compute_json
from fleet.core.typed import Typed
from fleet.gauges.points import Point
from fleet.records.assess import assess
from fleet.records.figures import Figures, figures_for, particulars_on
from fleet.records.models import DrumTest
from fleet.vessels.models import policy_for
from tests.cast import Cast
from tests.factories import GaugeCalibrationFactory, RoundFactory
from tests.records.scenario import filled_test, round_for
from tests.records.ship import on_basis
from tests.records.test_trust import SCENARIO

pytestmark = pytest.mark.django_db
DAY = date(2026, 11, 20)
# What the gauge showed, what the reference showed; bar, U = 1.0 bar with k = 2.
ROWS = (("50", "49.5"), ("100", "99.2"), ("150", "148.9"), ("200", "198.7"))


def points(rows: Any = ROWS, uncertainty: str | None = "1.0", unit: str = "bar") -> list[dict[str, Any]]:
    u = Typed.read(uncertainty, unit) if uncertainty else None
    return [
        Point(Typed.read(shown, unit), Typed.read(true, unit), u, 2.0 if u else None).to_dict() for shown, true in rows
    ]


def calibrated_test(cast: Cast, **columns: Any) -> DrumTest:
    round_ = round_for(cast)
    GaugeCalibrationFactory(
        **{"gauge": round_.kit.gauge, "calibrated_on": date(2026, 9, 1), "points": points(), **columns}
    )
    return filled_test(cast, round=round_)


def asked(**more: Any) -> dict[str, Any]:
    """The same from the public command, with the same certificate."""

    def q(text: str) -> dict[str, Any]:
        return {"value": float(text), "unit": "bar"}

    calibration = [{"reading": q(shown), "reference": q(true), "U": q("1.0"), "k": 2} for shown, true in ROWS]
    gauge = {**SCENARIO["gauge"], "calibration": calibration}
    answer, code = compute_json(json.dumps({**SCENARIO, "gauge": gauge, **more}))
    assert code == 0, answer
    return answer


def test_the_record_and_the_command_correct_alike_to_the_last_digit(cast: Cast) -> None:
    content = assess(calibrated_test(cast)).content
    assert content is not None
    answer = asked()
    working = {step["key"]: step["shown"] for step in content["working"]}
    correction = answer["uncertainty"]["gauge_correction"]
    assert working["reading"] == f"{units.shown(answer['target_reading']['value'], 1)} bar" == "173.2 bar"
    on_gauge = f"{units.shown(correction['target_on_gauge']['value'], 1)} bar"
    assert working["on_gauge"] == content["target"]["reading_shown"] == on_gauge == "174.4 bar"
    for row in content["readings"]:
        single = asked(slips=[{"value": row["gauge_si"] / 1e5, "unit": "bar"}])["uncertainty"]["gauge_correction"]
        assert row["load_shown"] == units.shown(single["load_at_reading"]["kN"], 1)
        assert row["share_shown"] == units.digits(single["load_at_reading"]["share_of_sdmbl"], "percent")
    trust = content["trust"]
    assert trust["correction"] == correction["sentence"]
    assert trust["correction"].startswith("The gauge reads 1.2 bar high here: 173.0 bar on the dial")
    assert trust["U_shown"] == f"{units.shown(answer['uncertainty']['U_kN'], 1)} kN"
    assert trust["probability"] == pytest.approx(answer["conformity"]["probability"], rel=1e-12)
    assert "gauge_calibration" in [row["key"] for row in trust["rows"]]
    assert "gauge_class" not in [row["key"] for row in trust["rows"]]


def test_what_counts_is_kept_with_the_record(cast: Cast) -> None:
    content = assess(calibrated_test(cast)).content
    assert content is not None
    kept = content["kit"]["gauge"]["calibration"]["points"]
    assert [(row["reading"]["shown"], row["reference"]["shown"], row["direction"]) for row in kept] == [
        (f"{shown} bar", f"{true} bar", "rising") for shown, true in ROWS
    ]
    assert content["target"]["correction"] == "The gauge reads 1.2 bar high here: 174.4 bar on the dial is 173.2 bar."
    assert not {"gauge_not_covered", "target_does_not_follow"} & {row["code"] for row in content["findings"]}


def test_a_calibration_of_dates_alone_leaves_every_figure_as_it_was(cast: Cast) -> None:
    content = assess(filled_test(cast)).content
    assert content is not None
    assert "points" not in content["kit"]["gauge"]["calibration"]
    assert not {"correction", "uncovered"} & set(content["target"])
    assert content["trust"]["correction"] == ""
    assert [step["name"] for step in content["working"]][-2] == "target reading"


def test_a_certificate_of_a_later_day_takes_no_part(cast: Cast) -> None:
    test = calibrated_test(cast, calibrated_on=date(2026, 11, 21))
    figures = assess(test).figures
    assert figures is not None
    assert figures.certificate is None


def test_without_its_uncertainty_the_certificate_corrects_and_the_class_counts(cast: Cast) -> None:
    content = assess(calibrated_test(cast, points=points(uncertainty=None))).content
    assert content is not None
    assert content["target"]["reading_shown"] == "174.4 bar"
    assert "gauge_class" in [row["key"] for row in content["trust"]["rows"]]


def test_where_the_certificate_does_not_reach_the_target_nothing_is_corrected_and_this_is_said(cast: Cast) -> None:
    assessment = assess(calibrated_test(cast, points=points(ROWS[:3])))
    content = assessment.content
    assert content is not None
    assert content["target"]["reading_shown"] == "173.2 bar"
    assert content["target"]["uncovered"].startswith(
        "The calibration certificate covers readings of 50.0 bar to 150.0 bar; beyond them nothing is known"
    )
    assert "gauge_class" in [row["key"] for row in content["trust"]["rows"]]
    finding = next(row for row in content["findings"] if row["code"] == "gauge_not_covered")
    assert finding["level"] == "ask"
    assert "50.0 bar to 150.0 bar" in finding["sentence"]


def test_a_single_reading_below_the_certificate_stands_as_it_is(cast: Cast) -> None:
    rows = (("160", "159.0"), ("200", "198.7"))  # as found at 157 bar lies below the first point
    content = assess(calibrated_test(cast, points=points(rows))).content
    assert content is not None
    found, adjusted = content["readings"][0], content["readings"][1]
    assert found["share"] == pytest.approx(157 / 173.24 * 0.6, abs=1e-4)
    assert adjusted["share"] == pytest.approx(164.955 / 173.24 * 0.6, abs=1e-4)  # 166 bar: 159 + 6 × 39.7 ÷ 40


def figures_on(cast: Cast, basis: str, rows: Any, unit: str) -> Figures:
    drum, kit = on_basis(cast.vessel, basis)
    GaugeCalibrationFactory(gauge=kit.gauge, calibrated_on=date(2026, 9, 1), points=points(rows, None, unit))
    RoundFactory(vessel=cast.vessel, kit=kit)
    policy = policy_for(cast.vessel, DAY)
    return figures_for(drum=drum, particulars=particulars_on(drum, DAY), kit=kit, policy=policy, on=DAY)


@pytest.mark.parametrize(
    ("basis", "rows", "unit", "shown"),
    [
        # 637 kN × 60 % in the table (80, 180) … (160, 360) … (240, 540): 169.87 bar true; 150 + 50 × 20.97 ÷ 49.8.
        ("makers_table", ROWS, "bar", "171.1"),
        # The table of the jack holds its gauge's own readings: not corrected a second time.
        ("force_calibrated_jack", ROWS, "bar", None),
        ("load_cell", (("100", "101"), ("500", "503")), "kN", "379.8"),
    ],
)
def test_every_basis_is_read_on_its_own_gauge(cast: Cast, basis: str, rows: Any, unit: str, shown: str | None) -> None:
    figures = figures_on(cast, basis, rows, unit)
    if shown is None:
        assert figures.certificate is None
    else:
        assert units.digits(figures.aim.reading_si, figures.gauge_unit) == shown
