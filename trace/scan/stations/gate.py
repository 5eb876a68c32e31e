"""Packing, re-wrapping and dispatch: the gate that a held hull does not pass."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from trace import lookup
from trace.codes import printed
from trace.readmodels.rows import moment
from trace.recording.acts.packing import Dispatch, Pack, Rewrap
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.recording.floor.open_orders import MOST_LOOKED_AT, OpenOrder, open_orders
from trace.recording.floor.sources import packed_for_order
from trace.scan.asked import without
from trace.scan.page import SCANS, Action, Field, Row
from trace.scan.sight import EVERYTHING, FINISHING, Early, Home, Next, Sight, Slot, Station
from trace.scan.stations.parts import HEAVY, choice, consignees, off, press, skipped, turning
from trace.speech import names_of

MOST_ORDERS = 20  # on one page
HULL_RULES = ("PACK-HELD", "PACK-MAY-BE-HELD", "PACK-GONE", "PACK-NOT-RELEASED", "PACK-TWICE")
ORDER_RULES = ("PACK-OFF-ORDER", "PACK-OVER-ORDER")
LOAD_RULES = (
    "GATE-HELD", "GATE-CONDITIONAL", "GATE-MAY-BE-HELD", "GATE-NOT-PACKED", "GATE-OTHER-ORDER", "GATE-OFF-ORDER",
    "GATE-CONSIGNEE",
    "GATE-GONE",
)  # fmt: skip


def slots(sight: Sight) -> tuple[Slot, ...]:
    return (
        Slot("order", ("sales_order",), _("Scan the dealer's order"), clears=("hulls",)),
        Slot("hulls", ("hull", "plate"), _("Scan the hull's plate"), many=True),
    )


def gathers(sight: Sight) -> bool:
    """Several hulls go into one pack; else every hull is a pack of its own, recorded with its one scan."""
    return sight.text("gather") == "yes"


def commands(sight: Sight) -> Sequence[Command] | None:
    order, hulls = sight.text("order"), sight.codes("hulls")
    if gathers(sight):
        return [Pack(order=order, hulls=hulls)] if order and sight.do == "pack" else None
    if not (order and hulls):
        return None
    return [Pack(order=order, hulls=hulls)]


def early(sight: Sight) -> Early | None:
    """A held hull is stopped at its own scan, also before anybody said for whom it is."""
    if not sight.text("hulls") or (sight.text("order") and not gathers(sight)):
        return None
    rules = HULL_RULES + ORDER_RULES if sight.text("order") else HULL_RULES
    return Pack(order=sight.text("order"), hulls=sight.codes("hulls")), rules


def fields(sight: Sight) -> tuple[Field, ...]:
    return (Field("gather", _("Several hulls in one pack"), "checkbox"),) if sight.text("order") else ()


def actions(sight: Sight) -> tuple[Action, ...]:
    if not gathers(sight):
        return ()
    n = len(sight.codes("hulls"))
    words = ngettext("Close the pack with %(n)d hull", "Close the pack with %(n)d hulls", n)
    return (press("pack", words % {"n": n}, bare=False),)


def wanted(sight: Sight) -> str:
    """Each line of the order with how much of it is packed already, as the rule about too many counts it."""
    order, lines = sight.key("order"), sight.body("order").get("lines", [])
    return ", ".join(
        _("%(product)s %(colour)s: %(packed)d of %(quantity)s packed")
        % {**x, "packed": packed_for_order(order, x["product"], x["colour"])}
        for x in lines
    )


def pack_words(pack: dict[str, Any]) -> str:
    return _("Pack %(code)s") % {"code": printed(str(pack["code"] or "?"))}


def pack_detail(pack: dict[str, Any]) -> str:
    """The hulls in it; whether something of it is on hold stands first."""
    hulls = str(pack["hulls"] or "")
    return _("ON HOLD: %(hulls)s") % {"hulls": hulls} if pack["held"] else hulls


def rows(sight: Sight) -> tuple[Row, ...]:
    """The packs of this order so far, and the nearest free hulls of what it asks for; before an order is scanned, those
    of which something is still to be packed."""
    order = sight.key("order")
    if not order:
        return order_rows(sight)
    packs = lookup.packs_of(order)
    names = names_of({p["person"] for p in packs if p["person"]})
    rows_ = [
        Row(pack_words(p), pack_detail(p), not p["held"], names.get(p["person"], ""), moment(p["when"]), now=p["held"])
        for p in packs
    ]  # fmt: skip
    rows_ += [Row(code, _("in this pack"), True) for code in sight.codes("hulls")]
    for line in sight.body("order").get("lines", []):
        free = lookup.free_hulls(line["product"], line["colour"])
        where = ", ".join(f"{h['serial']} {h['place']}".strip() for h in free) or _("none is free")
        rows_.append(Row(_("Free %(product)s %(colour)s") % line, where, note=True))
    return tuple(rows_)


def order_rows(sight: Sight) -> tuple[Row, ...]:
    """The open orders, the oldest first: each does what scanning its label does."""
    every, more = open_orders(sight.plant)
    first = skipped(sight)
    shown = every[first : first + MOST_ORDERS]
    older = Row(_("Older orders"), _("only the newest %(n)d were looked through") % {"n": MOST_LOOKED_AT}, note=True)
    return (
        *([Row(_("Open orders, the oldest first"), note=True)] if every else [Row(_("No order is open."), note=True)]),
        *(Row(f"{one.key} {one.consignee}", owed_words(one), note=True, do=f"{SCANS}{one.key}") for one in shown),
        *turning(first, len(shown), len(every)),
        *((older,) if more else ()),
    )


def owed_words(one: OpenOrder) -> str:
    return "; ".join(
        _("%(product)s %(colour)s: %(owed)d owed, %(ready)d ready")
        % {"product": owed.product, "colour": owed.colour, "owed": owed.owed, "ready": owed.ready}
        for owed in one.owed
    )


def after(sight: Sight, answers: Sequence[Answer]) -> dict[str, str]:
    return {"gather": "yes"} if gathers(sight) else {}


PACK = Station(
    slug="pack",
    title=gettext_lazy("Pack"),
    home=Home(FINISHING, 30, gettext_lazy("Pack a hull")),
    roles=("warehouse", "lead"),
    slots=slots,
    fields=fields,
    actions=actions,
    commands=commands,
    early=early,
    rows=rows,
    next=lambda sight: Next(_("Scan the hull's plate"), wanted(sight), "scan") if sight.text("order") else None,
    place=lambda sight: sight.key("order"),
    keeps=("order",),
    after=after,
    caution=HEAVY,
    labels="100x150",
    stops=EVERYTHING,
)

REWRAP = Station(
    slug="rewrap",
    title=gettext_lazy("Wrap again"),
    home=Home(FINISHING, 40, gettext_lazy("A new label for a pack; the old one stops counting")),
    roles=("warehouse", "lead"),
    slots=lambda sight: (
        Slot("pack", ("pack",), _("Scan the old pack label"), _("It stops counting; a new one is printed.")),
    ),
    commands=lambda sight: [Rewrap(pack=sight.text("pack"))] if sight.text("pack") else None,
    caution=HEAVY,
    labels="100x150",
)


# Dispatch: the name on the truck's paper is chosen, never filled in from the order, so that the two can differ. Every
# pack is judged when it goes on the truck; one press makes the record of the load.


def load_slots(sight: Sight) -> tuple[Slot, ...]:
    return (
        Slot("order", ("sales_order",), _("Scan the dealer's order"), clears=("packs",)),
        Slot("packs", ("pack", "hull", "plate"), _("Scan each pack as it goes on the truck"), many=True),
    )


def load(sight: Sight) -> Dispatch:
    return Dispatch(
        order=sight.text("order"), packs=sight.codes("packs"), consignee=sight.text("consignee"),
        vehicle=sight.text("vehicle"), collector=sight.text("collector"),
        listed=sight.listed[0], listed_at=sight.listed[1],
    )  # fmt: skip


def load_commands(sight: Sight) -> Sequence[Command] | None:
    return [load(sight)] if sight.do == "gone" and sight.text("order") else None


def load_early(sight: Sight) -> Early | None:
    something = sight.text("packs") or sight.text("consignee")
    return (load(sight), LOAD_RULES) if sight.text("order") and something else None


def load_fields(sight: Sight) -> tuple[Field, ...]:
    return (
        replace(
            choice("consignee", _("Where the truck's paper says it goes"), consignees(sight)),
            ask=_("Where does the truck's paper say it goes?"),
        ),
        Field(
            "vehicle",
            _("Vehicle"),
            needed=_("or who collects"),
            ask=_("Which vehicle?"),
            without=_("Somebody collects"),
        ),
        Field("collector", _("Collected by"), needed=_("or the vehicle"), ask=_("Who collects?")),
    )


def load_asks(sight: Sight) -> tuple[str, ...]:
    """Where it goes, then the vehicle or who collects."""
    collected = "vehicle" in without(sight) or (sight.text("collector") and not sight.text("vehicle"))
    return ("consignee", "collector" if collected else "vehicle")


def load_actions(sight: Sight) -> tuple[Action, ...]:
    n = len(sight.codes("packs"))
    if not sight.text("order"):
        return ()
    held = [
        off(found.code, "stop")
        for found in sight.many("packs")
        if (found.unit and (found.unit.holds or found.unit.at_gate))
        or (found.unit and any(inner["held"] or inner["at_gate"] for inner in found.unit.inside))
    ]
    words = ngettext("The truck leaves with %(n)d pack", "The truck leaves with %(n)d packs", n)
    return (*held, press("gone", words % {"n": n})) if n else tuple(held)


def load_rows(sight: Sight) -> tuple[Row, ...]:
    order = sight.key("order")
    if not order:
        return ()
    on = set(sight.codes("packs"))
    rows_ = [
        Row(pack_words(p), f"{pack_detail(p)} {p['place']}".strip(),
            p["status"] == "dispatched" or (p["code"] in on and not p["held"]), now=p["held"])
        for p in lookup.packs_of(order)
    ]  # fmt: skip
    for line in sight.body("order").get("lines", []):
        free = lookup.free_hulls(line["product"], line["colour"])
        if free:
            where = ", ".join(f"{h['serial']} {h['place']}".strip() for h in free)
            rows_.append(Row(_("Free %(product)s %(colour)s") % line, where, note=True))
    return tuple(rows_)


def load_paper_url(answers: Sequence[Answer]) -> str:
    """The paper of the load that has just been recorded."""
    made = [unit for answer in answers for unit in answer.made.get("units", [])]
    loads = [reverse("load_paper", args=[unit["uid"]]) for unit in made if unit["kind"] == "consignment"]
    return next(iter(loads), "")


DISPATCH = Station(
    slug="dispatch",
    title=gettext_lazy("Dispatch"),
    home=Home(FINISHING, 60, gettext_lazy("Load a truck for a consignee")),
    roles=("warehouse", "lead"),
    slots=load_slots,
    fields=load_fields,
    asks=load_asks,
    actions=load_actions,
    commands=load_commands,
    early=load_early,
    rows=load_rows,
    next=lambda sight: (
        Next(_("Scan each pack as it goes on the truck"), wanted(sight)) if sight.text("order") else None
    ),
    place=lambda sight: sight.key("order"),
    caution=HEAVY,
    stops=EVERYTHING,
    paper=load_paper_url,
)
