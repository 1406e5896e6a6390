import csv
import io

import pytest

from fleet.certificates.csv_files import csv_bytes, plain_cell


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "\u00a0=1", "\ufeff=1", "|calc", "%x"]
)
def test_what_a_spreadsheet_would_work_out_is_made_plain_text(text: str) -> None:
    # The signs: OWASP, "CSV Injection", and what spreadsheets skip before them.
    assert plain_cell(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", "DR-26-031", "59.7", "over the top = no", "a\n=b"])
def test_other_text_stays_as_it_is(text: str) -> None:
    assert plain_cell(text) == text


def test_a_file_reads_back_with_every_cell_in_its_place() -> None:
    data = csv_bytes(["drum", "told"], [("Head line 2", 'mate, "chief"\nby mail'), ("=cmd", None)])
    assert data.startswith(b"\xef\xbb\xbf")
    rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))
    assert rows == [["drum", "told"], ["Head line 2", 'mate, "chief"\nby mail'], ["'=cmd", ""]]
