"""The invented plant: Grebe Haven Mouldings, Port Aldwyn. Every name and figure here is made up."""

from typing import Any

from plant.kinds.people import TASKS
from trace.demo.drawings import DRAWINGS

Thing = tuple[str, str, str, dict[str, Any]]  # kind, key, name (for people and consignees), body

FOREVER = "2031-12-31"

# Badge key, name, roles, tasks signed off, PIN of the demo.
PEOPLE: tuple[tuple[str, str, tuple[str, ...], tuple[str, ...], str], ...] = (
    ("P-01", "Ines Orrell", ("operator",), ("weighing", "loading", "oven", "demould", "top-up"), "310001"),
    ("P-02", "Dov Hartnell", ("operator",), ("weighing", "loading", "oven", "demould"), "310002"),
    ("P-03", "Mabs Quill", ("operator", "lead"), TASKS, "310003"),
    ("P-04", "Teo Varga", ("operator",), ("loading", "oven", "demould"), "310004"),
    ("P-05", "Sunniva Lund", ("stores", "maintenance"), ("goods-in", "top-up"), "310005"),
    ("P-06", "Priya Ashdown", ("quality",), TASKS, "310006"),
    ("P-07", "Jonty Blewitt", ("warehouse",), ("packing", "dispatch"), "310007"),
    ("P-08", "Hanne Brook", ("auditor",), (), "310008"),
    ("P-09", "Cass Imrie", ("planner", "administrator"), (), "310009"),
    ("P-10", "Lorne Abbey", ("deputy",), ("inspection",), "310010"),
)

PLACES = (
    ("DOCK", "Goods-in dock", {"kind": "dock"}),
    ("BAY-C3", "Powder store, bay C3", {"kind": "bay"}),
    ("BAY-C4", "Quarantine, bay C4", {"kind": "bay"}),
    ("LOADING", "Loading floor", {"kind": "floor"}),
    ("DEMOULD", "Demould floor", {"kind": "floor"}),
    ("PACKING", "Packing bench", {"kind": "station"}),
    ("STORE", "Old stock store", {"kind": "bay"}),
    ("R4-2", "Rack R4, level 2", {"kind": "rack", "max_kg": "240", "levels": 3}),
    ("R5-1", "Rack R5, level 1", {"kind": "rack", "max_kg": "240", "levels": 3}),
)


def powder(name: str, colour: str, density: str, bulk: str, **more: Any) -> dict[str, Any]:
    return {
        "name": name, "kind": "powder", "colour": colour, "density": density, "bulk_density": bulk,
        "fill_tolerance": "0.02", "spec": {"mfi": ["3.2", "3.8"], "density": ["0.935", "0.941"]}, **more,
    }  # fmt: skip


MATERIALS: dict[str, dict[str, Any]] = {
    "LL-35": powder("LL-35 natural", "#9fb1ba", "938", "350"),
    "LL-35 red": powder("LL-35 red", "#c8452e", "938", "350"),
    "LL-35 lime": powder("LL-35 lime", "#8aa82a", "938", "350"),
    "LL-35 teal": powder("LL-35 teal", "#1f7f86", "938", "350"),
    "MD-80": powder("MD-80", "#c9cdd0", "944", "360", spec={"mfi": ["7.2", "8.8"], "density": ["0.941", "0.947"]}),
    "FM-22": {
        "name": "FM-22 foaming", "kind": "foam", "colour": "#efe3b8", "density": "220", "bulk_density": "380",
        "fill_tolerance": "0.02", "shelf_days": 270, "open_days": 30, "spec": {"density": ["0.210", "0.230"]},
    },
    "M8-N": {"name": "M8-N brass insert, nickel over copper", "kind": "insert", "colour": "#b9a14a",
             "fill_tolerance": "0", "finish": "nickel over copper"},
    "M6-S": {"name": "M6-S stainless insert", "kind": "insert", "colour": "#8b9299", "fill_tolerance": "0"},
    "EYE-12": {"name": "EYE-12 tow eye", "kind": "insert", "colour": "#5e6870", "fill_tolerance": "0"},
    "TAMSIN-SIDE C": {"name": "Tamsin side graphic, rev C", "kind": "graphic", "colour": "#0b4f8a",
                      "fill_tolerance": "0", "artwork": "TAMSIN-SIDE", "revision": "C"},
    "TAMSIN-SIDE B": {"name": "Tamsin side graphic, rev B", "kind": "graphic", "colour": "#0b4f8a",
                      "fill_tolerance": "0", "artwork": "TAMSIN-SIDE", "revision": "B"},
    "CAPACITY A": {"name": "Capacity label, rev A", "kind": "graphic", "colour": "#333333",
                   "fill_tolerance": "0", "artwork": "CAPACITY", "revision": "A"},
    "ROD-35": {"name": "ROD-35 weld rod, red", "kind": "rod", "colour": "#c8452e", "fill_tolerance": "0"},
    "TR-4": {"name": "Release coat TR-4", "kind": "release agent", "fill_tolerance": "0"},
    "RESCUE A": {"name": "RESCUE pair, rev A", "kind": "graphic", "colour": "#b3121d",
                 "fill_tolerance": "0", "artwork": "RESCUE", "revision": "A"},
}  # fmt: skip

SUPPLIERS = {
    "VERRIN": ("Verrin Polymers", ["LL-35", "LL-35 red", "LL-35 lime", "LL-35 teal", "ROD-35"]),
    "DUNSAY": ("Dunsay Powders", ["FM-22", "LL-35", "MD-80"]),
    "MARROW": ("Marrow Lane Fasteners", ["M8-N", "M6-S", "EYE-12"]),
    "TOLBY": ("Tolby Release", ["TR-4"]),
    "PELLAM": ("Pellam Graphics", ["TAMSIN-SIDE C", "TAMSIN-SIDE B", "CAPACITY A", "RESCUE A"]),
}


def layers(skin: str, foam: str, inner: str) -> list[dict[str, str]]:
    return [
        {
            "name": "skin",
            "material": "LL-35 {colour}",
            "target_kg": skin,
            "tolerance_kg": "0.10",
            "arrives": "tub",
        },
        {
            "name": "foam",
            "material": "FM-22",
            "target_kg": foam,
            "tolerance_kg": "0.10",
            "arrives": "drop box",
        },
        {
            "name": "inner",
            "material": "LL-35",
            "target_kg": inner,
            "tolerance_kg": "0.08",
            "arrives": "drop box",
        },
    ]


KAYAK_INSERTS = {**{f"S{n}": "M8-N" for n in range(1, 9)}, **{f"H{n}": "M6-S" for n in range(1, 5)}}
SIDES = {
    "PORT": {"artwork": "TAMSIN-SIDE", "revision": "C"},
    "STARBOARD": {"artwork": "TAMSIN-SIDE", "revision": "C"},
    "CAPACITY": {"artwork": "CAPACITY", "revision": "A"},
}
HULL_COOK = {
    "ovens": ["OVEN-2"], "stages": ["heat", "drop foam", "drop inner", "out"], "piat_c": ["200", "220"],
    "demould_max_c": "60",
}  # fmt: skip
COLOURS = {"red": "#c8452e", "lime": "#8aa82a", "teal": "#1f7f86"}


# The cold test: heights and steps are invented, temperature and dart are the trade's own, from memory.
IMPACT = {"below_zero_c": "40", "within_c": "3", "dart": "10 lb", "step_m": "0.15", "least_m": "0.90", "fewest": 5}


def product(name: str, prefix: str, area: str, **more: Any) -> dict[str, Any]:
    return {
        "name": name, "area_m2": area, "colours": COLOURS, "month_on_plate": True, "cavities": ["1"],
        "hull_number": {"format": "plant", "prefix": prefix}, "checks": ["surface", "inserts", "plate"], **more,
    }  # fmt: skip


def products() -> dict[str, dict[str, Any]]:
    kayak = DRAWINGS["T430"]
    return {
        "T430": product(
            "Tamsin 430", "GHM-T430-", "5.2", layers=layers("12.20", "9.15", "7.32"), inserts=KAYAK_INSERTS,
            graphics=SIDES, drawing=kayak, cook=HULL_COOK,
            zones={zone: {"least_mm": "3.4"} for zone in kayak["zones"]}, impact=IMPACT,
        ),
        "H320": product(
            "Halcott 320", "GHM-H320-", "6.1", layers=layers("15.60", "10.70", "8.60"),
            inserts=dict.fromkeys(DRAWINGS["H320"]["positions"], "EYE-12"),
            graphics={z: {"artwork": "RESCUE", "revision": "A"} for z in DRAWINGS["H320"]["graphics"]},
            drawing=DRAWINGS["H320"], cook=HULL_COOK,
            zones={zone: {"least_mm": "4.0"} for zone in DRAWINGS["H320"]["zones"]}, impact=IMPACT,
        ),
        "B60": product(
            "Bollen 60", "GHM-B60-", "1.1", layers=layers("3.10", "2.40", "0")[:2], inserts={}, graphics={},
            drawing=DRAWINGS["B60"], zones={},
            cook={"ovens": ["OVEN-1"], "stages": ["heat", "drop foam", "out"], "piat_c": ["200", "220"],
                  "demould_max_c": "60"},
        ),
    }  # fmt: skip


MOULDS: dict[str, dict[str, Any]] = {
    "T430-01": {"products": ["T430"], "arms": ["S1", "S2"], "logger": "LG-1"},
    "T430-02": {"products": ["T430"], "arms": ["S1", "S2"], "logger": "LG-2"},
    "H320-01": {"products": ["H320"], "arms": ["S1", "S2"], "logger": "LG-3"},
    **{f"B60-0{n}": {"products": ["B60"], "arms": ["A1", "A2", "A3"], "logger": "LG-4"} for n in range(1, 5)},
}
MACHINES: dict[str, dict[str, Any]] = {
    "OVEN-1": {"kind": "oven", "motion": "biaxial", "calibration_due": FOREVER, "state": "in service"},
    "OVEN-2": {"kind": "oven", "motion": "rock", "calibration_due": FOREVER, "state": "in service"},
    **{a: {"kind": "arm", "oven": "OVEN-1", "state": "in service"} for a in ("A1", "A2", "A3")},
    **{a: {"kind": "arm", "oven": "OVEN-2", "state": "in service"} for a in ("S1", "S2")},
}
INSTRUMENTS: dict[str, dict[str, Any]] = {
    **{
        scale: {"kind": "scale", "resolution": "0.01", "calibration_due": FOREVER, "check_mass": "10.000",
                "check_tolerance": "0.02"}
        for scale in ("W-3", "W-4")
    },
    "G-2": {"kind": "gauge", "calibration_due": FOREVER},
    **{f"LG-{n}": {"kind": "logger", "calibration_due": FOREVER} for n in range(1, 5)},
}  # fmt: skip
CONSIGNEES = {
    "WHARFE": "Wharfe & Weir Paddlesport",
    "LOCKGATE": "Lockgate Outdoors",
    "CALDER": "Calder Vale Rescue",
}
WORKS_ORDERS = {
    "WO-1041": {"product": "T430", "colour": "red", "quantity": 40, "purpose": "production"},
    "WO-1042": {"product": "H320", "colour": "lime", "quantity": 10, "purpose": "production"},
    "WO-1043": {"product": "B60", "colour": "red", "quantity": 40, "purpose": "production"},
    "WO-1044": {"product": "T430", "colour": "teal", "quantity": 4, "purpose": "trial"},
}
SALES_ORDERS = {
    "SO-220": {"consignee": "WHARFE", "lines": [{"product": "T430", "colour": "red", "quantity": 12}]},
    "SO-221": {"consignee": "LOCKGATE", "lines": [{"product": "T430", "colour": "red", "quantity": 6},
                                                  {"product": "B60", "colour": "red", "quantity": 8}]},
    "SO-222": {"consignee": "CALDER", "lines": [{"product": "H320", "colour": "lime", "quantity": 4}]},
}  # fmt: skip


def things() -> list[Thing]:
    """All plant data in the order in which it is recorded: people first, since every record has a person; what is
    referred to before what refers to it."""
    found: list[Thing] = [
        ("person", key, name, {"roles": list(roles), "trained": dict.fromkeys(tasks, FOREVER), "until": None})
        for key, name, roles, tasks, _ in PEOPLE
    ]
    found += [("place", key, "", {"name": name, **body}) for key, name, body in PLACES]
    found += [("material", key, "", body) for key, body in MATERIALS.items()]
    found += [("supplier", k, "", {"name": name, "materials": m}) for k, (name, m) in SUPPLIERS.items()]
    found += [("machine", key, "", body) for key, body in MACHINES.items()]
    found += [("instrument", key, "", body) for key, body in INSTRUMENTS.items()]
    found += [("product", key, "", body) for key, body in products().items()]
    found += [
        ("mould", key, "", {"cavities": ["1"], "service_every": 500, "vent_every": 120, "release_every": 60,
                            "state": "in service", **body})
        for key, body in MOULDS.items()
    ]  # fmt: skip
    found += [("consignee", key, name, {}) for key, name in CONSIGNEES.items()]
    found += [("works_order", key, "", body) for key, body in WORKS_ORDERS.items()]
    found += [("sales_order", key, "", body) for key, body in SALES_ORDERS.items()]
    return found
