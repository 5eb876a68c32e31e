"""What really happened, beside what was recorded: the planted truth, by which the product's answers can be judged."""

import json
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any


@dataclass
class Part:
    """Of one lot in one layer: by the record (what the scale showed) and really, in mg."""

    lot: str
    supplier: str
    material: str
    book_mg: int
    true_mg: int
    box: str = ""


@dataclass
class Layer:
    """`recorded`: what the record says where a wrong box was scanned and nobody has noticed, else the same lots."""

    name: str
    scale: str
    person: str
    parts: list[Part]
    shown_kg: list[str] = field(default_factory=list)


@dataclass
class Placed:
    """Inserts or graphics of one lot in these positions. `told`: whether the records name the lot."""

    lot: str
    material: str
    positions: list[str]
    box: str
    told: bool = True


@dataclass
class Made:
    """One moulding, and the hull that it became where it got a plate."""

    product: str
    colour: str
    order: str
    mould: str
    cavity: str
    arm: str
    oven: str
    shift: str
    day: int
    cook: int
    purpose: str = "production"
    serial: str = ""
    # The plate that the records put on it, where another is really on it.
    plate_bound: str = ""
    loaded_by: str = ""
    cooked_by: str = ""
    demoulded_by: str = ""
    inspected_by: str = ""
    demoulded_at: str = ""
    hall_c: float = 0.0
    peak_c: str = ""
    cold_start: bool = False
    mass_kg: str = ""
    layers: list[Layer] = field(default_factory=list)
    inserts: list[Placed] = field(default_factory=list)
    graphics: list[Placed] = field(default_factory=list)
    oddities: list[str] = field(default_factory=list)
    fate: str = "made"
    consignee: str = ""
    dispatched_at: str = ""

    @property
    def known_as(self) -> str:
        """The plate under which the records have it."""
        return self.plate_bound or self.serial


@dataclass
class Complaint:
    """hull: its plate. cause: what really did it. The three lags are in days."""

    hull: str
    symptom: str
    cause: str
    sold_after: float
    failed_after: float
    reported_after: float
    reported_at: str


@dataclass
class Returned:
    """A hull that came back for a complaint, by number. work, spot, rod_mg: what was done to it, if anything was; end:
    where it stands or what became of it, "waits" while nobody has decided."""

    hull: str
    complaint: int
    consignee: str
    at: str
    work: str = ""
    spot: str = ""
    rod_mg: int = 0
    end: str = "waits"


@dataclass
class Left:
    """What left a box without becoming a hull. way: samples, scrap or returned; much: mg or pieces, by the book."""

    way: str
    lot: str
    supplier: str
    material: str
    box: str
    much: int
    cause: str
    at: str


@dataclass
class Swept:
    """So much (mg) was swept up there; of which lots nobody knows."""

    where: str
    much: int
    at: str


@dataclass
class Remoulded:
    """`new` was moulded anew in place of `old`, by their plates."""

    old: str
    new: str
    at: str


@dataclass
class Relabelled:
    """The plate of a hull that was replaced, and the one that is on it now."""

    before: str
    now: str
    cause: str
    at: str


@dataclass
class Owner:
    """Who bought a hull. region: where it really is; told_region: what the records say of that, if it is registered."""

    hull: str
    sold: str
    region: str
    registered: bool = False
    told_region: str = ""


@dataclass
class Call:
    """The telephone rings when the year is over: what a buyer can read of the plate, `?` for a sign that is gone, and
    what is wrong. Nothing of it is in the records; the hull is the only one of its colour that the plate fits."""

    plate: str
    colour: str
    symptom: str
    spot: str
    hull: str


@dataclass
class Tested:
    """One impact test. half_m: the height at which half of this hull's specimens really fail; wrong: how much of its
    inner layer is of the wrong grade."""

    hull: str
    half_m: float
    wrong: float
    fails: bool
    ended_at: str


@dataclass
class Truth:
    """Everything that is planted. `wrong`: what was left out of the records, or put into them wrongly."""

    seed: int
    first_day: str
    mouldings: list[Made] = field(default_factory=list)
    lots: dict[str, dict[str, Any]] = field(default_factory=dict)
    vessels: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    wrong: list[dict[str, Any]] = field(default_factory=list)
    complaints: list[Complaint] = field(default_factory=list)
    returns: list[Returned] = field(default_factory=list)
    left: list[Left] = field(default_factory=list)
    swept: list[Swept] = field(default_factory=list)
    remoulded: list[Remoulded] = field(default_factory=list)
    relabelled: list[Relabelled] = field(default_factory=list)
    owners: list[Owner] = field(default_factory=list)
    call: Call | None = None
    tests: list[Tested] = field(default_factory=list)

    def hulls(self) -> list[Made]:
        return [made for made in self.mouldings if made.serial]

    def write(self, path: Path) -> None:
        path.write_text(json.dumps(asdict(self), ensure_ascii=False, indent=1), encoding="utf-8")


def is_of(made: Made, lot: str) -> bool:
    """True when something of this lot is really in it."""
    parts = [part.lot for layer in made.layers for part in layer.parts if part.true_mg]
    return lot in parts or any(placed.lot == lot for placed in [*made.inserts, *made.graphics])


def share_of(made: Made, lot: str) -> float:
    """How much of the inner layer is really of this lot."""
    inner = [part for layer in made.layers if layer.name == "inner" for part in layer.parts]
    total = sum(part.true_mg for part in inner)
    return sum(part.true_mg for part in inner if part.lot == lot) / total if total else 0.0
