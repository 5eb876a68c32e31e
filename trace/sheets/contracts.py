"""What a hull's and a lot's sheet say: the contracts of templates/pages/hull.html and lot.html, and of the papers.

Filled from records by whoever answers the page; the templates only lay it out. Words are translated and
names spelled out before they come here; instants are aware datetimes, amounts Decimals with the digits they
were read with. An empty string means "nothing to say", None means "not recorded". Every `url` may be empty:
then the words stand without a link.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from trace.drawings import Certainty, ContainerPair, PlanPair, WallPair


def grouped(count: int) -> str:
    """`81204` as `81 204`, with the narrow no-break space of ISO 80000-1 (from memory)."""
    return f"{count:,}".replace(",", "\u202f")


@dataclass(frozen=True, slots=True)
class HoldLine:
    """One open hold (or active stop-use notice).

    What it says, who set it, when, and whether it fits for certain.
    """

    text: str
    who: str
    when: datetime
    certain: bool = True
    effect: str = ""  # "Do not ship." Empty = the template's "Do not use, pack or ship."
    url: str = ""
    rule: str = ""

    @property
    def alike(self) -> tuple[str, str, bool]:
        """Holds that are equal in this stand in one box."""
        return self.rule, self.effect, self.certain


def side_by_side(holds: Iterable[HoldLine]) -> tuple[HoldLine, ...]:
    """Holds of one rule and effect one after the other, in the order of the first of each."""
    together: dict[object, list[HoldLine]] = {}
    for hold in holds:
        together.setdefault(hold.alike, []).append(hold)
    return tuple(hold for alike in together.values() for hold in alike)


@dataclass(frozen=True, slots=True)
class PlaceLine:
    """Where it is now."""

    text: str  # "Rack R4, level 2"
    since: datetime | None = None
    known: bool = True  # False: "place not recorded"
    detail: str = ""  # "Not sold." / "Wharfe & Weir Paddlesport, consignment 88"
    url: str = ""


@dataclass(frozen=True, slots=True)
class LotShare:
    """One lot in one layer: the widest bounds and the best figure, in `uom`."""

    lot: str
    code: str  # our label's code
    supplier: str
    verdict: Certainty
    least: Decimal
    best: Decimal | None
    most: Decimal | None  # None: the records set no upper bound
    uom: str = "kg"
    standing: str = ""  # "released", "conditionally released", "on hold"
    url: str = ""


@dataclass(frozen=True, slots=True)
class LayerLine:
    """One layer as charged, outside first."""

    name: str
    material: str
    kg: Decimal | None
    target: str = ""  # "12.20 ± 0.10 kg"
    lots: tuple[LotShare, ...] = ()
    missing: bool = False
    how: str = ""  # "read from scale W-3" / "typed" / "unproved: no check-weight"
    cause: str = ""  # by which hulls of which as much was charged of it are asked for

    @property
    def kg_said(self) -> str:
        return f"{self.kg} kg"


@dataclass(frozen=True, slots=True)
class InsertLine:
    """Positions filled from one lot of inserts."""

    positions: str  # "S5–S8"
    part: str  # "M8-N, nickel over copper"
    count: int
    lot: str
    supplier: str = ""
    verdict: Certainty = "certain"
    missing: bool = False
    note: str = ""
    url: str = ""


@dataclass(frozen=True, slots=True)
class GraphicLine:
    """One graphic: where, which artwork at which revision, from which lot."""

    position: str  # "Port side"
    artwork: str
    revision: str
    lot: str
    verdict: Certainty = "certain"
    missing: bool = False
    note: str = ""
    url: str = ""


@dataclass(frozen=True, slots=True)
class LotLine:
    """One lot in the hull: what its certificate says and who released it, as recorded by then."""

    lot: str
    material: str
    supplier: str
    received: datetime | None
    certificate: str = ""  # "density 0.938 (0.935–0.941), mfi 3.4 (3.2–3.8)"; empty: none recorded
    released: str = ""  # "Priya Ashdown, 12 Apr 2026 07:40"; empty: never
    standing: str = ""
    before_records: bool = False
    url: str = ""
    values: tuple[tuple[str, str], ...] = ()  # of the certificate, each with its cause
    supplier_cause: str = ""


@dataclass(frozen=True, slots=True)
class ZoneLine:
    """One thickness zone: reading and least, mm."""

    zone: str
    mm: Decimal | None  # None: not recorded
    least_mm: Decimal
    below: bool = False
    cause: str = ""  # by which hulls that are like it are asked for (trace/sheets/asks.py); so below


@dataclass(frozen=True, slots=True)
class WeightLine:
    """What it weighed, and when that was read: as moulded, or when it was inspected."""

    what: str
    value: str  # "28.60 kg"
    cause: str


@dataclass(frozen=True, slots=True)
class StageLine:
    """One stage of the cook: planned and observed."""

    name: str
    planned: str
    observed: str  # empty: not recorded
    outside: bool = False
    after: str = ""  # "12 min after the start, 170 °C", what two cooks can be compared in; empty: not recorded
    cause: str = ""


@dataclass(frozen=True, slots=True)
class CycleRecord:
    """One cook. A hull cooked twice has two."""

    number: str
    oven: str
    arm: str
    began: datetime | None
    ended: datetime | None
    log: str  # "logger LG-2, 1,204 readings"; empty: no log
    peak: str = ""  # "208 °C (200 to 220)"
    peak_cause: str = ""
    oven_cause: str = ""
    arm_cause: str = ""
    stages: tuple[StageLine, ...] = ()
    note: str = ""
    url: str = ""


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One event in the order it happened.

    Late: recorded well after it happened. Corrected: a later entry stands beside it.
    """

    happened: datetime
    recorded: datetime
    what: str
    who: str = ""
    with_what: str = ""
    late: bool = False
    corrected: bool = False  # struck through, with `note` saying by what
    correction: bool = False  # this line corrects an earlier one
    override: bool = False
    note: str = ""
    url: str = ""


@dataclass(frozen=True, slots=True)
class PersonLine:
    """Who had a hand in it, and their training at that time."""

    name: str
    did: str
    trained: str  # "weighing: to 30 Jun 2027"
    doubtful: bool = False


@dataclass(frozen=True, slots=True)
class InstrumentLine:
    """Which instrument, and its state at that time, not today's."""

    name: str
    did: str
    state_then: str  # "calibrated 3 Feb 2026, due 3 Feb 2027; check-weight 05:51 passed"
    since: str = ""  # what became known later: "found 1.8 % low on 9 Feb"
    doubtful: bool = False
    url: str = ""


@dataclass(frozen=True, slots=True)
class SharedCause:
    """How many other hulls share one cause with this one."""

    cause: str  # "Insert lot N-0417"
    certain: int
    may: int
    in_plant: int
    outside: int
    counted: bool = True  # False: in so many units that only the lot's own page counts them
    url: str = ""


@dataclass(frozen=True, slots=True)
class KinLine:
    """An earlier number of a hull, or the hull that it stands for or that stands for it."""

    text: str
    when: datetime
    other: str = ""  # the other hull's number
    url: str = ""


@dataclass(frozen=True, slots=True)
class HullSheet:
    """A hull as a drawing sheet."""

    serial: str
    code: str
    model: str
    colour: str
    made: date | None
    made_about: str  # a month or year, where an old hull's record says no day
    recipe_revision: str  # "T430 rev 7"
    as_known_on: datetime
    records_count: int
    caution: str
    moulding: str = ""  # "2-1187/S1/1": the number before the plate
    mould: str = ""
    cavity: str = ""
    coat: str = ""  # the release coat of the mould then, "" where none is recorded
    shift: str = ""  # in which it left the mould
    causes: Mapping[str, str] = field(default_factory=dict)  # by what it names: model, colour, recipe …
    state: str = ""  # "racked", "registered"
    sheet: str = "1 of 1"
    purpose: str = ""  # empty for production; "trial", "first-off"
    gaps: tuple[str, ...] = ()
    holds: tuple[HoldLine, ...] = ()
    place: PlaceLine | None = None
    kin: tuple[KinLine, ...] = ()
    plan: PlanPair | None = None
    wall: WallPair | None = None
    layers: tuple[LayerLine, ...] = ()
    inserts: tuple[InsertLine, ...] = ()
    graphics: tuple[GraphicLine, ...] = ()
    nothing_asked: bool = False  # the recipe takes neither insert nor graphic
    zones: tuple[ZoneLine, ...] = ()
    weights: tuple[WeightLine, ...] = ()
    lots: tuple[LotLine, ...] = ()
    cycles: tuple[CycleRecord, ...] = ()
    stock: tuple[HistoryLine, ...] = ()  # goods-in, stock and plates: what was done before the making began
    history: tuple[HistoryLine, ...] = ()
    people: tuple[PersonLine, ...] = ()
    instruments: tuple[InstrumentLine, ...] = ()
    shared: tuple[SharedCause, ...] = ()
    compare_url: str = ""
    spread_url: str = ""  # its lots, and how far each of them went
    rules: tuple[str, ...] = ()  # the rule sets its records cite

    @property
    def records(self) -> str:
        """`records_count`, grouped."""
        return grouped(self.records_count)

    @property
    def made_said(self) -> str:
        return f"{self.made:%-d %b %Y}" if self.made else ""


@dataclass(frozen=True, slots=True)
class HullLine:
    """One hull in a lot's list."""

    serial: str
    verdict: Certainty
    least: Decimal
    most: Decimal | None  # None: the records set no upper bound
    uom: str
    place: str
    layers: str = ""  # "inner", "S5, S6": where in the hull
    made: date | None = None
    held: bool = False
    url: str = ""


@dataclass(frozen=True, slots=True)
class WentGroup:
    """Hulls that belong together (one model, day or place), folded up until somebody opens it."""

    name: str
    certain: int
    may: int
    hulls: tuple[HullLine, ...] = ()
    more_url: str = ""  # the rest of the list, when not all hulls are here
    more: int = 0


@dataclass(frozen=True, slots=True)
class WentView:
    """One way to group them: "by model", "by day", "by place"."""

    title: str
    groups: tuple[WentGroup, ...]


@dataclass(frozen=True, slots=True)
class ContainerLine:
    """One container of the lot."""

    code: str
    kind: str
    filled: Decimal | None  # None: nobody recorded it
    left: Decimal | None
    uom: str
    place: str
    standing: str = ""
    url: str = ""


@dataclass(frozen=True, slots=True)
class SampleLine:
    """One retained sample of the lot. `until`: the last day on which it is kept."""

    code: str
    url: str
    amount: str
    place: str
    until: date | None
    standing: str


@dataclass(frozen=True, slots=True)
class BalanceLine:
    """One line of the mass balance; `total` lines are ruled off."""

    name: str
    amount: Decimal
    total: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class TestLine:
    """One value of the certificate or of our own test against its limits."""

    quantity: str
    value: str  # empty: not recorded
    limits: str
    source: str  # "certificate", "our test"
    outside: bool = False
    cause: str = ""


@dataclass(frozen=True, slots=True)
class WideLines:
    """Of a lot that went too far to reckon each share while somebody waits: how far, as known so far."""

    hulls: str  # "16,826" or "23,110 or more"
    units: str
    counting: str = ""  # how far the count in the background is, or what it found


@dataclass(frozen=True, slots=True)
class LotSheet:
    """A lot, drawn as its vessel or box, with where it went."""

    lot: str
    code: str
    material: str
    supplier: str
    received: datetime | None
    as_known_on: datetime
    records_count: int
    caution: str
    standing: str  # "released", "quarantine", "on hold", "used up"
    supplier_cause: str = ""  # by which the hulls with any lot of this supplier are asked for
    coat_cause: str = ""  # of a release agent: by which the hulls moulded on a coat of it are asked for
    uom: str = "kg"
    expires: date | None = None
    sheet: str = "1 of 1"
    whose: str = ""  # the lot within a sentence: "the record of what is in 3333-367H"
    gaps: tuple[str, ...] = ()
    holds: tuple[HoldLine, ...] = ()
    place: PlaceLine | None = None
    drawing: ContainerPair | None = None
    certain: int = 0
    may: int = 0
    wide: WideLines | None = None  # then in place of `certain` and `may`
    cannot_words: str = ""  # on what evidence others cannot hold it
    unstopped: int = 0  # of a held lot, hulls in the plant that may hold it and that nothing stops
    in_plant: int = 0
    outside: int = 0
    views: tuple[WentView, ...] = ()
    containers: tuple[ContainerLine, ...] = ()
    samples: tuple[SampleLine, ...] = ()
    balance: tuple[BalanceLine, ...] = ()
    tests: tuple[TestLine, ...] = ()
    history: tuple[HistoryLine, ...] = ()
    hold_url: str = ""  # set a hold
    scope_url: str = ""  # the hulls that share it
    balance_urls: tuple[tuple[str, str], ...] = ()  # (whose balance, its address)
    spread_url: str = ""  # how many hulls it went into, drawn

    @property
    def records(self) -> str:
        """`records_count`, grouped."""
        return grouped(self.records_count)
