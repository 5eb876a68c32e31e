"""The shapes a drawing is made of: plain numbers and words, ready for an SVG template.

Lengths are in drawing units; one unit is one CSS pixel at the drawing's own width, so that 14 stays readable
at any window size. Colours are "#rrggbb" of a material; everything else takes its colour from the stylesheet
through the class of the shape.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Standing = Literal["done", "open", "marked"]
Anchor = Literal["start", "middle", "end"]
Certainty = Literal["certain", "may", "cannot"]
ContainerKind = Literal["octabin", "bag", "box", "drum", "roll", "silo"]


# ---- inputs: what a page knows ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PositionState:
    """One insert position or graphic: filled, open, or marked because a hold or a question is about it."""

    standing: Standing
    lot: str = ""  # words behind the position's name: "M8-N lot N-0417"
    certain: bool = True  # False: drawn dashed, with the word "may"


@dataclass(frozen=True, slots=True)
class ZoneReading:
    """What stands at a thickness zone: "4.1 mm", or nothing when it was not measured."""

    text: str = ""
    missing: bool = False
    below: bool = False  # under the zone's least: marked


@dataclass(frozen=True, slots=True)
class LayerLot:
    """How much of one lot a layer holds, kg. `least` = `most` when it is known."""

    label: str
    verdict: Certainty
    least: Decimal
    most: Decimal
    held: bool = False  # on hold: marked


@dataclass(frozen=True, slots=True)
class LayerFill:
    """One layer of the wall, outside first."""

    name: str
    material: str
    colour: str = ""
    thickness_mm: Decimal | None = None  # None: drawn at a guessed height with dashed edges and "? mm"
    kg: Decimal | None = None
    lots: tuple[LayerLot, ...] = ()
    missing: bool = False  # no record of this layer: drawn dashed and empty
    foam: bool = False
    thickness_words: str = ""  # "6.8–9.8" where the density, and so the thickness, is a range


@dataclass(frozen=True, slots=True)
class Share:
    """Where part of a lot went. `most` differs from `least` when a vessel mixed lots."""

    label: str
    verdict: Certainty
    least: Decimal
    most: Decimal


# ---- outputs: what a template draws ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Words:
    """A line of text; `kind` is its class: "label", "label-strong", "label-soft", "label-stop", "in-mark"."""

    x: float
    y: float
    text: str
    anchor: Anchor = "start"
    kind: str = "label"


@dataclass(frozen=True, slots=True)
class Line:
    """A stroked path; `kind` is its class.

    "leader", "leader-may", "rail", "rule", "hatch", "tick", "edge", "edge-open".
    """

    d: str
    kind: str = "rule"


@dataclass(frozen=True, slots=True)
class Block:
    """A rectangle; `fill` is a material's colour or empty."""

    x: float
    y: float
    width: float
    height: float
    fill: str = ""
    kind: str = "block"


@dataclass(frozen=True, slots=True)
class Bubble:
    """A small circle of the foam hatching."""

    x: float
    y: float
    r: float


@dataclass(frozen=True, slots=True)
class Mark:
    """An insert position: a disc when done, a dashed ring when open, a barred disc when marked."""

    x: float
    y: float
    r: float
    size: float  # of its name
    name: str
    standing: Standing
    certain: bool
    bar: str  # path of the bar across a marked position, else ""


@dataclass(frozen=True, slots=True)
class Plate:
    """A graphic on the mould, as a small plate."""

    x: float
    y: float
    width: float
    height: float
    name: str
    standing: Standing
    certain: bool
    bar: str = ""


@dataclass(frozen=True, slots=True)
class ZoneCross:
    """A thickness zone: a cross, as a gauge point is pencilled on a drawing."""

    d: str
    name: str
    kind: str  # "zone", "zone-missing", "zone-below"


@dataclass(frozen=True, slots=True)
class MouldPlan:
    """The mould seen from above, bow to the right (up when upright), with all that is placed in or on it."""

    width: float
    top: float  # y of the sheet's upper edge: words above the drawing have negative y
    height: float
    transform: str  # puts the maker's own coordinates on the sheet
    outline: str
    details: tuple[str, ...]
    centre: str
    marks: tuple[Mark, ...]
    plates: tuple[Plate, ...]
    zones: tuple[ZoneCross, ...]
    leaders: tuple[Line, ...]
    labels: tuple[Words, ...]
    description: str  # the whole drawing as one sentence, for those who cannot see it
    kind: str = "plan"


@dataclass(frozen=True, slots=True)
class PlanPair:
    """The same plan laid out twice: across a desk, and upright on a telephone. The stylesheet shows one."""

    wide: MouldPlan
    upright: MouldPlan


@dataclass(frozen=True, slots=True)
class WallSection:
    """The wall cut through, to scale, outside on top, with what each layer is made of."""

    width: float
    height: float
    fills: tuple[Block, ...]
    bubbles: tuple[Bubble, ...]
    lines: tuple[Line, ...]
    words: tuple[Words, ...]
    bars: tuple[Block, ...]  # per lot: solid up to what is certain, dashed up to what may be
    description: str


@dataclass(frozen=True, slots=True)
class WallPair:
    """The same section for a desk and for a telephone."""

    wide: WallSection
    narrow: WallSection


@dataclass(frozen=True, slots=True)
class ContainerDrawing:
    """A lot's vessel or box with what is left in it, and bars of what went where."""

    width: float
    height: float
    fill_path: str
    fill: str
    lines: tuple[Line, ...]
    bars: tuple[Block, ...]
    words: tuple[Words, ...]
    description: str


@dataclass(frozen=True, slots=True)
class ContainerPair:
    """The same container for a desk and for a telephone."""

    wide: ContainerDrawing
    narrow: ContainerDrawing


@dataclass(frozen=True, slots=True)
class Band:
    """One stream of a flow: how wide it is (any unit, the same for all), what it is called and what stands under that.

    `missing`: nobody knows where it went, or where it came from. `short` stands in place of the label on a telephone.
    """

    label: str
    amount: float
    text: str = ""
    fill: str = ""
    missing: bool = False
    short: str = ""


@dataclass(frozen=True, slots=True)
class Stream:
    """A stream as it is drawn; `kind` is its class: "band" or "band-missing"."""

    d: str
    kind: str
    fill: str = ""


@dataclass(frozen=True, slots=True)
class FlowDrawing:
    """What came together and went apart: widths to one scale."""

    width: float
    height: float
    streams: tuple[Stream, ...]
    lines: tuple[Line, ...]
    words: tuple[Words, ...]
    description: str


@dataclass(frozen=True, slots=True)
class FlowPair:
    """The flow for a desk and paper, and for a telephone."""

    wide: FlowDrawing
    narrow: FlowDrawing
