"""The certificate says how far its load can be trusted, with the record's digits; an older one says nothing of it."""

import re
from html import unescape
from typing import Any

import pytest

from fleet.certificates.models import Certificate
from fleet.certificates.paper import certificate_context, certificate_html, public_facts
from fleet.certificates.snapshot import read_snapshot
from fleet.core.pictures.render_strip import FULL
from tests.cast import Cast
from tests.certificates.records import Ship, certified
from tests.trust_literal import trust

pytestmark = pytest.mark.django_db


@pytest.fixture
def snapshot(cast: Cast, ship: Ship) -> dict[str, Any]:
    return read_snapshot(certified(ship, cast.superintendent))


def paper(snapshot: dict[str, Any], **record: Any) -> str:
    """The paper's HTML with something else in the record, one space for any."""
    html = certificate_html({**snapshot, "record": {**snapshot["record"], **record}})
    return re.sub(r"\s+", " ", unescape(html))


def test_load_uncertainty_band_rule_and_probability_stand_in_one_sentence(snapshot: dict[str, Any]) -> None:
    # The record's own strings: no digit is rounded a second time.
    known = snapshot["record"]["trust"]
    said = certificate_context(snapshot)["trust_words"]
    assert said == (
        f"Best estimate {known['share_shown']} of the ship design MBL: {known['load_shown']} ± {known['U_shown']}, "
        f"which is ± {known['U_points_shown']} points (k = {known['k_shown']}, 95 %). Verdict by simple acceptance: in "
        f"band. Probability that the load lies in the band of 55.0 to 65.0 %: {known['probability_shown']}."
    )
    assert said in paper(snapshot)


def test_a_verdict_that_is_not_proven_is_printed_as_that(snapshot: dict[str, Any]) -> None:
    known = trust(rule="guarded", verdict="not_proven", verdict_label="not proven", probability_shown="61.3 %")
    html = paper(snapshot, trust=known)
    assert "Verdict by guarded acceptance: not proven." in html
    assert "of 55.0 to 65.0 %: 61.3 %." in html


def test_every_row_of_the_budget_is_printed_longest_first(snapshot: dict[str, Any]) -> None:
    html = paper(snapshot)
    annex = html[html.index("How far the load can be trusted") :]
    rows = snapshot["record"]["trust"]["rows"]
    assert len(rows) >= 10
    places = []
    for row in rows:
        line = re.search(rf"<tr> <th scope=.row.>{row['name'][0].upper()}{re.escape(row['name'][1:])}.*?</tr>", annex)
        assert line is not None, row["name"]
        places.append(line.start())
        for shown in (row["value_shown"], row["contribution_shown"], row["share_shown"]):
            assert shown in line[0]
        assert ("assumed" in line[0]) == row["assumed"]
    assert places == sorted(places)
    assert f"k = {snapshot['record']['trust']['k_shown']};" in annex


def test_the_strip_has_the_whisker_of_the_record(snapshot: dict[str, Any]) -> None:
    html = paper(snapshot, trust=trust(whisker=[0.55, 0.62]))
    assert f"M{FULL.x(0.55):.1f}".removesuffix(".0") in html
    assert "With its uncertainty, 95 %: 55.0 to 62.0 %." in html
    assert "its tick: the best estimate" in html


def test_what_the_whisker_is_and_what_is_not_in_it_is_printed(snapshot: dict[str, Any]) -> None:
    html = paper(snapshot, setting_again={"sentence": "A hand found it within ± 3.1 points."})
    assert snapshot["record"]["trust"]["meaning"] in html
    assert "Finding the mark again is another thing, and in none of these figures:" in html
    assert "A hand found it within ± 3.1 points." in html


def test_a_gauges_correction_and_what_was_not_counted_are_printed(snapshot: dict[str, Any]) -> None:
    html = paper(snapshot, trust=trust(correction="The gauge reads 1.2 bar high here: counted."))
    assert "The gauge reads 1.2 bar high here: counted." in html
    assert "Not counted, because there is no figure for it: weight of the lever." in html


def test_an_older_record_says_nothing_of_it_and_that_it_does_not(snapshot: dict[str, Any]) -> None:
    html = paper(snapshot, trust=None, setting_again=None)
    assert "Measurement uncertainty is not stated and not taken into account." in html
    for words in ("Best estimate", "Whisker below", "With its uncertainty", "How far the load can be trusted", "± "):
        assert words not in html


def test_anyone_who_verifies_sees_it_too(cast: Cast, ship: Ship) -> None:
    certificate: Certificate = certified(ship, cast.superintendent)
    facts = public_facts(certificate)
    assert facts["trust"] == certificate_context(read_snapshot(certificate))["trust_words"]
    assert "on that day" in facts["meaning"]


def test_the_setting_for_exactly_the_target_is_printed_as_an_estimate(snapshot: dict[str, Any]) -> None:
    found = snapshot["record"]["setting_analysis"]
    html = paper(snapshot)
    assert (
        f"for exactly the target, an estimate:</strong> {found['target_setting_shown']} "
        f"({found['target_setting_interval_shown']}, 19 times in 20), from {found['readings_counted']} readings; near "
        f"it 1 mm changes the load by {found['slope_shown']} ({found['slope_interval_shown']}, 19 times in 20), as "
        "this gauge reads. What was tested is the setting as left."
    ) in html
    with_last = paper(snapshot, setting_analysis={**found, "last_test_on": "2025-11-20"})
    assert "readings and the test of 20 November 2025; near it" in with_last
    assert "for exactly the target, an estimate" not in paper(snapshot, setting_analysis=None)
