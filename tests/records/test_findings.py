"""The catalogue as it is put to a test's own rows; its rules are tested one by one in tests/calculation."""

from datetime import date
from typing import Any

import pytest

from fleet.records.assess import assess
from fleet.records.models import DrumTest
from tests.cast import Cast
from tests.factories import BrakeEventFactory, DrumParticularsFactory, GaugeCalibrationFactory, PolicyFactory, figure
from tests.records.scenario import GOOD_READINGS, filled_test, round_for, submitted
from tests.records.ship import on_basis

pytestmark = pytest.mark.django_db


def codes(test: DrumTest) -> set[str]:
    return {finding.code for finding in assess(test).findings if finding.level != "note"}


def of(cast: Cast, **fields: Any) -> set[str]:
    return codes(filled_test(cast, **fields))


def test_a_good_test_raises_nothing_to_answer(cast: Cast) -> None:
    assert of(cast) == set()


def test_a_setting_written_down_with_its_digits_swapped_is_noticed(cast: Cast) -> None:
    # Verified at 49 mm; the winch tag would say 94.
    assert of(cast, draft={"final_mark": "94"}) == {"left_at_another_mark"}


def test_a_brake_that_held_at_stop_while_verifying_is_not_passed_over(cast: Cast) -> None:
    held = ("verification", "49", "187", False, True)
    assert of(cast, readings=(*GOOD_READINGS[:2], held, *GOOD_READINGS[2:])) >= {"verification_held_above_band"}


def cell_test(cast: Cast, calibrated_on: date) -> DrumTest:
    drum, kit = on_basis(cast.vessel, "load_cell")
    kit.gauge.calibrations.all().delete()
    GaugeCalibrationFactory(gauge=kit.gauge, calibrated_on=calibrated_on)
    rows = (("verification", "49", "380", True, True), ("verification", "49", "384", True, True))
    return filled_test(cast, round=round_for(cast, kit=kit), drum=drum, readings=rows)


def test_a_load_cell_out_of_date_is_noticed_like_a_gauge(cast: Cast) -> None:
    assert codes(cell_test(cast, date(2024, 6, 1))) == {"gauge_out_of_date"}


def test_a_good_test_with_a_load_cell_raises_nothing_to_answer(cast: Cast) -> None:
    assert codes(cell_test(cast, date(2026, 6, 1))) == set()


def test_work_on_the_brakes_own_cylinder_does_not_excuse_another_jack_area(cast: Cast) -> None:
    first = submitted(cast)
    BrakeEventFactory(drum=first.test.drum, happened_on=date(2026, 11, 21), kind="piston_renewed")
    jack = first.test.round.kit.kit_jacks.get().jack
    jack.stated_area, jack.bore = type(jack.stated_area).read("68", "cm2"), type(jack.stated_area).read("93", "mm")
    jack.save()
    test = filled_test(
        cast,
        drum=first.test.drum,
        round=round_for(cast, kit=first.test.round.kit),
        draft={"tested_on": "2026-11-24"},
        readings=GOOD_READINGS[1:],
    )
    assert "area_changed" in codes(test)


# The angles and the three quarters of the new strength are common practice, no published source.
@pytest.mark.parametrize(
    ("angle", "code", "level"),
    [("", "", ""), ("2", "", ""), ("5,5", "lever_slightly_off_square", "note"), ("12", "lever_not_square", "ask")],
)
def test_a_lever_written_down_off_square_is_noticed(cast: Cast, angle: str, code: str, level: str) -> None:
    found = assess(filled_test(cast, draft={"lever_angle": angle})).findings
    square = [(row.code, row.level) for row in found if "square" in row.code]
    assert square == ([(code, level)] if code else [])
    assert all(angle.replace(",", ".") in row.sentence for row in found if "square" in row.code)


def worn(cast: Cast, left: str) -> set[str]:
    figures = DrumParticularsFactory.build().figures | {"line_residual": figure(left, "percent", "certificate", "R-7")}
    drum = DrumParticularsFactory(drum__winch__vessel=cast.vessel, author=cast.officer, figures=figures).drum
    return of(cast, drum=drum)


def test_a_worn_line_near_the_rendering_load_is_noticed(cast: Cast) -> None:
    # 75 % of 660 kN is 495 kN; as left the brake renders at about 382 kN, 77 % of that.
    assert worn(cast, "75") == {"worn_line"}


def test_the_operator_says_how_much_of_a_worn_line_the_brake_may_take(cast: Cast) -> None:
    PolicyFactory(company=cast.company, author=cast.manager, valid_from=date(2021, 1, 1), worn_line_share="0.85")
    assert worn(cast, "75") == set()


def test_a_line_with_most_of_its_strength_left_is_not_asked_about(cast: Cast) -> None:
    assert worn(cast, "95") == set()


def gauge_test(cast: Cast, *calibrated: date) -> DrumTest:
    test = filled_test(cast)
    gauge = test.round.kit.gauge
    gauge.calibrations.all().delete()
    for day in calibrated:
        GaugeCalibrationFactory(gauge=gauge, calibrated_on=day)
    return DrumTest.objects.whole().get(pk=test.pk)


def test_a_gauge_that_was_never_calibrated_is_noticed(cast: Cast) -> None:
    assert codes(gauge_test(cast)) == {"gauge_never_calibrated"}


def test_a_gauge_calibrated_for_the_first_time_after_the_test_is_noticed(cast: Cast) -> None:
    assert codes(gauge_test(cast, date(2026, 11, 23))) == {"gauge_calibrated_after_test"}


def test_a_gauge_is_judged_by_the_calibration_in_force_on_the_day_of_the_test(cast: Cast) -> None:
    assert codes(gauge_test(cast, date(2024, 6, 1), date(2026, 11, 23))) == {"gauge_out_of_date"}
    assert codes(gauge_test(cast, date(2026, 11, 20), date(2026, 11, 23))) == set()
