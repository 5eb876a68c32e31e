"""Photos kept as evidence: written anew without what a camera adds (place, owner), stored under their hash."""

import hashlib
import os
import re
import tempfile
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

from django.conf import settings
from django.utils.translation import gettext as _
from PIL import Image, ImageOps

from trace.scan.photo import PhotoError, opened

LONGEST_SIDE = 2400  # pixels: a label held before the camera stays readable, a hundred photos stay below 100 MB
QUALITY = 82
TYPE = "image/jpeg"
KEPT = re.compile(r"([0-9a-f]{64}) ([0-9]{1,9}) image/jpeg")


def keep_photo(file: BinaryIO) -> str:
    """Store the picture and return "sha256 size type", the form in which a command names it.

    The file is PHOTO_FOLDER/ab/abcdef…; the same picture is stored once. Raises PhotoError (see photo.py) for
    anything that is no photo.
    """
    image = opened(file)
    try:
        turned = ImageOps.exif_transpose(image) or image
        turned.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
        out = BytesIO()
        # A new picture from the pixels alone: neither EXIF nor colour profile nor thumbnail goes along.
        plain = Image.new("RGB", turned.size, "white")
        plain.paste(turned.convert("RGB"))
        plain.save(out, "JPEG", quality=QUALITY)
    except Exception as error:
        # As in photo.py: a broken file raises a dozen kinds of errors, which all mean the same to the person.
        raise PhotoError(
            _("The photo is damaged: it could not be read to its end, so take it again or send it without.")
        ) from error
    data = out.getvalue()
    digest = hashlib.sha256(data).hexdigest()
    _write(path_of(digest), data)
    return f"{digest} {len(data)} {TYPE}"


def is_kept(text: str) -> bool:
    """Whether this is the name of a picture that is stored here: what comes back in a form may be anything."""
    found = KEPT.fullmatch(text)
    if found is None:
        return False
    path = path_of(found[1])
    return path.is_file() and path.stat().st_size == int(found[2])


def path_of(digest: str) -> Path:
    """Where a stored picture is."""
    return Path(settings.PHOTO_FOLDER) / digest[:2] / digest


def _write(path: Path, data: bytes) -> None:
    """Whole or not at all, and on the disk before the record that names it is."""
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    handle, name = tempfile.mkstemp(dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
