"""The uncertainty budget as a table with bars: whose figure it is, how it is spread, what it comes to."""

import xml.etree.ElementTree as ET
from html import unescape
from typing import Any

import pytest
from django.template import Context, Template

from fleet.core.pictures.budget_bars import BAR, LEAST_SEEN, budget_lines
from tests.trust_literal import trust


def drawn(**changes: Any) -> str:
    template = Template("{% load parts %}{% budget_table trust %}")
    return template.render(Context({"trust": trust(**changes)}))


def test_bars_are_as_long_as_their_shares_and_the_longest_comes_first() -> None:
    lengths = [float(line.length) for line in budget_lines(trust()["rows"])]
    assert lengths[0] == pytest.approx(0.52 * BAR.width, abs=0.06)
    assert lengths == sorted(lengths, reverse=True)
    assert lengths[-1] == LEAST_SEEN


def test_an_assumption_names_who_made_it_and_what_was_measured_does_not() -> None:
    rows = ET.fromstring(f"<div>{drawn()}</div>").findall(".//tbody/tr")
    said = ["".join(row.itertext()) for row in rows]
    assert ["assumed" in words for words in said[:4]] == [False, True, True, True]
    assert "Assumed, because nobody measured it: ours, common practice, no published source." in drawn()


def test_where_several_made_assumptions_each_row_says_whose_it_is() -> None:
    rows = trust()["rows"]
    rows[1]["assumed_by"] = "the operator's policy"
    html = unescape(drawn(rows=rows))
    assert "assumed</strong> (the operator's policy)" in html
    assert "assumed</strong> (ours, common practice, no published source)" in html
    assert "because nobody measured it" not in html


def test_the_table_shows_each_figure_and_what_all_come_to() -> None:
    html = drawn()
    for words in (
        "Gauge, by its accuracy class",
        "172.5 bar",
        "± 4.0 bar</span>",
        "each place as likely",
        "0.80",
        "52.0 %",
    ):
        assert words in html
    assert "All together ± 2.2 points of the base load = ± 14.2 kN, with 95 %" in html
    assert "coverage factor k = 2.01; effective degrees of freedom: 52" in html


def test_what_was_not_counted_is_named_and_nothing_is_said_where_all_was() -> None:
    assert "Not counted, because there is no figure for it: weight of the lever." in drawn()
    assert "Not counted" not in drawn(not_counted=[])


def test_the_table_is_sound_and_carries_no_style() -> None:
    root = ET.fromstring(f"<div>{drawn()}</div>")
    assert len(list(root.iter("svg"))) == 4
    assert all("style" not in element.attrib and element.tag != "style" for element in root.iter())
