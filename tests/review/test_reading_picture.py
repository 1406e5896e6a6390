"""The picture of the readings: every reading in its place on one scale."""

from typing import Any

import pytest

from fleet.review.reading_picture import reading_picture

POLICY = {"share": 0.6, "band_low": 0.55, "band_high": 0.65}


def reading(share: float | None, phase: str = "verification", slipped: bool = True) -> dict[str, Any]:
    return {
        "share": share,
        "share_shown": "" if share is None else f"{share * 100:.1f}",
        "phase": phase,
        "phase_label": phase.replace("_", " "),
        "slipped": slipped,
        "gauge_text": "172",
        "gauge_unit": "bar",
    }


def picture(*rows: dict[str, Any]) -> Any:
    return reading_picture({"readings": list(rows), "policy": POLICY})


def test_without_a_share_there_is_nothing_to_draw() -> None:
    assert picture() is None
    assert picture(reading(None)) is None


def test_a_higher_share_lies_higher_by_the_same_scale_for_all() -> None:
    low, middle, high = (float(dot.y) for dot in picture(*(reading(share) for share in (0.5, 0.6, 0.7))).dots)
    assert low - middle == pytest.approx(middle - high, abs=0.11)
    assert low > middle > high


def test_the_band_and_the_target_lie_where_a_reading_of_that_share_lies() -> None:
    drawn = picture(reading(0.65), reading(0.60), reading(0.55))
    top, target, bottom = drawn.dots
    assert drawn.band_y == top.y
    assert float(drawn.band_y) + float(drawn.band_height) == pytest.approx(float(bottom.y), abs=0.11)
    assert drawn.target_y == target.y


@pytest.mark.parametrize(("share", "beyond"), [(0.2, "low"), (0.39, "low"), (0.41, ""), (0.9, ""), (1.2, "high")])
def test_a_share_off_the_scale_is_held_at_its_edge_and_says_so(share: float, beyond: str) -> None:
    (dot,) = picture(reading(share)).dots
    assert dot.beyond == beyond
    assert 20 <= float(dot.y) <= 170
    assert dot.figure == f"{share * 100:.1f}"


def test_readings_of_one_phase_stand_together_under_its_name() -> None:
    drawn = picture(reading(0.5, "as_found_untouched"), reading(0.55, "adjusting"), reading(0.6), reading(0.6))
    assert [stretch.label for stretch in drawn.stretches] == ["as found untouched", "adjusting", "verification"]
    assert [dot.phase for dot in drawn.dots] == ["found", "adjusting", "verification", "verification"]


def test_many_readings_make_it_wider_and_none_lies_outside() -> None:
    drawn = picture(*(reading(0.5) for _ in range(20)))
    assert float(drawn.width) > 1000
    assert all(44 < float(dot.x) < float(drawn.right) for dot in drawn.dots)
