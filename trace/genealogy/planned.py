"""Reads what a plan starts from: what is in the vessel and in the container, and what is at stake with each lot today.

Nothing is recorded by asking.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from trace.codes import kg_to_mg, printed
from trace.genealogy.answer import one_picture, what_was_known
from trace.genealogy.dispersion import AtStake, at_stake, lots_behind
from trace.genealogy.documents import in_unit
from trace.genealogy.find import carrier_of, fillings_of
from trace.genealogy.flows import flows
from trace.genealogy.graph import Node
from trace.genealogy.live import LIVE, id_array, known_by
from trace.genealogy.mixes import materials_of
from trace.genealogy.plans import Share, Way, cheapest, split, top_up
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import nodes

# The newest charge that was drawn out of some fillings: what is weighed for one hull.
CHARGE = f"""
SELECT sum(e.amount)::bigint FROM edge e WHERE e.role = 'draw' AND NOT e.aside AND {LIVE}
  AND e.parent = ANY (%(ids)s::bigint[]) AND e.child = (
  SELECT f.child FROM edge f JOIN unit u ON u.id = f.child AND u.kind = 'charge'
   WHERE f.parent = ANY (%(ids)s::bigint[]) AND f.role = 'draw' AND NOT f.aside AND f.amount IS NOT NULL
   ORDER BY f.id DESC LIMIT 1)
"""
PROVED = """
SELECT x.unit FROM event_unit x JOIN event v ON v.id = x.event AND v.recorded <= %(known)s::timestamptz
WHERE x.unit = ANY (%(ids)s::bigint[]) AND x.role = 'proved empty'
"""
ORDER = """
SELECT o.body, p.body FROM resource r JOIN revision o ON o.thing = r.id
LEFT JOIN resource q ON q.kind = 'product' AND q.key = o.body::jsonb->>'product'
LEFT JOIN revision p ON p.thing = q.id AND p.version = (SELECT max(version) FROM revision x WHERE x.thing = q.id)
WHERE r.kind = 'works_order' AND r.key = %(key)s::text ORDER BY o.version DESC LIMIT 1
"""


class PlanError(LookupError):
    """The plan cannot be read as one; the text is one sentence."""


@dataclass(frozen=True, slots=True)
class Holding:
    """What a carrier holds: `left` mg by the book, its lots; `charge` mg are what was drawn last for one hull."""

    code: str
    kind: str
    left: int
    material: str
    materials: tuple[str, ...]
    lots: tuple[Node, ...]
    charge: int | None


@dataclass(frozen=True, slots=True)
class Planned:
    """The plan, what is at stake today, and the ways to do it, the plan itself first."""

    said: str
    as_known_on: datetime
    charge: int
    now: tuple[AtStake, ...]
    ways: tuple[Way, ...]

    @property
    def best(self) -> Way:
        return cheapest(self.ways)

    @property
    def worst_now(self) -> int:
        return max((one.count for one in self.now), default=0)


def planned_top_up(source: str, into: str, kg: str, charge_kg: str = "") -> Planned:
    """So many kg out of a container into a vessel. `charge_kg`: what is drawn for each hull, "" for what was last.

    Raises PlanError, or AmountError (a sentence each).
    """
    with one_picture():
        known, _size = what_was_known(None)
        box, vessel = holding(source, known), holding(into, known)
        if box.code == vessel.code:
            raise PlanError(_("Nothing is poured into itself."))
        if vessel.lots and box.materials != vessel.materials:
            raise PlanError(_another_material(vessel, box))
        amount = kg_to_mg(kg)
        if not 0 < amount <= box.left:
            raise PlanError(_("%(code)s holds %(left)s kg by the book.") % {
                "code": printed(box.code), "left": in_unit(box.left, "mg"),
            })  # fmt: skip
        charge = kg_to_mg(charge_kg) if charge_kg.strip() else vessel.charge or box.charge
        if not charge:
            raise PlanError(_("Nothing was drawn from it yet: say how much is drawn for one hull."))
        stake = at_stake({lot.id for lot in (*box.lots, *vessel.lots)}, known)
        ways = top_up(
            {one.lot.id: one.count for one in stake}, [lot.id for lot in vessel.lots], [lot.id for lot in box.lots],
            left=vessel.left, amount=amount, charge=charge,
        )  # fmt: skip
        said = _("%(kg)s kg from %(box)s into %(vessel)s, which holds %(left)s kg") % {
            "kg": in_unit(amount, "mg"), "box": printed(box.code), "vessel": printed(vessel.code),
            "left": in_unit(vessel.left, "mg"),
        }  # fmt: skip
        return Planned(said, known, charge, tuple(stake), tuple(ways))


def planned_split(source: str, other: str, shares: Sequence[tuple[str, str]]) -> Planned:
    """A container shared out over works orders, so many kg for each; `other` is the container from which a charge is
    filled up. Raises PlanError, or AmountError (a sentence each)."""
    with one_picture():
        known, _size = what_was_known(None)
        box, rest = holding(source, known), holding(other, known)
        if len(box.lots) != 1 or len(rest.lots) != 1 or box.lots[0].id == rest.lots[0].id:
            raise PlanError(_("A lot is split with another beside it: name two containers of one lot each."))
        if box.materials != rest.materials:
            raise PlanError(_another_material(rest, box))
        parts = [Share(order, kg_to_mg(kg), charge_of(order, box)) for order, kg in shares]
        total = sum(part.amount for part in parts)
        if not parts or not 0 < total <= box.left:
            raise PlanError(_("%(code)s holds %(left)s kg by the book.") % {
                "code": printed(box.code), "left": in_unit(box.left, "mg"),
            })  # fmt: skip
        stake = at_stake({box.lots[0].id, rest.lots[0].id}, known)
        ways = split({one.lot.id: one.count for one in stake}, box.lots[0].id, rest.lots[0].id, parts)
        said = _("%(code)s over %(orders)s") % {
            "code": printed(box.code),
            "orders": ", ".join(f"{p.order} {in_unit(p.amount, 'mg')} kg" for p in parts),
        }  # fmt: skip
        return Planned(said, known, parts[0].charge, tuple(stake), tuple(ways))


def _another_material(there: Holding, box: Holding) -> str:
    return _("%(code)s holds %(there)s, and this is %(here)s: they are not put together.") % {
        "code": printed(there.code), "there": there.material or "?", "here": box.material or "?",
    }  # fmt: skip


def holding(code: str, known: datetime) -> Holding:
    """What the container or vessel with this label holds. Raises PlanError."""
    carrier = carrier_of(code, known)
    if carrier is None:
        raise PlanError(_("“%(code)s” is no label of a container or vessel.") % {"code": code[:40]})
    fillings = fillings_of(carrier[0], known)
    if not fillings:
        return Holding(code, carrier[1], 0, "", (), (), None)
    now = fillings[-1]
    node, flow = nodes([now], known)[now], flows([now], known)[now]
    values = {"ids": id_array(fillings), "known": known_by(known)}
    emptied = {unit for (unit,) in fetch_rows(PROVED, values)}
    if node.amount is None or node.uom != "mg":
        raise PlanError(_("How much %(code)s holds in kg is not recorded.") % {"code": printed(code)})
    left = max(0, node.amount + flow.difference - flow.drawn)
    # Nothing left by the book is not proved empty: what was in it may be under what comes.
    lots = () if now in emptied else tuple(lots_behind(now, known))
    charge = fetch_rows(CHARGE, values)[0][0]
    return Holding(
        code, carrier[1], left, str(node.about.get("material") or ""), tuple(materials_of(node.about)), lots, charge
    )


def charge_of(order: str, box: Holding) -> int:
    """What the recipe of an order takes of this material for one hull, in mg. Raises PlanError."""
    rows = fetch_rows(ORDER, {"key": order})
    if not rows or rows[0][1] is None:
        raise PlanError(_("No works order %(key)s is known.") % {"key": order[:40]})
    said, product = json.loads(rows[0][0]), json.loads(rows[0][1])
    for layer in product.get("layers", ()):
        if str(layer["material"]).replace("{colour}", str(said.get("colour", ""))) in box.materials:
            return kg_to_mg(str(layer["target_kg"]))
    raise PlanError(_("%(key)s takes no %(material)s.") % {"key": order[:40], "material": box.material})
