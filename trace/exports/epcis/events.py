"""The records of a hull as EPCIS events: what went in is a transformation, a pack an aggregation, the rest objects.

A correction is told as the standard asks: the event that was wrong again, with an error declaration that names what
puts it right; the correction's own ways beside it.
"""

from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, timedelta, timezone
from decimal import Decimal
from typing import Any
from urllib.parse import quote
from uuid import UUID, uuid5

from trace.exports.epcis.names import OWN, Names, company, numbers
from trace.genealogy.documents import UNIT_CODES, in_unit
from trace.genealogy.graph import Node
from trace.genealogy.remoulds import ANEW
from trace.genealogy.walk import nodes as nodes_of
from trace.models import Unit
from trace.recording.acts.remoulds import ENDED
from trace.sheets.facts.entries import Entry, Row
from trace.sheets.hulls.gathered import Gathered

Event = dict[str, Any]
# Ways that use something up for something new; those into a load are steps of one transformation, the load's.
USED_UP = frozenset({"decant", "heel", "topup", "draw", "ingredient", "regrind"})
# A hull has its plate from then on: of one moulding, of several joined, or of a part cut off.
BORN = frozenset({"bind", "join", "cut"})
INTO_LOAD = frozenset({"charge", "insert", "graphic"})
# UN/ECE Recommendation 20: degree Celsius, kilogram, millimetre. EPCIS names the kind of measurement.
MEASURED = {"C": ("Temperature", "CEL"), "kg": ("Mass", "KGM"), "mm": ("Length", "MMT")}


def hull_events(gathered: Gathered) -> Iterator[Event]:
    """Every event in the order in which it happened; one that puts others right tells these again as declared wrong."""
    teller = Teller(gathered, names_of(gathered))
    by_uid = {entry.uid: entry for entry in gathered.entries}
    for entry in gathered.entries:
        yield from teller.events(entry)
        for uid in dict.fromkeys(row["event"] for row in entry.part("voids")):
            if uid in by_uid and entry.kind in ("corrected", "plates_swapped", "reading_corrected"):
                yield from teller.declared_wrong(by_uid[uid], entry)


def names_of(gathered: Gathered) -> Names:
    nodes = {**gathered.by_uid, gathered.hull.uid: gathered.hull, **{n.uid: n for n in gathered.around.values()}}
    nodes |= _beside(gathered, nodes)
    received = {e.child: e.parent for e in gathered.answer.edges if e.role == "receive"}
    lots = {
        gathered.lines[child].node.uid: gathered.lines[parent].node
        for child, parent in received.items() if child in gathered.lines and parent in gathered.lines
    }  # fmt: skip
    things = [
        (kind, str(node.about[kind])) for node in nodes.values() for kind in ("product", "material", "consignee")
        if node.about.get(kind)
    ]  # fmt: skip
    return Names(company(gathered.answer.as_known_on), numbers(things), lots, nodes)


def _beside(gathered: Gathered, known: Mapping[str, Node]) -> dict[str, Node]:
    """What was received or packed in one act with something of this hull: such an event is told whole."""
    rows = [edge for entry in gathered.entries for edge in entry.part("edges") if edge["role"] in ("receive", "pack")]
    uids = {uid for edge in rows for uid in (edge["child"], edge["parent"])} - known.keys()
    ids = Unit.objects.filter(uid__in=uids).values_list("id", flat=True) if uids else ()
    return {node.uid: node for node in nodes_of(set(ids), gathered.answer.as_known_on).values()}


class Teller:
    """Tells the events of one hull."""

    def __init__(self, gathered: Gathered, names: Names) -> None:
        self.gathered, self.names = gathered, names
        self.loads = {n.uid for n in gathered.of_kind("load")}
        self.transformation = next(iter(sorted(self.loads)), "")

    def events(self, entry: Entry) -> Iterator[Event]:
        """The EPCIS events of one record, each with an identifier of its own that never changes."""
        for n, event in enumerate(self._told(entry)):
            uid = entry.uid if n == 0 else str(uuid5(UUID(entry.uid), str(n)))
            yield {"type": event.pop("type"), "eventID": f"urn:uuid:{uid}", **times(entry), **event}

    def declared_wrong(self, entry: Entry, by: Entry) -> Iterator[Event]:
        declared = {
            "declarationTime": moment(by.recorded), "reason": "incorrect_data",
            "correctiveEventIDs": [event["eventID"] for event in self.events(by)],
        }  # fmt: skip
        if not declared["correctiveEventIDs"]:
            declared.pop("correctiveEventIDs")
        for event in self.events(entry):
            yield {**event, "errorDeclaration": declared}

    def _told(self, entry: Entry) -> Iterator[Event]:
        yield from self._by_edges(entry)
        tell: Callable[[Entry], Iterator[Event]] | None = {
            "inspected": self._inspected, "cook_ended": self._cooked, "racked": self._racked, "held": self._held,
            "hold_released": self._held, "released": self._released, "scrapped": self._scrapped,
            "recall_begun": self._recalled, "returned": self._returned,
            "plate_replaced": self._replaced, "remoulded": self._remoulded,
        }.get(entry.kind)  # fmt: skip
        if tell is not None:
            yield from tell(entry)

    def _by_edges(self, entry: Entry) -> Iterator[Event]:
        edges = [edge for edge in entry.part("edges") if edge["child"] in self.names.nodes]
        ours = [edge for edge in edges if edge["parent"] in self.names.nodes]
        yield from self._received([edge for edge in ours if edge["role"] == "receive"], entry)
        yield from self._used_up([edge for edge in edges if edge["role"] in USED_UP])
        yield from self._into_load([edge for edge in edges if edge["role"] in INTO_LOAD])
        if any(edge["role"] in BORN for edge in edges if edge["child"] == self.gathered.hull.uid):
            yield self._born()
        yield from self._fitted([edge for edge in edges if edge["role"] == "fit"])
        yield from self._packed([edge for edge in ours if edge["role"] == "pack"])
        yield from self._sent([edge for edge in ours if edge["role"] == "ship"], entry)

    def _quantities(self, edges: list[Row], name: str) -> list[Event]:
        """What went through these edges, each class once; an amount that nobody recorded is left out, as the standard
        lets it be."""
        found: dict[str, list[Row]] = {}
        for edge in edges:
            found.setdefault(self.names.of(edge[name]), []).append(edge)
        return [quantity(what, rows) for what, rows in found.items()]

    def _received(self, edges: list[Row], entry: Entry) -> Iterator[Event]:
        if edges:
            note = str(entry.says.get("note_no") or "")
            yield {
                "type": "ObjectEvent", "action": "ADD", "quantityList": self._quantities(edges, "parent"),
                "bizStep": "receiving", "disposition": "in_progress",
                **({"bizTransactionList": [transaction("desadv", note)]} if note else {}),
            }  # fmt: skip

    def _used_up(self, edges: list[Row]) -> Iterator[Event]:
        """One transformation for each unit that was filled."""
        for child in dict.fromkeys(edge["child"] for edge in edges):
            into = [edge for edge in edges if edge["child"] == child]
            # A hull that is ground up is one thing, whatever it weighs; all else is so much of something.
            whole = [edge for edge in into if edge["parent"] == self.gathered.hull.uid]
            parts = [edge for edge in into if edge not in whole]
            yield {
                "type": "TransformationEvent",
                **({"inputEPCList": [self.names.of(self.gathered.hull.uid)]} if whole else {}),
                **({"inputQuantityList": self._quantities(parts, "parent")} if parts else {}),
                "outputQuantityList": [quantity(self.names.of(child), into)],
                "bizStep": f"{OWN}step:{into[0]['role']}", "disposition": "in_progress",
            }  # fmt: skip

    def _fitted(self, edges: list[Row]) -> Iterator[Event]:
        """What is fitted stays with the hull: an association, not a content."""
        for hull in dict.fromkeys(edge["child"] for edge in edges):
            parts = [edge for edge in edges if edge["child"] == hull]
            yield {
                "type": "AssociationEvent", "action": "ADD", "parentID": self.names.of(hull),
                "childQuantityList": self._quantities(parts, "parent"), "bizStep": "installing",
                "disposition": "in_progress",
            }  # fmt: skip

    def _into_load(self, edges: list[Row]) -> Iterator[Event]:
        if edges:
            yield {
                "type": "TransformationEvent", "inputQuantityList": self._quantities(edges, "parent"),
                "transformationID": f"urn:uuid:{edges[0]['child']}",
                "bizStep": f"{OWN}step:loading", "disposition": "in_progress",
            }  # fmt: skip

    def _born(self) -> Event:
        about, hull = self.gathered.hull.about, self.gathered.hull.uid
        made_as = {"mould": about.get("mould"), "recipe": about.get("recipe"), "colour": about.get("colour")}
        order = str(about.get("order") or "")
        return {
            "type": "TransformationEvent", "outputEPCList": [self.names.of(hull)],
            "transformationID": f"urn:uuid:{self.transformation or hull}",
            "bizStep": "commissioning", "disposition": "in_progress",
            **({"bizTransactionList": [transaction("prodorder", order)]} if order else {}),
            "ilmd": {
                **self.names.keys(hull),
                **{f"lotwright:{name}": str(value) for name, value in made_as.items() if value},
            },
        }  # fmt: skip

    def _packed(self, edges: list[Row]) -> Iterator[Event]:
        for pack in dict.fromkeys(edge["child"] for edge in edges):
            inside = dict.fromkeys(self.names.of(edge["parent"]) for edge in edges if edge["child"] == pack)
            yield {
                "type": "AggregationEvent", "action": "ADD", "parentID": self.names.of(pack),
                "childEPCs": list(inside), "bizStep": "packing", "disposition": "container_closed",
                **self.names.keys(pack),
            }  # fmt: skip

    def _sent(self, edges: list[Row], entry: Entry) -> Iterator[Event]:
        if not edges:
            return
        order, to = str(entry.says.get("order") or ""), str(entry.says.get("consignee") or "")
        yield {
            "type": "ObjectEvent", "action": "OBSERVE",
            "epcList": list(dict.fromkeys(self.names.of(edge["parent"]) for edge in edges)),
            "bizStep": "shipping", "disposition": "in_transit",
            **({"bizTransactionList": [transaction("po", order)]} if order else {}),
            **({"destinationList": [{"type": "possessing_party", "destination": self.names.party(to)}]} if to else {}),
        }  # fmt: skip

    def _hull(self, entry: Entry) -> bool:
        """Whether the record is about the hull itself."""
        return any(row["unit"] == self.gathered.hull.uid for row in entry.part("touches"))

    def _seen(self, **said: Any) -> Event:
        return {"type": "ObjectEvent", "action": "OBSERVE", "epcList": [self.names.of(self.gathered.hull.uid)], **said}

    def _inspected(self, entry: Entry) -> Iterator[Event]:
        good = entry.says.get("verdict") == "pass"
        sensors = sensor_list(entry)
        yield self._seen(
            bizStep="inspecting", disposition="conformant" if good else "non_conformant",
            **({"sensorElementList": sensors} if sensors else {}),
        )  # fmt: skip

    def _cooked(self, entry: Entry) -> Iterator[Event]:
        """Nothing has a name while it is in the oven: the event says what was measured, and of which transformation."""
        sensors = sensor_list(entry)
        if sensors:
            yield {
                "type": "ObjectEvent", "action": "OBSERVE", "epcList": [], "bizStep": "sensor_reporting",
                "sensorElementList": sensors, "lotwright:transformationID": f"urn:uuid:{self.transformation}",
            }  # fmt: skip

    def _racked(self, entry: Entry) -> Iterator[Event]:
        places = [row["place"] for row in entry.part("places") if row["unit"] == self.gathered.hull.uid]
        if places and not places[0].startswith("gone: "):
            yield self._seen(
                bizStep="storing", disposition="in_progress", bizLocation={"id": self.names.company.place(places[0])}
            )

    def _held(self, entry: Entry) -> Iterator[Event]:
        """A hold on a lot is told of the lot, one on the hull of the hull."""
        which = "set" if entry.kind == "held" else "unset"
        units = [row["unit"] for row in entry.part("holds" if which == "set" else "touches")]
        said: Event = {"bizStep": "holding", "persistentDisposition": {which: ["non_sellable_other"]}}
        for unit in dict.fromkeys(unit for unit in units if unit in self.names.nodes):
            yield self._seen(**said) if unit == self.gathered.hull.uid else of_class(self.names.of(unit), **said)

    def _returned(self, entry: Entry) -> Iterator[Event]:
        """It is taken out of the pack that it was sent in, and stands in the plant again."""
        hull, sender = self.gathered.hull.uid, str(entry.says.get("consignee") or "")
        places = [row["place"] for row in entry.part("places") if row["unit"] == hull]
        if not self._hull(entry):
            return
        yield from self._unpacked(entry)
        yield self._seen(
            bizStep="receiving", disposition="returned",
            **({"bizLocation": {"id": self.names.company.place(places[0])}} if places else {}),
            **({"sourceList": [{"type": "possessing_party", "source": self.names.party(sender)}]} if sender else {}),
        )  # fmt: skip

    def _unpacked(self, entry: Entry) -> Iterator[Event]:
        """Out of each pack that it was put into since it came back before."""
        told = {one.id: one for one in self.gathered.entries}
        before = [one.happened for one in self.gathered.entries if one.kind == entry.kind and one is not entry]
        last = max((at for at in before if at < entry.happened), default=None)
        for edge in self.gathered.around_edges:
            packed = told.get(edge.event) if edge.role == "pack" and edge.parent == self.gathered.hull.id else None
            if packed and packed.happened <= entry.happened and (last is None or packed.happened > last):
                yield {
                    "type": "AggregationEvent", "action": "DELETE", "bizStep": "unpacking",
                    "parentID": self.names.of(self.gathered.around[edge.child].uid),
                    "childEPCs": [self.names.of(self.gathered.hull.uid)],
                }  # fmt: skip

    def _recalled(self, entry: Entry) -> Iterator[Event]:
        if self._hull(entry):
            yield self._seen(bizStep="holding", disposition="recalled")

    def _released(self, entry: Entry) -> Iterator[Event]:
        units = [row["unit"] for row in entry.part("statuses") if row["unit"] in self.names.nodes]
        for name in dict.fromkeys(self.names.of(unit) for unit in units):
            yield of_class(name, bizStep="inspecting", disposition="conformant")

    def _scrapped(self, entry: Entry) -> Iterator[Event]:
        if self._hull(entry):
            yield {**self._seen(bizStep="destroying", disposition="destroyed"), "action": "DELETE"}


    def _replaced(self, entry: Entry) -> Iterator[Event]:
        """The hull is named by the number that it has now; the event says which one it had until then."""
        before = [row["text"] for row in entry.part("serial_stands") if row["hull"] is None]
        if self._hull(entry) and before:
            yield self._seen(
                bizStep=f"{OWN}step:relabelling", disposition="in_progress",
                **{"lotwright:numberBefore": str(before[0]), "lotwright:number": str(entry.says["plate"])},
            )  # fmt: skip

    def _remoulded(self, entry: Entry) -> Iterator[Event]:
        """Who stands for whom: no transformation, since nothing of the one goes into the other."""
        hull = self.gathered.hull.uid
        roles = {row["role"] for row in entry.part("touches") if row["unit"] == hull}
        yield from self._scrapped(entry) if ENDED in roles else ()
        if ANEW in roles:
            yield self._seen(
                bizStep=f"{OWN}step:moulded-anew", disposition="in_progress",
                **{"lotwright:standsFor": str(entry.says["old"])},
            )  # fmt: skip


def of_class(name: str, **said: Any) -> Event:
    """Something seen of a whole lot, without saying how much of it there was."""
    return {"type": "ObjectEvent", "action": "OBSERVE", "quantityList": [{"epcClass": name}], **said}


def times(entry: Entry) -> Event:
    """Happened, with the offset of the plant's clocks then, and recorded."""
    minutes = int(entry.body.get("offset_min") or 0)
    zone = timezone(timedelta(minutes=minutes))
    sign, (hours, rest) = "-" if minutes < 0 else "+", divmod(abs(minutes), 60)
    return {
        "eventTime": entry.happened.astimezone(zone).isoformat(timespec="milliseconds"),
        "eventTimeZoneOffset": f"{sign}{hours:02d}:{rest:02d}",
        "recordTime": moment(entry.recorded),
    }


def moment(when: Any) -> str:
    return str(when.astimezone(UTC).isoformat(timespec="milliseconds")).replace("+00:00", "Z")


def quantity(name: str, edges: list[Row]) -> Event:
    """A class with how much of it, where each of these ways has an amount of one unit."""
    uoms = {edge["uom"] for edge in edges}
    amounts = [edge["amount"] for edge in edges]
    if None in amounts or len(uoms) != 1:
        return {"epcClass": name}
    uom = str(uoms.pop())
    return {"epcClass": name, "quantity": Decimal(in_unit(sum(amounts), uom) or "0"), "uom": UNIT_CODES[uom]}


def transaction(kind: str, number: str) -> Event:
    """A business document by its number, in the plant's own name space."""
    return {"type": kind, "bizTransaction": f"{OWN}document:{kind}:{quote(number, safe='')}"}


def sensor_list(entry: Entry) -> list[Event]:
    """Each reading of the record as a report, apart by the zone it was taken in."""
    found = []
    for row in entry.part("readings"):
        kind, uom = MEASURED.get(str(row["uom"]), ("", ""))
        value = figure(row)
        if kind and value is not None:
            report = {"type": kind, "value": value, "uom": uom}
            where = {"lotwright:zone": str(row["zone"])} if row["zone"] else {}
            found.append({"sensorReport": [{**report, "lotwright:quantity": str(row["quantity"]), **where}]})
    return found


def figure(row: Mapping[str, Any]) -> Decimal | None:
    text = str(row["value"]).strip()
    try:
        value = Decimal(text)
    except ArithmeticError:
        return None
    return value if value.is_finite() else None
