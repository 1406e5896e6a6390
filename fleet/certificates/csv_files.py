"""CSV files that a spreadsheet opens as text: no cell is ever taken for a formula."""

import csv
import io
from collections.abc import Iterable, Sequence

# Spreadsheets skip what is unseen before a formula sign; so does the look for one.
_UNSEEN = " \u00a0\u200b\ufeff"
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")


def plain_cell(value: object) -> str:
    """The cell's text, with an apostrophe before whatever a spreadsheet would try to work out."""
    text = "" if value is None else str(value)
    return f"'{text}" if text.lstrip(_UNSEEN).startswith(_FORMULA_SIGNS) else text


def csv_bytes(header: Sequence[object], rows: Iterable[Sequence[object]]) -> bytes:
    """UTF-8 with a byte order mark, because spreadsheets guess wrong without one."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_ALL)
    writer.writerow([plain_cell(cell) for cell in header])
    writer.writerows([plain_cell(cell) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")
