"""The lots in a hull: how much of each in which layer or position, and how each stands."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from trace.codes import printed
from trace.genealogy.answer import Line
from trace.genealogy.graph import Edge, Node
from trace.readmodels.apply import with_status
from trace.sheets.addresses import lot_url
from trace.sheets.asks import like, same
from trace.sheets.contracts import LotLine, LotShare
from trace.sheets.facts.amounts import in_trade_unit, likely, unit_word
from trace.sheets.facts.entries import Entry
from trace.sheets.hulls.gathered import Gathered
from trace.sheets.saying import supplier


def lots_at(gathered: Gathered, key: str) -> list[Line]:
    """The lots that are or may be in a layer or position, the surest and largest first."""
    found = [
        line
        for line in gathered.lines.values()
        if line.node.kind == "lot" and key in line.share.layers and line.share.layers[key].verdict != "cannot"
    ]
    return sorted(found, key=lambda x: (x.share.layers[key].verdict, -(x.share.layers[key].best or 0)))


def share_of(gathered: Gathered, line: Line, key: str) -> LotShare:
    """One lot's line under a layer or position, with the widest bounds."""
    bounds, node = line.share.layers[key], line.node
    uom = line.uom
    return LotShare(
        lot=name(node),
        code=printed(lot_label(gathered, node)),
        supplier=supplier(node.about.get("supplier"), gathered.known),
        verdict=bounds.verdict,
        least=in_trade_unit(bounds.least, uom),
        best=likely(bounds, uom),
        most=None if bounds.most is None else in_trade_unit(bounds.most, uom),
        uom=unit_word(uom),
        standing=_("on hold") if source_held(gathered, node, key) else status_of(gathered.entries, node.uid),
        url=lot_url(lot_label(gathered, node) or node.uid, gathered.asked),
    )


def source_held(gathered: Gathered, lot: Node, key: str) -> bool:
    """Whether the lot, or what it was in on its way to this layer or position, is under a hold laid there."""
    fitted = (e for e in gathered.answer.edges if e.role == "fit")
    into = {e.parent for e in (*gathered.into_loads, *fitted) if e.key == key}
    above = _along(into, gathered.answer.edges, back=True)
    way = _along({lot.id}, gathered.answer.edges, back=False) & above
    # A hold on one lot of a mix reaches the mix, and does not make the mix's other lots suspect.
    return lot.id in gathered.suspects() or any(hold.unit in way for hold in gathered.holds)


def _along(units: set[int], edges: Iterable[Edge], *, back: bool) -> set[int]:
    """The units and all that went into them, or that they went into."""
    near: dict[int, list[int]] = {}
    for edge in edges:
        one, other = (edge.child, edge.parent) if back else (edge.parent, edge.child)
        near.setdefault(one, []).append(other)
    found, new = set(units), list(units)
    while new:
        for unit in near.get(new.pop(), ()):
            if unit not in found:
                found.add(unit)
                new.append(unit)
    return found


def name(node: Node) -> str:
    """Stands after the word lot."""
    return node.lot_no or _("not known")


def could_be(gathered: Gathered, material: str) -> str:
    """The lots that could be what no record tells of: "lot F-118 or F-121"; "" where there are none."""
    lots = {line.node.lot_no for line in gathered.possible if line.node.about.get("material") == material}
    known = sorted(lot for lot in lots if lot)
    said = [_("lot %(lots)s") % {"lots": _(" or ").join(known)}] if known else []
    if None in lots:
        said.append(_("a lot whose number nobody recorded"))
    return _(" or ").join(said)


def lot_label(gathered: Gathered, lot: Node) -> str:
    """The label of the container that this hull's share came from: what a person can scan."""
    for edge in gathered.answer.edges:
        if edge.parent == lot.id and edge.role == "receive":
            labels = gathered.lines[edge.child].node.labels
            if labels:
                return labels[0]
    return ""


def standing(gathered: Gathered, lot: Node) -> str:
    """How the lot stood at the moment asked: on hold, or its last status."""
    if lot.id in gathered.suspects():
        return _("on hold")
    return status_of(gathered.entries, lot.uid)


def status_of(entries: Iterable[Entry], uid: str) -> str:
    """The status of a unit as its read model has it, by what was recorded by then; "" where nothing is."""
    state: dict[str, Any] = {"status": None, "status_at": None, "back_at": None}
    for entry in sorted(entries, key=lambda e: (e.recorded, e.id)):
        for row in entry.of("statuses", uid):
            state = with_status(state, row["status"], row.get("at") or str(entry.body["happened"]))
    return str(state["status"] or "")


def lot_lines(gathered: Gathered) -> tuple[LotLine, ...]:
    """Every lot in the hull with its certificate and its release, as recorded by then."""
    lots = gathered.of_kind("lot", "blend")
    return tuple(_lot_line(gathered, n) for n in sorted(lots, key=lambda n: (_first_use(gathered, n), n.uid)))


def _first_use(gathered: Gathered, lot: Node) -> int:
    """Layers first, then inserts, then graphics."""
    keys = gathered.lines[lot.id].share.layers
    layers = [x["name"] for x in gathered.recipe.get("layers", [])]  # type: ignore[attr-defined]
    inserts = gathered.recipe.get("inserts", {})
    places = [layers.index(k) if k in layers else 50 if k in inserts else 90 for k in keys]  # type: ignore[operator]
    return min(places, default=99)


def certificate(gathered: Gathered, lot: Node) -> Entry | None:
    found = [
        e
        for e in gathered.entries
        if e.kind == "certified" and any(row["unit"] == lot.uid for row in e.part("touches"))
    ]
    return found[-1] if found else None


def release(gathered: Gathered, lot: Node) -> Entry | None:
    found = [e for e in gathered.entries if e.kind == "released" and e.of("statuses", lot.uid)]
    return found[-1] if found else None


def _lot_line(gathered: Gathered, lot: Node) -> LotLine:
    known, paper, freed = gathered.known, certificate(gathered, lot), release(gathered, lot)
    values = ""
    causes: tuple[tuple[str, str], ...] = ()
    if paper:
        limits = gathered.plant.at("material", lot.about.get("material"), paper.happened).get("spec", {})
        read = [_value(n, str(v), limits.get(n)) for n, v in sorted(paper.says["values"].items())]
        if paper.says.get("finish"):
            read.append(_("finish %(finish)s") % {"finish": paper.says["finish"]})
        names = sorted(paper.says["values"].items())
        causes = tuple(zip(read, [*(like("certificate", v, n) for n, v in names), ""], strict=False))
        values = ", ".join(read) or _("read, without values")
    said = ""
    if freed:
        said = f"{known.person(freed.person)}, {timezone.localtime(freed.happened):%-d %b %Y %H:%M}"
        if freed.says.get("conditional"):
            said = _("conditionally, %(who)s") % {"who": said}
    return LotLine(
        lot=name(lot),
        material=str(lot.about.get("material") or _("material not known")),
        supplier=supplier(lot.about.get("supplier"), known),
        received=None if lot.about.get("origin") else lot.happened,
        certificate=values,
        released=said,
        standing=standing(gathered, lot),
        before_records=lot.about.get("origin") == "before records",
        values=causes,
        supplier_cause=same("supplier", lot.about.get("supplier")),
        url=lot_url(lot_label(gathered, lot) or lot.uid, gathered.asked),
    )


def _value(quantity: str, value: str, limits: list[str] | None) -> str:
    if not limits:
        return f"{quantity} {value}"
    low, high = limits
    outside = "" if Decimal(low) <= Decimal(value) <= Decimal(high) else _(" OUTSIDE")
    return f"{quantity} {value} ({low}–{high}){outside}"
