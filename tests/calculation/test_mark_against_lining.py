"""The mark and the lining hold each other to account: one rule, in words for each way in which they disagree."""

from dataclasses import replace
from math import radians
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.calculation.plausibility import EventFacts, Finding
from fleet.simulation.brake import BandBrake
from tests.calculation.good_record import Record, good_record

CODE = "mark_against_lining"
BRAKE = BandBrake(
    rim_radius_m=0.5,
    line_radius_m=0.32,
    wrap_rad=radians(290),
    friction_sliding=0.3,
    static_over_sliding=1.1,
    band_stiffness_n=2e8,
    spindle_stiffness_n_per_m=4e7,
    take_up_m=1e-3,
    tighter_sign=1,
    mark_per_band_travel=8.0,
    mark_when_bearing_m=0.1,
)


def found(record: Record) -> Finding | None:
    return next((finding for finding in record.find() if finding.code == CODE), None)


def with_history(moved_m: float, loss_m: float, share: float = 0.604, **drum: Any) -> Record:
    """The good record, its mark moved and its lining worn so much since the last test, rendering at this share."""
    record = good_record().with_drum(mark_low_si=None, mark_high_si=None, **drum)
    slips = [replace(one, mark_si=0.062 + moved_m) for one in record.test.readings]
    record = record.with_test(readings=tuple(slips), lining_m=(0.012 - loss_m,), as_left_share=share)
    return record.with_last(lining_m=(0.012,), mark_si=0.062, as_left_share=0.604)


@pytest.mark.parametrize(
    ("moved", "loss", "drum", "words"),
    [
        (-0.004, 0.0006, {}, "It moved 4.0 mm towards slacker, and the brake still renders at 60.4 %"),
        (0.001, 0.0020, {}, "The mark moved only 1.0 mm towards tighter"),
        (0.030, 0.0002, {"mark_per_band_travel": 1.0}, "with this drum's linkage that does not explain it"),
        (0.080, 0.0002, {}, "How far the mark moves with the band is not recorded for this drum"),
    ],
)
def test_each_way_of_disagreeing_has_its_own_words(moved: float, loss: float, drum: dict[str, Any], words: str) -> None:
    finding = found(with_history(moved, loss, **drum))
    assert finding is not None
    assert finding.level == "ask"
    assert words in finding.sentence
    # Geometry of an arc: 270 degrees are 4.712 mm for each mm; the lining is known to half a millimetre.
    assert f"{4.712389 * loss * 1000:.1f} mm" in finding.sentence
    assert "known to 0.5 mm" in finding.sentence
    assert "wrap of 270.0 °" in finding.sentence


def test_the_drum_s_own_wrap_counts_before_the_usual_one() -> None:
    finding = found(with_history(0.001, 0.002, wrap_rad=radians(320)))
    assert finding is not None
    assert "travel 11.2 mm over a wrap of 320.0 °" in finding.sentence  # 5.585 rad × 2 mm


@pytest.mark.parametrize("moved", [-0.004, 0.0, 0.030])
def test_what_the_lining_s_measurement_leaves_open_is_not_asked_about(moved: float) -> None:
    # Within half a millimetre nothing is known of the loss; 30 mm is what a linkage of six makes of 0.5 mm.
    assert found(with_history(moved, 0.0004)) is None


def test_a_load_that_changed_explains_the_mark() -> None:
    assert found(with_history(-0.006, 0.0008)) is not None
    assert found(with_history(-0.006, 0.0008, share=0.56)) is None
    far = {"mark_per_band_travel": 1.0}
    assert found(with_history(0.030, 0.0002, **far)) is not None
    assert found(with_history(0.030, 0.0002, share=0.64, **far)) is None


@pytest.mark.parametrize("kind", ["lining_renewed", "brake_overhauled", "spindle_renewed", "line_changed"])
def test_work_between_the_tests_leaves_nothing_to_compare(kind: Any) -> None:
    record = with_history(0.001, 0.002)
    assert found(record) is not None
    between = EventFacts(kind, record.previous[-1].tested_on.replace(year=2026, month=5))
    assert found(replace(record, events=(between,))) is None


def test_other_kinds_of_setting_tell_nothing_of_travel() -> None:
    assert found(with_history(0.001, 0.002, setting_kind="spindle_torque")) is None
    assert found(with_history(0.001, 0.002, tighter_direction=None)) is None


@settings(deadline=None, derandomize=True, max_examples=60)
@given(st.floats(0.0, 0.003), st.floats(-0.0004, 0.0004), st.floats(-0.001, 0.001), st.booleans())
def test_the_virtual_brake_s_mark_and_lining_go_together(
    loss: float, measured_off: float, mark_off: float, linkage_known: bool
) -> None:
    """Independent: the mark that the virtual brake needs for the same load, before and after its lining wore."""
    load = 0.604 * 650e3
    moved = BRAKE.worn(loss).mark_for(load) - BRAKE.mark_for(load)
    drum = {"wrap_rad": radians(290), "mark_per_band_travel": 8.0} if linkage_known else {}
    assert found(with_history(moved + mark_off, loss + measured_off, **drum)) is None
    if loss > 0.002:
        assert found(with_history(mark_off, loss + measured_off, **drum)) is not None
