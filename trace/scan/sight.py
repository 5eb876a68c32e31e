"""What a station is (data), and what it sees of one request: the codes held so far, the values typed, the plant."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from plant.stations import FINISHING, MOULDING, RECORDS, STORES, Words
from trace.readmodels.plantdata import Directory
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.recording.floor.standing import Found, Known
from trace.scan.page import Action, Field, Row, StationPage, Verdict

MANY = "|"  # between the codes of a slot that takes several; no code and no key holds it


@dataclass
class Sight:
    """`held`: slot and field values by name, as carried in the form. `found`: what each held code stands for.

    `typed` is the code just scanned, "" when none; `do` the button pressed; `person` the key of who is signed on.
    """

    plant: Directory
    now: datetime
    held: dict[str, str] = field(default_factory=dict)
    found: dict[str, Found] = field(default_factory=dict)
    typed: str = ""
    scanned: Found | None = None  # what `typed` stands for
    do: str = ""
    person: str = ""
    scan_id: str = ""
    # The number of the list of holds now; of that which the page had from which this came: its number, when it was
    # made, and as the form carries it.
    number: int = 0
    listed: tuple[int, str, str] = (0, "", "")
    aside: dict[str, str] = field(default_factory=dict)  # what goes along when somebody has to sign on first
    known: Known = field(default_factory=Known)  # what codes were found to stand for
    looked: dict[str, Any] = field(default_factory=dict)  # what a station looked up itself, until something is recorded

    def text(self, name: str) -> str:
        """The value of a slot or field, without blanks around it."""
        return self.held.get(name, "").strip()

    def codes(self, name: str) -> tuple[str, ...]:
        """The codes of a slot that takes several."""
        return tuple(code for code in self.held.get(name, "").split(MANY) if code)

    def one(self, name: str) -> Found | None:
        """What the slot's code stands for, None while the slot is empty."""
        return self.found.get(self.text(name)) if self.text(name) else None

    def many(self, name: str) -> list[Found]:
        return [self.found[code] for code in self.codes(name) if code in self.found]

    def key(self, name: str) -> str:
        """The key of the thing in a slot (an order, a mould), "" while it is empty."""
        found = self.one(name)
        return found.key if found else ""

    def body(self, name: str) -> Mapping[str, Any]:
        found = self.one(name)
        return found.body if found else {}

    def product(self, name: str = "order") -> Mapping[str, Any]:
        """The product that the order in a slot calls for."""
        return self.plant.body("product", self.body(name).get("product"))

    def choices(self, kind: str) -> list[tuple[str, str]]:
        """(key, name) of every thing of a kind that has not ended."""
        return [(t.key, str(t.body.get("name") or t.key)) for t in self.plant.of_kind(kind) if not t.ended]


@dataclass(frozen=True, slots=True)
class Slot:
    """A place for a scanned code. `ask` is the sentence that asks for it; an optional slot is never asked for."""

    name: str
    kinds: tuple[str, ...]
    ask: Words
    detail: Words = ""
    many: bool = False
    optional: bool = False
    clears: tuple[str, ...] = ()  # what another code in this slot makes void


@dataclass(frozen=True, slots=True)
class Next:
    """The one thing to do, and one line under it. how: "scan" where a code is asked for although every slot that
    must be filled is: further ones are gathered, or the next piece of work begins with one."""

    sentence: Words
    detail: Words = ""
    how: str = ""


def no_fields(_sight: Sight) -> tuple[Field, ...]:
    return ()


def no_actions(_sight: Sight) -> tuple[Action, ...]:
    return ()


def no_rows(_sight: Sight) -> tuple[Row, ...]:
    return ()


def no_place(_sight: Sight) -> str:
    return ""


def all_of_them(_sight: Sight) -> tuple[str, ...] | None:
    """Every field that is required is asked for in its turn."""
    return None


def nothing(_sight: Sight) -> None:
    return None


Early = tuple[Command, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Home:
    """Where home lists a station: its group, its place in it (`at`, lowest first) and what one does there."""

    group: Words
    at: int
    line: Words


@dataclass(frozen=True)
class Station:
    """One station as data: where home lists it, who may open it, what it takes, asks and records. Every callable is
    given the Sight. Nothing else says that the station is there: rights, home, addresses and tests are read off it.

    commands: what to record now, None while something is missing. early: an act still being put together, with
    the rules that can judge it already. reads: fills fields from a text that is no code of ours and says so in a
    sentence, or "". objection: why the code just scanned is not taken, as a word or as a refusal, or "". keeps: what
    stays for the next scan.
    thing: the slot whose thing the work is of, so that it is found again by scanning that at another tablet.
    half_done: whether what is begun here is kept for who comes back; what is decided is decided in one sitting.
    blames: the slot whose code a rule objects to, where that may be another than the one just scanned.
    asks: the names of the fields asked for now, in order; None: every one that is required.
    opens: whether a thing scanned at home is for here, as it stands; asked of what one of its slots takes.
    badge: the button that the badge of somebody signed on here presses besides, "" for none.
    again: whether what was just scanned is wanted once more, for another place.
    stays: what its `after` leaves for the next work: by itself it is none that waits for anybody.
    onward: the address of the station for which a thing was scanned here that nothing here takes, "" for none.
    leads: the slot of the place where everything after it counts. A code that nobody knows may have been another
    place: nothing more counts at the one before.
    stops: the kinds of things on hold that its work would use, move or let go.
    paper: the address of the paper that goes with what its answers made, "" for none.
    labels: the layout on which new labels are printed, "" where none are made.
    """

    slug: str
    title: Words
    home: Home
    roles: tuple[str, ...]
    # Who may look at it besides, and send nothing.
    readers: tuple[str, ...] = field(default=(), kw_only=True)
    slots: Callable[[Sight], tuple[Slot, ...]]
    commands: Callable[[Sight], Sequence[Command] | None]
    fields: Callable[[Sight], tuple[Field, ...]] = no_fields
    asks: Callable[[Sight], tuple[str, ...] | None] = all_of_them
    actions: Callable[[Sight], tuple[Action, ...]] = no_actions
    next: Callable[[Sight], Next | None] = nothing
    rows: Callable[[Sight], tuple[Row, ...]] = no_rows
    drawing: Callable[[Sight], Any] = nothing
    place: Callable[[Sight], str] = no_place
    early: Callable[[Sight], Early | None] = nothing
    blames: Mapping[str, str] = field(default_factory=dict)
    reads: Callable[[Sight, str], str] = lambda _sight, _text: ""
    objection: Callable[[Sight], Words | Verdict] = no_place
    take: Callable[[Sight, Found], str | None] = lambda _sight, _found: None
    keeps: tuple[str, ...] = ()
    after: Callable[[Sight, Sequence[Answer]], dict[str, str]] | None = None
    caution: Words = ""
    takes_code: bool = True
    labels: str = ""
    stops: tuple[str, ...] = ()
    paper: Callable[[Sequence[Answer]], str] = lambda _answers: ""
    thing: str = ""
    half_done: bool = True
    opens: Callable[[Sight, Found], bool] = lambda _sight, _found: True
    badge: Callable[[Sight], str] = no_place
    again: Callable[[Sight, Found], bool] = lambda _sight, _found: False
    leads: str = ""
    stays: tuple[str, ...] = ()
    onward: Callable[[Sight, Found], str] = lambda _sight, _found: ""


# What a hold can be on, for stations that say which holds concern their work.
MATERIALS = ("lot", "content", "blend", "charge")
MADE = ("load", "moulding", "part", "hull", "pack")
EVERYTHING = (*MATERIALS, *MADE, "plate", "scope")


def open_slot(station: Station, sight: Sight) -> Slot | None:
    """The slot that is asked for next."""
    return next((s for s in station.slots(sight) if not s.optional and not sight.text(s.name)), None)


def slot_for(station: Station, sight: Sight, found: Found) -> Slot | None:
    """The slot a code belongs to: the station's own choice, else the first open one of its kind, else one it
    replaces; None when nothing here takes it."""
    slots = {slot.name: slot for slot in station.slots(sight)}
    chosen = station.take(sight, found)
    if chosen is not None:
        return slots.get(chosen)
    fit = [slot for slot in slots.values() if found.kinds & set(slot.kinds)]
    empty = [slot for slot in fit if not sight.text(slot.name)]
    order = [*empty, *(slot for slot in fit if slot.many), *fit]
    return order[0] if order else None


def put(slot: Slot, sight: Sight, code: str) -> None:
    """Hold the code in its slot; another code in a single slot makes void what hung on the old one."""
    if slot.many:
        held = sight.codes(slot.name)
        sight.held[slot.name] = MANY.join(held if code in held else (*held, code))
        return
    if sight.text(slot.name) not in ("", code):
        for name in slot.clears:
            sight.held.pop(name, None)
    sight.held[slot.name] = code


__all__ = [
    "FINISHING", "MOULDING", "RECORDS", "STORES", "Early", "Home", "Next", "Sight", "Slot", "Station", "StationPage",
    "open_slot", "put", "slot_for",
]  # fmt: skip
