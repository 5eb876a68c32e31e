"""Packing, racking and dispatch: the gate that a held hull does not pass."""

from collections import Counter
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import kg_to_mg, mg_to_kg, printed
from trace.readmodels.rows import Rows
from trace.recording.acts import hold_words
from trace.recording.acts.doubted import Stopped, stopped
from trace.recording.commands import Command, Facts, Told, handles, scanned, scanned_list, words
from trace.recording.floor import words as say
from trace.recording.floor.hold_list import list_facts
from trace.recording.floor.racks import stands_at
from trace.recording.floor.readings import mass_trouble, reading
from trace.recording.floor.sources import issue_codes, packed_for_order
from trace.recording.floor.standing import Floor, Found, UnitFacts


def _fits(order: Found, about: Facts) -> bool:
    """True when a line of the order asks for this model and colour."""
    model = (about.get("product"), about.get("colour"))
    return any((line["product"], line["colour"]) == model for line in order.body.get("lines", []))


def _wants(order: Found) -> str:
    lines = order.body.get("lines", [])
    return ", ".join(f"{x['quantity']} × {x['product']} {x['colour']}" for x in lines) or "nothing"


@dataclass(frozen=True, kw_only=True)
class Pack(Command):
    """Hulls go into one pack for a sales order; its label goes on two faces."""

    KIND = "packed"
    NAME = noop("pack")
    TASK = "packing"

    order: str = scanned("sales_order")
    hulls: tuple[str, ...] = scanned_list("hull")

    @staticmethod
    def told(e: Told) -> str:
        codes = ", ".join(printed(row["code"]) for row in e.part("labels"))
        return _("Packed as %(code)s for %(order)s, %(count)d in the pack") % {
            "code": codes, "order": e.says["order"], "count": len(e.says["hulls"]),
        }  # fmt: skip


def _wished(order: Found) -> dict[tuple[str, str], int]:
    """How many hulls of each model and colour an order asks for; two lines for the same are one wish."""
    wished: dict[tuple[str, str], int] = {}
    for line in order.body.get("lines", []):
        wished[line["product"], line["colour"]] = wished.get((line["product"], line["colour"]), 0) + line["quantity"]
    return wished


def _more_than_wished(order: Found, hulls: list[UnitFacts]) -> list[str]:
    """The wishes of an order that it gets more for than it asks, once these hulls are packed too."""
    over = []
    for (product, colour), quantity in _wished(order).items():
        here = [h for h in hulls if (h.about.get("product"), h.about.get("colour")) == (product, colour)]
        if here and len(here) + packed_for_order(order.key, product, colour) > quantity:
            over.append(f"{quantity} × {product} {colour}")
    return over


def _pack_order_facts(order: Found, hulls: list[tuple[str, UnitFacts]]) -> Facts:
    """How the hulls of a pack, each with its code, answer the order they are packed for."""
    off = [code for code, hull in hulls if not _fits(order, hull.about)]
    over = _more_than_wished(order, [hull for _, hull in hulls])
    return {
        "off_order": bool(off),
        "off_which": ", ".join(off),
        "order": order.key,
        "wants": _wants(order),
        "over": bool(over),
        "over_which": ", ".join(over),
    }


def _pack_doubt_facts(hulls: list[tuple[str, UnitFacts]], floor: Floor) -> Facts:
    """Which hulls of a pack may have something held in them, because a record behind them is missing."""
    found = stopped([hull.uid for _, hull in hulls if not hull.holds], floor)
    return {
        "doubted": bool(found.hulls),
        "doubted_which": ", ".join(code for code, hull in hulls if hull.uid in found.hulls),
        "doubt": found.sentence,
    }


def _pack_hold_facts(hulls: list[tuple[str, UnitFacts]]) -> Facts:
    """Which hulls of a pack are on hold, and which wait at the gate for their lot to be confirmed."""
    held = [(code, hull) for code, hull in hulls if hull.holds]
    waits = [(code, hull) for code, hull in hulls if hull.at_gate]
    return {
        "held": bool(held),
        "held_which": ", ".join(code for code, _ in held),
        "hold": hold_words.held_by(held[0][1]) if held else "",
        "conditional": bool(waits),
        "conditional_which": ", ".join(code for code, _ in waits),
        "conditional_lot": waits[0][1].at_gate[0]["of"] if waits else "",
    }


def _pack_stage_facts(hulls: list[tuple[str, UnitFacts]]) -> Facts:
    """Which hulls of a pack are gone, not ready yet, of a trial, or in a pack already."""
    gone = [code for code, hull in hulls if hull.status == "dispatched"]
    ready = ("released", "packed", "made before records", "dispatched")
    unready = [f"{code} is {hull.status}" for code, hull in hulls if hull.status not in ready]
    purposes = [(code, hull.about.get("purpose", "production")) for code, hull in hulls]
    trial = [f"{code} is of a {purpose} order" for code, purpose in purposes if purpose != "production"]
    here = [(code, hull) for code, hull in hulls if hull.status != "dispatched"]
    packed = [code for code, hull in here if any(g["role"] == "pack" for g in hull.gone_into)]
    return {
        "gone": bool(gone),
        "gone_which": ", ".join(gone),
        "unready": bool(unready),
        "unready_which": ", ".join(unready),
        "trial": bool(trial),
        "trial_which": ", ".join(trial),
        "packed": bool(packed),
        "packed_which": ", ".join(packed),
    }


def pack_facts(c: Pack, floor: Floor) -> Facts:
    found = floor.list(c.hulls)
    hulls = [(f.code, f.hull) for f in found if f.hull]
    return {
        "pack": {
            "none": not found,
            "twice": len(set(c.hulls)) < len(c.hulls),
            **_pack_order_facts(floor[c.order], hulls),
            **_pack_doubt_facts(hulls, floor),
            **_pack_hold_facts(hulls),
            **_pack_stage_facts(hulls),
        }
    }


@handles(Pack, pack_facts)
def pack(c: Pack, floor: Floor, rows: Rows) -> str:
    order = floor[c.order]
    code = issue_codes(1)[0]
    unit = rows.unit("pack", about={"order": order.key}, status="packed", place="PACKING")
    rows.label(code, unit=unit)
    for found in floor.list(c.hulls):
        if found.hull:
            rows.edge(unit, found.hull.uid, "pack")
            rows.status(found.hull.uid, "packed")
            if found.hull.status != "dispatched":
                rows.place(found.hull.uid, "PACKING")
    rows.resource("sales_order", order.key, "order")
    return f"pack {printed(code)}: {', '.join(f.code for f in floor.list(c.hulls))}"


@dataclass(frozen=True, kw_only=True)
class Rewrap(Command):
    """A pack is wrapped anew: it gets a new label and the old one no longer counts."""

    KIND = "rewrapped"
    NAME = noop("wrap anew")
    TASK = "packing"

    pack: str = scanned("pack")

    @staticmethod
    def told(e: Told) -> str:
        return _("Wrapped anew: %(code)s no longer counts") % {"code": printed(str(e.says.get("pack", "")))}


def rewrap_facts(c: Rewrap, floor: Floor) -> Facts:
    unit = floor[c.pack].unit
    return {"pack": {"name": floor[c.pack].name, "gone": bool(unit and unit.status == "dispatched")}}


@handles(Rewrap, rewrap_facts)
def rewrap(c: Rewrap, floor: Floor, rows: Rows) -> str:
    found = floor[c.pack]
    assert found.unit is not None  # noqa: S101
    code = issue_codes(1)[0]
    rows.label(code, unit=found.unit.uid)
    rows.label_ends(found.code, code)
    rows.touch(found.unit.uid, "rewrapped")
    return f"new label {printed(code)}; {found.name} no longer counts"


@dataclass(frozen=True, kw_only=True)
class Rack(Command):
    """Packs, hulls or containers put in a place. weight: all that is on it in kg, if known; levels: stacked."""

    KIND = "racked"
    NAME = noop("rack")

    place: str = scanned("place")
    units: tuple[str, ...] = scanned_list("pack", "hull", "moulding", "container", "roll", "vessel")
    weight: str = ""
    levels: int = 0

    @staticmethod
    def told(e: Told) -> str:
        return _("Put in %(place)s") % {"place": e.place_of(e.says["place"])}


def _pieces(unit: UnitFacts) -> list[tuple[str, Facts]]:
    """(uid, about) of each piece that a unit is in a rack: what is in a pack, else the unit itself."""
    inner = [(x["uid"], x["about"]) for x in unit.inside] if unit.kind == "pack" else []
    return inner or [(unit.uid, unit.about)]


def _mg_left(unit: UnitFacts) -> int:
    """What is left in a container by the book, in mg; 0 for what is no container of material by weight."""
    return max(unit.balance or 0, 0) if unit.uom == "mg" and unit.kind == "content" else 0


def _put_there(c: Rack, floor: Floor) -> tuple[list[str], Counter[str], int]:
    """What this scan puts in the rack: its units, mouldings and hulls by product, and mg in containers."""
    uids, products, mg = list[str](), Counter[str](), 0
    for unit in (f.unit for f in floor.list(c.units) if f.unit):
        for uid, about in _pieces(unit):
            uids.append(uid)
            products.update([about["product"]] if about.get("product") else [])
        mg += _mg_left(unit)
    return uids, products, mg


def _reckoned(c: Rack, floor: Floor) -> tuple[int, int]:
    """(mg, hulls) in the rack by the records once this is put there: hulls by their recipes, containers by the book."""
    uids, products, mg = _put_there(c, floor)
    standing, more = stands_at(floor[c.place].key, uids)
    products += standing
    for product, count in products.items():
        layers = floor.plant.body("product", product).get("layers", [])
        more += count * sum(kg_to_mg(str(layer["target_kg"])) for layer in layers)
    return mg + more, products.total()


def rack_facts(c: Rack, floor: Floor) -> Facts:
    body = floor[c.place].body
    weight, limit = reading(c.weight), reading(str(body.get("max_kg", "0")))
    said, known_by = f"{weight} kg", "That weight was typed."
    if weight is None and limit:
        mg, hulls = _reckoned(c, floor)
        weight, said = mg_to_kg(mg), say.kg(mg)
        known_by = f"No weight was typed: it is reckoned from the records, hulls ({hulls}) by their recipes."
    trouble = mass_trouble(c.weight)
    if c.levels < 0:
        trouble = "How many levels are stacked cannot be read: write a whole number, as in 2."
    gone = [f for f in floor.list(c.units) if f.unit and f.unit.status == "dispatched"]
    return {
        "typed": {"trouble": trouble},
        "rack": {
            "none": not c.units,
            "gone": bool(gone),
            "gone_which": ", ".join(f.name for f in gone),
            "place": floor[c.place].key,
            "too_heavy": bool(weight and limit and weight > limit),
            "weight": said,
            "known_by": known_by,
            "limit": str(body.get("max_kg", "no limit set")),
            "too_high": bool(body.get("levels") and c.levels > int(body["levels"])),
            "levels": str(body.get("levels", "no limit set")),
        },
    }


@handles(Rack, rack_facts)
def rack(c: Rack, floor: Floor, rows: Rows) -> str:
    for found in floor.list(c.units):
        # What is gone is flagged, and stays where it went.
        if found.unit and found.unit.status != "dispatched":
            rows.place(found.unit.uid, floor[c.place].key)
            for inner in found.unit.inside if found.unit.kind == "pack" else []:
                rows.place(inner["uid"], floor[c.place].key)
    rows.resource("place", floor[c.place].key, "place")
    return f"{len(c.units)} in {floor[c.place].key}"


@dataclass(frozen=True, kw_only=True)
class Dispatch(Command):
    """Packs loaded for a sales order: to whom by the truck's own paper, who, when, which vehicle (the one-down record).
    """

    KIND = "dispatched"
    NAME = noop("dispatch")
    TASK = "dispatch"

    order: str = scanned("sales_order")
    packs: tuple[str, ...] = scanned_list("pack", "hull")
    consignee: str = ""
    vehicle: str = ""
    collector: str = words()
    # The list of holds that the page had from which this was sent, and when that was made.
    listed: int = 0
    listed_at: str = ""

    @staticmethod
    def told(e: Told) -> str:
        key = e.says["consignee"]
        to = e.name_of("consignee", key) if key else _("nobody recorded whom")
        vehicle = _(", vehicle %(v)s") % {"v": e.says["vehicle"]} if e.says.get("vehicle") else ""
        return _("Dispatched to %(to)s on %(order)s%(vehicle)s") % {
            "to": to, "order": e.says["order"], "vehicle": vehicle,
        }  # fmt: skip


def _hulls(found: Found) -> list[Facts]:
    """The hulls in a scanned pack; a hull scanned as it is is one itself."""
    if found.hull:
        return [{"uid": found.hull.uid, "serial": found.code}]
    return found.unit.inside if found.unit and found.unit.kind == "pack" else []


def _load_doubt_facts(c: Dispatch, loaded: list[tuple[Found, UnitFacts]], floor: Floor) -> Facts:
    """Which hulls of a load may have something held in them, because a record behind them is missing."""
    free = [f for f, unit in loaded if not _held(unit)]
    hulls = {hull["uid"]: hull["serial"] for f in free for hull in _hulls(f)}
    found = stopped(list(hulls), floor)
    which = [str(hulls[uid]) for uid in found.hulls]
    return {
        "doubted": bool(which),
        "doubted_which": ", ".join(which),
        "doubt": found.sentence,
        **_list_facts(c, found, floor),
    }


def _held(unit: UnitFacts) -> bool:
    """True when a pack or hull is on hold, or anything in it is."""
    return bool(unit.holds) or any(inner["held"] for inner in unit.inside)


def _at_gate(unit: UnitFacts) -> bool:
    """True when a pack or hull, or anything in it, waits for its lot to be confirmed."""
    return bool(unit.at_gate) or any(inner["at_gate"] for inner in unit.inside)


def _load_hold_facts(loaded: list[tuple[Found, UnitFacts]]) -> Facts:
    """Which of a load are on hold, wait at the gate, or are gone already."""
    held = [(f.name, unit) for f, unit in loaded if _held(unit)]
    waits = [f.name for f, unit in loaded if _at_gate(unit)]
    gone = [f.name for f, unit in loaded if unit.status == "dispatched"]
    return {
        "held": bool(held),
        "held_which": ", ".join(name for name, _ in held),
        "hold": (hold_words.held_by(held[0][1]) or "a hull in it is on hold") if held else "",
        "conditional": bool(waits),
        "conditional_which": ", ".join(waits),
        "gone": bool(gone),
        "gone_which": ", ".join(gone),
    }


def _load_order_facts(order: Found, loaded: list[tuple[Found, UnitFacts]]) -> Facts:
    """Which packs of a load are of another order, and what in the others this order does not ask for."""
    packs = [(f.name, unit) for f, unit in loaded if unit.kind == "pack"]
    other = [f"{name} is for {unit.about.get('order')}" for name, unit in packs if unit.about.get("order") != order.key]
    # Since they were packed, plates may have been exchanged and the order changed.
    off = [
        f"{name}: {hull['serial']} is {hull['about'].get('product')} {hull['about'].get('colour', 'of no colour')}"
        for name, unit in packs
        for hull in (unit.inside if unit.about.get("order") == order.key else [])
        if not _fits(order, hull["about"])
    ]
    return {
        "other_order": bool(other),
        "other_which": ", ".join(other),
        "off_order": bool(off),
        "off_which": ", ".join(off),
        "wants": _wants(order),
        "order": order.key,
    }


def _one_down_facts(c: Dispatch, order: Found) -> Facts:
    """What is said of who gets a load and who drives it, beside what its order says."""
    return {
        "consignee": c.consignee,
        "wanted": order.body.get("consignee", "nobody"),
        "no_vehicle": not (c.vehicle.strip() or c.collector.strip()),
        "no_consignee": not c.consignee,
        "wrong_consignee": bool(c.consignee) and c.consignee != order.body.get("consignee"),
    }


def _list_facts(c: Dispatch, found: Stopped, floor: Floor) -> Facts:
    """How old the list of holds is. Of a truck that is told of nobody knows it: what it took is judged by the rest."""
    facts = list_facts(c.listed, c.listed_at, found.under_way, floor.now, floor.plant)
    asked = floor.by.mode == "asks" and floor.by.happened is None
    return {f"list_{name}": asked and value if name == "old" else value for name, value in facts.items()}


def dispatch_facts(c: Dispatch, floor: Floor) -> Facts:
    order, found = floor[c.order], floor.list(c.packs)
    loaded = [(f, f.unit) for f in found if f.unit]
    unpacked = [f.code for f in found if "hull" in f.kinds]
    return {
        "load": {
            "none": not found,
            "unpacked": bool(unpacked),
            "unpacked_which": ", ".join(unpacked),
            **_load_doubt_facts(c, loaded, floor),
            **_load_hold_facts(loaded),
            **_load_order_facts(order, loaded),
            **_one_down_facts(c, order),
        }
    }


@handles(Dispatch, dispatch_facts)
def dispatch(c: Dispatch, floor: Floor, rows: Rows) -> str:
    order = floor[c.order]
    load = rows.unit("consignment", about={"order": order.key, "consignee": c.consignee or None}, status="dispatched")
    to = f"gone: {c.consignee or 'unknown'}"
    if not c.consignee:
        rows.gap(load, "consignee", "")
    for found in floor.list(c.packs):
        if found.unit is None:
            continue
        rows.edge(load, found.unit.uid, "ship")
        rows.status(found.unit.uid, "dispatched")
        rows.place(found.unit.uid, to)
        for inner in found.unit.inside if found.unit.kind == "pack" else []:
            rows.status(inner["uid"], "dispatched")
            rows.place(inner["uid"], to)
    rows.resource("sales_order", order.key, "order")
    if floor.plant.get("consignee", c.consignee):
        rows.resource("consignee", c.consignee, "consignee")
    return f"{len(c.packs)} for {order.key} to {c.consignee or 'nobody recorded whom'}"
