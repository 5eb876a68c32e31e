"""Packing, racking and dispatch: the gate that a held hull does not pass."""

from collections import Counter
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import kg_to_mg, mg_to_kg, printed
from trace.readmodels.rows import Rows
from trace.recording.acts import hold_words
from trace.recording.acts.doubted import doubts
from trace.recording.commands import Command, Facts, Told, handles, scanned, scanned_list, words
from trace.recording.floor import words as say
from trace.recording.floor.racks import stands_at
from trace.recording.floor.readings import mass_trouble, reading
from trace.recording.floor.sources import issue_codes, packed_for_order
from trace.recording.floor.standing import Floor, Found


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


def pack_facts(c: Pack, floor: Floor) -> Facts:
    order, found = floor[c.order], floor.list(c.hulls)
    hulls = [f.hull for f in found]
    off = [f.code for f in found if f.hull and not _fits(order, f.hull.about)]
    over = []
    # Two lines for the same model and colour are one wish.
    wished: dict[tuple[str, str], int] = {}
    for line in order.body.get("lines", []):
        wished[line["product"], line["colour"]] = wished.get((line["product"], line["colour"]), 0) + line["quantity"]
    for (product, colour), quantity in wished.items():
        here = [h for h in hulls if h and (h.about.get("product"), h.about.get("colour")) == (product, colour)]
        if here and len(here) + packed_for_order(order.key, product, colour) > quantity:
            over.append(f"{quantity} × {product} {colour}")
    held = [f for f in found if f.hull and f.hull.holds]
    waits = [f for f in found if f.hull and f.hull.at_gate]
    gone = [f for f in found if f.hull and f.hull.status == "dispatched"]
    ready = ("released", "packed", "made before records", "dispatched")
    unready = [f for f in found if f.hull and f.hull.status not in ready]
    trial = [f for f in found if f.hull and f.hull.about.get("purpose", "production") != "production"]
    packed = [f for f in found if f.hull and f not in gone and any(g["role"] == "pack" for g in f.hull.gone_into)]
    doubted = doubts([f.hull.uid for f in found if f.hull and f not in held], floor.plant)
    return {
        "pack": {
            "doubted": bool(doubted),
            "doubted_which": ", ".join(f.code for f in found if f.hull and f.hull.uid in {d.hull for d in doubted}),
            "doubt": doubted[0].sentence if doubted else "",
            "none": not found,
            "held": bool(held),
            "held_which": ", ".join(f.code for f in held),
            "hold": hold_words.held_by(held[0].hull) if held else "",
            "conditional": bool(waits),
            "conditional_which": ", ".join(f.code for f in waits),
            "conditional_lot": waits[0].hull.at_gate[0]["of"] if waits and waits[0].hull else "",
            "gone": bool(gone),
            "gone_which": ", ".join(f.code for f in gone),
            "unready": bool(unready),
            "unready_which": ", ".join(f"{f.code} is {f.hull.status}" for f in unready if f.hull),
            "trial": bool(trial),
            "trial_which": ", ".join(f"{f.code} is of a {f.hull.about['purpose']} order" for f in trial if f.hull),
            "off_order": bool(off),
            "off_which": ", ".join(off),
            "order": order.key,
            "wants": _wants(order),
            "over": bool(over),
            "over_which": ", ".join(over),
            "packed": bool(packed),
            "packed_which": ", ".join(f.code for f in packed),
            "twice": len(set(c.hulls)) < len(c.hulls),
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


def _put_there(c: Rack, floor: Floor) -> tuple[list[str], Counter[str], int]:
    """What this scan puts in the rack: its units, mouldings and hulls by product, and mg in containers."""
    uids, products, mg = list[str](), Counter[str](), 0
    for unit in (f.unit for f in floor.list(c.units) if f.unit):
        inner = [(x["uid"], x["about"]) for x in unit.inside] if unit.kind == "pack" else []
        for uid, about in inner or [(unit.uid, unit.about)]:
            uids.append(uid)
            products.update([about["product"]] if about.get("product") else [])
        mg += max(unit.balance or 0, 0) if unit.uom == "mg" and unit.kind == "content" else 0
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


def dispatch_facts(c: Dispatch, floor: Floor) -> Facts:
    order, found = floor[c.order], floor.list(c.packs)
    held = [f for f in found if (f.unit and f.unit.holds) or any(e["held"] for e in (f.unit.inside if f.unit else []))]
    waits = [f for f in found if f.unit and (f.unit.at_gate or any(e["at_gate"] for e in f.unit.inside))]
    unpacked = [f for f in found if "hull" in f.kinds]
    other = [f for f in found if f.unit and f.unit.kind == "pack" and f.unit.about.get("order") != order.key]
    gone = [f for f in found if f.unit and f.unit.status == "dispatched"]
    # Since they were packed, plates may have been exchanged and the order changed.
    off = [
        f"{f.name}: {hull['serial']} is {hull['about'].get('product')} {hull['about'].get('colour', 'of no colour')}"
        for f in found
        for hull in (f.unit.inside if f.unit and f.unit.kind == "pack" and f not in other else [])
        if not _fits(order, hull["about"])
    ]
    hulls = {hull["uid"]: hull["serial"] for f in found if f.unit and f not in held for hull in _hulls(f)}
    doubted = doubts(list(hulls), floor.plant)
    return {
        "load": {
            "doubted": bool(doubted),
            "doubted_which": ", ".join(dict.fromkeys(str(hulls[d.hull]) for d in doubted)),
            "doubt": doubted[0].sentence if doubted else "",
            "none": not found,
            "held": bool(held),
            "held_which": ", ".join(f.name for f in held),
            "hold": (hold_words.held_by(held[0].unit) or "a hull in it is on hold") if held else "",
            "conditional": bool(waits),
            "conditional_which": ", ".join(f.name for f in waits),
            "unpacked": bool(unpacked),
            "unpacked_which": ", ".join(f.code for f in unpacked),
            "other_order": bool(other),
            "other_which": ", ".join(
                f"{f.name} is for {f.unit.about.get('order')}" for f in other if f.unit
            ),
            "off_order": bool(off),
            "off_which": ", ".join(off),
            "wants": _wants(order),
            "gone": bool(gone),
            "gone_which": ", ".join(f.name for f in gone),
            "order": order.key,
            "consignee": c.consignee,
            "wanted": order.body.get("consignee", "nobody"),
            "no_vehicle": not (c.vehicle.strip() or c.collector.strip()),
            "no_consignee": not c.consignee,
            "wrong_consignee": bool(c.consignee) and c.consignee != order.body.get("consignee"),
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
