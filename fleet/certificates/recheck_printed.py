"""Holds the words printed on a certificate against the record it carries."""

import re
from collections.abc import Iterator, Sequence
from typing import Any

from fleet.certificates.paper import slip_check
from fleet.certificates.recheck_lines import PRINTED, Line

# How many signs may stand between two figures of one printed row: the words of its formula, at most.
ROW_SIGNS = 700
_SPACE = re.compile(r"\s+")


def printed_lines(snapshot: dict[str, Any], text: str) -> list[Line]:
    """Each printed row and sentence with figures in it: whether it stands on the paper as the record has it."""
    paper = _closed_up(text)
    return [_line(what, fragments, paper) for what, fragments in _wanted(snapshot)]


def _line(what: str, fragments: Sequence[str], paper: str) -> Line:
    wanted = [part for fragment in fragments if (part := _closed_up(fragment))]
    if _stand_in_order(wanted, paper):
        return Line(PRINTED, what, True, ", ".join(fragment for fragment in fragments if fragment))
    lacking = [fragment for fragment in fragments if _closed_up(fragment) not in paper]
    said = f"not on the paper: {', '.join(lacking)}" if lacking else "not on the paper in this order"
    return Line(PRINTED, what, False, said)


def _stand_in_order(wanted: Sequence[str], paper: str) -> bool:
    """Whether all stand one after the other, close together, at some place of the paper."""
    if not wanted:
        return True
    start = paper.find(wanted[0])
    while start >= 0:
        at = start + len(wanted[0])
        for fragment in wanted[1:]:
            found = paper.find(fragment, at, at + ROW_SIGNS)
            if found < 0:
                break
            at = found + len(fragment)
        else:
            return True
        start = paper.find(wanted[0], start + 1)
    return False


def _wanted(snapshot: dict[str, Any]) -> Iterator[tuple[str, list[str]]]:
    record, certificate = snapshot["record"], snapshot["certificate"]
    results, target = record["results"], record["target"]
    yield "certificate number", [certificate["number"]]
    yield "verification code", [certificate["code"]]
    yield "vessel and drum", [record["vessel"]["name"], record["vessel"]["imo_number"], record["drum"]["name"]]
    yield (
        "result",
        [
            f"{results['as_left_share_shown']} of the",
            results["as_left_load_shown"],
            results["as_left_load_tf_shown"],
            results["setting"]["shown"] if results["setting"] else "",
        ],
    )
    yield "as found", [f"As found: {results['as_found_share_shown']}"] if results["as_found_share_shown"] else []
    if results["spread_shown"]:
        yield "spread of the verification slips", [f"verification slips: {results['spread_shown']}"]
    yield "base load", [record["vessel"]["base_load"]["shown"]]
    yield "target load", [record["policy"]["share_shown"], target["load_shown"], target["load_tf_shown"]]
    for line in record["working"]:
        values = [value["shown"] for value in line["values"]]
        yield f"working, {line['name']}", [line["name"], *values, line["shown"]]
    if slip := slip_check(record):
        # Where the gauge's certificate counts, the corrected reading is printed: the dial is not in proportion.
        reading = slip["corrected"] or slip["gauge"]
        yield "one slip worked backwards", [slip["target_load"], reading, slip["target_reading"], slip["load"]]
    yield "STOP reading", [record["stop"]["limit_label"], record["stop"]["reading_shown"]]
    for row in record["readings"]:
        held = "" if row["slipped"] else ", held: at least"
        cells = [
            f"{row['phase_label']}{held}",
            row["mark_text"],
            row["gauge_text"],
            row["load_shown"],
            row["share_shown"],
        ]
        # One cell after the other, with nothing between them.
        yield f"reading {row['order']}", [" ".join(cells)]
    if trust := record.get("trust"):
        names = ("share", "load", "U", "U_points", "k", "band", "probability")
        yield "uncertainty and verdict", [trust[f"{name}_shown"] for name in names]
        for line in trust["rows"]:
            yield f"budget, {line['name']}", [line["name"][:1].upper() + line["name"][1:], line["contribution_shown"]]
    if found := record.get("setting_analysis"):
        shown = ("target_setting_shown", "target_setting_interval_shown", "slope_shown", "slope_interval_shown")
        yield "setting for exactly the target", [found[name] for name in shown]
    if authority := snapshot.get("signature", {}).get("authority_sha256"):
        yield "SHA-256 of the authority", [str(authority).upper()]


def _closed_up(text: str) -> str:
    """Without any space: where a line breaks is the printer's business."""
    return _SPACE.sub("", text)
