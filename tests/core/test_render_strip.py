"""The render strip: where its marks lie and what it says in words."""

import xml.etree.ElementTree as ET
from itertools import pairwise
from typing import Any

import pytest
from django.template import Context, Template
from django.utils import translation

from fleet.core.pictures.render_strip import COMPACT, FULL, Strip, render_strip

BASE: dict[str, Any] = {"as_found": 0.511, "as_left": 0.593, "band_low": 0.55, "band_high": 0.65, "target": 0.60}


def strip(**changes: Any) -> Strip:
    return render_strip(**{**BASE, **changes})


def svg(**changes: Any) -> str:
    values = {**BASE, **changes}
    arguments = " ".join(f"{name}={name}" for name in values)
    return Template(f"{{% load parts %}}{{% render_strip {arguments} %}}").render(Context(values))


def test_the_scale_runs_from_40_to_90_percent_in_equal_steps() -> None:
    assert FULL.x(0.40) == FULL.left
    assert FULL.x(0.90) == FULL.right
    assert FULL.x(0.65) == pytest.approx((FULL.left + FULL.right) / 2)


def test_marks_lie_at_their_share_and_carry_their_figure() -> None:
    drawn = strip()
    assert drawn.found is not None
    assert drawn.left is not None
    assert float(drawn.found.x) == pytest.approx(FULL.x(0.511), abs=0.06)
    assert float(drawn.left.x) == pytest.approx(FULL.x(0.593), abs=0.06)
    assert (drawn.found.figure, drawn.left.figure) == ("51.1", "59.3")
    assert (drawn.found.off, drawn.left.off) == ("", "")


def test_the_band_is_shaded_between_its_limits() -> None:
    drawn = strip()
    assert float(drawn.band_x) == pytest.approx(FULL.x(0.55), abs=0.06)
    assert float(drawn.band_x) + float(drawn.band_width) == pytest.approx(FULL.x(0.65), abs=0.11)


@pytest.mark.parametrize(("share", "edge", "figure"), [(0.385, "low", "38.5"), (0.96, "high", "96.0")])
@pytest.mark.parametrize("compact", [False, True])
def test_a_value_off_the_scale_becomes_an_arrow_at_the_edge_with_its_figure(
    share: float, edge: str, figure: str, compact: bool
) -> None:
    drawn = strip(as_found=share, compact=compact)
    assert drawn.found is not None
    assert (drawn.found.off, drawn.found.figure) == (edge, figure)
    size = COMPACT if compact else FULL
    assert float(drawn.found.x) == (size.left if edge == "low" else size.right)
    assert f">{figure}</text>" in svg(as_found=share, compact=compact)


@pytest.mark.parametrize("share", [0.40, 0.90])
def test_a_value_at_the_very_end_is_still_on_the_scale(share: float) -> None:
    drawn = strip(as_left=share)
    assert drawn.left is not None
    assert drawn.left.off == ""


def test_two_values_off_the_same_edge_stay_two_arrows() -> None:
    drawn = strip(as_found=0.93, as_left=0.97)
    assert drawn.found is not None
    assert drawn.left is not None
    assert abs(float(drawn.found.figure_x) - float(drawn.left.figure_x)) > 30


def test_figures_of_near_equal_marks_move_apart_and_the_marks_do_not() -> None:
    drawn = strip(as_found=0.60, as_left=0.605)
    assert drawn.found is not None
    assert drawn.left is not None
    assert float(drawn.left.figure_x) - float(drawn.found.figure_x) > 2.5 * FULL.font
    assert float(drawn.left.x) == pytest.approx(FULL.x(0.605), abs=0.06)


def test_a_missing_result_leaves_its_mark_out_and_says_so() -> None:
    drawn = strip(as_found=None, as_left=None)
    assert drawn.found is None
    assert drawn.left is None
    assert "No result yet." in drawn.description


def test_the_whisker_is_drawn_only_when_given_and_beside_a_solid_mark() -> None:
    assert strip().whisker is None
    assert strip(as_left=None, whisker=(0.56, 0.61)).whisker is None
    said = strip(whisker=(0.5601, 0.6123)).description
    assert "With its uncertainty, 95 %: 56.0 to 61.2 %." in said
    assert "uncertainty" not in strip().description


@pytest.mark.parametrize("compact", [False, True])
def test_the_whisker_lies_about_the_best_estimate_not_about_the_mark(compact: bool) -> None:
    drawn = strip(whisker=(0.56, 0.61), compact=compact)
    size = COMPACT if compact else FULL
    assert drawn.whisker is not None
    assert float(drawn.whisker.left) == pytest.approx(size.x(0.56), abs=0.06)
    assert float(drawn.whisker.right) == pytest.approx(size.x(0.61), abs=0.06)
    # In full size a third tick stands at the best estimate; in lists the two ends are enough.
    ticks = [float(piece.split(",")[0]) for piece in drawn.whisker.path.split("M")[2:]]
    assert len(ticks) == (2 if compact else 3)
    # Under the scale, where neither the hollow nor the solid mark covers it, and above the figures of the scale.
    heights = [float(piece.split(",")[1].split("V")[0].split("H")[0]) for piece in drawn.whisker.path.split("M")[1:]]
    assert min(heights) > size.bar_top + size.bar_height
    assert 2 * size.whisker_y - min(heights) < size.text_y - size.font * 0.75
    assert compact or ticks[2] == pytest.approx(size.x(0.585), abs=0.06)
    assert drawn.whisker.path.count("M") == len(ticks) + 1


def test_a_whisker_that_leaves_the_scale_has_no_end_there() -> None:
    def ticks(low: float, high: float) -> int:
        whisker = strip(whisker=(low, high), compact=True).whisker
        assert whisker is not None
        return whisker.path.count("V")

    assert (ticks(0.50, 0.60), ticks(0.30, 0.60), ticks(0.80, 0.99), ticks(0.20, 1.20)) == (2, 1, 1, 0)
    assert strip(whisker=(0.20, 0.39)).whisker is None
    assert strip(whisker=(0.91, 0.99)).whisker is None


def test_the_words_carry_the_figures_and_whose_band_it_is() -> None:
    said = strip().description
    for words in ("As found 51.1 %", "As left 59.3 %", "Band 55.0 to 65.0 %", "not from a standard", "Target 60.0 %"):
        assert words in said
    assert "holding load" in said


def test_labels_never_touch_each_other() -> None:
    for low, high, target in ((0.55, 0.65, 0.60), (0.58, 0.62, 0.60), (0.41, 0.89, 0.79), (0.595, 0.605, 0.60)):
        for compact in (False, True):
            ticks = strip(band_low=low, band_high=high, target=target, compact=compact).ticks
            size = COMPACT if compact else FULL
            places = [float(tick.x) for tick in ticks]
            gaps = [after - before for before, after in pairwise(places)]
            assert all(gap > size.font * 1.3 for gap in gaps)


def test_the_hatching_stays_between_80_and_90_percent() -> None:
    xs = [float(pair.split(",")[0]) for pair in strip().hatching.replace("L", "M").split("M") if pair]
    assert min(xs) == pytest.approx(FULL.x(0.80), abs=0.06)
    assert max(xs) <= FULL.x(0.90) + 0.05


@pytest.mark.parametrize("compact", [False, True])
def test_the_picture_is_sound_svg_without_style_and_with_title_and_description(compact: bool) -> None:
    text = svg(compact=compact, whisker=(0.57, 0.61))
    root = ET.fromstring(text.strip())
    assert root[0].tag == "title"
    assert root[1].tag == "desc"
    assert root.attrib["role"] == "img"
    assert all(
        "style" not in element.attrib and element.tag not in {"style", "script", "pattern"} for element in root.iter()
    )


def test_a_compact_strip_has_a_scale_and_a_plain_one_can_do_without_figures() -> None:
    assert ">40</text>" in svg(compact=True)
    assert ">51.1</text>" in svg()
    assert ">51.1</text>" not in svg(labels=False)
    assert ">51.1</text>" not in svg(compact=True)


def test_coordinates_keep_the_point_where_people_write_a_comma() -> None:
    with translation.override("de"):
        root = ET.fromstring(svg().strip())
    assert [float(rect.attrib["x"]) for rect in root.iter("rect")] == [
        float(x) for x in (strip().bar_x, strip().band_x)
    ]


def test_nothing_is_drawn_outside_the_picture() -> None:
    for found in (0.2, 0.4, 0.6, 0.9, 1.4):
        for compact in (False, True):
            drawn = strip(as_found=found, as_left=found, whisker=(found - 0.2, found + 0.2), compact=compact)
            assert drawn.found is not None
            points = [float(pair.split(",")[0]) for pair in drawn.found.outline.split()]
            assert all(0 <= x <= drawn.size.width for x in points)


@pytest.mark.parametrize("compact", [False, True])
def test_the_whisker_adds_little_to_a_picture(compact: bool) -> None:
    assert len(svg(compact=compact, whisker=(0.57, 0.61))) - len(svg(compact=compact)) < 260


def test_the_legend_names_the_whisker_only_where_there_is_one() -> None:
    def legend(arguments: str) -> str:
        return Template(f"{{% load parts %}}{{% strip_legend {arguments} %}}").render(Context({"none": None}))

    assert "best estimate" not in legend("")
    assert "best estimate" not in legend("whisker=none")
    assert "as tested, on that day" in legend("whisker=True")


def test_the_truth_of_a_virtual_brake_points_at_its_share_from_above() -> None:
    drawn = strip(truth=0.62)
    assert drawn.truth is not None
    assert float(drawn.truth.x) == pytest.approx(FULL.x(0.62), abs=0.06)
    # The whisker has the room below; the figures of the marks stand above it.
    heights = [float(pair.split(",")[1]) for pair in drawn.truth.outline.split()]
    assert FULL.figure_y < min(heights) < max(heights) < FULL.bar_top
    assert "Truly 62.0 %" in drawn.description
    assert strip().truth is None
    tips = {share: float(strip(truth=share).truth.outline.split(",")[0]) for share in (0.30, 0.95)}  # type: ignore[union-attr]
    assert tips[0.30] < FULL.left
    assert tips[0.95] > FULL.right
