"""The mass balance of a lot: what came, what was taken and for what, what the book says is left."""

from collections.abc import Iterator

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.codes import printed
from trace.genealogy.graph import PART_ROLES
from trace.sheets.contracts import BalanceLine, ContainerLine
from trace.sheets.facts.amounts import in_trade_unit, unit_word
from trace.sheets.lots.gathered import GatheredLot
from trace.sheets.lots.went import received


def balance(gathered: GatheredLot) -> tuple[BalanceLine, ...]:
    """Received, each way out by the recorded draws, differences, and what must be left; exact, to the mg."""
    total = received(gathered)
    if total is None:
        return ()
    uom = gathered.lines[gathered.lot.id].uom
    own = {n.id for n in gathered.containers}
    ways: dict[tuple[str, str], int] = {}
    for edge in gathered.answer.edges:
        if edge.parent in own and edge.role in PART_ROLES and edge.amount is not None:
            way = edge.role, gathered.lines[edge.child].node.kind
            ways[way] = ways.get(way, 0) + edge.amount
    out: dict[str, int] = {}
    for (role, kind), amount in ways.items():
        out[_out(role, kind)] = out.get(_out(role, kind), 0) + amount
    difference = sum(gathered.flows[n].difference for n in own)
    unrecorded = sum(gathered.flows[n].unrecorded_out for n in own)
    return tuple(_lines(total, out, difference, unrecorded, uom))


def _lines(total: int, out: dict[str, int], difference: int, unrecorded: int, uom: str | None) -> Iterator[BalanceLine]:
    yield BalanceLine(_("received"), in_trade_unit(total, uom))
    for word, amount in sorted(out.items(), key=lambda x: -x[1]):
        yield BalanceLine(word, -in_trade_unit(amount, uom))
    if difference:
        yield BalanceLine(_("differences booked"), in_trade_unit(difference, uom))
    words = ngettext(
        "%(count)d draw without a recorded amount is not in it",
        "%(count)d draws without a recorded amount are not in it", unrecorded,
    )  # fmt: skip
    note = words % {"count": unrecorded} if unrecorded else ""
    yield BalanceLine(
        _("left by the book"), in_trade_unit(total + difference - sum(out.values()), uom), total=True, note=note
    )


def _out(role: str, child: str) -> str:
    if role in ("draw", "ingredient"):
        return _("weighed into charges") if child == "charge" else _("into blends")
    return {
        "topup": _("onto vessels"), "decant": _("decanted"), "insert": _("placed in moulds"),
        "fit": _("into hulls repaired"),
        "graphic": _("placed in moulds"), "sample": _("samples"), "scrap": _("scrapped"),
        "return": _("returned to the supplier"),
        "heel": _("stayed under a filling"), "regrind": _("reground"),
    }.get(role, role)  # fmt: skip


def container_lines(gathered: GatheredLot) -> tuple[ContainerLine, ...]:
    """Every container the lot came in, with what the book says is in it."""
    found = []
    for node in gathered.containers:
        left = gathered.left(node)
        line = gathered.lines[node.id]
        kind = {"container": _("container"), "roll": _("roll"), "vessel": _("vessel")}.get(
            gathered.carriers.get(node.id, ""), gathered.carriers.get(node.id, "").replace("_", " ")
        )
        found.append(
            ContainerLine(
                code=printed(node.code), kind=kind,
                filled=None if node.amount is None else in_trade_unit(node.amount, node.uom),
                left=None if left is None else in_trade_unit(left, node.uom),
                uom=unit_word(node.uom), place=gathered.known.place(line.place) if line.place else "",
                standing=_("on hold") if node.id in gathered.held else _("below zero by the book")
                if left is not None and left < 0 else _("empty by the book") if left == 0 else "",
            )
        )  # fmt: skip
    return tuple(found)
