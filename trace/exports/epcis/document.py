"""An EPCIS 2.0 document: written event by event, and held against what its schema does not ask for."""

import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any, BinaryIO

from django.utils.translation import gettext as _

from trace.exports.asked import PaperError
from trace.exports.paper import Paper
from trace.genealogy.documents import utc

CONTEXT = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"
# Its own names have a prefix of their own: the standard's context is protected, so that none of its terms can be taken.
OWN_CONTEXT = {"lotwright": "urn:lotwright:epcis:"}
# How many digits prefix and reference have together, and whether a serial, lot or extension follows (GS1 EPC Tag Data
# Standard; the prefix has six to twelve of them in a URN).
URNS = {"sgtin": (13, True), "lgtin": (13, True), "sscc": (17, False), "sgln": (12, True), "pgln": (12, False)}
EPC = re.compile(r"urn:epc:(?:id|class):([a-z]+):(.+)")
PARTS = re.compile(r"([0-9]{6,12})\.([0-9]*)(\.[!-~]{1,60})?")


def write_epcis(paper: Paper, out: BinaryIO, step: Callable[[], None]) -> None:
    """Raises PaperError where there is no event to tell, or one that is not as the standard has it."""
    if paper.events is None:
        raise PaperError(_("Of this there are no EPCIS events: take a hull or a scope."))
    head = {"@context": [CONTEXT, OWN_CONTEXT], "type": "EPCISDocument", "schemaVersion": "2.0"}
    head["creationDate"] = utc(paper.as_known_on)
    out.write(f'{text(head)[:-1]},"epcisBody":{{"eventList":['.encode())
    count = 0
    for event in paper.events():
        if wrong := next(faults(event), None):
            raise PaperError(_("An event cannot be told as EPCIS: %(wrong)s") % {"wrong": wrong})
        out.write((("," if count else "") + text(event)).encode())
        step()
        count += 1
    if not count:
        raise PaperError(_("Nothing of this was recorded that EPCIS has an event for."))
    out.write(b"]}}")


def text(value: Any) -> str:
    """JSON with Decimals as plain numbers, never with an exponent."""
    if isinstance(value, Mapping):
        return "{" + ",".join(f"{json.dumps(k, ensure_ascii=False)}:{text(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ",".join(map(text, value)) + "]"
    return f"{value:f}" if isinstance(value, Decimal) else json.dumps(value, ensure_ascii=False)


def document(events: Iterable[Mapping[str, Any]], created: datetime) -> dict[str, Any]:
    """The same as one object."""
    return {
        "@context": [CONTEXT, OWN_CONTEXT], "type": "EPCISDocument", "schemaVersion": "2.0",
        "creationDate": utc(created), "epcisBody": {"eventList": list(events)},
    }  # fmt: skip


def faults(event: Mapping[str, Any]) -> Iterator[str]:
    """What the published schema lets pass and the standard does not: one sentence each."""
    for name in names_in(event):
        found = EPC.fullmatch(name)
        if found and not _is_epc(found[1], found[2]):
            yield _("%(name)s is no EPC of its kind.") % {"name": name}
    for element in quantities_in(event):
        amount = element.get("quantity")
        if amount is not None and Decimal(str(amount)) <= 0:
            yield _("%(name)s has the amount %(amount)s.") % {"name": element.get("epcClass"), "amount": amount}
        if "uom" in element and amount is None:
            yield _("%(name)s has a unit and no amount.") % {"name": element.get("epcClass")}
    yield from _of_times(event)
    yield from _of_kind(event)


def _is_epc(kind: str, rest: str) -> bool:
    digits, followed = URNS.get(kind, (0, False))
    parts = PARTS.fullmatch(rest)
    return parts is not None and len(parts[1] + parts[2]) == digits and (parts[3] is not None) == followed


def _of_times(event: Mapping[str, Any]) -> Iterator[str]:
    try:
        offset = datetime.fromisoformat(str(event["eventTime"])).strftime("%z")
    except (KeyError, ValueError):
        offset = ""
    if not offset:
        yield _("eventTime has no offset.")
    elif f"{offset[:3]}:{offset[3:5]}" != event.get("eventTimeZoneOffset"):
        yield _("eventTimeZoneOffset is not that of eventTime.")


def _of_kind(event: Mapping[str, Any]) -> Iterator[str]:
    kind, action = event.get("type"), event.get("action")
    if kind == "AggregationEvent" and action in ("ADD", "DELETE") and not event.get("parentID"):
        yield _("An aggregation needs its parent.")
    told = ("epcList", "quantityList", "sensorElementList")
    if kind == "ObjectEvent" and not any(event.get(name) for name in told):
        yield _("An object event names nothing and measures nothing.")


def names_in(event: Mapping[str, Any]) -> Iterator[str]:
    """Every identifier of a thing in an event."""
    for name in ("epcList", "childEPCs", "inputEPCList", "outputEPCList"):
        yield from event.get(name, ())
    yield from (str(element.get("epcClass")) for element in quantities_in(event))
    yield from (str(event[name]) for name in ("parentID",) if event.get(name))
    yield from (str(event[name]["id"]) for name in ("readPoint", "bizLocation") if event.get(name))
    yield from (str(one.get("destination")) for one in event.get("destinationList", ()))


def quantities_in(event: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    for name in ("quantityList", "childQuantityList", "inputQuantityList", "outputQuantityList"):
        yield from event.get(name, ())
