"""Tipping: a weighed charge goes out of its tub into the mould, or its drop box onto it."""

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as noop

from trace.codes import printed
from trace.genealogy.live import LIVE_NOW
from trace.readmodels.rows import Rows, stamp
from trace.recording.acts import hold_words
from trace.recording.acts.loading import found_after_all, layers_in, plan_of
from trace.recording.acts.weighing import layer_of, takes
from trace.recording.commands import Command, Facts, Told, handles, scanned
from trace.recording.floor import words as say
from trace.recording.floor.changes import Emptied, Took
from trace.recording.floor.moulds import mould_facts
from trace.recording.floor.sources import one
from trace.recording.floor.standing import Floor, Found, UnitFacts
from trace.recording.told_late.contents import nth_empty
from trace.recording.told_late.history import history_of


def tipped_from(carrier: str, load: int) -> bool:
    """Whether what was in this tub or drop box went into this load."""
    return bool(
        one(
            f"""SELECT TRUE FROM edge e JOIN unit p ON p.id = e.parent JOIN carrier c ON c.id = p.carrier
                WHERE e.child = %s AND e.role = 'charge' AND c.uid = %s AND {LIVE_NOW} LIMIT 1""",
            [load, carrier],
        )
    )


@dataclass(frozen=True, kw_only=True)
class TipTub(Command):
    """A weighed charge goes into the mould, or its drop box onto it."""

    KIND = "tipped"
    NAME = noop("tip tub")
    TASK = "loading"
    INTO_LOAD = True
    AS_IT_WAS = ("tub",)

    mould: str = scanned("mould")
    tub: str = scanned("tub", "drop_box")

    @staticmethod
    def told(e: Told) -> str:
        tub, mould = printed(e.says["tub"]), e.says["mould"]
        for row in e.part("edges"):
            return _("%(layer)s tipped: %(amount)s from %(tub)s into %(mould)s") % {
                "layer": str(row["layer"] or _("charge of no layer")).capitalize(),
                "amount": say.amount(row["amount"], row["uom"]), "tub": tub, "mould": mould,
            }  # fmt: skip
        return _("%(tub)s tipped into %(mould)s, with nothing weighed into it") % {"tub": tub, "mould": mould}


def _charge_facts(charge: UnitFacts | None) -> Facts:
    """Whether the charge in a tub may be tipped as it stands."""
    return {
        "part": bool(charge and charge.status == "part weighed"),
        "used": bool(charge and charge.gone_into),
        "held": bool(charge and charge.holds),
        "hold": hold_words.held_by(charge),
    }


def _tub_material_facts(charge: UnitFacts | None, recipe: Facts) -> Facts:
    """Whether the charge in a tub is of the material that the recipe's layer is made of."""
    material, wanted = charge.about.get("material") if charge else None, recipe.get("material")
    return {
        "material": material or "nothing",
        "wanted": wanted or "nothing",
        "wrong_material": bool(charge and material and wanted and not takes(recipe, charge.about)),
    }


def tip_facts(c: TipTub, floor: Floor) -> Facts:
    mould, tub = floor[c.mould], floor[c.tub]
    load = mould.load
    plan = plan_of(load, floor)
    layers = [layer["name"] for layer in plan.get("layers", [])]
    layer = tub.layer or (tub.unit.about.get("layer") if tub.unit else None)
    recipe = layer_of(plan, str(layer), str(load.about.get("colour", "")) if load else "")
    return {
        "mould": mould_facts(mould, floor),
        "tub": {
            "name": tub.name,
            "empty": left_in(tub, floor) <= 0,
            "tipped": tub.unit is None and bool(load and tub.carrier and tipped_from(tub.carrier, load.id)),
            "order": tub.order or "no order",
            "wrong_order": bool(tub.unit and load and tub.order != load.about.get("order")),
            "layer": layer or "charge of no layer",
            "wrong_layer": bool(tub.unit and load and layer not in layers),
            "layer_in": layer in layers_in(load),
            **_tub_material_facts(tub.unit, recipe),
            **_charge_facts(tub.unit),
        },
    }


@handles(TipTub, tip_facts)
def tip_tub(c: TipTub, floor: Floor, rows: Rows) -> str:
    mould, tub = floor[c.mould], floor[c.tub]
    load = mould.load
    assert load is not None  # noqa: S101
    rows.resource("mould", mould.key, "mould")
    if tub.unit is not None and out_of_turn(tub, floor):
        return _told_out_of_turn(tub, tub.unit, load, mould.key, floor)
    if tub.unit is None or (tub.unit.balance or 0) <= 0:
        rows.missed(tub.carrier, load.uid, "charge", amount=None, uom="mg", position=nth_empty(tub.code, load.gaps))
        if tub.unit is not None:
            _stands_empty(tub, floor, rows)
        return f"tub {tub.name} tipped, but nothing was weighed into it"
    layer = tub.layer or tub.unit.about.get("layer")
    rows.edge(load.uid, tub.unit.uid, "charge", amount=tub.unit.balance, uom="mg", layer=layer)
    rows.status(tub.unit.uid, "tipped", at=stamp(floor.now))
    found_after_all(rows, load, "layer", str(layer))
    _stands_empty(tub, floor, rows)
    return f"{layer or 'a'} charge, {say.kg(tub.unit.balance)}, into {mould.key}"


def _told_out_of_turn(tub: Found, charge: UnitFacts, load: UnitFacts, mould: str, floor: Floor) -> str:
    """How much of its charge was in the tub then comes out of the replay, also where nothing is left of it by now."""
    layer, left = tub.layer or charge.about.get("layer"), max(charge.balance or 0, 0) or None
    floor.changes.took.append(
        Took(tub.carrier, floor.happened, load.uid, left, "mg", "charge", layer, unsure=floor.unsure)
    )
    floor.changes.emptied.append(Emptied(tub.carrier or "", floor.happened, proved=False))
    return f"{layer or 'a'} charge, what was in tub {tub.name} then, into {mould}"


def out_of_turn(tub: Found, floor: Floor) -> bool:
    """Told late of a tub from which something went out: whether before it was emptied or after, its replay tells."""
    unit = tub.unit
    return floor.happened < floor.now and not tub.late and unit is not None and unit.balance != unit.amount


def left_in(tub: Found, floor: Floor) -> int:
    """How much of its charge was in a tub when the act happened, by the records (mg)."""
    if not out_of_turn(tub, floor):
        return (tub.unit.balance or 0) if tub.unit else 0
    return history_of(tub.carrier or "", floor.happened).left or 0


def _stands_empty(tub: Found, floor: Floor, rows: Rows) -> None:
    if tub.late:
        floor.changes.emptied.append(Emptied(tub.carrier or "", tub.then or floor.happened, proved=False))
    else:
        rows.fill(tub.carrier or "", None, floor.since(tub))
