"""Reads what the scanned codes stand for, locks it, and tells what holds there now."""

import re
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.db import connection

from trace.codes import CodeError, parse_scan, printable, printed
from trace.genealogy.live import id_array, label_now
from trace.genealogy.prepared import fetch_json, fetch_rows
from trace.readmodels.plantdata import Directory, Thing
from trace.readmodels.rows import moment
from trace.recording.commands import By, Command
from trace.recording.floor.changes import BEFORE, Changes
from trace.recording.floor.units import UnitFacts, read_facts, unit_facts

UID = re.compile("[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
SAME = "l.unit = k.unit OR l.carrier = k.carrier OR l.resource = k.resource"
# A label that ended may have been replaced by one that has ended since: the one that counts now is named.
RESOLVE = f"""
SELECT COALESCE(json_agg(to_jsonb(r)), '[]')::text FROM (
SELECT 'label' AS how, k.code, k.carrier, k.unit, k.resource, s.code IS NOT NULL AS dead,
  CASE WHEN s.code IS NOT NULL THEN COALESCE({label_now(SAME)}, s.replaced_by) END AS replaced_by
  FROM label k LEFT JOIN label_state s ON s.code = k.code WHERE k.code = ANY (%(codes)s::text[])
UNION ALL SELECT 'serial', text, NULL, plate, NULL, FALSE, NULL FROM serial WHERE text = ANY (%(texts)s::text[])
UNION ALL SELECT 'number', lot_no, NULL, id, NULL, FALSE, NULL FROM unit
 WHERE kind IN ('moulding', 'part', 'lot') AND lot_no = ANY (%(texts)s::text[])
UNION ALL SELECT 'number', uid::text, NULL, id, NULL, FALSE, NULL FROM unit
 WHERE uid = ANY (%(uids)s::uuid[])) AS r
"""
LOCK = "SELECT lock_rows(%(carriers)s::bigint[], %(moulds)s::bigint[], %(serials)s::text[], %(units)s::bigint[])"


@dataclass(frozen=True)
class Found:
    """What one scanned code stands for. `kinds` is empty when nothing is known under it."""

    text: str
    code: str
    kinds: frozenset[str] = frozenset()
    carrier: str | None = None
    unit: UnitFacts | None = None
    thing: Thing | None = None
    order: str | None = None
    layer: str | None = None
    serial: dict[str, Any] | None = None
    hull: UnitFacts | None = None
    mould: dict[str, Any] | None = None
    load: UnitFacts | None = None
    waiting: tuple[UnitFacts, ...] = ()
    checked: dict[str, Any] | None = None
    # When the carrier was last filled or emptied, and when its content was last counted.
    changed: datetime | None = None
    counted: datetime | None = None
    # `unit`, or a mould's `load`, is what was in it when the act happened.
    late: bool = False
    # `load` is the one that was in the mould then (None: nobody knows which), not the one in it now.
    displaced: bool = False
    # When that was, where the act's time may be off and only then it could be done.
    then: datetime | None = None
    # What else was in it within what the act's time may be off: which of them it was, nobody can tell.
    others: tuple[str, ...] = ()
    dead: bool = False
    replaced_by: str | None = None
    trouble: str = ""

    @property
    def key(self) -> str:
        return self.thing.key if self.thing else ""

    @property
    def name(self) -> str:
        """Its code as people read it."""
        return printed(self.code)

    @property
    def body(self) -> dict[str, Any]:
        return self.thing.body if self.thing else {}


@dataclass
class Floor:
    """What a handler sees: the things scanned, the plant data, who and when."""

    by: By
    plant: Directory
    happened: datetime
    now: datetime
    found: dict[str, Found] = field(default_factory=dict)
    # What a late fact or a correction changes in carriers; replayed once the handler is done.
    changes: Changes = field(default_factory=Changes)
    # What an act looked up besides, so that what its facts have found its rows need not ask again.
    looked: dict[str, Any] = field(default_factory=dict)

    def __getitem__(self, code: str) -> Found:
        return self.found.get(code.strip(), Found(code, code))

    @property
    def day(self) -> date:
        """The plant day on which the act happened."""
        return self.plant.calendar.day(self.happened)

    @property
    def unsure(self) -> timedelta:
        """How far the time of the act may be off."""
        return timedelta(milliseconds=self.by.unsure_ms)

    def since(self, found: Found) -> datetime:
        """From when a carrier holds what this act puts into it, or stands empty: what is told of the same moment came
        in the order in which it is told."""
        return max(self.happened, found.changed + BEFORE) if found.changed else self.happened

    def list(self, codes: tuple[str, ...]) -> list[Found]:
        """What these codes stand for, each thing once however often and in whatever form it was scanned."""
        found = {self[c].code: self[c] for c in codes}
        return list(found.values())

    def locked(self, waiting: bool) -> set[str]:
        """Uids of the units whose rows this scan has locked."""
        units = [u for f in self.found.values() for u in (f.unit, f.load, f.hull) if u]
        units += [u for f in self.found.values() if waiting for u in f.waiting]
        return {u.uid for u in units}

    def childless(self) -> set[str]:
        """Uids of units scanned here that have gone into nothing yet."""
        units = [u for f in self.found.values() for u in (f.unit, f.load, f.hull, *f.waiting) if u]
        return {u.uid for u in units if u.childless}


class Known:
    """What codes were found to stand for, in one request. What a code is bound to never changes; whether its label
    still counts is asked again with everything else (`read`)."""

    def __init__(self) -> None:
        self._rows: dict[str, list[dict[str, Any]]] = {}

    def rows(self, codes: Collection[str], keys: Collection[str]) -> list[dict[str, Any]]:
        """All that stands behind these codes, of which `keys` are the plant's; one statement where one is not known
        yet. What was nothing may be something by now."""
        new = sorted(code for code in codes if not self._rows.get(code) and not (code in self._rows and code in keys))
        if new:
            self._rows |= {code: [] for code in new}
            uids = [code for code in new if UID.fullmatch(code)]
            for row in fetch_json(RESOLVE, {"codes": new, "texts": new, "uids": uids}):
                self._rows[row["code"]].append(row)
        return [row for code in codes for row in self._rows[code]]


class StaleError(Exception):
    """A label ended after it was looked up."""


@dataclass
class Sought:
    """Where each code points, before anything is locked."""

    texts: dict[str, str] = field(default_factory=dict)
    trouble: dict[str, str] = field(default_factory=dict)
    label: dict[str, dict[str, Any]] = field(default_factory=dict)
    serials: list[str] = field(default_factory=list)
    numbers: dict[str, int] = field(default_factory=dict)
    things: dict[str, Thing] = field(default_factory=dict)

    def ids(self, what: str) -> list[int]:
        every = {row[what] for row in self.label.values() if row[what] is not None}
        return sorted(every | (set(self.numbers.values()) if what == "unit" else set()))


def seek(command: Command, plant: Directory, known: Known | None = None) -> Sought:
    """Read the codes' text and look up what they are bound to; one statement for those not `known`. Locks nothing."""
    sought = Sought()
    wanted = {str(code).strip(): kinds for _, code, kinds in command.codes()}
    _read_texts(sought, wanted, plant)
    if sought.texts:
        _resolve(sought, known or Known(), plant)
    by_resource = {t.resource: t for t in plant.things.values()} if sought.ids("resource") else {}
    for text, code in sought.texts.items():
        row = sought.label.get(code)
        if row and row["resource"] in by_resource:
            sought.things[code] = by_resource[row["resource"]]
        elif not row:
            _look_for_key(sought, text, code, set(wanted[text]), plant)
    return sought


def _look_for_key(sought: Sought, text: str, code: str, kinds: set[str], plant: Directory) -> None:
    """The thing of the plant whose key this is, where one of its kind is asked for and no plate reads so."""
    if code in sought.serials and {"plate", "hull"} & kinds:
        return
    named = [t for t in plant.find(text) if _thing_kinds(t) & kinds]
    if named:
        _stands_for(sought, text, code, named[0])


def _read_texts(sought: Sought, wanted: dict[str, tuple[str, ...]], plant: Directory) -> None:
    """What each text reads as: a key of the plant as it stands, else a code; what is neither is said as trouble."""
    for text, kinds in wanted.items():
        if any(_thing_kinds(t) & set(kinds) for t in plant.find(text)):
            sought.texts[text] = text.upper()
            continue
        if UID.fullmatch(text.lower()):
            # A page that shows a lot names it by this: it may have no label, and its number may be another lot's too.
            sought.texts[text] = text.lower()
            continue
        try:
            sought.texts[text] = parse_scan(text, plant.prefixes).text
        except CodeError as error:
            sought.trouble[text] = str(error)


def _stands_for(sought: Sought, text: str, code: str, thing: Thing) -> None:
    """The code is this thing's key: a number that a supplier gave to a lot never hides it."""
    sought.things[code] = thing
    sought.numbers.pop(code, None)
    sought.trouble.pop(text, None)
    if code in sought.serials:
        sought.serials.remove(code)


def _resolve(sought: Sought, known: Known, plant: Directory) -> None:
    """What labels, serials and numbers are bound to. A number of several lots leads to none of them."""
    several: set[str] = set()
    every = sorted(set(sought.texts.values()))
    for row in known.rows(every, {code for code in every if plant.find(code)}):
        if row["how"] == "label":
            sought.label[row["code"]] = row
        elif row["how"] == "serial":
            sought.serials.append(row["code"])
        elif sought.numbers.setdefault(row["code"], row["unit"]) != row["unit"]:
            several.add(row["code"])
    for text, code in sought.texts.items():
        if code in several:
            sought.trouble[text] = f"{printable(code)} is the number of several lots: scan a label of the right one."


def _thing_kinds(thing: Thing) -> frozenset[str]:
    return frozenset({thing.kind, str(thing.body.get("kind", thing.kind))})


def lock(sought: Sought) -> datetime:
    """Lock the read-model rows behind the codes in the fixed order; the server's clock once they are held."""
    rows = {
        "carriers": id_array(sought.ids("carrier")),
        "moulds": id_array(sorted(t.resource for t in sought.things.values() if t.kind == "mould")),
        "serials": sorted(sought.serials),
        "units": id_array(sought.ids("unit")),
    }
    now: datetime = fetch_rows(LOCK, rows)[0][0]
    return now


def lock_waiting(found: dict[str, Found]) -> bool:
    """Lock the mouldings that wait at the moulds scanned; False when there are none and nothing has to be read anew."""
    waiting = sorted({unit.id for one in found.values() for unit in one.waiting})
    if waiting:
        with connection.cursor() as cursor:
            cursor.execute("SELECT lock_rows('{}', '{}', '{}', %s::bigint[])", [waiting])
    return bool(waiting)


def lock_more(uids: set[str]) -> None:
    """Lock, in their order, further units whose state is about to be written (a lot's containers, a pack's hulls)."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT 1 FROM unit_state WHERE unit IN (SELECT id FROM unit WHERE uid = ANY (%s::uuid[]))
                ORDER BY unit FOR UPDATE""",
            [sorted(uids)],
        )


def read(sought: Sought) -> dict[str, Found]:
    """What each scanned text stands for now. StaleError when a label ended since it was looked up."""
    moulds = [t for t in sought.things.values() if t.kind == "mould"]
    facts = read_facts(
        units=sought.ids("unit"),
        carriers=sought.ids("carrier"),
        moulds=[t.resource for t in moulds],
        mould_keys=[t.key for t in moulds],
        serials=sought.serials,
        resources=[t.resource for t in sought.things.values()],
        labels=[code for code, row in sought.label.items() if not row["dead"]],
    )
    if facts["dead"]:
        raise StaleError(str(facts["dead"]))
    units = {row["id"]: unit_facts(row) for row in facts["units"] or []}
    carriers = {row["id"]: row for row in facts["carriers"] or []}
    mould_states = {row["mould"]: row for row in facts["moulds"] or []}
    serials = {row["text"]: row for row in facts["serials"] or []}
    checks = {row["instrument"]: row for row in facts["instruments"] or []}
    found: dict[str, Found] = {}
    for text, code in sought.texts.items():
        found[text] = _found(text, code, sought, units, carriers, mould_states, serials, checks)
    for text, trouble in sought.trouble.items():
        found[text] = Found(text, text, trouble=trouble)
    return found


def _found(
    text: str,
    code: str,
    sought: Sought,
    units: dict[int, UnitFacts],
    carriers: dict[int, dict[str, Any]],
    mould_states: dict[int, dict[str, Any]],
    serials: dict[str, dict[str, Any]],
    checks: dict[int, dict[str, Any]],
) -> Found:
    row = sought.label.get(code)
    if row and row["carrier"] is not None:
        carrier = carriers[row["carrier"]]
        return Found(
            text, code, frozenset({carrier["kind"]}), carrier["uid"], units.get(carrier["content"] or 0),
            order=carrier["order"], layer=carrier["layer"], dead=row["dead"], replaced_by=row["replaced_by"],
            changed=moment(carrier["changed"]) if carrier["changed"] else None,
            counted=moment(carrier["counted"]) if carrier["counted"] else None,
        )  # fmt: skip
    if row and row["unit"] is not None:
        unit = units[row["unit"]]
        return Found(text, code, frozenset({unit.kind}), unit=unit, dead=row["dead"], replaced_by=row["replaced_by"])
    if code in serials:
        serial = serials[code]
        hull = units.get(serial["hull"] or 0)
        kinds = frozenset({"plate", "hull"} if hull else {"plate"})
        return Found(
            text, code, kinds, unit=hull or units.get(serial["plate"]), serial=serial, hull=hull,
            dead=bool(serial["replaced_by"]), replaced_by=serial["replaced_by"],
        )  # fmt: skip
    if code in sought.numbers:
        unit = units[sought.numbers[code]]
        return Found(text, code, frozenset({unit.kind}), unit=unit)
    thing = sought.things.get(code)
    if thing is None:
        return Found(text, code)
    state = mould_states.get(thing.resource)
    return Found(
        text, code, _thing_kinds(thing), thing=thing, mould=state,
        load=units.get(state["load"] or 0) if state else None,
        waiting=tuple(
            sorted(
                (u for u in units.values() if u.status == "to bind" and u.about.get("mould") == thing.key),
                key=lambda u: u.id,
            )
        ),
        checked=checks.get(thing.resource), dead=bool(row and row["dead"]),
        replaced_by=row["replaced_by"] if row else None,
    )  # fmt: skip


__all__ = [
    "Floor", "Found", "Known", "Sought", "StaleError", "UnitFacts", "lock", "lock_more", "lock_waiting", "read", "seek",
]  # fmt: skip
