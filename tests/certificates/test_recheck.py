"""A certificate rechecked from its file: good ones pass, and each altered one fails in the right line."""

import copy
import json
from collections.abc import Callable
from datetime import datetime
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection

from fleet.certificates.paper import certificate_html
from fleet.certificates.pdf_reading import UnreadablePdf, open_pdf
from fleet.certificates.recheck import Recheck, recheck
from fleet.certificates.recheck_figures import figure_lines
from fleet.certificates.recheck_lines import same
from fleet.certificates.recheck_printed import printed_lines
from fleet.certificates.recheck_trust import trust_lines
from fleet.certificates.signing import sign_pdf
from fleet.certificates.signing_keys import known_keys
from fleet.core import pdf
from fleet.core.canonical import canonical, sha256_of
from tests.certificates.signed import SignedPaper, with_added_revision, with_changed_byte, with_swapped_attachment

pytestmark = [pytest.mark.django_db, pytest.mark.pdf]
Change = Callable[[dict[str, Any]], None]


@pytest.fixture(scope="module")
def good(signed_paper: SignedPaper) -> Recheck:
    return recheck(signed_paper.content, authorities=[signed_paper.authority])


def record_of(paper: SignedPaper) -> dict[str, Any]:
    record: dict[str, Any] = json.loads(paper.snapshot)["record"]
    return record


def bad(found: Recheck) -> list[str]:
    return [line.what for line in found.lines if line.agrees is not True]


def forged(paper: SignedPaper, *, data: dict[str, Any], printed: dict[str, Any]) -> bytes:
    """A file whose words and data are chosen freely, signed with the operator's own key: as an insider might."""
    identity = known_keys().signer(
        paper.authority.company_code,
        at=datetime.fromisoformat(data["certificate"]["issued_at"]),
        authority_sha256=paper.authority.sha256,
    ) or next(row for row in known_keys().identities if row.authority == paper.authority)
    content = pdf.render_pdf(
        certificate_html(printed),
        title="",
        variant="pdf/a-3a",
        attachments=[
            pdf.PdfAttachment(
                name=f"{paper.number}.json", content=canonical(data), description="", mime_type="application/json"
            )
        ],
    )
    return sign_pdf(content, identity=identity, reason="")


# --- good certificates -------------------------------------------------------------------------------------------


def test_every_line_of_a_good_certificate_agrees(good: Recheck) -> None:
    assert bad(good) == []
    assert good.all_agree
    assert {line.part for line in good.lines} >= {"signature", "data", "figures", "trust", "printed"}
    assert len(good.lines) > 40


def test_the_command_says_so_line_by_line_and_exits_with_0(signed_paper: SignedPaper, tmp_path: Path) -> None:
    file, authority = tmp_path / "c.pdf", tmp_path / "ca.pem"
    file.write_bytes(signed_paper.content)
    authority.write_bytes(signed_paper.authority.pem)
    said, code = commanded(str(file), "--ca", str(authority))
    assert code == 0, said
    assert "ok   target reading: 173.2 bar" in said
    assert "BAD" not in said
    assert "permission to moor" in said


def commanded(*words: str) -> tuple[str, int]:
    out = StringIO()
    try:
        call_command("recheck", *words, stdout=out)
    except SystemExit as stop:
        return out.getvalue(), int(stop.code or 0)
    return out.getvalue(), 0


def test_it_asks_no_database(signed_paper: SignedPaper) -> None:
    def refuse(*args: Any) -> Any:
        raise AssertionError("the database was asked")

    with connection.execute_wrapper(refuse):
        assert recheck(signed_paper.content, authorities=[signed_paper.authority]).all_agree


def test_our_own_reading_of_the_words_is_that_of_pdftotext(signed_paper: SignedPaper) -> None:
    """An independent reader, poppler's `pdftotext`, finds the same words; only their order may differ."""
    import subprocess

    done = subprocess.run(["pdftotext", "-", "-"], input=signed_paper.content, capture_output=True, check=True)
    ours, theirs = open_pdf(signed_paper.content).text(), done.stdout.decode()
    # Drawn letter by letter, the labels of the picture and the bullets are no words for one of the two.
    words = [word for word in theirs.split() if len(word) > 4]
    closed = "".join(ours.split())
    assert [word for word in words if "".join(word.split()) not in closed] == []


# --- altered files -----------------------------------------------------------------------------------------------


def test_a_changed_byte_is_the_signatures_line(signed_paper: SignedPaper) -> None:
    # In the metadata, where nothing but the signature looks.
    altered = with_changed_byte(signed_paper.content, signed_paper.content.rindex(b"Producer", 0, 60_000) + 1)
    found = recheck(altered, authorities=[signed_paper.authority])
    assert "signed bytes" in bad(found)
    assert not found.all_agree


def test_an_added_revision_is_the_line_on_the_whole_file(signed_paper: SignedPaper) -> None:
    found = recheck(with_added_revision(signed_paper.content), authorities=[signed_paper.authority])
    assert bad(found) == ["whole file signed"]


def test_a_swapped_attachment_is_seen_in_the_file_and_in_the_figure(signed_paper: SignedPaper) -> None:
    snapshot = json.loads(signed_paper.snapshot)
    snapshot["record"]["results"]["as_left_share_shown"] = "62.0 %"
    altered = with_swapped_attachment(signed_paper.content, canonical(snapshot))
    wrong = bad(recheck(altered, authorities=[signed_paper.authority]))
    assert {"whole file signed", "SHA-256 of the ship's part", "as left, mean of the verification slips"} <= set(wrong)
    assert "audit proof of the issue" in wrong
    assert "result" in wrong  # the paper still says what was


def test_without_a_trusted_authority_it_is_not_all_agreed(signed_paper: SignedPaper) -> None:
    assert bad(recheck(signed_paper.content, authorities=[])) == ["authority"]


def test_an_unsigned_paper_is_no_good_certificate(signed_paper: SignedPaper) -> None:
    assert bad(recheck(signed_paper.unsigned, authorities=[signed_paper.authority])) == ["signature"]


def test_words_that_differ_from_the_data_are_found_though_the_signature_is_right(signed_paper: SignedPaper) -> None:
    data = json.loads(signed_paper.snapshot)
    printed = copy.deepcopy(data)
    printed["record"]["readings"][3]["share_shown"] = "62.0"
    wrong = bad(recheck(forged(signed_paper, data=data, printed=printed), authorities=[signed_paper.authority]))
    assert wrong == ["reading 4"]


def test_figures_that_do_not_follow_are_found_though_the_signature_is_right(signed_paper: SignedPaper) -> None:
    data = json.loads(signed_paper.snapshot)
    data["record"]["results"]["as_left_share_shown"] = "61.0 %"
    data["record_sha256"] = sha256_of(canonical(data["record"]))
    wrong = bad(recheck(forged(signed_paper, data=data, printed=data), authorities=[signed_paper.authority]))
    assert wrong == ["as left, mean of the verification slips"]


def put(*path: Any, value: Any) -> Change:
    def change(record: dict[str, Any]) -> None:
        at: Any = record
        for name in path[:-1]:
            at = at[name]
        at[path[-1]] = value

    return change


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (put("vessel", "base_load", "text", value="638"), "figures as typed"),
        (put("readings", 2, "gauge_text", value="171"), "figures as typed"),
        (put("target", "load_shown", value="382.3 kN"), "target load"),
        (put("target", "reading_si", value=17_400_000.0), "target reading"),
        (put("policy", "share_shown", value="61.0 %"), "share aimed at"),
        (put("working", 1, "shown", value="324.0 mm"), "working, distance from drum centre to line"),
        (put("working", 2, "values", 1, "shown", value="324.0 mm"), "working, moment at the drum"),
        (put("stop", "limit", value="jack_rating"), "STOP reading"),
        (put("stop", "mark_shown", value="188 bar"), "division marks for target and STOP"),
        (put("readings", 0, "load_shown", value="326.6"), "line load of reading 1, as found, untouched"),
        (put("readings", 3, "share", value=0.65), "line load of reading 4, verification"),
        (put("results", "as_found_held", value=True), "as found"),
        (put("results", "as_left_load_n", value=380_000.0), "as left, mean of the verification slips"),
        (put("results", "spread_shown", value="0.2 %"), "spread of the verification slips"),
        (put("results", "verification_slips", value=3), "number of verification slips"),
        (put("results", "in_band", value=False), "in the band, as read"),
    ],
)
def test_each_altered_figure_is_named(signed_paper: SignedPaper, change: Change, line: str) -> None:
    record = record_of(signed_paper)
    change(record)
    assert [row.what for row in figure_lines(record) if not row.agrees] == [line]


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (put("trust", "share_shown", value="60.0 %"), "best estimate of the load"),
        (put("trust", "U_shown", value="1.0 kN"), "expanded uncertainty and coverage factor"),
        (put("trust", "whisker", value=[0.55, 0.60]), "whisker"),
        (put("trust", "verdict", value="not_proven"), "verdict on the band"),
        (put("trust", "rows", 0, "contribution_shown", value="0.01"), "budget, "),
    ],
)
def test_each_altered_figure_of_the_uncertainty_is_named(signed_paper: SignedPaper, change: Change, line: str) -> None:
    record = record_of(signed_paper)
    change(record)
    (wrong,) = [row.what for row in trust_lines(record) if not row.agrees]
    assert wrong.startswith(line)


def test_a_record_from_before_the_uncertainty_was_stated_has_no_lines_on_it(signed_paper: SignedPaper) -> None:
    record = record_of(signed_paper)
    del record["trust"]
    assert trust_lines(record) == []
    assert all(line.agrees for line in figure_lines(record))


def test_a_record_that_lacks_a_part_is_said_to_not_a_crash(signed_paper: SignedPaper) -> None:
    record = record_of(signed_paper)
    del record["kit"]["jacks"]
    wrong = [line for line in figure_lines(record) if not line.agrees]
    assert wrong
    assert all("cannot be worked out" in line.said for line in wrong)


def test_figures_scattered_over_the_paper_do_not_count_as_a_row(signed_paper: SignedPaper) -> None:
    snapshot = json.loads(signed_paper.snapshot)
    text = open_pdf(signed_paper.content).text()
    swapped = text.replace("379.5 59.6", "381.7 59.9", 1)
    assert swapped != text
    assert [line.what for line in printed_lines(snapshot, swapped) if not line.agrees] == ["reading 3"]


@pytest.mark.parametrize("name", ["target_setting", "target_setting_interval", "slope", "slope_interval"])
def test_another_setting_for_the_target_on_the_paper_is_named(signed_paper: SignedPaper, name: str) -> None:
    snapshot, row = json.loads(signed_paper.snapshot), "setting for exactly the target"
    text = open_pdf(signed_paper.content).text()
    assert [line.agrees for line in printed_lines(snapshot, text) if line.what == row] == [True]
    snapshot["record"]["setting_analysis"][f"{name}_shown"] = "12.3"
    assert [line.what for line in printed_lines(snapshot, text) if not line.agrees] == [row]


@pytest.mark.parametrize(
    ("first", "second", "equal"),
    [
        (0.1 + 0.2, 0.3, True),
        (0.3, 0.3001, False),
        (1, True, False),
        (None, 0.0, False),
        ({"a": 1.0}, {"a": 1.0, "b": 2}, False),
        ([1.0, "x"], [1.0, "x"], True),
    ],
)
def test_what_counts_as_the_same(first: Any, second: Any, equal: bool) -> None:
    assert same(first, second) is equal


# --- files that are none -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "content", [b"", b"hello", b"%PDF-1.7", b"%PDF-1.7\nstartxref\n0\n%%EOF", b"%PDF-" + b"x" * 2_100_000]
)
def test_what_is_no_readable_pdf_is_refused_in_words(tmp_path: Path, content: bytes) -> None:
    with pytest.raises(UnreadablePdf):
        recheck(content, authorities=[])
    file = tmp_path / "x.pdf"
    file.write_bytes(content)
    said, code = commanded(str(file))
    assert code == 2
    assert "BAD" in said


def test_a_cut_off_file_is_never_good(signed_paper: SignedPaper) -> None:
    for length in range(2000, len(signed_paper.content), 6000):
        try:
            assert not recheck(signed_paper.content[:length], authorities=[signed_paper.authority]).all_agree
        except UnreadablePdf:
            continue


def test_a_file_that_is_not_there_is_said_to_be_so(tmp_path: Path) -> None:
    said, code = commanded(str(tmp_path / "none.pdf"))
    assert code == 2
    assert "No such file" in said
