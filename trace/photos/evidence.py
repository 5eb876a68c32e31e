"""Photos kept as evidence: written anew without what a camera adds (place, owner), kept with the scan that names them.

A photo waits apart, under the device that sent it, until a scan with it is recorded; then it goes to its place. What
no record names within a day is thrown away, and a device has only so many waiting at once.
"""

import hashlib
import os
import re
import tempfile
import time
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

from celery import shared_task
from django.conf import settings
from django.utils.translation import gettext as _
from PIL import Image, ImageOps

from trace.models import Blob
from trace.photos.photo import PhotoError, opened

LONGEST_SIDE = 2400  # pixels: a label held before the camera stays readable, a hundred photos stay below 100 MB
QUALITY = 82
TYPE = "image/jpeg"
KEPT = re.compile(r"([0-9a-f]{64}) ([0-9]{1,9}) image/jpeg")
DIGEST = re.compile(r"[0-9a-f]{64}")
MOST_WAITING = 4  # of one device: one form, and those that were left half-way; the oldest makes room
MOST_WAITING_IN_ALL = 400
WAITS_SECONDS = 24 * 3600


def keep_photo(file: BinaryIO, device: str) -> str:
    """Store the picture for the scan that is being made on this device and return "sha256 size type", the form in
    which a command names it.

    Raises PhotoError (see photo.py) for anything that is no photo.
    """
    image = opened(file)
    try:
        image.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))  # a JPEG is decoded to fewer pixels at once
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
    name = f"{digest} {len(data)} {TYPE}"
    if not path_of(digest).exists():
        _write(_waiting(device) / digest, data)
        _make_room(_waiting(device).glob("*"), MOST_WAITING)
        _make_room(_all_waiting(), MOST_WAITING_IN_ALL)
    return name


def is_kept(text: str, device: str) -> bool:
    """Whether this is the name of a picture that is kept, or waits for a scan of this device: what comes back in a form
    may be anything.
    """
    found = KEPT.fullmatch(text)
    if found is None:
        return False
    places = (path_of(found[1]), _waiting(device) / found[1])
    return any(path.is_file() and path.stat().st_size == int(found[2]) for path in places)


def settle(text: str) -> None:
    """A scan that names this picture is recorded: it goes to its place. The sweep does what was cut off."""
    found = KEPT.fullmatch(text)
    if found is not None:
        _settle(found[1])


def path_of(digest: str) -> Path:
    """Where the picture of a record is."""
    return Path(settings.PHOTO_FOLDER) / digest[:2] / digest


@shared_task(name="trace.sweep_photos")
def sweep_photos() -> int:
    """Bring each picture that a record names to its place, and throw away what no record has named for a day; how many
    were thrown away.
    """
    old = time.time() - WAITS_SECONDS
    found = [*_all_waiting(), *Path(settings.PHOTO_FOLDER).glob("[0-9a-f][0-9a-f]/*")]
    named = _named({path.name for path in found})
    thrown = 0
    for path in found:
        if path.name in named:
            _settle(path.name)
        elif _age_of(path) < old:
            path.unlink(missing_ok=True)
            thrown += 1
    return thrown


def _named(digests: set[str]) -> set[str]:
    """Those that a record names."""
    sure = sorted(digest for digest in digests if DIGEST.fullmatch(digest))
    return {
        str(digest)
        for n in range(0, len(sure), 1000)
        for digest in Blob.objects.filter(sha256__in=sure[n : n + 1000]).values_list("sha256", flat=True)
    }


def _settle(digest: str) -> None:
    place = path_of(digest)
    for path in Path(settings.PHOTO_FOLDER).glob(f"waiting/*/{digest}"):
        place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        path.replace(place)


def _waiting(device: str) -> Path:
    """The folder of one device; its name is a digest, as an id may be anything."""
    return Path(settings.PHOTO_FOLDER) / "waiting" / hashlib.sha256(device.encode()).hexdigest()[:32]


def _all_waiting() -> Iterator[Path]:
    return Path(settings.PHOTO_FOLDER).glob("waiting/*/*")


def _make_room(found: Iterator[Path], most: int) -> None:
    paths = sorted(found, key=_age_of)
    for path in paths[: max(0, len(paths) - most)]:
        path.unlink(missing_ok=True)


def _age_of(path: Path) -> float:
    """When it was last written, in seconds since 1970; 0 when it has just gone to its place."""
    try:
        return path.stat().st_mtime
    except FileNotFoundError:
        return 0.0


def _write(path: Path, data: bytes) -> None:
    """Whole or not at all, and on the disk before the record that names it is. Sent again, it counts as new."""
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
