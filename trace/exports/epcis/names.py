"""How units, places and consignees are named in EPCIS: EPC URNs (GS1 EPC Tag Data Standard) under one company prefix.

The prefix is GS1's for demonstrations, 952: a plant that sends events to others needs its own. Item references are the
numbers under which the plant's products and materials were first recorded, so they never change.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import quote

from trace.genealogy.graph import Node
from trace.models import Resource

PREFIX = "9521234"
OWN = "urn:lotwright:"
# A lot or serial of GS1's character set 82, at most 20 signs; what has a meaning in a URN is escaped there.
FITS = re.compile(r"[!-\"%-?A-Z_a-z]{1,20}")
SAFE = "!'()*+,-.:;=_"


def sgtin(item: int, serial: str) -> str:
    """One object by its kind and serial; the item reference with its indicator has six digits under this prefix."""
    return f"urn:epc:id:sgtin:{PREFIX}.{item:06d}.{escaped(serial)}"


def lgtin(item: int, lot: str) -> str:
    return f"urn:epc:class:lgtin:{PREFIX}.{item:06d}.{escaped(lot)}"


def sscc(number: int) -> str:
    """A pack: extension digit and serial reference have ten digits under this prefix."""
    return f"urn:epc:id:sscc:{PREFIX}.{number:010d}"


def pgln(number: int) -> str:
    return f"urn:epc:id:pgln:{PREFIX}.{number:05d}"


def place_id(key: str) -> str:
    """A place in the plant: location 1 with the place's key as extension."""
    if FITS.fullmatch(key):
        return f"urn:epc:id:sgln:{PREFIX}.00001.{escaped(key)}"
    return f"{OWN}place:{quote(key, safe='')}"


def escaped(text: str) -> str:
    return quote(text, safe=SAFE)


@dataclass(frozen=True, slots=True)
class Names:
    """`items`: the number of each product, material and consignee; `lots`: the lot that a received container's content
    is all of, by the content's uid."""

    items: Mapping[tuple[str, str], int]
    lots: Mapping[str, Node]
    nodes: Mapping[str, Node]

    def of(self, uid: str) -> str:
        """The name of one unit; of what has no number of its own its identifier."""
        node = self.lots.get(uid) or self.nodes.get(uid)
        if node is None:
            return f"urn:uuid:{uid}"
        if node.kind == "hull":
            item = self.items.get(("product", str(node.about.get("product"))))
            if item and node.serial and FITS.fullmatch(node.serial):
                return sgtin(item, node.serial)
        if node.kind in ("lot", "blend"):
            item = self.items.get(("material", str(node.about.get("material"))))
            if item and node.lot_no and FITS.fullmatch(node.lot_no):
                return lgtin(item, node.lot_no)
        return sscc(node.id) if node.kind == "pack" else f"urn:uuid:{node.uid}"

    def party(self, key: str) -> str:
        """A consignee, without a name: whoever may know it knows the number."""
        number = self.items.get(("consignee", key))
        return pgln(number) if number else f"{OWN}party:{quote(key, safe='')}"


def numbers(things: Iterable[tuple[str, str]]) -> dict[tuple[str, str], int]:
    """The number under which each of these (kind, key) was first recorded."""
    wanted = set(things)
    found = Resource.objects.filter(kind__in={kind for kind, _key in wanted}, key__in={key for _kind, key in wanted})
    return {(r.kind, r.key): r.id for r in found if (r.kind, r.key) in wanted}
