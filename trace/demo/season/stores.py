"""What stands in the stores: lots with their certificates, boxes with what is really in them, and when more comes."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from trace.demo import plant as small
from trace.demo.season.habits import MG
from trace.demo.season.incidents import EXPIRED_ROLL, SUSPECT_LOT, WRONG_LOT

PIECES = "pc"


@dataclass(frozen=True)
class Supply:
    """How a material comes: from whom, in lots numbered so, so many containers of so much (kg or pieces) a lot; more is
    ordered when less than `reorder` stands there. keeps: shelf life in days."""

    suppliers: tuple[str, ...]
    prefix: tuple[str, ...]
    each: str
    containers: tuple[int, ...]
    reorder: float
    keeps: int = 0
    uom: str = "mg"


OCTABIN = ("500.00", (1, 1, 2))
SUPPLIES: dict[str, Supply] = {
    "LL-35": Supply(("VERRIN", "DUNSAY"), ("V-", "K-"), "300.00", (1, 1, 2), 240),
    "LL-35 red": Supply(("VERRIN", "VERRIN", "KESTLE"), ("V-", "V-", "KC-"), *OCTABIN, 220),
    "LL-35 lime": Supply(("VERRIN", "KESTLE"), ("V-", "KC-"), "400.00", (1,), 160),
    "LL-35 teal": Supply(("VERRIN",), ("V-",), "400.00", (1,), 160),
    "FM-22": Supply(("DUNSAY",), ("F-",), "25.00", (16, 20, 24), 400, keeps=270),
    "M8-N": Supply(("MARROW",), ("N-",), "200", (3,), 450, uom=PIECES),
    "M6-S": Supply(("MARROW",), ("N-",), "250", (2,), 60, uom=PIECES),
    "EYE-12": Supply(("MARROW",), ("N-",), "100", (2,), 40, uom=PIECES),
    "TAMSIN-SIDE C": Supply(("PELLAM",), ("G-",), "100", (2,), 50, keeps=365, uom=PIECES),
    "CAPACITY A": Supply(("PELLAM",), ("G-",), "200", (1,), 40, keeps=365, uom=PIECES),
    "RESCUE A": Supply(("PELLAM",), ("G-",), "80", (1,), 20, keeps=365, uom=PIECES),
    "TR-4": Supply(("TOLBY",), ("TR-",), "5.00", (4,), 6),
}  # fmt: skip
# Lots that come by an incident, not by an order.
TOLD_APART = (SUSPECT_LOT, WRONG_LOT, EXPIRED_ROLL)
# The next free number of each series, and by how much it goes on: others buy of the same makers.
NUMBERS = {"V-": 2288, "K-": 5502, "KC-": 771, "F-": 118, "N-": 398, "G-": 74, "TR-": 40}


@dataclass
class Lot:
    number: str
    supplier: str
    material: str
    made: str = ""
    expires: str = ""
    values: dict[str, str] = field(default_factory=dict)
    # What it really is, where that is something else than its papers say.
    really: str = ""


@dataclass
class Box:
    """A container under its label's name. `book`: what is in it by the record; `true`: what is."""

    name: str
    lot: Lot
    book: int
    true: int
    usable_from: datetime
    opened: datetime | None = None

    def is_stale(self, now: datetime) -> bool:
        """True when it is past its day, or has stood open for about as long as it may."""
        days = small.MATERIALS[self.lot.material].get("open_days")
        open_long = bool(days and self.opened and now - self.opened > timedelta(days=days - 1))
        return open_long or bool(self.lot.expires and self.lot.expires < f"{now:%Y-%m-%d}")


@dataclass
class Stores:
    rng: Random
    boxes: dict[str, list[Box]] = field(default_factory=dict)
    lots: dict[str, Lot] = field(default_factory=dict)
    numbers: dict[str, int] = field(default_factory=lambda: dict(NUMBERS))
    count: int = 0

    def lot(self, material: str, on: datetime, *, number: str = "", supplier: str = "", really: str = "") -> Lot:
        """A new lot as its papers say it, made some weeks before it comes."""
        supply = SUPPLIES[material]
        which = self.rng.randrange(len(supply.suppliers))
        made = on - timedelta(days=self.rng.randrange(9, 40))
        expires = f"{made + timedelta(days=supply.keeps):%Y-%m-%d}" if supply.keeps else ""
        supplier = supplier or supply.suppliers[which]
        found = Lot(
            number or self._number(supply.prefix[which]), supplier, material, f"{made:%Y-%m-%d}", expires,
            certificate(self.rng, really or material, supplier), really,
        )  # fmt: skip
        self.lots[found.number] = found
        return found

    def _number(self, prefix: str) -> str:
        while True:
            number = self.numbers[prefix]
            self.numbers[prefix] = number + self.rng.randrange(1, 5)
            text = f"{prefix}{number:04d}" if prefix == "N-" else f"{prefix}{number}"
            if text not in TOLD_APART:
                return text

    def arrive(self, lot: Lot, amounts: list[str], usable_from: datetime) -> list[Box]:
        """Containers of a lot. A bag holds a little more or less than its label says, a box what was counted in."""
        found = []
        for amount in amounts:
            self.count += 1
            if SUPPLIES[lot.material].uom == PIECES:
                book = true = int(amount)
            else:
                book = int(Decimal(amount) * MG)
                true = int(book * (1 + max(-0.012, min(0.012, self.rng.gauss(0.0008, 0.004)))))
            found.append(Box(f"@box {self.count} of {lot.number}", lot, book, true, usable_from))
        self.boxes.setdefault(lot.material, []).extend(found)
        return found

    def left(self, material: str, now: datetime) -> float:
        """What is there by the book, in kg or pieces; what was delivered and waits for its release counts too."""
        total = sum(max(0, box.book) for box in self.boxes.get(material, []) if not box.is_stale(now))
        return total if SUPPLIES[material].uom == PIECES else total / MG

    def usable(self, material: str, now: datetime) -> list[Box]:
        """Released boxes with something in them, the oldest first; what is past its day is left aside."""
        there = self.boxes.get(material, [])
        return [box for box in there if box.book > 0 and box.usable_from <= now and not box.is_stale(now)]

    def end(self, box: Box) -> None:
        self.boxes[box.lot.material].remove(box)


# Usual values of each maker's lots: they differ a little, and so do lots of one maker. Invented.
USUAL = {
    ("LL-35", "VERRIN"): {"mfi": (3.48, 0.09), "density": (0.9378, 0.0005)},
    ("LL-35", "DUNSAY"): {"mfi": (3.58, 0.08), "density": (0.9384, 0.0005)},
    ("LL-35", "KESTLE"): {"mfi": (3.40, 0.07), "density": (0.9388, 0.0006)},
    ("MD-80", "DUNSAY"): {"mfi": (7.95, 0.12), "density": (0.9441, 0.0004)},
    ("FM-22", "DUNSAY"): {"density": (0.2195, 0.0033)},
}
DIGITS = {"mfi": 2, "density": 4}


def certificate(rng: Random, material: str, supplier: str) -> dict[str, str]:
    """The values that a lot's certificate gives: scattered, and within the limits of what it is."""
    found: dict[str, str] = {}
    spec: dict[str, Any] = small.MATERIALS[material].get("spec", {})
    for name, (mean, spread) in USUAL.get((material.split(" ", maxsplit=1)[0], supplier), {}).items():
        low, high = (Decimal(limit) for limit in spec[name])
        while True:
            value = Decimal(f"{rng.gauss(mean, spread):.{DIGITS[name]}f}")
            if low <= value <= high:
                break
        found[name] = str(value)
    return found
