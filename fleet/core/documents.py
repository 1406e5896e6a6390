"""A document sent along, PDF or picture: checked by content, and given out again so that it can do no harm."""

from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.db.models.fields.files import FieldFile
from django.http import FileResponse, Http404
from django.utils.translation import gettext_lazy as _

from fleet.core.photos import EMPTY, MAX_BYTES, clean_photo

TOO_BIG = _("This file is larger than 10 MB. Scan it at a lower resolution, or send only the pages that matter.")
BROKEN_PDF = _("This PDF is cut short: its end is missing. Copy the file again and choose the new copy.")
NOT_A_DOCUMENT = _("This file is neither a PDF nor a JPEG, PNG or WebP picture, whatever its name says. Choose one.")

TYPES = {"pdf": "application/pdf", "jpg": "image/jpeg"}


@dataclass(frozen=True)
class CleanDocument:
    """A document fit to be kept: a PDF as it came, or a picture made anew."""

    content: ContentFile
    extension: str


def clean_document(uploaded: UploadedFile) -> CleanDocument:
    """Return the document by what it holds, or raise ValidationError with the reason in plain words."""
    if uploaded.size is not None and uploaded.size > MAX_BYTES:
        raise ValidationError(TOO_BIG, code="too_big")
    uploaded.seek(0)
    data = uploaded.read(MAX_BYTES + 1)
    if not data:
        raise ValidationError(EMPTY, code="empty")
    if data.startswith(b"%PDF-"):
        if b"%%EOF" not in data[-2048:]:
            raise ValidationError(BROKEN_PDF, code="damaged")
        return CleanDocument(ContentFile(data, name="document.pdf"), "pdf")
    try:
        photo = clean_photo(uploaded)
    except ValidationError as error:
        if error.code == "not_a_picture":
            raise ValidationError(NOT_A_DOCUMENT, code="type") from None
        raise
    return CleanDocument(photo.content, photo.extension)


def file_answer(stored: FieldFile, *, name: str) -> FileResponse:
    """Give out a stored file the caller has checked access to: pictures inline, anything else to be saved."""
    extension = stored.name.rsplit(".", 1)[-1].lower() if stored and stored.name else ""
    if extension not in TYPES:
        raise Http404
    try:
        opened = stored.storage.open(str(stored.name), "rb")
    except FileNotFoundError:
        raise Http404 from None
    answer = FileResponse(
        opened, as_attachment=extension != "jpg", filename=f"{name}.{extension}", content_type=TYPES[extension]
    )
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer["Cache-Control"] = "private, max-age=300"
    return answer
