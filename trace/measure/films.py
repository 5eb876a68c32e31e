"""Films of labels as a phone sees them: tilted, out of focus, under a lamp, a quarter of the symbol destroyed.

A pinhole camera over a label on cardboard, without any file but what is made here; the same seed makes the same film.
Needs numpy and Pillow. Pictures are 1280 x 720 JPEG, which is what Chromium's stand-in for a camera plays.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any, Literal

import numpy as np
import zxingcpp
from PIL import Image, ImageDraw, ImageFilter

from trace.labels.symbol import QUIET_MODULES, Matrix, matrix

WIDTH, HEIGHT = 1280, 720
PX = 12  # of the flat label to a module
BAR = 5  # of the flat label to the narrowest bar
FOCAL = 1000.0  # of the camera, in its pixels: a field of view of 65 degrees, about that of a phone
Trouble = Literal["none", "blur", "glare", "damage"]
TROUBLES: tuple[Trouble, ...] = ("none", "blur", "glare", "damage")
TILTS = (15, 30, 45, 60)  # degrees


@dataclass(frozen=True)
class Shot:
    """One label in a film: what it holds, how it is held, what is wrong with the sight of it."""

    text: str
    linear: bool = False
    tilt: int = 0
    trouble: Trouble = "none"


def write_film(path: Path, shots: Sequence[Shot], *, seed: int, pictures: int = 7, each: int = 6) -> None:
    """An endless loop for --use-file-for-fake-video-capture: so many different pictures a label, each shown `each`
    times at 30 a second."""
    with path.open("wb") as film:
        for pictures_of_one in pictures_of(shots, seed=seed, count=pictures):
            for picture in pictures_of_one:
                film.write(picture * each)


def pictures_of(shots: Sequence[Shot], *, seed: int, count: int = 7) -> Iterator[list[bytes]]:
    """The different pictures of each label, as JPEGs, one label after the other."""
    rng = np.random.default_rng(seed)
    ground = _cardboard(rng)
    for shot in shots:
        yield list(_pictures(shot, ground, rng, count))


def _pictures(shot: Shot, ground: Image.Image, rng: np.random.Generator, count: int) -> Iterator[bytes]:
    """JPEGs of one label in a hand that is never quite still."""
    modules = None if shot.linear else matrix(shot.text)
    if modules is not None and shot.trouble == "damage":
        modules = destroyed(modules, rng)
    flat = _linear_label(shot, rng) if modules is None else _label(modules, shot.text)
    # The symbol as large as a hand holds it in the frame, before it is tilted, and a module (or a bar) then, in pixels.
    wide = rng.uniform(150, 260) if modules is not None else rng.uniform(480, 600)
    size = wide / (PX * len(modules) if modules is not None else flat.width)
    module = size * (PX if modules is not None else BAR)
    turn, round_, at = rng.uniform(-25, 25), rng.uniform(0, 2 * math.pi), rng.uniform(-60, 60, 2)
    for n in range(count):
        shake = rng.normal(0, 1, 4)
        picture = ground.copy()
        _put(picture, flat, size, shot.tilt + shake[0], turn + shake[1], round_, at + 4 * shake[2:])
        if shot.trouble == "glare":
            _glare(picture, (n + 0.5) / count, 70)
        picture = picture.filter(ImageFilter.GaussianBlur(_focus(shot, n, count) * module))
        noisy = np.asarray(picture, np.float32) + rng.normal(0, 4, (HEIGHT, WIDTH))
        out = BytesIO()
        image = Image.fromarray(np.clip(noisy, 0, 255).astype(np.uint8)).convert("RGB")
        image.save(out, "JPEG", quality=88, subsampling=2)
        yield out.getvalue()


def _focus(shot: Shot, n: int, count: int) -> float:
    """Sigma of the blur in modules. A lens that seeks its focus comes from far off and stays a little soft: 0.3 of a
    module as it is seen, which is as much as a symbol bears (tried with simulated photos, no published figure)."""
    if shot.trouble != "blur":
        return 0.1
    return max(0.3 * math.cos(math.radians(shot.tilt)), 0.8 - 1.4 * n / max(1, count - 1))


def _cardboard(rng: np.random.Generator) -> Image.Image:
    """A brown box in the light of one window, with a printed band and an edge."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
    grey = 105 + 40 * x / WIDTH - 25 * y / HEIGHT + rng.normal(0, 6, (HEIGHT, WIDTH))
    image = Image.fromarray(np.clip(grey, 0, 255).astype(np.uint8))
    draw = ImageDraw.Draw(image)
    draw.polygon([(0, 640), (WIDTH, 560), (WIDTH, 600), (0, 690)], fill=60)
    for n in range(14):
        draw.rectangle((40 + 26 * n, 40, 52 + 26 * n, 40 + 5 * (n % 4)), fill=50)
    return image


def _label(modules: Matrix, text: str) -> Image.Image:
    """White, the symbol with its quiet zone at the left, its code beside it."""
    side = len(modules) + 2 * QUIET_MODULES
    label = Image.new("L", (int(1.9 * side), side), 245)
    for y, row in enumerate(modules):
        for x, dark in enumerate(row):
            if dark:
                label.putpixel((x + QUIET_MODULES, y + QUIET_MODULES), 25)
    label = label.resize((PX * label.width, PX * label.height), Image.Resampling.NEAREST)
    ImageDraw.Draw(label).text((PX * side, PX * side / 2), text[-8:], fill=25, font_size=5 * PX, anchor="lm")
    return label


def _linear_label(shot: Shot, rng: np.random.Generator) -> Image.Image:
    """A supplier's label: Code 128 with its text below. Damage takes a quarter of the height of its bars."""
    code = zxingcpp.create_barcode(shot.text, zxingcpp.BarcodeFormat.Code128)
    bars = Image.fromarray(np.asarray(code.to_image(scale=1, add_quiet_zones=False))[:1])
    high = 44
    label = Image.new("L", (bars.width + 20, high + 8), 245)
    label.paste(bars.resize((bars.width, high)).point(lambda grey: 25 if grey < 128 else 245), (10, 0))
    label = label.resize((BAR * label.width, BAR * label.height), Image.Resampling.NEAREST)
    draw = ImageDraw.Draw(label)
    draw.text((10 * BAR, BAR * high), shot.text, fill=25, font_size=7 * BAR)
    if shot.trouble == "damage":
        top = int(rng.uniform(0, 0.75) * BAR * high)
        draw.rectangle((0, top, label.width, top + BAR * high // 4), fill=int(rng.choice([60, 200])))
    return label


def _put(picture: Image.Image, flat: Image.Image, size: float, tilt: float, turn: float, way: float, at: Any) -> None:
    """Lay a flat label into the picture: turned in its plane, tilted about an axis that points `way`."""
    w, h = flat.size
    a, t = math.radians(turn), math.radians(tilt)
    depth = FOCAL / size  # of the label's middle, in pixels of the flat label
    middle = h / 2 if w < 2 * h else w / 2  # of the symbol: a square one stands at the left
    corners = []
    for x, y in ((0, 0), (w, 0), (w, h), (0, h)):
        u, v = x - middle, y - h / 2
        u, v = u * math.cos(a) - v * math.sin(a), u * math.sin(a) + v * math.cos(a)
        along, across = u * math.cos(way) + v * math.sin(way), -u * math.sin(way) + v * math.cos(way)
        away, across = depth + across * math.sin(t), across * math.cos(t)
        u, v = along * math.cos(way) - across * math.sin(way), along * math.sin(way) + across * math.cos(way)
        corners.append((WIDTH / 2 + at[0] + FOCAL * u / away, HEIGHT / 2 + at[1] + FOCAL * v / away))
    back = _projection(corners, ((0, 0), (w, 0), (w, h), (0, h)))
    laid = flat.transform((WIDTH, HEIGHT), Image.Transform.PERSPECTIVE, back, Image.Resampling.BICUBIC)
    mask = Image.new("L", (WIDTH, HEIGHT), 0)
    ImageDraw.Draw(mask).polygon(corners, fill=255)
    picture.paste(laid, (0, 0), mask)


def _projection(seen: Sequence[tuple[float, float]], flat: Sequence[tuple[float, float]]) -> list[float]:
    """The eight numbers by which Pillow finds the flat point for one that is seen."""
    rows, wanted = [], []
    for (x, y), (u, v) in zip(seen, flat, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        wanted += [u, v]
    return [float(n) for n in np.linalg.solve(np.array(rows), np.array(wanted))]


def _glare(picture: Image.Image, share: float, radius: float) -> None:
    """The picture of a lamp wanders over the label as the hand moves: white where it is, pale around it."""
    middle = WIDTH / 2 + (share - 0.5) * 900, HEIGHT / 2 + (share - 0.5) * 160
    spot = Image.new("L", picture.size, 0)
    ImageDraw.Draw(spot).ellipse(
        (middle[0] - radius, middle[1] - 0.6 * radius, middle[0] + radius, middle[1] + 0.6 * radius), fill=255
    )
    picture.paste(255, (0, 0), spot.filter(ImageFilter.GaussianBlur(radius / 3)))


def destroyed(modules: Matrix, rng: np.random.Generator) -> Matrix:
    """The symbol with one stain that changes a quarter of its codewords (rounded down), none of its fixed patterns.

    A quarter is what correction level Q is named for (ISO/IEC 18004, from memory: about 7, 15, 25, 30 % of the
    codewords). Finder and timing patterns, whose loss no level repairs, are left as they are.
    """
    places = codeword_places(len(modules))
    owner = {place: n // 8 for n, place in enumerate(places)}
    most = (len(places) // 8) // 4
    changed = [list(row) for row in modules]
    middle = places[int(rng.integers(len(places)))]
    dark = bool(rng.integers(2))
    hit: set[int] = set()
    for x, y in sorted(owner, key=lambda place: math.dist(place, middle)):
        if changed[y][x] != dark and owner[x, y] not in hit:
            if len(hit) == most:
                continue
            hit.add(owner[x, y])
        changed[y][x] = dark
        if len(hit) == most and math.dist((x, y), middle) > len(modules):
            break
    return tuple(tuple(row) for row in changed)


def codeword_places(side: int) -> list[tuple[int, int]]:
    """(x, y) of every bit in the order of the codewords, for versions 1 and 2 (ISO/IEC 18004, from memory).

    Two columns at a time from the right, up and down in turn, without column 6 and the fixed patterns.
    """
    version = (side - 17) // 4

    def fixed(x: int, y: int) -> bool:
        finder = (x < 9 and y < 9) or (x >= side - 8 and y < 9) or (x < 9 and y >= side - 8)
        alignment = version == 2 and abs(x - (side - 7)) <= 2 and abs(y - (side - 7)) <= 2
        return finder or alignment or x == 6 or y == 6

    found: list[tuple[int, int]] = []
    columns = [x for x in range(side - 1, 0, -2) if x > 6] + [5, 3, 1]
    for n, right in enumerate(columns):
        rows = range(side - 1, -1, -1) if n % 2 == 0 else range(side)
        found += [(x, y) for y in rows for x in (right, right - 1) if not fixed(x, y)]
    usable = len(found) // 8 * 8  # version 2 has seven bits over
    return found[:usable]
