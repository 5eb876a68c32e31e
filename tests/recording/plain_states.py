"""The states of the floor in plain Python, read off the trade and not off any rule: what may follow what.

Charge, load, moulding, hull, pack and hold, each as a person at the mould would tell it. `may()` says whether a scan
that asks is recorded; `do()` moves the floor on. Nothing of the product is imported here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple


class Act(NamedTuple):
    """One scan: what is done, with which things. Names are those of the floor below, not codes."""

    what: str
    one: str = ""
    two: str = ""
    three: str = ""
    four: str = ""


@dataclass
class Charge:
    order: str
    layer: str
    lots: frozenset[str]


@dataclass
class Load:
    order: str
    arm: str
    stage: str = "open"  # then closed, in oven, cooling, to demould
    layers: set[str] = field(default_factory=set)
    inserts: set[str] = field(default_factory=set)
    graphics: list[str] = field(default_factory=list)
    lots: set[str] = field(default_factory=set)

    @property
    def blank(self) -> bool:
        return not (self.layers or self.inserts or self.graphics)


@dataclass
class Hull:
    product: str
    colour: str
    lots: frozenset[str]
    status: str = "bound"  # then released or rejected, packed, dispatched; scrapped
    pack: str = ""


# The floor: what each order is made of, what each box holds, where each mould may go.
PRODUCT = {"WO-1041": "T430", "WO-1043": "B60"}
COLOUR = {"WO-1041": "red", "WO-1043": "red"}
RECIPES = {
    "T430": {"skin": ("LL-35 red", "tub"), "foam": ("FM-22", "drop"), "inner": ("LL-35", "drop")},
    "B60": {"skin": ("LL-35 red", "tub"), "foam": ("FM-22", "drop")},
}
PARTS = {"T430": {"M8-N", "M6-S"}, "B60": set()}
ARTWORK = {"T430": ("side", "side", "capacity"), "B60": ()}
BOXES = {
    "red": ("LL-35 red", "V-2288"), "red2": ("LL-35 red", "V-2291"), "teal": ("LL-35 teal", "V-2310"),
    "new": ("LL-35 red", "V-2350"), "natural": ("LL-35", "V-2301"), "foam": ("FM-22", "F-118"),
    "m8": ("M8-N", "N-0398"), "m8b": ("M8-N", "N-0417"), "m6": ("M6-S", "N-0355"),
    "side": ("side", "G-77"), "capacity": ("capacity", "G-78"),
}  # fmt: skip
MOULDS = {"T430-01": ("T430", "S1 S2"), "T430-02": ("T430", "S1 S2"), "B60-01": ("B60", "A1 A2")}
STAGES = {"T430": ("heat", "drop foam", "drop inner", "out"), "B60": ("heat", "drop foam", "out")}
WANTED = {"SO-220": {"T430": 12}, "SO-221": {"T430": 6, "B60": 8}}


@dataclass
class Floor:
    """Where everything stands. tubs: what each holds; waiting: mouldings without a plate, by
    mould; plates: those not used, with their model; held: lots and plates."""

    tubs: dict[str, Charge | None]
    loads: dict[str, Load | None] = field(default_factory=lambda: dict.fromkeys(MOULDS))
    waiting: dict[str, list[Hull]] = field(default_factory=lambda: {mould: [] for mould in MOULDS})
    plates: dict[str, str] = field(default_factory=dict)
    hulls: dict[str, Hull] = field(default_factory=dict)
    packs: dict[str, list[str]] = field(default_factory=dict)
    pack_orders: dict[str, str] = field(default_factory=dict)
    quarantine: set[str] = field(default_factory=lambda: {"V-2350"})
    held: set[str] = field(default_factory=set)
    failed: set[str] = field(default_factory=set)
    came_back: set[str] = field(default_factory=set)

    def on_hold(self, plate: str) -> bool:
        return plate in self.held | self.failed | self.came_back or bool(self.hulls[plate].lots & self.held)

    def packed_for(self, order: str, product: str) -> int:
        return sum(
            self.hulls[plate].product == product
            for pack, plates in self.packs.items() if self.pack_orders[pack] == order
            for plate in plates
        )  # fmt: skip

    def may(self, act: Act) -> bool:
        return bool(getattr(self, f"_may_{act.what}")(act))

    def do(self, act: Act) -> None:
        getattr(self, f"_do_{act.what}")(act)

    # A charge: of the layer's powder, into an empty carrier of the layer's kind, from a lot that is free.

    def _may_weigh(self, act: Act) -> bool:
        order, layer, box, tub = act.one, act.two, act.three, act.four
        recipe = RECIPES[PRODUCT[order]]
        if layer not in recipe:
            return False
        material, arrives = recipe[layer]
        holds, lot = BOXES[box]
        fits = holds == material and tub.startswith(arrives)
        return fits and self.tubs[tub] is None and lot not in self.held | self.quarantine

    def _do_weigh(self, act: Act) -> None:
        self.tubs[act.four] = Charge(act.one, act.two, frozenset({BOXES[act.three][1]}))

    def _may_release(self, act: Act) -> bool:
        return BOXES[act.one][1] in self.quarantine - self.held

    def _do_release(self, act: Act) -> None:
        self.quarantine.discard(BOXES[act.one][1])

    # A load: one open at a time in a mould, of its model, on its arm.

    def _may_ready(self, act: Act) -> bool:
        mould, order, arm = act.one, act.two, act.three
        load = self.loads[mould]
        product, arms = MOULDS[mould]
        free = load is None or (load.stage == "open" and load.blank)
        return product == PRODUCT[order] and arm in arms.split() and free

    def _do_ready(self, act: Act) -> None:
        self.loads[act.one] = Load(act.two, act.three)

    def _open(self, mould: str) -> Load | None:
        load = self.loads[mould]
        return load if load is not None and load.stage == "open" else None

    def _may_inserts(self, act: Act) -> bool:
        load, (part, lot) = self._open(act.one), BOXES[act.two]
        if load is None:
            return False
        return part in PARTS[PRODUCT[load.order]] - load.inserts and lot not in self.held

    def _do_inserts(self, act: Act) -> None:
        load, (part, lot) = self.loads[act.one], BOXES[act.two]
        assert load is not None
        load.inserts.add(part)
        load.lots.add(lot)

    def _may_graphic(self, act: Act) -> bool:
        load, (artwork, lot) = self._open(act.one), BOXES[act.two]
        if load is None or lot in self.held:
            return False
        return ARTWORK[PRODUCT[load.order]].count(artwork) > load.graphics.count(artwork)

    def _do_graphic(self, act: Act) -> None:
        load, (artwork, lot) = self.loads[act.one], BOXES[act.two]
        assert load is not None
        load.graphics.append(artwork)
        load.lots.add(lot)

    def _may_tip(self, act: Act) -> bool:
        load, charge = self._open(act.one), self.tubs[act.two]
        if load is None or charge is None:
            return False
        return charge.order == load.order and charge.layer not in load.layers and not charge.lots & self.held

    def _do_tip(self, act: Act) -> None:
        load, charge = self.loads[act.one], self.tubs[act.two]
        assert load is not None and charge is not None
        load.layers.add(charge.layer)
        load.lots |= charge.lots
        self.tubs[act.two] = None

    def _may_close(self, act: Act) -> bool:
        load = self._open(act.one)
        if load is None:
            return False
        product = PRODUCT[load.order]
        whole = (
            load.layers == RECIPES[product].keys() and load.inserts == PARTS[product]
            and sorted(load.graphics) == sorted(ARTWORK[product])
        )  # fmt: skip
        return whole and not load.lots & self.held

    def _do_close(self, act: Act) -> None:
        self._stage(act.one, "closed")

    def _stage(self, mould: str, stage: str) -> None:
        load = self.loads[mould]
        assert load is not None
        load.stage = stage

    def _is(self, mould: str, stage: str) -> bool:
        load = self.loads[mould]
        return load is not None and load.stage == stage

    # A cycle: closed, in the oven, cooling, to demould; in this order only.

    def _may_start(self, act: Act) -> bool:
        load = self.loads[act.one]
        if load is None or load.stage != "closed" or load.arm != act.two or load.lots & self.held:
            return False
        on_the_arm = [other for other in self.loads.values() if other is not None and other.arm == load.arm]
        return not any(other.stage in ("in oven", "cooling") for other in on_the_arm)

    def _do_start(self, act: Act) -> None:
        self._stage(act.one, "in oven")

    def _may_stage(self, act: Act) -> bool:
        return self._is(act.one, "in oven") and act.two in STAGES[MOULDS[act.one][0]]

    def _do_stage(self, _: Act) -> None:
        pass

    def _may_end(self, act: Act) -> bool:
        return self._is(act.one, "in oven")

    def _do_end(self, act: Act) -> None:
        self._stage(act.one, "cooling")

    def _may_cooled(self, act: Act) -> bool:
        return self._is(act.one, "cooling")

    def _do_cooled(self, act: Act) -> None:
        self._stage(act.one, "to demould")

    def _may_demould(self, act: Act) -> bool:
        return self._is(act.one, "to demould")

    def _do_demould(self, act: Act) -> None:
        load = self.loads[act.one]
        assert load is not None
        made = Hull(PRODUCT[load.order], COLOUR[load.order], frozenset(load.lots))
        self.waiting[act.one].append(made)
        self.loads[act.one] = None

    # A hull: one moulding, one plate, never used before; passed before it is packed, packed before it leaves.

    def _may_bind(self, act: Act) -> bool:
        # Where a second one is ready in the mould, nobody can say which of the two the plate is for.
        which = len(self.waiting[act.one]) + self._is(act.one, "to demould")
        waiting = self.waiting[act.one]
        return which == 1 and bool(waiting) and self.plates.get(act.two) == waiting[0].product

    def _do_bind(self, act: Act) -> None:
        self.hulls[act.two] = self.waiting[act.one].pop()
        del self.plates[act.two]

    def _may_pass(self, act: Act) -> bool:
        return self._at_inspection(act.one) and not self.on_hold(act.one)

    def _at_inspection(self, plate: str) -> bool:
        hull = self.hulls.get(plate)
        return hull is not None and hull.status in ("bound", "released", "rejected", "returned")

    def _do_pass(self, act: Act) -> None:
        self.hulls[act.one].status = "released"

    def _may_fail(self, act: Act) -> bool:
        return self._at_inspection(act.one)

    def _do_fail(self, act: Act) -> None:
        self.hulls[act.one].status = "rejected"
        self.failed.add(act.one)

    def _may_pack(self, act: Act) -> bool:
        hull, wanted = self.hulls.get(act.two), WANTED[act.one]
        if hull is None or hull.status != "released" or self.on_hold(act.two):
            return False
        return self.packed_for(act.one, hull.product) < wanted.get(hull.product, 0)

    def _do_pack(self, act: Act) -> None:
        self.hulls[act.two].status = "packed"
        self.hulls[act.two].pack = act.three
        self.packs[act.three] = [act.two]
        self.pack_orders[act.three] = act.one

    def _may_dispatch(self, act: Act) -> bool:
        plates = self.packs.get(act.two, [])
        packed = bool(plates) and all(self.hulls[plate].status == "packed" for plate in plates)
        return packed and self.pack_orders[act.two] == act.one and not any(map(self.on_hold, plates))

    def _do_dispatch(self, act: Act) -> None:
        for plate in self.packs[act.two]:
            self.hulls[plate].status = "dispatched"

    # What comes back is taken in whatever the record says, and is held until somebody has looked.

    def _may_return(self, act: Act) -> bool:
        return act.one in self.hulls

    def _do_return(self, act: Act) -> None:
        hull = self.hulls[act.one]
        if hull.pack:
            self.packs[hull.pack].remove(act.one)
        hull.status, hull.pack = "returned", ""
        self.came_back.add(act.one)

    def _may_look(self, act: Act) -> bool:
        return act.one in self.came_back

    def _do_look(self, act: Act) -> None:
        self.came_back.discard(act.one)

    def _may_scrap(self, act: Act) -> bool:
        hull = self.hulls.get(act.one)
        return hull is not None and hull.status in ("bound", "released", "rejected", "returned")

    def _do_scrap(self, act: Act) -> None:
        self.hulls[act.one].status = "scrapped"

    # A hold lies on any state; it ends by another person than who laid it.

    def _may_hold(self, _: Act) -> bool:
        return True

    def _do_hold(self, act: Act) -> None:
        self.held.add(lot_of(act.one))

    def _may_free(self, act: Act) -> bool:
        return lot_of(act.one) in self.held

    def _do_free(self, act: Act) -> None:
        self.held.discard(lot_of(act.one))


def lot_of(name: str) -> str:
    """A hold on a box is on its lot; on a plate it is on that hull."""
    return BOXES[name][1] if name in BOXES else name
