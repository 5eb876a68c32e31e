"""Loading: mould ready, inserts and graphics in any order, and closing the mould on the whole (tubs: tipping.py)."""

import itertools
import re
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop
from django.utils.translation import ngettext

from trace.codes import in_order, named_together, printed
from trace.readmodels.rows import Rows
from trace.recording.acts import hold_words
from trace.recording.acts.draws import draw, source_facts
from trace.recording.commands import Command, Facts, Told, handles, scanned
from trace.recording.floor import words as say
from trace.recording.floor.mould_life import AGENT, COATED, life_of
from trace.recording.floor.moulds import DONE, GIVEN_UP, arm_facts, mould_facts, mould_row
from trace.recording.floor.standing import Floor, UnitFacts
from trace.recording.told_late.on_the_arm import positions_taken

RELEASE_AGENT = "release agent"


@dataclass(frozen=True, kw_only=True)
class ReadyMould(Command):
    """A clean, checked mould on its arm is opened for a load of this order; one in which nothing is yet, anew.

    done: "", or what was done before: "service", "vent", "release coat" (its count starts again). position: where on
    its arm it stands, "" for the mould's own, or the next that is free.
    """

    KIND = "mould_ready"
    NAME = noop("make mould ready")
    TASK = "loading"

    mould: str = scanned("mould")
    order: str = scanned("works_order")
    arm: str = scanned("arm")
    done: tuple[str, ...] = ()
    agent: str = scanned("container", optional=True)
    position: str = ""

    @staticmethod
    def told(e: Told) -> str:
        return _("Mould %(mould)s made ready on arm %(arm)s for %(order)s") % e.says


def ready_facts(c: ReadyMould, floor: Floor) -> Facts:
    mould, order, arm = floor[c.mould], floor[c.order], floor[c.arm]
    facts = mould_facts(mould, floor)
    # What is done now is due no more.
    facts |= {f"{name.split()[0]}_due": False for name in c.done if name in DONE}
    purpose = order.body.get("purpose", "production")
    strange = [d for d in c.done if d not in DONE]
    return {
        "typed": {"trouble": f"“{strange[0][:20]}” is no work on a mould: choose from the list." if strange else ""},
        "mould": facts,
        "order": {
            "key": order.key,
            "product": order.body.get("product", "unknown"),
            "purpose": purpose,
            "ended": bool(order.body.get("ended", False)),
        },
        "arm": arm_facts(arm),
        "fit": {
            "product": order.body.get("product") in facts["products"],
            "arm": arm.key in facts["arms"],
            "first_off": life_of(mould, floor).first_off and purpose == "production",
        },
        "hung": _hung_facts(c, floor),
        "agent": agent_facts(c.agent, floor),
        "place": _place_facts(c, floor),
    }


def _hung_facts(c: ReadyMould, floor: Floor) -> Facts:
    """Whether the mould hangs elsewhere by its last mounting, or by its plant data where none is recorded; one of which
    neither says anything is not asked about."""
    mould, arm = floor[c.mould], floor[c.arm]
    life = life_of(mould, floor)
    by_data = [str(name) for name in mould.body.get("mounted") or {}]
    where = "taken off its arm" if life.off else f"mounted on {life.arm or ' and '.join(by_data) or 'no arm'}"
    elsewhere = life.arm != arm.key if life.arm else bool(by_data) and arm.key not in by_data
    production = floor[c.order].body.get("purpose", "production") == "production"
    return {
        "elsewhere": life.off or elsewhere,
        "where": where,
        "first_off": life.first_mounted and production,
    }


def _place_facts(c: ReadyMould, floor: Floor) -> Facts:
    """Where on its arm the mould stands, and whether another one does, or the arm is full."""
    mould, arm = floor[c.mould], floor[c.arm]
    if "taken" not in floor.looked:
        floor.looked["taken"] = positions_taken(arm.key, mould.key)
    taken: dict[str, str] = floor.looked["taken"]
    room = arm.body.get("positions")
    life = life_of(mould, floor)
    hung = life.position if life.arm == arm.key else ""
    said = c.position.strip() or hung or str(mould.body.get("mounted", {}).get(arm.key) or "")
    free = next(str(n) for n in itertools.count(1) if str(n) not in taken)
    return {
        "position": said or free,
        "taken": said in taken,
        "by": taken.get(said, ""),
        "full": room is not None and len(taken) >= int(room),
        "all": ", ".join(sorted(taken.values())),
        "room": str(room),
    }


def agent_facts(agent: str, floor: Floor) -> Facts:
    """What was scanned as release agent, and why it may not be used: silent where nothing was scanned."""
    if not agent:
        return {"material": "nothing", "name": "nothing", "wrong": False, "unfit": False, "state": ""}
    box = source_facts(floor[agent], floor, 0)
    kind = floor.plant.body("material", box["material"]).get("kind")
    held, late = f"on hold: {box['hold']}", f"expired on {box['expires']}"
    states = {"empty": box["empty"], held: box["held"], late: box["expired"], box["status"]: not box["usable"]}
    why = next((said for said, is_so in states.items() if is_so), "")
    return {
        "material": box["material"],
        "name": f"{box['material']} lot {box['lot_no']}",
        "wrong": not box["empty"] and kind != RELEASE_AGENT,
        "unfit": bool(why) and box["status"] != "used up",
        "state": why,
    }


@handles(ReadyMould, ready_facts)
def ready_mould(c: ReadyMould, floor: Floor, rows: Rows) -> str:
    mould, order, arm = floor[c.mould], floor[c.order], floor[c.arm]
    product = floor.plant.get("product", order.body.get("product"))
    coat, coat_no = _coat(c, floor)
    load = rows.unit(
        "load",
        about={
            "order": order.key, "product": order.body.get("product"), "recipe": product.version if product else None,
            "colour": order.body.get("colour"), "purpose": order.body.get("purpose", "production"), "mould": mould.key,
            "arm": arm.key, "position": _place_facts(c, floor)["position"],
            "coat": coat or None, "coat_no": coat_no or None,
        },
        status="open",
    )  # fmt: skip
    if mould.load and mould_facts(mould, floor)["blank"]:
        rows.status(mould.load.uid, GIVEN_UP)
    elif mould.load:
        rows.discrepancy("left in a mould that was loaded again", mould.load.uid)
    reset = {DONE[d]: 0 for d in c.done}
    rows.mould(
        mould.key,
        **mould_row(mould, stage="open", load=load, cycle=None, arm=arm.key, order=order.key, **reset),
    )
    rows.resource("mould", mould.key, "mould")
    rows.resource("machine", arm.key, "arm")
    rows.resource("works_order", order.key, "order")
    if product:
        rows.resource("product", product.key, "recipe")
    if "release coat" in c.done:
        rows.resource("mould", mould.key, COATED)
    if c.agent and floor[c.agent].unit:
        rows.touch(floor[c.agent].unit.uid, AGENT)  # type: ignore[union-attr]
    return f"{mould.key} open for {order.key} on {arm.key}"


def _coat(c: ReadyMould, floor: Floor) -> tuple[str, int]:
    """The release coat that the load is moulded on: the one put on now, else the one before; its lot and number."""
    worn = life_of(floor[c.mould], floor)
    if "release coat" not in c.done:
        return worn.coat, worn.coat_no
    agent = floor[c.agent].unit if c.agent else None
    return say.lot_name(agent.about, agent.lot_no) if agent and agent.lot_no else "", worn.coat_no + 1


def plan_of(load: UnitFacts | None, floor: Floor) -> Facts:
    """The recipe behind a load, as it was when the mould was opened: inserts by position, graphics by zone, layers."""
    return floor.plant.product_of(load.about if load else {})


def found_after_all(rows: Rows, load: UnitFacts, what: str, which: str) -> None:
    """What was missing when the mould was closed, or was withdrawn, is told of now: its gap is closed."""
    open_again = [(g["what"], g["which"]) for g in rows.parts.get("gaps", []) if g["unit"] == load.uid]
    for gap in ((what, which), ("source", which)):
        if gap in load.gaps and gap not in open_again:
            rows.gap_closed(load.uid, *gap)


def in_place(load: UnitFacts | None, role: str) -> set[str]:
    return {str(e["position"]) for e in (load.inside if load else []) if e["role"] == role}


def layers_in(load: UnitFacts | None) -> set[str]:
    return {str(e["layer"]) for e in (load.inside if load else []) if e["role"] == "charge"}


@dataclass(frozen=True, kw_only=True)
class PlaceInserts(Command):
    """Inserts from one box into positions of an open mould; positions empty: all open ones this part fits."""

    KIND = "inserts_placed"
    NAME = noop("place inserts")
    TASK = "loading"
    INTO_LOAD = True
    AS_IT_WAS = ("box",)

    mould: str = scanned("mould")
    box: str = scanned("container")
    positions: tuple[str, ...] = ()

    @staticmethod
    def told(e: Told) -> str:
        places = [row["position"] for row in e.part("edges") if row["role"] == "insert"]
        places += [row["which"] for row in e.part("gaps")]
        words = ngettext(
            "%(count)d insert placed in %(places)s, from %(box)s",
            "%(count)d inserts placed in %(places)s, from %(box)s", len(places),
        )  # fmt: skip
        return words % {
            "count": len(places), "places": named_together(sorted(places, key=in_order)) or _("no position"),
            "box": printed(e.says["box"]),
        }  # fmt: skip


def open_positions(c: PlaceInserts, floor: Floor) -> list[str]:
    load = floor[c.mould].load
    plan = plan_of(load, floor).get("inserts", {})
    if c.positions:
        return list(dict.fromkeys(c.positions))
    box = floor[c.box].unit
    material = box.about.get("material") if box else None
    return [p for p, part in plan.items() if part == material and p not in in_place(load, "insert")]


def insert_facts(c: PlaceInserts, floor: Floor) -> Facts:
    load = floor[c.mould].load
    plan = plan_of(load, floor).get("inserts", {})
    places = open_positions(c, floor)
    rest = "name the positions filled from it under “Only these positions”, send, and scan the next box"
    box = source_facts(floor[c.box], floor, max(len(places), 1), rest=rest)
    wrong = sorted({p for p in places if plan.get(p) != box["material"]})
    taken = sorted(set(places) & in_place(load, "insert"))
    wanted = sorted({part for p, part in plan.items() if p not in in_place(load, "insert")})
    powder = floor.plant.body("material", str(box["material"])).get("kind") == "powder"
    return {
        "mould": mould_facts(floor[c.mould], floor),
        "box": box,
        "positions": {
            "none": not places,
            "wrong": bool(wrong),
            "which": ", ".join(wrong or places) or "no position",
            "take": ", ".join(sorted({str(plan.get(p, "nothing")) for p in (wrong or places)})) or "nothing",
            "taken": bool(taken),
            "taken_which": ", ".join(taken),
            "why": _why(wanted, powder=powder),
            "now": "Weigh it into a tub, then scan the tub" if powder else
                   "Scan a box of those" if wanted else "Go on with what is still open",
        },
    }


def _why(wanted: list[str], *, powder: bool) -> str:
    if powder:
        return "It is powder, and powder goes into a mould by a weighed tub"
    return f"Open positions take {', '.join(wanted)}" if wanted else "Every insert position is filled"


@handles(PlaceInserts, insert_facts)
def place_inserts(c: PlaceInserts, floor: Floor, rows: Rows) -> str:
    load, box = floor[c.mould].load, floor[c.box]
    assert load is not None  # noqa: S101 - without a load nothing gets here (NO-LOAD is basic)
    places = open_positions(c, floor)
    for taken, position in enumerate(places):
        draw(rows, floor, box, load.uid, "insert", 1, position=position, uom="pc", before=taken)
        found_after_all(rows, load, "insert", position)
    rows.resource("mould", floor[c.mould].key, "mould")
    material = box.unit.about.get("material") if box.unit else "unknown part"
    return f"{len(places)} × {material} in {_span(places)}"


def _span(places: list[str]) -> str:
    """"S1–S8" where none is left out, else each by name."""
    if not places:
        return "no position"
    first, last = (re.fullmatch(r"(\D+)(\d+)", place) for place in (places[0], places[-1]))
    row = first and last and [f"{first[1]}{n}" for n in range(int(first[2]), int(last[2]) + 1)]
    return f"{places[0]}–{places[-1]}" if row == places and len(places) > 1 else ", ".join(places)


@dataclass(frozen=True, kw_only=True)
class PlaceGraphic(Command):
    """A graphic from a pack or roll into a zone of an open mould; zone "": the open one this artwork is for."""

    KIND = "graphic_placed"
    NAME = noop("place graphic")
    TASK = "loading"
    INTO_LOAD = True
    AS_IT_WAS = ("pack",)

    mould: str = scanned("mould")
    pack: str = scanned("roll", "container")
    zone: str = ""

    @staticmethod
    def told(e: Told) -> str:
        zones = [str(row["position"]).lower() for row in e.part("edges") if row["role"] == "graphic"]
        return _("Graphic placed: %(zone)s, from %(pack)s") % {
            "zone": ", ".join(zones) or e.says["zone"], "pack": printed(e.says["pack"]),
        }  # fmt: skip


def graphic_zone(c: PlaceGraphic, floor: Floor) -> str:
    load = floor[c.mould].load
    plan = plan_of(load, floor).get("graphics", {})
    if c.zone:
        return c.zone
    unit = floor[c.pack].unit
    material = floor.plant.body("material", unit.about.get("material") if unit else None)
    for zone, wanted in plan.items():
        if zone not in in_place(load, "graphic") and wanted["artwork"] == material.get("artwork"):
            return str(zone)
    return ""


def graphic_facts(c: PlaceGraphic, floor: Floor) -> Facts:
    load = floor[c.mould].load
    plan = plan_of(load, floor).get("graphics", {})
    zone = graphic_zone(c, floor)
    pack = source_facts(floor[c.pack], floor, 1)
    material = floor.plant.body("material", pack["material"])
    wanted = plan.get(zone, {})
    filled = [z for z, w in plan.items() if not zone and w["artwork"] == material.get("artwork")]
    return {
        "mould": mould_facts(floor[c.mould], floor),
        "box": pack,
        "graphic": {
            "zone": zone or " and ".join(filled) or "no open zone",
            "for": zone or "this mould",
            "none": (not zone and not filled) or (bool(zone) and zone not in plan),
            "artwork": material.get("artwork", "no artwork"),
            "revision": material.get("revision", "?"),
            "wanted": (wanted.get("artwork") or "nothing") if zone else _artworks(plan),
            "wanted_revision": wanted.get("revision", "?"),
            "wrong": bool(wanted) and material.get("artwork") != wanted.get("artwork"),
            "superseded": bool(wanted)
            and material.get("artwork") == wanted.get("artwork")
            and material.get("revision") != wanted.get("revision"),
            "taken": zone in in_place(load, "graphic") or bool(filled),
        },
    }


def _artworks(plan: Facts) -> str:
    """The artworks of a plan, as one says them."""
    return " or ".join(dict.fromkeys(str(wanted["artwork"]) for wanted in plan.values())) or "no graphic"


@handles(PlaceGraphic, graphic_facts)
def place_graphic(c: PlaceGraphic, floor: Floor, rows: Rows) -> str:
    load = floor[c.mould].load
    assert load is not None  # noqa: S101
    zone = graphic_zone(c, floor)
    draw(rows, floor, floor[c.pack], load.uid, "graphic", 1, position=zone or "unknown zone", uom="pc")
    found_after_all(rows, load, "graphic", zone)
    rows.resource("mould", floor[c.mould].key, "mould")
    return f"graphic in {zone or 'an unknown zone'}"


@dataclass(frozen=True, kw_only=True)
class CloseMould(Command):
    """The mould is shut on the whole load. counted: inserts counted in the mould, "" where nobody did."""

    KIND = "mould_closed"
    NAME = noop("close mould")
    TASK = "loading"
    INTO_LOAD = True

    mould: str = scanned("mould")
    counted: str = ""

    @staticmethod
    def told(e: Told) -> str:
        counted = _(", %(n)s inserts counted") % {"n": e.says["counted"]} if e.says.get("counted") else ""
        return _("Mould %(mould)s closed%(counted)s") % {"mould": e.says["mould"], "counted": counted}


def missing_of(load: UnitFacts | None, product: Facts) -> dict[str, list[str]]:
    """What the recipe asks for and the load has no record of, by layer, insert position and graphic zone."""
    return {
        "layer": [x["name"] for x in product.get("layers", []) if x["name"] not in layers_in(load)],
        "insert": [p for p in product.get("inserts", {}) if p not in in_place(load, "insert")],
        "graphic": [z for z in product.get("graphics", {}) if z not in in_place(load, "graphic")],
    }


def close_facts(c: CloseMould, floor: Floor) -> Facts:
    mould = floor[c.mould]
    load = mould.load
    product = plan_of(load, floor)
    missing = missing_of(load, product)
    planned = len(product.get("inserts", {}))
    placed = planned - len(missing["insert"])
    counted = c.counted.strip()
    trouble = ""
    if counted and not (counted.isascii() and counted.isdigit()):
        trouble = f"“{counted[:20]}” is not a count: write a whole number, as in 12."
    held = [e for e in (load.inside if load else []) if e["held"]]
    return {
        "typed": {"trouble": trouble},
        "mould": mould_facts(mould, floor),
        "load": {
            "layers_missing": bool(missing["layer"]),
            "layers": ", ".join(missing["layer"]),
            "them": "it" if len(missing["layer"]) == 1 else "them",
            "also": _also(missing),
            "inserts_missing": bool(missing["insert"]),
            "inserts": ", ".join(missing["insert"]),
            "placed": placed,
            "planned": planned,
            "graphics_missing": bool(missing["graphic"]),
            "graphics": ", ".join(missing["graphic"]),
            "count_missing": planned > 0 and not counted,
            # A shift lead may let one be missing: then what is in the mould is what was placed.
            "count_differs": bool(counted and not trouble and int(counted) != placed),
            "counted": counted or "none",
            "held": bool(held) or bool(load and load.holds),
            "held_what": ", ".join(sorted({say.lot_name(e["about"], e["lot_no"]) for e in held})) or "this load",
            "hold": hold_words.held_by(load),
        },
    }


def _also(missing: dict[str, list[str]]) -> str:
    """What is open beside the layers, as a sentence, or ""."""
    rest = [(words, missing[what]) for words, what in (("inserts", "insert"), ("graphics", "graphic"))]
    said = "; ".join(f"{words} {', '.join(names)}" for words, names in rest if names)
    return f"Open too: {said}." if said else ""


def show_missing(rows: Rows, load: UnitFacts, floor: Floor) -> None:
    """What the recipe asks for and nobody recorded is missing from now on, until it is told of."""
    for what, names in missing_of(load, plan_of(load, floor)).items():
        for name in names:
            if (what, name) not in load.gaps:
                rows.gap(load.uid, what, name)


def went_on(rows: Rows, load: UnitFacts, floor: Floor) -> None:
    """A load that nobody closed is cooked or taken out: what is missing by now is shown as by its closing."""
    if load.status == "open":
        show_missing(rows, load, floor)


@handles(CloseMould, close_facts)
def close_mould(c: CloseMould, floor: Floor, rows: Rows) -> str:
    mould = floor[c.mould]
    load = mould.load
    assert load is not None  # noqa: S101
    show_missing(rows, load, floor)
    rows.touch(load.uid, "closed")
    # Told of a load that has gone on since, it closes nothing now.
    if not mould.late:
        rows.status(load.uid, "closed")
        rows.mould(mould.key, **mould_row(mould, stage="closed"))
    rows.resource("mould", mould.key, "mould")
    return f"{mould.key} closed"
