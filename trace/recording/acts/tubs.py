"""What becomes of a weighed tub that its order does not take: tipped back where it came from, or for another order."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import kg_to_mg, printed
from trace.genealogy.live import live
from trace.readmodels.rows import Rows, stamp
from trace.recording.acts import hold_words
from trace.recording.acts.draws import USABLE, draw
from trace.recording.acts.tipping import left_in, out_of_turn
from trace.recording.acts.vessels import fill_on_top
from trace.recording.acts.weighing import layer_of, takes
from trace.recording.commands import Command, Facts, Told, handles, scanned
from trace.recording.floor import words as say
from trace.recording.floor.changes import ALL, GONE_AS, Emptied, Put
from trace.recording.floor.sources import one, status_before_used_up
from trace.recording.floor.standing import Floor, Found
from trace.recording.floor.units import UnitFacts

# Whether any of a charge came out of this carrier, also by a bag before the last.
CAME_FROM = f"""
WITH RECURSIVE behind(id) AS (
  SELECT %s::bigint
  UNION SELECT e.parent FROM behind b JOIN edge e ON e.child = b.id AND e.role = 'heel' AND {live("e")})
SELECT TRUE FROM behind b JOIN edge e ON e.child = b.id AND e.role = 'draw' AND {live("e")}
  JOIN unit p ON p.id = e.parent JOIN carrier c ON c.id = p.carrier WHERE c.uid = %s LIMIT 1
"""


@dataclass(frozen=True, kw_only=True)
class TipBack(Command):
    """All that was weighed into a tub goes back into the container that it came from."""

    KIND = "tipped_back"
    NAME = noop("tip back")
    TASK = "weighing"
    AS_IT_WAS = ("tub", "into")
    FILLS = ("into",)

    tub: str = scanned("tub", "drop_box")
    into: str = scanned("container", "returnable")

    @staticmethod
    def told(e: Told) -> str:
        edge = next((row for row in e.part("edges") if row["role"] == "topup" and not row.get("of")), None)
        much = say.amount(edge["amount"], edge["uom"]) if edge else _("what was in it")
        return _("Tipped back: %(much)s from %(tub)s into %(into)s") % {
            "much": much, "tub": printed(e.says["tub"]), "into": printed(e.says["into"]),
        }  # fmt: skip


def tip_back_facts(c: TipBack, floor: Floor) -> Facts:
    tub, into = floor[c.tub], floor[c.into]
    charge = tub.unit
    came = charge is not None and bool(into.carrier) and bool(one(CAME_FROM, [charge.id, into.carrier]))
    return {
        "tub": _tub_facts(tub, floor),
        "into": {"name": into.name, "elsewhere": charge is not None and not came, "changed": _changed(charge, into)},
    }


def _tub_facts(tub: Found, floor: Floor) -> Facts:
    charge = tub.unit
    return {
        "name": tub.name,
        "empty": left_in(tub, floor) <= 0,
        "part": bool(charge and charge.status == "part weighed"),
        "held": bool(charge and charge.holds),
        "hold": hold_words.held_by(charge),
    }


def _changed(charge: UnitFacts | None, into: Found) -> str:
    """Why a container is not what it was when the charge was weighed, in words; "" where it is."""
    unit = into.unit
    if charge is None:
        return ""
    if unit is None:
        return "it stands empty"
    lot = unit.about.get("lot")
    if lot is None or lot != charge.about.get("lot"):
        return f"it holds {say.lot_name(unit.about, unit.lot_no)}"
    if unit.holds:
        return f"it is on hold ({hold_words.held_by(unit)})"
    return "" if _usable(unit) in USABLE else f"it is {unit.status}"


def _usable(unit: UnitFacts) -> str:
    """What a container may be used as, also where it is used up by the book."""
    return status_before_used_up(unit.uid) if unit.status == "used up" else str(unit.status)


@handles(TipBack, tip_back_facts)
def tip_back(c: TipBack, floor: Floor, rows: Rows) -> str:
    tub, into = floor[c.tub], floor[c.into]
    charge = tub.unit
    if charge is not None and out_of_turn(tub, floor):
        # How much was in it then comes out of the replay, also where nothing is left of it by now.
        floor.changes.put.append(_all_back(floor, tub, into, max(charge.balance or 0, 0)))
        floor.changes.emptied.append(Emptied(tub.carrier or "", floor.happened, proved=False))
        return f"what was in tub {tub.name} then back into {into.name}"
    if charge is None or (charge.balance or 0) <= 0:
        rows.discrepancy("tipped back with nothing weighed into it", into.unit.uid if into.unit else None)
        return f"{tub.name} tipped back, but nothing was weighed into it"
    amount = charge.balance or 0
    _put_back(rows, floor, tub, into, amount)
    if tub.late or into.late:
        floor.changes.emptied.append(Emptied(tub.carrier or "", tub.then or floor.happened, proved=False))
    else:
        rows.fill(tub.carrier or "", None, floor.since(tub))
    return f"{say.kg(amount)} from {tub.name} back into {into.name}"


def _all_back(floor: Floor, tub: Found, into: Found, amount: int) -> Put:
    """All of a charge on top of what is in its container; `amount` by the book now."""
    return Put(into.carrier or "", floor.happened, tub.carrier, amount, "mg", *_poured(tub, into), floor.unsure, ALL)


def _poured(tub: Found, into: Found) -> tuple[Facts, str | None, str]:
    """Words, lot number and use of what is tipped back."""
    assert tub.unit is not None  # noqa: S101 - asked for where something was weighed
    status = _usable(into.unit) if into.unit and into.unit.status not in GONE_AS.values() else "unknown"
    return tub.unit.about, tub.unit.lot_no, status


def _put_back(rows: Rows, floor: Floor, tub: Found, into: Found, amount: int) -> None:
    """All of a charge on top of what is in its container."""
    if into.late:
        floor.changes.put.append(_all_back(floor, tub, into, amount))
        return
    content = fill_on_top(rows, floor, into, amount, "mg", _poured(tub, into))
    draw(rows, floor, tub, content, "topup", amount, position=ALL)
    rows.fill(into.carrier or "", content, floor.since(into))
    if into.unit and into.unit.place:
        rows.place(content, into.unit.place)


@dataclass(frozen=True, kw_only=True)
class ReassignTub(Command):
    """A weighed tub is for another order from now on, whose recipe takes it in the same layer."""

    KIND = "charge_reassigned"
    NAME = noop("give a tub to another order")
    TASK = "weighing"
    DECISION = True

    tub: str = scanned("tub", "drop_box")
    order: str = scanned("works_order")

    @staticmethod
    def told(e: Told) -> str:
        return _("Tub %(tub)s is for %(order)s now") % {"tub": printed(e.says["tub"]), "order": e.says["order"]}


def reassign_facts(c: ReassignTub, floor: Floor) -> Facts:
    tub, order = floor[c.tub], floor[c.order]
    charge = tub.unit
    product = floor.plant.body("product", order.body.get("product"))
    layer = layer_of(product, str(tub.layer), str(order.body.get("colour", "")))
    off = (charge.balance or 0) - kg_to_mg(layer["target_kg"]) if charge and layer else 0
    return {
        "tub": _tub_facts(tub, floor),
        "order": {
            "key": order.key,
            "same": tub.order == order.key,
            "ended": bool(order.thing and order.thing.ended),
            "no_layer": charge is not None and not layer,
            "layer": tub.layer or "no layer",
            "other_material": bool(charge and layer) and not takes(layer, charge.about if charge else {}),
            "material": layer.get("material", "nothing"),
            "is": charge.about.get("material", "unknown") if charge else "nothing",
            "off": say.mass(abs(off)),
            "far": bool(layer) and abs(off) > kg_to_mg(layer.get("tolerance_kg", "0")),
        },
    }


@handles(ReassignTub, reassign_facts)
def reassign_tub(c: ReassignTub, floor: Floor, rows: Rows) -> str:
    tub, order = floor[c.tub], floor[c.order]
    old = tub.unit
    assert old is not None  # noqa: S101 - the rules refuse an empty tub, and nobody is told of a decision
    product = floor.plant.get("product", order.body.get("product"))
    about = old.about | {
        "order": order.key, "product": order.body.get("product"), "recipe": product.version if product else None,
        "from_order": tub.order,
    }  # fmt: skip
    charge = rows.unit(
        "charge", amount=old.balance, uom="mg", carrier=tub.carrier, lot_no=old.lot_no, about=about, status="weighed"
    )
    rows.edge(charge, old.uid, "heel", amount=old.balance, uom="mg", layer=tub.layer)
    rows.status(old.uid, "topped up", at=stamp(floor.now))
    rows.fill(tub.carrier or "", charge, floor.since(tub), order=order.key, layer=tub.layer)
    rows.resource("works_order", order.key, "order")
    return f"{tub.layer}: {say.kg(old.balance)} in {tub.name} is for {order.key} now, no longer for {tub.order}"
