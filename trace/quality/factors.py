"""The causes that hulls are compared by: what each is called, and how a scope asks for it."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, NamedTuple

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from trace.genealogy.cause_words import WORDS, Figure, Thing, Took
from trace.genealogy.graph import Node
from trace.genealogy.reasons import stamped


class Factor(NamedTuple):
    """One cause: its sort, its key (of a unit its id as text), and the layer, position or act that it is about."""

    sort: str
    key: str
    part: str = ""


# What a unit behind a hull can be: a charge and what came after it is one hull's own.
STOCK = {"lot": "lot", "content": "container", "blend": "blend", "regrind": "regrind"}
# Sort -> how it is said before its key. The order is that in which names of the same hulls are told.
SORTS: Mapping[str, Any] = {
    "lot": gettext_lazy("lot"), "container": gettext_lazy("container"), "blend": gettext_lazy("blend"),
    "regrind": gettext_lazy("regrind"), "material": gettext_lazy("material"), "supplier": gettext_lazy("supplier"),
    "certificate": gettext_lazy("certificate"), "rule": gettext_lazy("let pass or held"),
    "mould": gettext_lazy("mould"), "cavity": gettext_lazy("cavity"), "coat": gettext_lazy("release coat"),
    "arm": gettext_lazy("arm"),
    "on arm": gettext_lazy("place on the arm"), "oven": gettext_lazy("oven"), "machine": gettext_lazy("machine"),
    "scale": gettext_lazy("scale"), "logger": gettext_lazy("logger"), "instrument": gettext_lazy("instrument"),
    "person": gettext_lazy("person"), "works-order": gettext_lazy("works order"), "recipe": gettext_lazy("recipe"),
    "model": gettext_lazy("model"), "colour": gettext_lazy("colour"), "shift": gettext_lazy("shift"),
    "weekday": gettext_lazy("weekday"), "reading": gettext_lazy("reading"), "gap": gettext_lazy("no record of"),
    "sales-order": gettext_lazy("sales order"), "consignee": gettext_lazy("consignee"),
}  # fmt: skip
ORDER = {sort: n for n, sort in enumerate(SORTS)} | {f"much {sort}": 1 for sort in STOCK.values()}
# What somebody did, as people say it.
ACTS = {
    "weighed": gettext_lazy("weighed"), "mould_ready": gettext_lazy("made the mould ready"),
    "inserts_placed": gettext_lazy("placed inserts"), "graphic_placed": gettext_lazy("placed graphics"),
    "tipped": gettext_lazy("tipped"), "mould_closed": gettext_lazy("closed the mould"),
    "cook_started": gettext_lazy("began the cook"),
    "cook_stage": gettext_lazy("saw a stage"), "cook_ended": gettext_lazy("ended the cook"),
    "cooled": gettext_lazy("ended cooling"), "demoulded": gettext_lazy("demoulded"), "bound": gettext_lazy("bound"),
    "inspected": gettext_lazy("inspected"), "packed": gettext_lazy("packed"), "racked": gettext_lazy("racked"),
    "dispatched": gettext_lazy("dispatched"), "received": gettext_lazy("booked it in"),
    "certified": gettext_lazy("read its certificate"), "released": gettext_lazy("released it"),
    "topped_up": gettext_lazy("topped it up"), "counted": gettext_lazy("counted it"),
}  # fmt: skip


def in_order(factor: Factor) -> tuple[int, str, str]:
    """The plainest name of a set of hulls first."""
    return ORDER.get(factor.sort, len(ORDER)), factor.part, factor.key


# How a cause with a part is said; the part of a person or a rule is the act.
WITH_PART: Mapping[str, Any] = {
    "reading": gettext_lazy("%(key)s %(part)s"), "certificate": gettext_lazy("certificate: %(key)s %(part)s"),
    "gap": gettext_lazy("no record of %(key)s %(part)s"), "rule": gettext_lazy("a rule spoke: %(key)s (%(part)s)"),
    "person": gettext_lazy("%(key)s %(part)s"),
}  # fmt: skip


def said(factor: Factor, units: Mapping[int, Node]) -> str:
    """A cause as people say it."""
    sort, key, part = factor
    if sort in STOCK.values():
        return _unit_said(units.get(int(key)), part, key)
    if sort.startswith("much "):
        return _("%(much)s of %(name)s") % {"much": part, "name": _unit_said(units.get(int(key)), "", key)}
    if sort in WITH_PART and (part or sort == "gap"):
        words = {"key": key.replace("_", " "), "part": act_said(part) if sort in ("rule", "person") else part}
        return (str(WITH_PART[sort]) % words).strip()
    return f"{SORTS.get(sort, sort)} {key}"


def act_said(kind: str) -> str:
    return str(ACTS.get(kind, kind.replace("_", " ")))


def _unit_said(node: Node | None, part: str, key: str) -> str:
    if node is None:
        return key
    material = str(node.about.get("material") or "")
    if node.kind == "lot":
        name = _("%(material)s lot %(lot)s") % {"material": material, "lot": node.lot_no or _("without a number")}
    else:
        name = _("%(code)s of %(material)s, filled %(when)s") % {
            "code": node.said, "material": f"{material} {node.lot_no or ''}".strip(), "when": stamped(node.happened),
        }  # fmt: skip
    return _("%(name)s in %(part)s") % {"name": name, "part": part} if part else name


def asks(factor: Factor, units: Mapping[int, Node]) -> tuple[str, ...]:
    """The words by which a scope asks for it; none where it cannot."""
    sort, key, part = factor
    if sort.removeprefix("much ") in STOCK.values():
        node = units.get(int(key))
        part = "" if sort.startswith("much ") else part
        return () if node is None else (f"holds={node.uid}", *([f"in={part}"] if part else []))
    if sort == "person":
        # Of what somebody did the scope asks as of all that they did.
        return (f"person={key}",)
    if sort == "reading":
        return _ranged(key, part)
    plain = sort in ("supplier", "model", "colour", "shift", "cavity", "coat") or isinstance(WORDS.get(sort), Thing)
    return (f"{sort}={key}",) if plain and not part else ()


# How long a stage of the work took: its name, and the two acts between which it lies.
SPANS = {
    "minutes in the oven": ("cook_started", "cook_ended"), "minutes of cooling": ("cook_ended", "cooled"),
    "minutes from oven to plate": ("cook_ended", "bound"),
}  # fmt: skip
# Minutes are compared to a tenth, so a range of them reaches half of one further.
TENTH = Decimal("0.05")


def _ranged(quantity: str, cut: str) -> tuple[str, ...]:
    """A reading cut at a value ("≥ 209.4 C") in the words of a scope, where it has one for the quantity."""
    sign, figure, *uom = cut.split(" ")
    name, further = _word_of(quantity, " ".join(uom)), TENTH if quantity in SPANS else Decimal(0)
    if not name:
        return ()
    at = Decimal(figure)
    return (f"{name}=..{at + further}",) if sign == "≤" else (f"{name}={at - further}..",)


def _word_of(quantity: str, uom: str) -> str:
    for name, word in WORDS.items():
        if isinstance(word, Took) and SPANS.get(quantity) == (word.first, word.last):
            return name
        if not isinstance(word, Figure) or word.uom != uom or word.quantity is None:
            continue
        if word.quantity == quantity:
            return name
        if word.zone and quantity.startswith(f"{word.quantity} "):
            return f"{name}:{quantity.removeprefix(word.quantity).strip()}"
    return ""
