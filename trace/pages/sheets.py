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
    inside: tuple[LinkLine, ...] = ()
    into: tuple[LinkLine, ...] = ()
    history: tuple[HistoryLine, ...] = ()
    entries: int = 0  # of the history, where it is shown in pages
    pages: Pages | None = None

    @property
    def records(self) -> str:
        """`records_count`, grouped."""
        return grouped(self.records_count)


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing in which two hulls differ.

    `weight` words say how much it matters, if known ("only in hulls that cracked").
    """

    about: str  # "Skin lot", "Insert positions S5–S8", "Mould"
    left: str
    right: str
    left_url: str = ""
    right_url: str = ""
    left_missing: bool = False
    right_missing: bool = False
    weight: str = ""


@dataclass(frozen=True, slots=True)
class DifferenceGroup:
    """Differences of one kind: wall, inserts, cook, people, …"""

    title: str
    lines: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class CompareSheet:
    """Two hulls side by side: only what differs."""

    left: str
    right: str
    left_line: str  # "Tamsin 430, red, made 12 Apr 2026"
    right_line: str
    as_known_on: datetime
    caution: str
    groups: tuple[DifferenceGroup, ...] = ()
    equal: str = ""  # "41 of 54 things compared are the same."
    same: tuple[str, ...] = ()  # what was compared and is the same, named so that nothing looks forgotten
    gaps: tuple[str, ...] = ()
    left_url: str = ""
    right_url: str = ""
    left_plan: PlanPair | None = None
    right_plan: PlanPair | None = None
