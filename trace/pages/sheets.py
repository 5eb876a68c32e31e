"""What the desk's other sheets show: the contracts of templates/pages/unit.html and compare.html.

As those of a hull and of a lot (trace/sheets/contracts.py): words are ready to be read, "" is "nothing to say".
"""

from dataclasses import dataclass
from datetime import datetime

from trace.drawings import ContainerPair, PlanPair, WallPair
from trace.drawings.sketch import SketchPair
from trace.pages.paging import Pages
from trace.sheets.contracts import HistoryLine, HoldLine, PlaceLine, grouped


@dataclass(frozen=True, slots=True)
class LinkLine:
    """Something that went in, or that it went into: what, how, how much, and where to read on."""

    name: str
    how: str  # "charge, skin", "in the pack"
    amount: str = ""
    withdrawn: bool = False
    url: str = ""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A thing as it is drawn, and the table beside it that says the same in words."""

    title: str
    head: tuple[str, ...] = ()
    rows: tuple[tuple[tuple[str, str], ...], ...] = ()  # of each cell its words and its address
    plan: PlanPair | None = None
    wall: WallPair | None = None
    container: ContainerPair | None = None
    sketch: SketchPair | None = None


@dataclass(frozen=True, slots=True)
class UnitSheet:
    """Anything else with a code: a mould, pack, tub, charge, load, moulding, plate or instrument."""

    name: str
    kind: str
    code: str
    as_known_on: datetime
    records_count: int
    caution: str
    cause: tuple[str, ...] = ()  # what hulls share that have this in common, in words of genealogy/causes.py
    scope_url: str = ""
    balance_url: str = ""  # of a works order: what was weighed for it, and where that is
    # (what, value, cause) from plant data or from how it was made; by the cause hulls that share it are asked for.
    facts: tuple[tuple[str, str, str], ...] = ()
    gaps: tuple[str, ...] = ()
    holds: tuple[HoldLine, ...] = ()
    place: PlaceLine | None = None
    drawn: Drawn | None = None
    beside: Drawn | None = None
    inside: tuple[LinkLine, ...] = ()
    into: tuple[LinkLine, ...] = ()
    history: tuple[HistoryLine, ...] = ()
    entries: int = 0  # of the history, where it is shown in pages
    pages: Pages | None = None

    @property
    def records(self) -> str:
        """`records_count`, grouped."""
        return grouped(self.records_count)
