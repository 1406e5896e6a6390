"""Photos from the deck: checked by content, turned upright, stripped of metadata, written anew."""

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Lock

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy as _
from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

MAX_BYTES = 10_000_000
MAX_PIXELS = 60_000_000
MAX_SIDE = 2400
QUALITY = 85
FORMATS = ("JPEG", "PNG", "WEBP")

EMPTY = _("This file is empty. Take the photo again and choose the new file.")
TOO_BIG = _("This photo is %(size)s MB; at most 10 MB can be taken. Set the camera to a smaller size, or crop it.")
TOO_MANY_PIXELS = _(
    "This picture has %(pixels)s million pixels; at most 60 million can be taken. Save it smaller and choose it again."
)
FAR_TOO_MANY_PIXELS = _(
    "This picture unpacks to far more than 60 million pixels, which is refused for safety. Save it smaller."
)
HEIC = _(
    "This is a HEIC photo, which cannot be read here. Set the phone's camera to save JPEG"
    " (often called “most compatible”), or save a copy as JPEG, and choose that."
)
NOT_A_PICTURE = _("This file is not a JPEG, PNG or WebP picture, whatever its name says. Choose a photo.")
DAMAGED = _("This picture is cut short or damaged. Copy it from the camera again, or take a new one.")

HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"heif"}


@dataclass(frozen=True)
class CleanPhoto:
    """A JPEG made by us from what was sent."""

    content: ContentFile
    extension: str
    width: int
    height: int


def clean_photo(uploaded: UploadedFile) -> CleanPhoto:
    """Return the photo re-encoded as JPEG, or raise ValidationError with the reason in plain words."""
    data = _read(uploaded)
    if data[4:8] == b"ftyp" and data[8:12] in HEIC_BRANDS:
        raise ValidationError(HEIC, code="heic")
    try:
        with _strict():
            picture = _decode(data)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError):
        raise ValidationError(FAR_TOO_MANY_PIXELS, code="pixels") from None
    out = io.BytesIO()
    picture.save(out, format="JPEG", quality=QUALITY, optimize=True)
    return CleanPhoto(ContentFile(out.getvalue(), name="photo.jpg"), "jpg", picture.width, picture.height)


_pillow = Lock()


@contextmanager
def _strict() -> Iterator[None]:
    """Pillow at its strictest: the library that makes our PDFs tells it, for the whole process, to bear cut files."""
    with _pillow, warnings.catch_warnings():
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        lenient = ImageFile.LOAD_TRUNCATED_IMAGES
        ImageFile.LOAD_TRUNCATED_IMAGES = False
        try:
            yield
        finally:
            ImageFile.LOAD_TRUNCATED_IMAGES = lenient


def _read(uploaded: UploadedFile) -> bytes:
    if uploaded.size is not None and uploaded.size > MAX_BYTES:
        raise ValidationError(TOO_BIG, code="too_big", params={"size": _megabytes(uploaded.size)})
    uploaded.seek(0)
    data = uploaded.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise ValidationError(TOO_BIG, code="too_big", params={"size": _megabytes(len(data))})
    if not data:
        raise ValidationError(EMPTY, code="empty")
    return data


def _megabytes(size: int) -> str:
    # Rounded up, so that a file just over the limit does not read "10.0 MB".
    return f"{-(-size // 100_000) / 10:.1f}"


def _decode(data: bytes) -> Image.Image:
    try:
        with Image.open(io.BytesIO(data), formats=FORMATS) as source:
            pixels = source.width * source.height
            if pixels > MAX_PIXELS:
                millions = -(-pixels // 1_000_000)
                raise ValidationError(TOO_MANY_PIXELS, code="pixels", params={"pixels": millions})
            # A JPEG can be decoded at reduced size at once, which spares memory.
            source.draft("RGB", (MAX_SIDE, MAX_SIDE))
            source.load()
            upright = ImageOps.exif_transpose(source)
            upright.thumbnail((MAX_SIDE, MAX_SIDE), Image.Resampling.LANCZOS)
            return _bare(upright)
    except UnidentifiedImageError:
        raise ValidationError(NOT_A_PICTURE, code="not_a_picture") from None
    except (OSError, SyntaxError, ValueError, EOFError, IndexError, KeyError, TypeError, OverflowError):
        # Pillow's decoders answer damaged data with any of these.
        raise ValidationError(DAMAGED, code="damaged") from None


def _bare(picture: Image.Image) -> Image.Image:
    """Only the pixels, on white where the picture was transparent: nothing else of the source is carried along."""
    clean = Image.new("RGB", picture.size, "white")
    if picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info:
        layered = picture.convert("RGBA")
        clean.paste(layered, mask=layered.getchannel("A"))
    else:
        clean.paste(picture.convert("RGB"))
    return clean
