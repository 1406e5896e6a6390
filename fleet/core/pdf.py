"""Papers: HTML in, PDF bytes out. The one file that imports WeasyPrint, and only when a paper is made."""

import re
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from mimetypes import guess_type
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

from django.conf import settings
from django.utils.translation import gettext as _

VARIANTS = ("pdf/a-3b", "pdf/a-3a", "pdf/ua-1")

# Never looked up: every address under it is answered from our own files or from what the caller hands over.
HOST = "paper.invalid"
GIVEN = "/given/"
STATIC = "/static/"


class PdfUnavailable(RuntimeError):
    """This machine cannot make PDFs: a system library is missing. The record itself is not touched by that."""


@dataclass(frozen=True, kw_only=True)
class PdfAttachment:
    """A file carried inside the PDF; relationship is one of PDF's own words: Data, Source, Supplement, ..."""

    name: str
    content: bytes
    description: str
    mime_type: str
    relationship: str = "Data"


@dataclass(frozen=True)
class _File:
    content: bytes
    mime_type: str


def render_pdf(
    html: str,
    *,
    title: str,
    variant: str | None = None,
    attachments: Sequence[PdfAttachment] = (),
    created: datetime | None = None,
    pictures: Mapping[str, bytes] | None = None,
) -> bytes:
    """Make one paper from a whole HTML document; paper.css is always on it.

    With `created` the same input gives the same bytes on every run. `pictures` are what the HTML names as
    `given/<name>`; other files come from fleet/static/fleet by their name there. Anything else is refused.
    Raises PdfUnavailable where Pango is missing.
    """
    weasyprint, urls = _weasyprint()
    given = {f"picture/{name}": _File(content, _type_of(name)) for name, content in (pictures or {}).items()}
    given |= {f"attachment/{n}": _File(row.content, row.mime_type) for n, row in enumerate(attachments)}
    fetcher = _fetcher(urls, given)
    fonts = weasyprint.text.fonts.FontConfiguration()
    base_url = f"https://{HOST}{STATIC}fleet/"
    sheet = weasyprint.CSS(url=f"{base_url}paper.css", url_fetcher=fetcher, font_config=fonts)
    document = weasyprint.HTML(string=html, base_url=base_url, url_fetcher=fetcher).render(
        stylesheets=[sheet], font_config=fonts, pdf_variant=variant
    )
    moment = (created or datetime.now(UTC)).astimezone(UTC).replace(microsecond=0)
    document.metadata.title = title
    document.metadata.created = document.metadata.modified = moment.strftime("%Y-%m-%dT%H:%M:%SZ")
    document.metadata.attachments = [
        weasyprint.Attachment(
            url=f"https://{HOST}{GIVEN}attachment/{n}",
            url_fetcher=fetcher,
            name=row.name,
            description=row.description,
            relationship=row.relationship,
            created=moment,
            modified=moment,
        )
        for n, row in enumerate(attachments)
    ]
    with warnings.catch_warnings():
        # WeasyPrint leaves its own colour profile's file to the garbage collector.
        warnings.simplefilter("ignore", ResourceWarning)
        return bytes(document.write_pdf(pdf_variant=variant))


# What the shared pictures are coloured with on screens; on paper shape and words must do.
_SCREEN_COLOURS = re.compile("#(?:0b5c7a|a5421b|b9532b|16232b|4a5a63|0a5a94)", re.IGNORECASE)
_SCREEN_TINTS = re.compile("#(?:eceae2|bfe3d7|d8d4c8|fbfaf6)", re.IGNORECASE)


def in_black(html: str) -> str:
    """The same paper for a printer with black only: inks become black, tints a light grey."""
    return _SCREEN_TINTS.sub("#e4e4e4", _SCREEN_COLOURS.sub("#000000", html))


def _weasyprint() -> tuple[Any, Any]:
    try:
        import weasyprint
        import weasyprint.text.fonts
        import weasyprint.urls
    except OSError as error:  # how a missing shared library shows itself
        raise PdfUnavailable(
            _("PDFs cannot be made on this machine: the Pango library is missing. Install it and ask again.")
        ) from error
    return weasyprint, weasyprint.urls


def _type_of(name: str) -> str:
    return guess_type(name)[0] or "application/octet-stream"


def _file_at(url: str, given: Mapping[str, _File]) -> _File:
    """The file an address stands for; ValueError for any address that is not ours to serve."""
    parts = urlsplit(url)
    path = unquote(parts.path)
    if parts.scheme != "https" or parts.netloc != HOST:
        raise ValueError(f"A paper fetches nothing from elsewhere: {url[:200]}")
    if path.startswith(GIVEN):
        name = path.removeprefix(GIVEN)
        if name not in given:
            raise ValueError(f"No such file was given to the paper: {name}")
        return given[name]
    # `given/x.jpg` in the HTML is relative to our static folder, as every other name is.
    relative = path.removeprefix(STATIC)
    if relative.startswith("fleet/given/"):
        return _file_at(f"https://{HOST}{GIVEN}picture/{relative.removeprefix('fleet/given/')}", given)
    root = (Path(settings.BASE_DIR) / "fleet" / "static").resolve()
    file = (root / relative).resolve()
    if not path.startswith(STATIC) or not file.is_relative_to(root) or not file.is_file():
        raise ValueError(f"Not one of the paper's own files: {path}")
    return _File(file.read_bytes(), _type_of(file.name))


def _fetcher(urls: Any, given: Mapping[str, _File]) -> Any:
    class OwnFiles(urls.URLFetcher):
        def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
            file = _file_at(url, given)
            return urls.URLFetcherResponse(url, file.content, {"Content-Type": file.mime_type})

    # A paper with a hole in it is worse than none: a file that cannot be had stops the rendering.
    return OwnFiles(allowed_protocols=("https",), allow_redirects=False, fail_on_errors=True)
