"""How units, places and consignees are named in EPCIS: EPC URNs (GS1 EPC Tag Data Standard) under one company prefix.

The prefix is the plant's own (setting gs1-prefix), without one GS1's for demonstrations, 952. Item references are the
numbers under which the plant's products and materials were first recorded, so they never change.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import quote

from trace.codes.gs1 import check_digit
from trace.genealogy.graph import Node
from trace.models import Resource
from trace.sheets.facts.revisions import revisions

DEMONSTRATION = "9521234"
OWN = "urn:lotwright:"
# A lot or serial of GS1's character set 82, at most 20 signs; what has a meaning in a URN is escaped there.
FITS = re.compile(r"[!-\"%-?A-Z_a-z]{1,20}")
SAFE = "!'()*+,-.:;=_"


@dataclass(frozen=True, slots=True)
class Company:
    """GS1 names under one company prefix of 4 to 12 digits. Each is "" where the number has more digits than the prefix
    leaves room for."""

    prefix: str = DEMONSTRATION

    @property
    def _told(self) -> str:
        """The prefix as URNs have it: of one with fewer than six digits the first digits of the reference, which are
        noughts, are counted with it. The keys are the same."""
        return self.prefix.ljust(6, "0")

    def _reference(self, number: int, room: int) -> str | None:
        return f"{number:0{room}d}" if room > 0 and number < 10**room else None

    def sgtin(self, item: int, serial: str) -> str:
        """One object by its kind and serial; the reference begins with the indicator digit, 0."""
        return self._item("id:sgtin", item, serial)

    def lgtin(self, item: int, lot: str) -> str:
        return self._item("class:lgtin", item, lot)

    def _item(self, kind: str, item: int, serial: str) -> str:
        reference = self._reference(item, 12 - len(self._told))
        return f"urn:epc:{kind}:{self._told}.0{reference}.{escaped(serial)}" if reference else ""

    def gtin(self, item: int) -> str:
        """The kind of thing as GTIN-14, its check digit computed."""
        reference = self._reference(item, 12 - len(self._told))
        return with_check(f"0{self._told}{reference}") if reference else ""

    def sscc(self, number: int) -> str:
        """A pack: the serial reference begins with the extension digit, 0."""
        reference = self._reference(number, 16 - len(self._told))
        return f"urn:epc:id:sscc:{self._told}.0{reference}" if reference else ""

    def sscc_18(self, number: int) -> str:
        """The same as it stands on a label, its check digit computed."""
        reference = self._reference(number, 16 - len(self._told))
        return with_check(f"0{self._told}{reference}") if reference else ""

    def pgln(self, number: int) -> str:
        reference = self._reference(number, 12 - len(self._told))
        return f"urn:epc:id:pgln:{self._told}.{reference}" if reference else ""

    def place(self, key: str) -> str:
        """A place in the plant: location 1 with the place's key as extension."""
        if FITS.fullmatch(key):
            room = 12 - len(self._told)
            return f"urn:epc:id:sgln:{self._told}.{'1'.zfill(room) if room else ''}.{escaped(key)}"
        return f"{OWN}place:{quote(key, safe='')}"


def with_check(digits: str) -> str:
    return digits + check_digit(digits)


def company(known: datetime) -> Company:
    """Under the prefix that the plant had set by then."""
    return Company(revisions([("setting", "gs1-prefix")], known).setting("gs1-prefix", DEMONSTRATION))


def escaped(text: str) -> str:
    return quote(text, safe=SAFE)


@dataclass(frozen=True, slots=True)
class Names:
    """`items`: the number of each product, material and consignee; `lots`: the lot that a received container's content
    is all of, by the content's uid."""

    company: Company
    items: Mapping[tuple[str, str], int]
    lots: Mapping[str, Node]
    nodes: Mapping[str, Node]

    def of(self, uid: str) -> str:
        """The name of one unit; of what has no number of its own its identifier."""
        node = self.lots.get(uid) or self.nodes.get(uid)
        if node is None:
            return f"urn:uuid:{uid}"
        return self._of(node) or f"urn:uuid:{node.uid}"

    def _of(self, node: Node) -> str:
        if node.kind == "hull":
            item = self.items.get(("product", str(node.about.get("product"))))
            return self.company.sgtin(item, node.serial) if item and node.serial and FITS.fullmatch(node.serial) else ""
        if node.kind in ("lot", "blend"):
            item = self.items.get(("material", str(node.about.get("material"))))
            return self.company.lgtin(item, node.lot_no) if item and node.lot_no and FITS.fullmatch(node.lot_no) else ""
        return self.company.sscc(node.id) if node.kind == "pack" else ""

    def keys(self, uid: str) -> dict[str, str]:
        """The GS1 key of a hull's kind or of a pack as it stands on a label, check digit and all."""
        node = self.nodes.get(uid)
        if node is None:
            return {}
        item = self.items.get(("product", str(node.about.get("product")))) if node.kind == "hull" else None
        said = {"gtin": self.company.gtin(item) if item else "", "sscc": ""}
        if node.kind == "pack":
            said["sscc"] = self.company.sscc_18(node.id)
        return {f"lotwright:{name}": key for name, key in said.items() if key}

    def party(self, key: str) -> str:
        """A consignee, without a name: whoever may know it knows the number."""
        number = self.items.get(("consignee", key))
        return (self.company.pgln(number) if number else "") or f"{OWN}party:{quote(key, safe='')}"


def numbers(things: Iterable[tuple[str, str]]) -> dict[tuple[str, str], int]:
    """The number under which each of these (kind, key) was first recorded."""
    wanted = set(things)
    found = Resource.objects.filter(kind__in={kind for kind, _key in wanted}, key__in={key for _kind, key in wanted})
    return {(r.kind, r.key): r.id for r in found if (r.kind, r.key) in wanted}
