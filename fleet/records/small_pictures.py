"""A stored photo small enough for a list on a thin link."""

import io

from django.db.models.fields.files import FieldFile
from django.http import Http404, HttpResponse
from PIL import Image

SIDE = 320
QUALITY = 70


def small_answer(stored: FieldFile) -> HttpResponse:
    """A stored JPEG of ours, at most 320 pixels a side; access is checked by the caller."""
    try:
        opened = stored.storage.open(str(stored.name), "rb")
    except FileNotFoundError:
        raise Http404 from None
    out = io.BytesIO()
    with opened, Image.open(opened, formats=("JPEG",)) as picture:
        picture.draft("RGB", (SIDE, SIDE))
        picture.thumbnail((SIDE, SIDE))
        picture.save(out, format="JPEG", quality=QUALITY)
    return HttpResponse(
        out.getvalue(),
        content_type="image/jpeg",
        headers={
            "X-Content-Type-Options": "nosniff",
            "Content-Security-Policy": "default-src 'none'; sandbox",
            "Cache-Control": "private, max-age=300",
        },
    )
