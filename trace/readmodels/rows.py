"""What an event does, in words of the records: the rows it adds, and the read models it sets.

A Rows is built by a command's handler, stands in the event's bytes as `rows` (so that bytes alone can rebuild
everything), and is applied by trace/readmodels/apply.py. Everything is named by uid or by key, never by a
database id. Amounts are whole milligrams, pieces or millimetres; times are ISO 8601 in UTC.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from trace.codes import uuid7

Row = dict[str, Any]


def stamp(moment: datetime) -> str:
    """ISO 8601 in UTC with microseconds and Z: the only form in which a time enters event bytes."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def moment(text: str) -> datetime:
    return datetime.fromisoformat(text)


@dataclass
class Rows:
    """One event's consequences by part; the order of a part's rows is part of the bytes."""

    parts: dict[str, list[Row]] = field(default_factory=dict)
    # Contents that a late fact only makes anew, each with what stood in its place: what it says of itself does not hold
    # them.
    remade: dict[str, str] = field(default_factory=dict)
    # Numbers that the answer gives back and no row has, since they are counted off the records.
    given: dict[str, list[int]] = field(default_factory=dict)

    def _add(self, part: str, row: Row) -> None:
        self.parts.setdefault(part, []).append(row)

    def unit(
        self,
        kind: str,
        *,
        amount: int | None = None,
        uom: str | None = None,
        carrier: str | None = None,
        lot_no: str | None = None,
        about: Row | None = None,
        status: str | None = None,
        place: str | None = None,
    ) -> str:
        """A new unit; returns its uid. `about` says what it was made as and never changes."""
        uid = str(uuid7())
        self._add(
            "units",
            {
                "uid": uid,
                "kind": kind,
                "carrier": carrier,
                "lot_no": lot_no,
                "amount": amount,
                "uom": uom if amount is not None else None,
                "about": {k: v for k, v in (about or {}).items() if v is not None},
            },
        )
        if status:
            self.status(uid, status)
        if place:
            self.place(uid, place)
        return uid

    def carrier(self, kind: str) -> str:
        uid = str(uuid7())
        self._add("carriers", {"uid": uid, "kind": kind})
        return uid

    def edge(
        self,
        child: str,
        parent: str,
        role: str,
        *,
        amount: int | None = None,
        uom: str | None = None,
        layer: str | None = None,
        position: str | None = None,
        at: datetime | None = None,
        of: str | None = None,
    ) -> None:
        """Parent went into child; `amount` None where the record does not say how much.

        `at`, `of`: when it did and the event that first said so, where a late fact or a correction adds it again.
        An event says each way from parent to child once: what goes the same way again adds up.
        """
        row: Row = {
            "child": child,
            "parent": parent,
            "role": role,
            "layer": layer,
            "position": position,
            "amount": amount,
            "uom": uom if amount is not None else None,
        }
        for same in self.parts.get("edges", []):
            if same["child"] == child and all(same[k] == row[k] for k in ("parent", "role", "layer", "position")):
                if amount is not None:
                    same["amount"], same["uom"] = (same["amount"] or 0) + amount, uom
                return
        if at is not None:
            row["at"] = stamp(at)
        self._add("edges", row if of is None else {**row, "of": of})

    def void(self, event: str, n: int) -> None:
        """Withdraw edge number n of an earlier event."""
        self._add("voids", {"event": event, "n": n})

    def difference(
        self, unit: str, amount: int, uom: str, cause: str, *, at: datetime | None = None, left: int | None = None
    ) -> None:
        """`left`: what a person counted in it; the amount is what the book has to move by to say the same."""
        row: Row = {"unit": unit, "amount": amount, "uom": uom, "cause": cause}
        row |= {} if at is None else {"at": stamp(at)}
        self._add("differences", row if left is None else {**row, "left": left})

    def counted(
        self, carrier: str, left: int | None, *, at: datetime | None = None, of: str | None = None
    ) -> None:
        """What a person counted in a carrier, whatever was in it by the book: it stands when more is told.

        at, of: when it was, and the event that first said so, where it is put right (left None: it was not counted).
        """
        row: Row = {"carrier": carrier, "left": left}
        self._add("counts", row if of is None or at is None else {**row, "at": stamp(at), "event": of})

    def emptied(self, carrier: str, at: datetime | None, of: str) -> None:
        """When a carrier was really proved empty (None: it was not), as event `of` said of another time."""
        self._add("empties", {"carrier": carrier, "at": None if at is None else stamp(at), "event": of})

    def touch(self, unit: str, role: str) -> None:
        row = {"unit": unit, "role": role}
        if row not in self.parts.get("touches", []):
            self._add("touches", row)

    def touch_each(self, units: Iterable[str], role: str) -> int:
        """Touch many units, each once, which nothing of this event has touched in this role yet; how many they are."""
        every = list(dict.fromkeys(units))
        for unit in every:
            self._add("touches", {"unit": unit, "role": role})
        return len(every)

    def resource(self, kind: str, key: str, role: str) -> None:
        row = {"thing": f"{kind}:{key}", "role": role}
        if row not in self.parts.get("resources", []):
            self._add("resources", row)

    def status(self, unit: str, status: str, *, at: str | None = None) -> None:
        """`at`: from when it counts, as ISO text, where that is not when the event happened."""
        row = {"unit": unit, "status": status} | ({"at": at} if at else {})
        if row not in self.parts.get("statuses", []):
            self._add("statuses", row)
        self.touch(unit, "status")

    def place(self, unit: str, place: str) -> None:
        self._add("places", {"unit": unit, "place": place})
        self.touch(unit, "placed")

    def fill(
        self,
        carrier: str,
        content: str | None,
        since: datetime,
        *,
        order: str | None = None,
        layer: str | None = None,
    ) -> None:
        """From `since` on the carrier holds `content` (None: it was emptied)."""
        self._add(
            "logs",
            {
                "carrier": carrier,
                "replace": False,
                "entries": [{"content": content, "since": stamp(since)}],
                "order": order,
                "layer": layer,
            },
        )

    def refill(
        self,
        carrier: str,
        start: datetime,
        entries: list[tuple[str | None, datetime]],
        *,
        order: str | None = None,
        layer: str | None = None,
    ) -> None:
        """A late fact rewrites the carrier's log from `start` on; order and layer are those it has now."""
        self._add(
            "logs",
            {
                "carrier": carrier,
                "replace": True,
                "from": stamp(start),
                "entries": [{"content": c, "since": stamp(s)} for c, s in entries],
                "order": order,
                "layer": layer,
            },
        )

    def cycle(self, number: str) -> str:
        uid = str(uuid7())
        self._add("cycles", {"uid": uid, "number": number})
        return uid

    def cook(self, cycle: str, unit: str, position: str) -> None:
        self._add("cooks", {"cycle": cycle, "unit": unit, "position": position})
        self.touch(unit, "cooked")

    def label(
        self, code: str, *, carrier: str | None = None, unit: str | None = None, thing: str | None = None
    ) -> None:
        self._add("labels", {"code": code, "carrier": carrier, "unit": unit, "resource": thing})

    def label_ends(self, code: str, replaced_by: str | None) -> None:
        self._add("label_ends", {"code": code, "replaced_by": replaced_by})

    def serial(self, text: str, plate: str, form: str, product: str, month: str | None) -> None:
        self._add("serials", {"text": text, "plate": plate, "format": form, "product": product, "month": month})

    def serial_stands(self, text: str, standing: str, hull: str | None) -> None:
        self._add("serial_stands", {"text": text, "standing": standing, "hull": hull})

    def hold(self, unit: str, rule: str) -> str:
        uid = str(uuid7())
        self._add("holds", {"uid": uid, "unit": unit, "rule": rule})
        self.touch(unit, "held")
        return uid

    def release_hold(self, hold: str, unit: str | None) -> None:
        self._add("hold_releases", {"hold": hold, "unit": unit})
        if unit:
            self.touch(unit, "released")

    def thing(self, kind: str, key: str, version: int, body: str, valid_from: datetime) -> None:
        """A revision of plant data; version 1 makes the resource."""
        self._add(
            "things",
            {
                "kind": kind,
                "key": key,
                "uid": str(uuid7()) if version == 1 else None,
                "version": version,
                "body": body,
                "valid_from": stamp(valid_from),
            },
        )

    def mould(self, key: str, **state: Any) -> None:
        """The whole state of a mould from now on: stage, load, cycle, arm, order and its shot counts."""
        self._add("moulds", {"mould": key, **state})

    def instrument(self, key: str, checked_at: datetime, passed: bool) -> None:
        self._add("instruments", {"instrument": key, "checked_at": stamp(checked_at), "passed": passed})

    def instrument_again(self, key: str, checked_at: datetime | None, passed: bool) -> None:
        """A later check of it was taken back: this is the last one that counts; None: there is none."""
        at = None if checked_at is None else stamp(checked_at)
        self._add("instruments", {"instrument": key, "checked_at": at, "passed": passed, "again": True})

    def reading(
        self,
        quantity: str,
        value: str,
        uom: str,
        *,
        unit: str | None = None,
        zone: str | None = None,
        instrument: str | None = None,
    ) -> None:
        """A value as displayed: its digits and its unit."""
        self._add(
            "readings",
            {
                "quantity": quantity,
                "value": value,
                "uom": uom,
                "unit": unit,
                "zone": zone,
                "instrument": instrument,
            },
        )
        if unit:
            self.touch(unit, "read")

    def reading_righted(self, event: str, n: int, row: Row, value: str | None) -> None:
        """Reading number n of an earlier event, which said `row`, shows `value` (None: nobody read it)."""
        names = ("quantity", "uom", "unit", "zone", "instrument")
        self._add("readings_righted", {"event": event, "n": n, "value": value, **{name: row[name] for name in names}})

    def discrepancy(self, kind: str, unit: str | None = None) -> None:
        self._add("discrepancies", {"kind": kind, "unit": unit})

    def discrepancy_once(self, kind: str, unit: str) -> None:
        if {"kind": kind, "unit": unit} not in self.parts.get("discrepancies", []):
            self.discrepancy(kind, unit)

    def close_discrepancy(self, event: str, n: int) -> None:
        self._add("closed", {"event": event, "n": n})

    def gap(self, unit: str, what: str, which: str) -> None:
        self._add("gaps", {"unit": unit, "what": what, "which": which})
        self.touch(unit, "gap")

    def missed(
        self,
        carrier: str | None,
        child: str,
        role: str,
        *,
        amount: int | None,
        uom: str,
        layer: str | None = None,
        position: str | None = None,
        at: datetime | None = None,
        of: str | None = None,
    ) -> None:
        """Something came out of a carrier that was empty by the book: a gap, until a late fact says what was in it.

        Of a tub that was tipped with nothing in it not even the layer is known: its code says which (position).
        """
        row: Row = {
            "carrier": carrier,
            "child": child,
            "role": role,
            "layer": layer,
            "position": position,
            "amount": amount,
            "uom": uom,
        }
        if at is not None:
            row["at"] = stamp(at)
        self._add("missed", row if of is None else {**row, "of": of})
        self.gap(child, "charge" if role == "charge" and layer is None else "source", layer or position or role)

    def gap_closed(self, unit: str, what: str, which: str) -> None:
        self._add("gaps_closed", {"unit": unit, "what": what, "which": which})
        self.touch(unit, "gap closed")

    def complaint(
        self, number: int, symptom: str, *, hull: str | None, product: str | None, spot: str | None
    ) -> None:
        """A complaint begins, by the number that people call it. hull: its uid, None where nobody knows it yet; spot:
        where on the hull, by a name of the model's drawing.
        """
        row = {"number": number, "symptom": symptom, "hull": hull, "product": product, "spot": spot}
        self._add("complaints", row)

    def complaint_stands(self, event: str, *, hull: str | None, case: int | None, still_open: bool) -> None:
        """How a complaint, by the uid of the event that told it, stands from now on: hull, case, open or not."""
        self._add("complaint_stands", {"event": event, "hull": hull, "case": case, "open": still_open})

    def case(self, number: int) -> None:
        """A case is opened."""
        self._add("cases", {"number": number})

    def case_stands(self, event: str, *, still_open: bool) -> None:
        """Whether a case, by the uid of the event that opened it, is open from now on."""
        self._add("case_stands", {"event": event, "open": still_open})

    def erased(self, note: str) -> None:
        """The words behind this digest are gone for ever; the digest stays."""
        self._add("erased", {"note": note})

    def photo(self, stored: str) -> None:
        """A stored picture, "sha256 size type" as trace/photos/evidence.py names it; "" adds nothing."""
        if not stored:
            return
        parts = re.fullmatch(r"([0-9a-f]{64}) ([0-9]{1,12}) ([\x21-\x7e]{1,80})", stored)
        if parts is None:
            self.discrepancy("a photo was named that is not stored")
        else:
            self._add("blobs", {"sha256": parts[1], "size": int(parts[2]), "type": parts[3]})

    def changed_units(self) -> set[str]:
        """The uids of units that were there before and whose state this event changes."""
        named = {r["unit"] for part in ("statuses", "places", "differences") for r in self.parts.get(part, [])}
        named |= {e[end] for e in self.parts.get("edges", []) for end in ("child", "parent")}
        return named - {u["uid"] for u in self.parts.get("units", [])}

    def made(self, kind: str) -> list[str]:
        """The uids of the units of one kind that this event makes."""
        return [u["uid"] for u in self.parts.get("units", []) if u["kind"] == kind]
