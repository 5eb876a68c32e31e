"""Read QR symbols from an uploaded photo: where there is no live camera, a picture of the label does."""

import re
from collections.abc import Callable, Iterator
from io import BytesIO
from time import thread_time
from typing import BinaryIO

import zxingcpp
from django.utils.translation import gettext as _
from PIL import Image, ImageFile, ImageFilter, ImageOps
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.WebPImagePlugin import WebPImageFile

MOST_BYTES = 12_000_000
MOST_PIXELS = 40_000_000  # of a JPEG, which is decoded at a half, a quarter or an eighth of its size
MOST_WHOLE_PIXELS = 16_000_000  # of a PNG or WebP, which can only be decoded whole
LARGE_SIDE = 3000  # pixels; what is larger is scaled down while it is decoded, as long as it stays above this
MOST_PASSES = 60  # a camera's progressive JPEG has about ten; each costs time over the whole picture
_SLOW_PIXELS = 16_000_000  # above it the slow steps work on the half-size picture
_QR = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)
# Of work, whatever else the machine does. An honest miss takes half a second; a page full of finder patterns would take
# ten.
_MOST_SECONDS = 2.0
_LEAST_SIDE = 21  # modules of the smallest symbol
_NEXT_MARKER = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]")
_START_OF_SCAN, _END_OF_IMAGE = 0xDA, 0xD9
# Brands of ISO/IEC 14496-12 files that hold HEVC or AV1 pictures (from memory).
_HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif", b"avis")


class PhotoError(ValueError):
    """A file that is not read as a photo; its text is one sentence: what, why, what now."""


def decode_photo(file: BinaryIO) -> list[str]:
    """Texts of the QR symbols in a JPEG, PNG or WebP photo, each once; [] when none is found.

    A text may be anything: only `parse_label_code` says whether it is ours. Reads at most 12 MB and 40
    megapixels; raises PhotoError, and nothing else, for any bytes that are no such photo.
    """
    kind, data = _checked(file)
    try:
        return _read(kind(BytesIO(data)))
    except PhotoError:
        raise
    except Exception as error:
        # Broken files raise a dozen kinds of errors in the decoders (OSError, SyntaxError, struct.error,
        # ValueError, MemoryError, …), and warnings where those are errors. To the person all mean the same.
        raise PhotoError(
            _("The photo is damaged: it could not be read to its end, so take it again or type the code.")
        ) from error


def opened(file: BinaryIO) -> ImageFile.ImageFile:
    """The picture in a JPEG, PNG or WebP photo within the same limits, not yet decoded; raises PhotoError."""
    kind, data = _checked(file)
    try:
        image = kind(BytesIO(data))
    except Exception as error:
        raise PhotoError(
            _("The photo is damaged: it could not be read to its end, so take it again or type the code.")
        ) from error
    _check_size(image)
    return image


def _checked(file: BinaryIO) -> tuple[type[ImageFile.ImageFile], bytes]:
    """The class that reads a file and its bytes, once they are within the limits; else PhotoError."""
    data = file.read(MOST_BYTES + 1)
    if not data:
        raise PhotoError(_("The photo is empty: no bytes arrived, so take it again or type the code."))
    if len(data) > MOST_BYTES:
        raise PhotoError(
            _("The photo is too large: it has more than 12 MB, so set the camera smaller or type the code.")
        )
    kind = _kind(data)
    if kind is JpegImageFile and _too_many_passes(data):
        raise PhotoError(_("The photo is not read: no camera makes so many passes, so take it again or type the code."))
    return kind, data


def _check_size(image: ImageFile.ImageFile) -> None:
    """By the size that its head says, before anything is decoded."""
    w, h = image.size
    most = MOST_PIXELS if isinstance(image, JpegImageFile) else MOST_WHOLE_PIXELS
    if w * h > most:
        raise PhotoError(
            _("The photo is too large: it has %(n)d megapixels, %(most)d are read, so set the camera smaller.")
            % {"n": w * h // 1_000_000, "most": most // 1_000_000}
        )


def smaller(size: tuple[int, int]) -> tuple[int, int]:
    """The size to ask a JPEG's decoder for: it gives the next one of 1, 1/2, 1/4, 1/8 that is not below."""
    w, h = size
    part = min(1.0, LARGE_SIDE / max(w, h))
    return max(1, int(w * part)), max(1, int(h * part))


def _kind(data: bytes) -> type[ImageFile.ImageFile]:
    """Class that reads these bytes, by their first ones and not by a name; PhotoError for any other.

    The classes are called directly: `Image.open` knows thirty formats more, and warns about a bomb through
    a global filter where this module refuses by its own limit.
    """
    if data.startswith(b"\xff\xd8\xff"):
        return JpegImageFile
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return PngImageFile
    if data.startswith(b"RIFF") and data[8:12] == b"WEBP":
        return WebPImageFile
    if data[4:8] == b"ftyp" and data[8:12] in _HEIF_BRANDS:
        raise PhotoError(_("HEIC and AVIF photos are not read here, so set the camera to JPEG or type the code."))
    raise PhotoError(
        _("This file is not a photo: it is neither JPEG, PNG nor WebP, so choose a photo or type the code.")
    )


def _read(image: ImageFile.ImageFile) -> list[str]:
    _check_size(image)
    if min(image.size) < _LEAST_SIDE:
        return []
    image.draft("L", smaller(image.size))  # a JPEG is decoded to grey, and to fewer pixels, at once
    image.load()
    image.info.pop("transparency", None)  # else the next line warns for some palettes
    grey = image.convert("L")
    if "A" in image.getbands():  # a picture of a symbol without a ground: what is clear counts as white
        white = Image.new("L", image.size, 255)
        white.paste(grey, mask=image.getchannel("A"))
        grey = white
    stop = thread_time() + _MOST_SECONDS
    for step in _steps(grey):
        if thread_time() > stop:
            break
        texts = [found.text for found in _symbols(step()) if found.text]
        if texts:
            return list(dict.fromkeys(texts))
    return []


def _symbols(grey: Image.Image) -> list[zxingcpp.Barcode]:
    return zxingcpp.read_barcodes(grey, formats=_QR, try_invert=False)


def _steps(grey: Image.Image) -> Iterator[Callable[[], Image.Image]]:
    """The picture as it is, then treated against noise, poor light, blur and distance; a hit ends it."""
    yield lambda: grey
    w, h = grey.size
    half = grey.reduce(2)
    yield lambda: half
    if w * h > _SLOW_PIXELS:
        grey = half
        w, h = grey.size
    yield lambda: ImageOps.autocontrast(grey.filter(ImageFilter.GaussianBlur(1.5)), cutoff=1)
    yield lambda: grey.filter(ImageFilter.UnsharpMask(radius=4, percent=200, threshold=0))
    middle = (w // 4, h // 4, 3 * w // 4, 3 * h // 4)
    yield lambda: grey.crop(middle).resize((w, h), Image.Resampling.BICUBIC)


def _too_many_passes(data: bytes) -> bool:
    """Count the scans of a JPEG's first picture. Twelve megabytes can hold thousands of tiny ones, each
    of which costs time over all of the picture. ITU-T T.81 annex B: marker segments, stuffed entropy data."""
    at, passes = 2, 0
    while (found := _NEXT_MARKER.search(data, at)) and passes <= MOST_PASSES:
        marker, at = data[found.end() - 1], found.end()
        if marker == _END_OF_IMAGE:
            break
        passes += marker == _START_OF_SCAN
        at += int.from_bytes(data[at : at + 2], "big")
    return passes > MOST_PASSES
