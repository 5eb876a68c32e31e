"""Complaints and cases read from their events' own bytes: what each was told as, and how it stood by a moment.

All of them are read for any one of them: a plant has some hundreds of such events in a year, and what belongs to what
is then plain to see. How they stand now alone is in the tables complaint and case_file.
"""

import json
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import connection

from trace.genealogy.live import known_by
from trace.genealogy.made_as import MADE_AS
from trace.genealogy.owners import first_purchaser, owners
from trace.recording.acts.cases import InCase, OpenCase, Suspect
from trace.recording.acts.complaints import CloseComplaint, TakeComplaint, TieHull
from trace.recording.commands import Command
from trace.sheets.facts.entries import Entry

OF_BOTH: tuple[type[Command], ...] = (TakeComplaint, TieHull, CloseComplaint, OpenCase, *InCase.__subclasses__())
KINDS = tuple(command.KIND for command in OF_BOTH)
EVENTS = """
SELECT e.id, e.uid::text, e.kind, e.happened, e.recorded, e.body FROM event e
WHERE e.kind = ANY (%(kinds)s) AND e.recorded <= %(known)s::timestamptz ORDER BY e.id
"""
HULLS = f"""
SELECT u.uid::text, u.id, t.text, ({MADE_AS})::text, e.happened, p.place FROM unit u JOIN event e ON e.id = u.event
LEFT JOIN serial_state t ON t.hull = u.id LEFT JOIN place_now p ON p.unit = u.id WHERE u.uid = ANY (%s::uuid[])
"""
# Every field of words that a command of these has.
WORDS = ("buyer", "contact", "story", "name", "reason", "what", "result", "by_whom", "answer")


@dataclass
class Complaint:
    """One complaint by then: its number, the event that told it, its hull's uid (None: not known), its case, and the
    later events that are about it. registered: the day of sale that its hull's first purchaser was registered with."""

    number: int
    entry: Entry
    hull: str | None
    case: int | None = None
    open: bool = True
    later: list[Entry] = field(default_factory=list)
    registered: str = ""

    @property
    def says(self) -> Mapping[str, Any]:
        return self.entry.says

    def day(self, name: str) -> str:
        """When it was sold, failed or reported, as YYYY-MM-DD; "" where nobody told. Whoever complains may not know
        when it was sold, and the register of owners may."""
        return str(self.says.get(name) or (self.registered if name == "sold" else ""))


@dataclass
class Case:
    """One case by then: its number, the event that opened it, and every later step of it in order."""

    number: int
    entry: Entry
    open: bool = True
    steps: list[Entry] = field(default_factory=list)

    def of(self, command: type[InCase]) -> list[Entry]:
        """The steps of one kind."""
        return [step for step in self.steps if step.kind == command.KIND]

    @property
    def suspects(self) -> dict[tuple[str, ...], Entry]:
        """Cause -> the last that was said of it, in the order in which they came up."""
        found: dict[tuple[str, ...], Entry] = {}
        for step in self.of(Suspect):
            found[tuple(step.says["cause"])] = step
        return found


@dataclass(frozen=True)
class Told:
    """All complaints and cases by number."""

    complaints: dict[int, Complaint]
    cases: dict[int, Case]

    def inside(self, case: int) -> list[Complaint]:
        """The complaints of a case, the first told first."""
        return [one for one in self.complaints.values() if one.case == case]

    def of_hull(self, hull: str) -> list[Complaint]:
        """The complaints that are of this hull, by its uid."""
        return [one for one in self.complaints.values() if one.hull == hull]


@dataclass(frozen=True, slots=True)
class HullNow:
    """The hull of a complaint: what it was made as, when its plate was bound, and its place as in place_now."""

    id: int
    serial: str
    about: Mapping[str, Any]
    made: datetime
    place: str | None


def told(as_known_on: datetime | None = None) -> Told:
    """Every complaint and case recorded by then."""
    with connection.cursor() as cursor:
        cursor.execute(EVENTS, {"kinds": list(KINDS), "known": known_by(as_known_on)})
        rows = cursor.fetchall()
    found = folded(Entry(id_, uid, kind, happened, recorded, json.loads(body))
                   for id_, uid, kind, happened, recorded, body in rows)
    _with_sales([one for one in found.complaints.values() if one.hull and not one.says.get("sold")], as_known_on)
    return found


def _with_sales(complaints: Collection[Complaint], as_known_on: datetime | None) -> None:
    """Give each the day of sale that the register of owners has of its hull."""
    if not complaints:
        return
    with connection.cursor() as cursor:
        hulls = [one.hull for one in complaints]
        cursor.execute("SELECT uid::text, id FROM unit WHERE uid = ANY (%s::uuid[])", [hulls])
        ids = dict(cursor.fetchall())
    registered = owners(ids.values(), as_known_on)
    for one in complaints:
        first = first_purchaser(registered.get(ids[one.hull], ()))
        one.registered = first.sold if first else ""


def folded(entries: Iterable[Entry]) -> Told:
    """Complaints and cases as these events, in the order of recording, leave them."""
    of_event: dict[str, Complaint] = {}
    case_of_event: dict[str, Case] = {}
    for entry in entries:
        for row in entry.part("complaints"):
            of_event[entry.uid] = Complaint(row["number"], entry, row["hull"])
        for row in entry.part("cases"):
            case_of_event[entry.uid] = Case(row["number"], entry)
        for row in entry.part("complaint_stands"):
            one = of_event[row["event"]]
            one.hull, one.case, one.open = row["hull"], row["case"], row["open"]
            one.later.append(entry)
        for row in entry.part("case_stands"):
            case = case_of_event[row["event"]]
            case.open = row["open"]
            case.steps.append(entry)
    return Told(
        {one.number: one for one in of_event.values()}, {case.number: case for case in case_of_event.values()}
    )


def digests(entries: Iterable[Entry]) -> set[str]:
    """The digests of all words in these events."""
    return {str(entry.says[name]) for entry in entries for name in WORDS if entry.says.get(name)}


def hulls(uids: Iterable[str | None]) -> dict[str, HullNow]:
    """The hulls behind these uids, as they stand now."""
    wanted = sorted({uid for uid in uids if uid})
    if not wanted:
        return {}
    with connection.cursor() as cursor:
        cursor.execute(HULLS, [wanted])
        return {
            uid: HullNow(id_, serial or "", json.loads(about), made, place)
            for uid, id_, serial, about, made, place in cursor.fetchall()
        }

