"""Reading a certificate's PDF back: the record it carries and the words printed on it. Never trusts the file.

Reads what our own papers are made of: text drawn in hexadecimal with fonts that say which sign each glyph stands for.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from pyhanko.pdf_utils.decode_limits import DecodeLimits, DocumentDecodeBudget, StreamDecodeLimits
from pyhanko.pdf_utils.reader import PdfFileReader

MOST_BYTES = 2_000_000
MOST_PAGES = 60
MOST_ATTACHMENTS = 10
MOST_DEPTH = 8
MiB = 1024 * 1024
DAMAGED = gettext_noop("This PDF is damaged and cannot be read. Copy it again from where you received it.")
# A paper of ours unpacks to about half a megabyte; a small file made to fill the memory is refused long before it does.
LIMITS = DecodeLimits(
    per_stream=StreamDecodeLimits(max_output_size=8 * MiB),
    document_budget=DocumentDecodeBudget(base_allowance=32 * MiB, max_ratio=1),
)


class UnreadablePdf(ValueError):
    """Not a PDF, or not one that can be read; the message says so in words."""


@dataclass(frozen=True)
class OpenedPdf:
    """A file read far enough to ask it questions."""

    content: bytes
    reader: PdfFileReader

    def attachments(self) -> dict[str, bytes]:
        """The files it carries, by name."""
        return _guarded(self._attachments)

    def text(self) -> str:
        """Every word printed on its pages, in the order in which it was drawn, parted by single spaces."""
        return _guarded(lambda: " ".join(" ".join(self._texts()).split()))

    def _attachments(self) -> dict[str, bytes]:
        names = _at(_at(_at(self.reader.root, "/Names", {}), "/EmbeddedFiles", {}), "/Names", [])
        if len(names) > 2 * MOST_ATTACHMENTS:
            raise UnreadablePdf(_("This PDF carries too many files."))
        found = {}
        for place in range(0, len(names) - 1, 2):
            spec = names[place + 1].get_object()
            found[str(names[place])] = bytes(spec["/EF"]["/F"].data)
        return found

    def _texts(self) -> Iterator[str]:
        for number, page in enumerate(_pages(self.reader.root["/Pages"])):
            if number >= MOST_PAGES:
                raise UnreadablePdf(_("This PDF has too many pages."))
            content = _at(page, "/Contents", [])
            parts = content if isinstance(content, list) else [content]
            data = b"\n".join(part.get_object().data for part in parts)
            yield from _drawn(data, _at(page, "/Resources", {}), depth=0)


def open_pdf(content: bytes) -> OpenedPdf:
    """Open a file's bytes. Raises UnreadablePdf."""
    if not content.startswith(b"%PDF-"):
        raise UnreadablePdf(_("This is not a PDF file. Choose the certificate as you received it."))
    if len(content) > MOST_BYTES:
        raise UnreadablePdf(_("This file is too large for a certificate."))
    reader = _guarded(lambda: PdfFileReader(BytesIO(content), decode_limits=LIMITS))
    if reader.encrypted:
        raise UnreadablePdf(_("This PDF is encrypted, which no certificate is."))
    return OpenedPdf(content, reader)


def _guarded(work: Any) -> Any:
    """The library says in many ways that a file is broken; here it is one."""
    try:
        return work()
    except UnreadablePdf:
        raise
    except (Exception, RecursionError) as error:
        raise UnreadablePdf(_(DAMAGED)) from error


def _at(holder: Any, key: str, default: Any) -> Any:
    """What stands under a key, followed to where it is kept."""
    found = holder.get(key, default)
    return found.get_object() if hasattr(found, "get_object") else found


def _pages(node: Any, depth: int = 0) -> Iterator[Any]:
    if depth > MOST_DEPTH:
        raise UnreadablePdf(_(DAMAGED))
    if "/Kids" not in node:
        yield node
        return
    for kid in _at(node, "/Kids", []):
        yield from _pages(kid.get_object(), depth + 1)


_TOKEN = re.compile(
    rb"/([^\s/<>\[\]()]+)\s+[-.\d]+\s+Tf"  # a font is chosen
    rb"|/([^\s/<>\[\]()]+)\s+Do\b"  # a drawing of its own is placed
    rb"|\[([^\[\]]*)\]\s*TJ"  # text with its spacing
    rb"|<([0-9a-fA-F\s]*)>\s*Tj"
)
_HEX = re.compile(rb"<([0-9a-fA-F\s]*)>")


def _drawn(data: bytes, resources: Any, depth: int) -> Iterator[str]:
    fonts, drawings = _at(resources, "/Font", {}), _at(resources, "/XObject", {})
    signs: dict[str, dict[int, str]] = {}
    chosen = ""
    for token in _TOKEN.finditer(data):
        font, drawing, spaced, plain = token.groups()
        if font is not None:
            chosen = f"/{font.decode('latin-1')}"
            if chosen not in signs:
                signs[chosen] = _signs_of(_at(fonts, chosen, {}))
        elif drawing is not None:
            inner = _at(drawings, f"/{drawing.decode('latin-1')}", {})
            if inner.get("/Subtype") == "/Form" and depth < MOST_DEPTH:
                yield from _drawn(inner.data, _at(inner, "/Resources", {}), depth + 1)
        else:
            glyphs = b"".join(_HEX.findall(spaced)) if spaced is not None else plain
            yield _words(bytes.fromhex(glyphs.decode()), signs.get(chosen, {}))


def _words(glyphs: bytes, signs: dict[int, str]) -> str:
    pairs = (int.from_bytes(glyphs[place : place + 2], "big") for place in range(0, len(glyphs), 2))
    return "".join(signs.get(pair, "\ufffd") for pair in pairs)


_PAIRS = re.compile(rb"<([0-9a-fA-F]+)>\s*<([0-9a-fA-F]+)>")
_LIST = re.compile(rb"beginbfchar(.*?)endbfchar", re.DOTALL)


def _signs_of(font: Any) -> dict[int, str]:
    """Glyph → the signs it stands for, as the font's own table says."""
    table = _at(font, "/ToUnicode", None)
    found: dict[int, str] = {}
    for listed in _LIST.findall(table.data) if table is not None else ():
        for glyph, sign in _PAIRS.findall(listed):
            found[int(glyph, 16)] = bytes.fromhex(sign.decode()).decode("utf-16-be", errors="replace")
    return found
