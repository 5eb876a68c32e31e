"""The plant from goods-in to the owners as one drawing, with lettered balloons where something waits."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from trace.drawings.shapes import Line, Words


@dataclass(frozen=True, slots=True)
class Place:
    """A part of the plant: where it stands across a wide sheet, its outline and inner lines in units of their own (the
    ground at 0, y upward negative), and how high it is."""

    at: float
    high: float
    outline: str
    detail: str


# Drawn by us; no plant's own layout is kept.
PLACES: dict[str, Place] = {
    "desk": Place(
        80, 72, "M-46 0V-44L0 -72L46 -44V0Z", "M-12 0V-26H12V0M-30 -24H-20V-36H-30ZM20 -24H30V-36H20Z"
    ),
    "stores": Place(
        270, 92, "M-46 -30V-84L-38 -92H-14L-6 -84V-30L-22 -10H-30ZM6 0V-34H50V0Z",
        "M-40 0V-24M-12 0V-24M6 -34L14 -44H42L50 -34",
    ),
    "moulding": Place(
        500, 78,
        "M-78 0V-66H-6V0ZM34 -66C44 -78 70 -78 80 -66C70 -56 44 -56 34 -66Z"
        "M34 -22C44 -34 70 -34 80 -22C70 -12 44 -12 34 -22Z",
        "M-66 -10V-56H-18V-10ZM-6 -44H24M24 -66V-22M24 -66H34M24 -22H34M10 0V-44",
    ),
    "finishing": Place(
        730, 46, "M-62 -32C-40 -50 40 -50 62 -32C40 -18 -40 -18 -62 -32Z",
        "M-54 -22H54M-44 0L-36 -22M44 0L36 -22M0 -44V-20",
    ),
    "gate": Place(
        920, 84,
        "M-30 -32C-22 -44 22 -44 30 -32C22 -24 -22 -24 -30 -32ZM-30 -64C-22 -76 22 -76 30 -64C22 -56 -22 -56 -30 -64Z",
        "M-42 0V-84M42 0V-84M-42 -22H42M-42 -54H42",
    ),
    "outside": Place(
        1090, 62, "M-40 0V-40L-14 -62L12 -40V0Z",
        "M-24 0V-20H-6V0M20 -4Q27 -10 34 -4T48 -4T62 -4M26 -14C32 -22 54 -22 60 -14C54 -8 32 -8 26 -14Z",
    ),
}  # fmt: skip
WIDE, NARROW = 1180.0, 384.0
FENCE = 1010.0  # where the plant ends, across a wide sheet
ROOM = 50.0  # a finger's breadth for each balloon


@dataclass(frozen=True, slots=True)
class Waiting:
    """Something that waits: the letter of its balloon (a number would read as how many), how many, what of, which part
    of the plant, where it is told."""

    letter: str
    count: int
    what: str
    where: str
    url: str
    stop: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the plant, put on the sheet by `transform`."""

    transform: str
    outline: str
    detail: str


@dataclass(frozen=True, slots=True)
class Balloon:
    """A letter in a ring that leads to its line in the list. `stop`: drawn with a bar, as a stop is."""

    x: float
    y: float
    r: float
    letter: str
    title: str
    url: str
    stop: bool

    @property
    def bar(self) -> str:
        """The bar below the letter of what is stopped."""
        return f"M{self.x - self.r * 0.6:.1f} {self.y + self.r * 0.55:.1f}h{self.r * 1.2:.1f}"


@dataclass(frozen=True, slots=True)
class Arrangement:
    """The drawing at one width; `description` is all of it as a sentence."""

    width: float
    height: float
    parts: tuple[Part, ...]
    lines: tuple[Line, ...]
    balloons: tuple[Balloon, ...]
    words: tuple[Words, ...]
    description: str


@dataclass(frozen=True, slots=True)
class ArrangementPair:
    """The same drawing for a desk and for a telephone."""

    wide: Arrangement
    narrow: Arrangement


def place_words() -> dict[str, str]:
    """The parts of the plant as people say them."""
    return {
        "desk": _("Office"), "stores": _("Stores"), "moulding": _("Moulding"), "finishing": _("Finishing"),
        "gate": _("Gate"), "outside": _("Outside"),
    }  # fmt: skip


def arrangements(waiting: Sequence[Waiting]) -> ArrangementPair:
    """The plant with what waits in it, for a desk and for a telephone. What waits nowhere in it is not drawn."""
    return ArrangementPair(_arrangement(waiting, WIDE), _arrangement(waiting, NARROW))


def _arrangement(waiting: Sequence[Waiting], width: float) -> Arrangement:
    narrow = width < WIDE
    scale = width / WIDE
    here = {name: [one for one in waiting if one.where == name] for name in PLACES}
    # On a telephone balloons stand over each other, at a desk side by side.
    most = max(map(len, here.values()))
    rows = most if narrow else min(most, 1)
    ground = rows * ROOM + (46.0 if narrow else 112.0)
    lines = [
        Line(f"M0 {ground:.1f}H{FENCE * scale:.1f}", "edge"),
        Line(f"M{FENCE * scale:.1f} {ground:.1f}H{width:.1f}", "rule"),
        Line(f"M{FENCE * scale:.1f} {ground - 30:.1f}V{ground + 8:.1f}", "leader-may"),
    ]
    balloons: list[Balloon] = []
    for name, place in PLACES.items():
        top = ground - place.high * scale - 3
        stand = (_over if narrow else _beside)(here[name], place.at * scale, rows, top)
        balloons += [balloon for balloon, _line in stand]
        lines += [line for _balloon, line in stand]
    said = "; ".join(f"{place_words()[one.where]}: {one.what}, {one.count}" for one in waiting if one.where in PLACES)
    return Arrangement(
        width, round(ground + (38.0 if narrow else 24.0), 1),
        tuple(
            Part(f"translate({place.at * scale:.1f} {ground:.1f}) scale({scale:.3f})", place.outline, place.detail)
            for place in PLACES.values()
        ),
        tuple(lines), tuple(balloons), _names(ground, scale, narrow=narrow),
        _("The plant from the stores to the owners. %(said)s.") % {"said": said or _("Nothing waits")},
    )  # fmt: skip


def _beside(here: Sequence[Waiting], x: float, _rows: int, top: float) -> list[tuple[Balloon, Line]]:
    """Balloons side by side, each with a leader to its place."""
    y, found = ROOM / 2, []
    for n, one in enumerate(here):
        bx = x + (n - (len(here) - 1) / 2) * ROOM
        leader = Line(f"M{bx:.1f} {y + 16:.1f}V{y + 26:.1f}L{x:.1f} {top:.1f}", "leader")
        found.append((_balloon(one, bx, y, 16.0), leader))
    return found


def _over(here: Sequence[Waiting], x: float, rows: int, top: float) -> list[tuple[Balloon, Line]]:
    """Balloons over each other, the leader from each to the next and at last to their place."""
    found = []
    for n, one in enumerate(here):
        y = (rows - len(here) + n + 0.5) * ROOM
        down = y + ROOM - 14 if n + 1 < len(here) else top
        found.append((_balloon(one, x, y, 14.0), Line(f"M{x:.1f} {y + 14:.1f}V{down:.1f}", "leader")))
    return found


def _balloon(one: Waiting, x: float, y: float, r: float) -> Balloon:
    return Balloon(round(x, 1), round(y, 1), r, one.letter, f"{one.what}: {one.count}", one.url, one.stop)


def _names(ground: float, scale: float, *, narrow: bool) -> tuple[Words, ...]:
    """What each part is called, on a telephone in two rows."""
    said, lower = place_words(), 32.0 if narrow else 17.0
    return tuple(
        Words(round(place.at * scale, 1), ground + (lower if n % 2 else 17.0), said[name], "middle", "label-soft")
        for n, (name, place) in enumerate(PLACES.items())
    )
