"""Photos of labels are read; whatever else is uploaded ends in one sentence, soon."""

import contextlib
import os
import random
import re
import struct
import time
import zlib
from collections.abc import Callable
from io import BytesIO

import pypdfium2
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageEnhance, ImageFilter

from tests.labels.raster import QR
from trace.codes import issue_label_code
from trace.labels.layouts import ROLL_62X29, Face
from trace.labels.pdf import draw
from trace.labels.symbol import matrix, payload, runs
from trace.photos import photo
from trace.photos.photo import MOST_BYTES, PhotoError, decode_photo

CODE = issue_label_code(987_654_321)
TEXT = payload(CODE, "LOT.LAN")


def label(dots: int = 8) -> Image.Image:
    """The symbol of a label with its quiet zone, `dots` pixels to a module."""
    modules = matrix(TEXT)
    side = len(modules) + 8
    small = Image.new("L", (side, side), 255)
    for x, y, length in runs(modules):
        small.paste(0, (x + 4, y + 4, x + 4 + length, y + 5))
    return small.resize((side * dots, side * dots), Image.Resampling.NEAREST)


def scene(size: tuple[int, int] = (4000, 3000), dots: int = 8, angle: float = 12) -> Image.Image:
    """A label stuck askew on something grey, as a phone sees it from above."""
    picture = Image.new("L", size, 150)
    turned = label(dots).rotate(angle, expand=True, fillcolor=150, resample=Image.Resampling.BICUBIC)
    picture.paste(turned, ((size[0] - turned.width) // 2, (size[1] - turned.height) // 2))
    return picture


def saved(picture: Image.Image, kind: str = "JPEG", **options: object) -> bytes:
    out = BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


def read(data: bytes) -> list[str]:
    return decode_photo(BytesIO(data))


def refused(data: bytes) -> str:
    """The sentence of the refusal: one line, one full stop, what, why and what now."""
    with pytest.raises(PhotoError) as caught:
        read(data)
    sentence = str(caught.value)
    assert re.fullmatch(r"[A-Z][^.\n]*: [^.\n]+, so [^.\n]+\.|[A-Z][^.\n:]*, so [^.\n]+\.", sentence), (
        sentence
    )
    return sentence


def png_header(w: int, h: int, depth: int = 1, colour: int = 0) -> bytes:
    """Signature and IHDR of a PNG (ISO/IEC 15948): 33 bytes that promise w × h pixels."""
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", w, h, depth, colour, 0, 0, 0))


def chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def bomb(w: int, h: int) -> bytes:
    """A 1-bit PNG of w × h white pixels: a few kilobytes that unpack to w × h / 8 bytes."""
    packer = zlib.compressobj(9)
    row = b"\0" + b"\xff" * ((w + 7) // 8)
    body = b"".join(packer.compress(row) for _ in range(h)) + packer.flush()
    return png_header(w, h) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


# --- what is read ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("angle", [0, 90, 180, 37])
def test_three_formats_any_way_up(kind: str, angle: float) -> None:
    assert read(saved(scene((1200, 900), 6, angle).convert("RGB"), kind)) == [TEXT]


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGB", "RGBA", "LA", "I;16"])
def test_every_kind_of_png(mode: str) -> None:
    picture = scene((800, 600), 6)
    if mode == "I;16":
        wide = Image.frombytes("I;16", picture.size, b"".join(bytes((0, v)) for v in picture.tobytes()))
        assert read(saved(wide, "PNG")) in ([TEXT], [])  # no camera makes it; it must only not fail
        return
    assert read(saved(picture.convert(mode), "PNG")) == [TEXT]


def test_a_symbol_on_clear_ground_and_a_palette_with_clear_entries() -> None:
    clear = Image.new("RGBA", (600, 600), (0, 0, 0, 0))
    symbol = label(8)
    clear.paste((0, 0, 0, 255), (100, 100), symbol.point(lambda level: 255 - level))
    assert read(saved(clear, "PNG")) == [TEXT]
    palette = scene((800, 600), 6).convert("P")
    assert read(saved(palette, "PNG", transparency=bytes(range(256)))) == [TEXT]


def test_a_cmyk_and_a_progressive_jpeg() -> None:
    assert read(saved(scene((800, 600), 6).convert("CMYK"))) == [TEXT]
    assert read(saved(scene((800, 600), 6).convert("RGB"), progressive=True, quality=70)) == [TEXT]


def test_a_printed_label_of_two_symbols_names_the_thing_once() -> None:
    document = pypdfium2.PdfDocument(draw([Face(CODE, "T430-02", near_oven=True)], ROLL_62X29, "LOT.LAN"))
    picture = document[0].render(scale=6).to_pil()
    document.close()
    assert read(saved(picture.convert("RGB"))) == [TEXT]


# Pictures made by computer: what they show of a real phone is a guess (common practice).
HARD: dict[str, Callable[[Image.Image], Image.Image]] = {
    "blur of half a module": lambda p: p.filter(ImageFilter.GaussianBlur(4)),
    "a twentieth of the light, with noise": lambda p: noisy(ImageEnhance.Brightness(p).enhance(0.1)),
    "1.3 pixels to a module": lambda p: p.resize((650, 487), Image.Resampling.BOX),
}


def noisy(picture: Image.Image) -> Image.Image:
    """Half the picture, half coarse noise that is the same every time."""
    grain = Image.frombytes("L", (2000, 1500), random.Random(3).randbytes(3_000_000))
    grain = grain.point(lambda level: 110 + level // 9)
    return Image.blend(picture, grain.resize(picture.size, Image.Resampling.NEAREST), 0.5)


@pytest.mark.parametrize("trouble", sorted(HARD))
def test_hard_pictures_need_the_later_steps(trouble: str) -> None:
    data = saved(HARD[trouble](scene()), quality=90)
    assert zxingcpp.read_barcodes(Image.open(BytesIO(data)), formats=QR, try_invert=False) == []
    assert read(data) == [TEXT]


def test_a_picture_without_a_label_is_a_quick_and_empty_answer() -> None:
    rng = random.Random(5)
    picture = Image.frombytes("L", (500, 375), rng.randbytes(500 * 375)).resize((4000, 3000))
    data = saved(picture, quality=80)
    start = time.process_time()
    assert read(data) == []
    assert time.process_time() - start < 3  # 12 megapixels, the whole ladder
    assert read(saved(Image.new("L", (1, 1)), "PNG")) == []
    assert read(saved(Image.new("L", (5000, 3), 255), "PNG")) == []


def test_a_picture_full_of_finder_patterns_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photo, "_MOST_SECONDS", 0.2)
    tile = Image.new("L", (24, 24), 255)
    pen = ImageDraw.Draw(tile)
    pen.rectangle((0, 0, 20, 20), fill=0)
    pen.rectangle((3, 3, 17, 17), fill=255)
    pen.rectangle((6, 6, 14, 14), fill=0)
    picture = Image.new("L", (1600, 1200), 255)
    for y in range(0, 1200, 24):
        for x in range(0, 1600, 24):
            picture.paste(tile, (x, y))
    start = time.process_time()
    assert read(saved(picture, "PNG")) == []
    assert time.process_time() - start < 3


def test_what_a_foreign_symbol_says_is_only_text() -> None:
    import qrcode

    foreign = qrcode.QRCode(border=4, box_size=6)
    foreign.add_data("javascript:alert(1)\u202e\x00")
    out = BytesIO()
    foreign.make_image().save(out)
    assert len(read(out.getvalue())) == 1


# --- what is refused ------------------------------------------------------------------------------------


@pytest.mark.parametrize("side", [12_000, 30_000])
def test_bombs_are_refused_before_they_unpack(side: int) -> None:
    data = bomb(side, side)
    assert len(data) < 300_000
    start = time.process_time()
    assert f"{side * side // 1_000_000} megapixels, 16 are read" in refused(data)
    assert time.process_time() - start < 0.1


def test_the_limit_is_sixteen_megapixels_where_a_picture_can_only_be_decoded_whole_and_forty_for_a_jpeg() -> None:
    assert read(bomb(4000, 4000)) == []
    assert "16 are read" in refused(bomb(4001, 4000))
    assert read(saved(Image.new("L", (8000, 5000), 128))) == []
    assert "40 are read" in refused(saved(Image.new("L", (8001, 5000), 128)))
    assert "megapixels" in refused(
        png_header(0x7FFFFFFF, 0x7FFFFFFF) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")
    )
    huge_jpeg = bytearray(saved(scene((64, 64), 1)))
    at = huge_jpeg.index(b"\xff\xc0")
    huge_jpeg[at + 5 : at + 9] = b"\xff\xff\xff\xff"  # frame header: 65,535 × 65,535 (ITU-T T.81, B.2.2)
    assert "4294 megapixels" in refused(bytes(huge_jpeg))


def test_a_webp_that_promises_a_huge_canvas() -> None:
    data = bytearray(saved(Image.new("RGBA", (64, 64), (9, 9, 9, 9)), "WEBP", exif=b"Exif\0\0"))
    assert data[12:16] == b"VP8X"
    data[24:30] = b"\xff\x3f\x00\xff\x3f\x00"  # 16,384 × 16,384 (RFC 9649, 2.7)
    refused(bytes(data))


def test_too_many_bytes_are_not_even_looked_at() -> None:
    assert "more than 12 MB" in refused(b"\xff\xd8\xff" + bytes(MOST_BYTES))

    class Endless(BytesIO):
        def read(self, size: int | None = -1, /) -> bytes:
            assert size is not None and 0 < size <= MOST_BYTES + 1
            return bytes(size)

    with pytest.raises(PhotoError):
        decode_photo(Endless())


def test_a_jpeg_with_thousands_of_passes() -> None:
    data = saved(scene((400, 300), 3).convert("RGB"), progressive=True)
    start = data.rindex(b"\xff\xda")
    last = data[start:-2]
    assert read(data[:start] + last * 3 + b"\xff\xd9") is not None
    assert "so many passes" in refused(data[:start] + last * 5000 + b"\xff\xd9")
    # A film that a phone puts behind the photo is not counted: it is not part of the picture.
    assert read(data + b"\xff\xda\x00\x02" * 1000) == read(data)


@pytest.mark.parametrize("brand", [b"heic", b"heix", b"mif1", b"avif"])
def test_heic_is_named(brand: bytes) -> None:
    assert refused(b"\0\0\0\x18ftyp" + brand + bytes(200)).startswith(
        "HEIC and AVIF photos are not read here"
    )


@pytest.mark.parametrize(
    "data",
    [
        b"GIF89a" + bytes(50),
        b"%PDF-1.7\n",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"II*\0" + bytes(50),
        b"BM" + bytes(50),
        b"\0",
        b"not a photo at all",
        b"PK\x03\x04" + bytes(99),
    ],
)
def test_other_files_are_not_photos(data: bytes) -> None:
    assert "not a photo" in refused(data)


def test_an_empty_file() -> None:
    assert "empty" in refused(b"")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_truncated_photo_is_damaged(kind: str) -> None:
    data = saved(scene((800, 600), 6).convert("RGB"), kind)
    for share in (0.02, 0.3, 0.6, 0.9):
        assert "damaged" in refused(data[: int(len(data) * share)])


def test_a_png_with_a_wrong_checksum_is_damaged() -> None:
    data = bytearray(saved(scene((800, 600), 6), "PNG"))
    data[data.index(b"IDAT") + 40] ^= 0xFF
    assert "damaged" in refused(bytes(data))


def test_polyglots_are_read_as_the_photo_they_begin_with_or_refused() -> None:
    jpeg, png = saved(scene((800, 600), 6)), saved(scene((800, 600), 6), "PNG")
    script = b"<script>alert(1)</script>"
    assert read(jpeg + b"PK\x03\x04" + script) == [TEXT]
    assert read(jpeg[:2] + b"\xff\xfe" + struct.pack(">H", len(script) + 2) + script + jpeg[2:]) == [TEXT]
    assert read(png + script) == [TEXT]
    assert "not a photo" in refused(script + jpeg)
    assert "not a photo" in refused(b"%PDF-1.7\n" + jpeg)
    assert "damaged" in refused(jpeg[:3] + png)
    assert "damaged" in refused(png[:8] + jpeg)


def nothing_but_a_photo_error(data: bytes) -> None:
    with contextlib.suppress(PhotoError):
        read(data)


HEADS = [
    b"",
    b"\xff\xd8\xff",
    b"\x89PNG\r\n\x1a\n",
    png_header(40, 40, 8),
    b"RIFF\x40\0\0\0WEBPVP8 ",
    b"RIFF\x40\0\0\0WEBPVP8X",
]
SMALL = [saved(scene((120, 90), 2).convert("RGB"), kind) for kind in ("JPEG", "PNG", "WEBP")]
SMALL.append(saved(scene((120, 90), 2).convert("RGB"), progressive=True))


@given(st.sampled_from(HEADS), st.binary(max_size=400))
@settings(max_examples=400, deadline=None)
def test_any_bytes(head: bytes, data: bytes) -> None:
    nothing_but_a_photo_error(head + data)


@given(
    st.sampled_from(SMALL),
    st.lists(st.tuples(st.integers(0, 5000), st.integers(0, 255)), min_size=1, max_size=8),
)
@settings(max_examples=400, deadline=None)
def test_any_damage_to_a_photo(photo_bytes: bytes, changes: list[tuple[int, int]]) -> None:
    data = bytearray(photo_bytes)
    for at, value in changes:
        data[at % len(data)] = value
    nothing_but_a_photo_error(bytes(data))


def test_random_bytes_of_a_megabyte() -> None:
    for head in HEADS:
        nothing_but_a_photo_error(head + os.urandom(1_000_000))
