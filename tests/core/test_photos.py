"""Photos: known by content, turned upright, stripped, written anew; all else refused with the reason."""

import io
import struct
import zlib

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageFile
from PIL.PngImagePlugin import PngInfo

from fleet.core import photos
from fleet.core.photos import clean_photo

SECRET = b"SECRET-POSITION"


def picture(size: tuple[int, int] = (40, 20), mode: str = "RGB", colour: object = "red") -> Image.Image:
    return Image.new(mode, size, colour)  # type: ignore[arg-type]


def encoded(image: Image.Image, kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, format=kind, **options)
    return out.getvalue()


def upload(data: bytes, name: str = "photo.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, data, content_type="image/jpeg")


def refusal(data: bytes) -> ValidationError:
    with pytest.raises(ValidationError) as caught:
        clean_photo(upload(data))
    return caught.value


def opened(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(clean_photo(upload(data)).content.read()))


def png_claiming(width: int, height: int) -> bytes:
    """A valid PNG head with dimensions of our choice and next to no pixels behind it."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 64)) + chunk(b"IEND", b"")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_each_kind_taken_comes_out_as_a_jpeg(kind: str) -> None:
    clean = clean_photo(upload(encoded(picture(), kind), "x.exe"))
    image = Image.open(clean.content)
    assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (40, 20))
    assert (clean.extension, clean.width, clean.height) == ("jpg", 40, 20)


def test_position_and_all_other_metadata_are_gone() -> None:
    exif = Image.Exif()
    exif[0x010E] = SECRET.decode()
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2] = "S", (33.0, 51.0, 35.9)
    gps[29] = SECRET.decode()
    data = encoded(picture(), "JPEG", exif=exif, comment=SECRET, icc_profile=SECRET * 4)
    assert SECRET in data
    assert Image.open(io.BytesIO(data)).getexif().get_ifd(0x8825)
    out = clean_photo(upload(data)).content.read()
    assert SECRET not in out
    image = Image.open(io.BytesIO(out))
    assert not image.getexif()
    assert not {"exif", "comment", "icc_profile", "xmp"} & set(image.info)


def test_text_in_a_png_is_gone() -> None:
    info = PngInfo()
    info.add_text("Comment", SECRET.decode())
    data = encoded(picture(), "PNG", pnginfo=info)
    assert SECRET in data
    assert SECRET not in clean_photo(upload(data)).content.read()


def test_a_photo_held_sideways_is_turned_upright() -> None:
    image = picture((40, 20), colour="white")
    image.paste("black", (0, 0, 20, 20))  # the left half is black
    exif = Image.Exif()
    exif[0x0112] = 6  # turn a quarter clockwise to see it upright: the left half comes to the top
    upright = opened(encoded(image, "JPEG", exif=exif))
    assert upright.size == (20, 40)
    assert upright.convert("L").getpixel((10, 5)) < 60  # type: ignore[operator]
    assert upright.convert("L").getpixel((10, 35)) > 200  # type: ignore[operator]


def test_a_large_photo_is_brought_down_to_2400_pixels() -> None:
    assert opened(encoded(picture((4800, 1200)), "JPEG")).size == (2400, 600)
    assert opened(encoded(picture((1000, 3000)), "PNG")).size == (800, 2400)


def test_a_transparent_picture_is_laid_on_white() -> None:
    out = opened(encoded(picture(mode="RGBA", colour=(0, 0, 0, 0)), "PNG"))
    assert out.getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize("mode", ["L", "P", "1", "CMYK", "LA", "I;16"])
def test_unusual_colour_modes_are_taken(mode: str) -> None:
    kind = "JPEG" if mode == "CMYK" else "PNG"
    image = picture(mode=mode, colour=0) if mode != "P" else picture().convert("P")
    assert opened(encoded(image, kind)).mode == "RGB"


@pytest.mark.parametrize("kind", ["GIF", "BMP", "TIFF", "PDF", "ICO"])
def test_a_picture_of_another_kind_is_refused_by_content_whatever_its_name(kind: str) -> None:
    assert refusal(encoded(picture((32, 32)), kind)).message == photos.NOT_A_PICTURE


@pytest.mark.parametrize("data", [b"hello", b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"MZ" + b"\0" * 100])
def test_a_file_that_is_no_picture_is_refused(data: bytes) -> None:
    assert refusal(data).message == photos.NOT_A_PICTURE


def test_a_heic_photo_is_named_with_the_way_out() -> None:
    error = refusal(struct.pack(">I", 24) + b"ftypheic" + b"\0\0\0\0mif1heic" + b"\0" * 64)
    assert error.code == "heic"
    assert "JPEG" in str(error.message)


@pytest.mark.parametrize("lenient", [False, True])
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_picture_cut_short_is_called_damaged_also_where_pillow_was_told_to_bear_it(
    kind: str, lenient: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", lenient)
    image = Image.effect_mandelbrot((300, 300), (-2, -1.5, 1, 1.5), 60).convert("RGB")
    data = encoded(image, kind)
    assert refusal(data[: len(data) // 2]).message == photos.DAMAGED
    assert ImageFile.LOAD_TRUNCATED_IMAGES is lenient


def test_an_empty_file_is_called_empty() -> None:
    assert refusal(b"").message == photos.EMPTY


def test_a_file_over_ten_megabytes_is_refused_with_its_size() -> None:
    error = refusal(encoded(picture(), "JPEG") + b"\0" * 10_000_000)
    assert error.code == "too_big"
    assert "10.1 MB" in error.messages[0]


@pytest.mark.parametrize(("width", "height"), [(9000, 9000), (12_000, 12_000), (60_000, 60_000)])
def test_a_picture_that_unpacks_to_too_much_is_refused_before_it_is_unpacked(width: int, height: int) -> None:
    assert refusal(png_claiming(width, height)).code == "pixels"


def test_a_file_that_was_read_before_is_read_from_its_start() -> None:
    file = upload(encoded(picture(), "JPEG"))
    file.read()
    assert clean_photo(file).width == 40
