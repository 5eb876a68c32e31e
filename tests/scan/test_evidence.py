"""A photo is kept with the scan that names it, and with nothing else."""

import os
import time
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from tests.scan.cast import Plant
from tests.scan.conftest import Opens
from trace.models import Blob
from trace.photos import evidence, photo

FILLED = {"supplier": "VERRIN", "material": "LL-35 red", "lot_no": "V-1", "count": "1", "why": "damaged"}
FILLED |= {"note_no": "DN-1", "note_amount": "15"}
WRONG, RIGHT = {**FILLED, "each": "1,5"}, {**FILLED, "each": "15"}


def picture(n: int = 0) -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (64, 48), (n, n, n)).save(out, "JPEG")
    return SimpleUploadedFile("p.jpg", out.getvalue(), "image/jpeg")


def files(settings: Any, *folders: str) -> list[str]:
    """The names of the stored pictures: those that wait, or those in their place."""
    root = Path(settings.PHOTO_FOLDER)
    found = [path for path in root.rglob("*") if path.is_file()]
    waiting = [path for path in found if root / "waiting" in path.parents]
    return sorted(path.name for path in (waiting if "waiting" in folders else set(found) - set(waiting)))


def test_a_picture_waits_until_its_scan_is_recorded(plant: Plant, at: Opens, settings: Any) -> None:
    screen = at("goods-in")
    page = screen.press("book", **WRONG, photo_evidence=picture())
    assert (page.outcome, len(files(settings, "waiting")), files(settings)) == ("refused", 1, [])
    assert screen.press("hold", each="15").outcome == "accepted"
    assert files(settings, "waiting") == []
    assert files(settings) == [Blob.objects.get().sha256]


def test_only_the_picture_of_the_form_is_stored_and_only_so_many_wait(plant: Plant, at: Opens, settings: Any) -> None:
    screen = at("goods-in")
    form = screen.open("goods-in").form
    for name in ("photo_other", "elsewhere", "lot_no"):
        screen.client.post("/scan/goods-in/", {**form.values, **WRONG, "do": "book", name: picture()})
    assert files(settings, "waiting") == []
    for n in range(evidence.MOST_WAITING + 3):
        screen.client.post("/scan/goods-in/", {**form.values, **WRONG, "do": "book", "photo_evidence": picture(n)})
    assert len(files(settings, "waiting")) == evidence.MOST_WAITING


def test_the_sweep_throws_away_what_no_record_names(plant: Plant, at: Opens, settings: Any) -> None:
    screen = at("goods-in")
    screen.press("book", **WRONG, photo_evidence=picture(1))
    screen.press("hold", each="15")
    kept = files(settings)
    screen.press("book", **{**WRONG, "lot_no": "V-2"}, photo_evidence=picture(2))
    (waits,) = files(settings, "waiting")
    # Cut off between the record and the move: the picture of the record still waits.
    place = evidence.path_of(kept[0])
    back = Path(settings.PHOTO_FOLDER) / "waiting" / "0" / kept[0]
    back.parent.mkdir()
    place.rename(back)
    # What was stored before pictures waited apart, and nobody names.
    stray = evidence.path_of("f" * 64)
    stray.parent.mkdir()
    stray.write_bytes(b"x")
    assert evidence.sweep_photos() == 0
    assert (files(settings), files(settings, "waiting")) == (sorted([*kept, "f" * 64]), [waits])
    old = time.time() - evidence.WAITS_SECONDS - 1
    for path in Path(settings.PHOTO_FOLDER).rglob("*"):
        if path.is_file():
            os.utime(path, (old, old))
    assert evidence.sweep_photos() == 2
    assert (files(settings), files(settings, "waiting")) == (kept, [])


def test_a_picture_of_another_device_cannot_be_named(plant: Plant, at: Opens, settings: Any) -> None:
    kept = at("goods-in").press("book", **WRONG, photo_evidence=picture()).form.values["photo_evidence"]
    other = at("goods-in")
    page = other.press("hold", **RIGHT, photo_evidence=kept)
    assert page.outcome == "accepted"
    assert not Blob.objects.exists()


def test_a_large_photo_is_decoded_small_or_not_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[tuple[int, int]] = []

    def sees_nothing(grey: Image.Image) -> list[object]:
        seen.append(grey.size)
        return []

    monkeypatch.setattr(photo, "_symbols", sees_nothing)
    for kind in ("JPEG", "PNG"):
        out = BytesIO()
        Image.new("L", (7300, 5400), 128).save(out, kind)
        if kind == "PNG":
            with pytest.raises(photo.PhotoError, match="39 megapixels, 16 are read"):
                photo.decode_photo(BytesIO(out.getvalue()))
        else:
            assert photo.decode_photo(BytesIO(out.getvalue())) == []
    assert max(seen) <= (3650, 2700)
