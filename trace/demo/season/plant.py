"""The plant of the season: the small demo's, with the rest of its moulds, people, places and dealers. All invented."""

from collections.abc import Iterator
from typing import Any

from plant.kinds.people import TASKS
from trace.demo import plant as small
from trace.demo.drawings import DRAWINGS
from trace.demo.season.year import SHIFTS

Body = dict[str, Any]

PEOPLE = (
    *small.PEOPLE,
    ("P-11", "Rafe P.", ("operator",), ("weighing", "loading", "oven", "demould"), "310011"),
    ("P-12", "Bryn Ottaway", ("operator", "lead"), TASKS, "310012"),
    ("P-13", "Keziah Marl", ("operator",), ("weighing", "loading", "oven", "demould", "top-up"), "310013"),
    ("P-14", "Osric Penn", ("operator",), ("weighing", "loading", "oven", "demould", "top-up"), "310014"),
    ("P-15", "Nessa Tarrow", ("quality",), ("inspection",), "310015"),
    ("P-16", "Hale Corrin", ("operator", "lead"), TASKS, "310016"),
    # His first badge was thought lost, and turned up again: both are used.
    ("P-17", "Teo Varga", ("operator",), ("loading", "oven", "demould"), "310017"),
)  # fmt: skip

PLACES = (
    *[place for place in small.PLACES if place[2]["kind"] != "rack"],
    *((f"R{rack}-{level}", f"Rack R{rack}, level {level}", {"kind": "rack", "max_kg": "900", "levels": 3})
      for rack in range(1, 8) for level in (1, 2)),
)  # fmt: skip

SUPPLIERS = {**small.SUPPLIERS, "KESTLE": ("Kestle Compounds", ["LL-35 red", "LL-35 lime", "LL-35 teal"])}

CONSIGNEES = {
    **small.CONSIGNEES,
    "TARN": "Tarn & Firth Canoe Centre",
    "BRACK": "Brackwater Chandlery",
    "SKERRY": "Skerry Sound Rescue",
    "HOLM": "Holmfirth Reservoir Rescue",
}
RESCUE = ("CALDER", "SKERRY", "HOLM")

SEATS = {
    "T430": tuple(f"S{n}" for n in range(1, 9)),
    "T370": tuple(f"S{n}" for n in range(1, 7)),
    "H320": tuple(f"B{n}" for n in range(1, 5)),
}

LID = {
    "box": [220, 150],
    "outline": "M12 75A98 60 0 1 1 208 75A98 60 0 1 1 12 75Z",
    "details": ["M24 75A86 50 0 1 1 196 75A86 50 0 1 1 24 75Z", "M84 75H136"],
    "positions": {}, "graphics": {}, "zones": {},
}  # fmt: skip


def products() -> dict[str, Body]:
    """The small demo's products, the tow boat with its seat inserts, the short kayak and the twin-moulded lid."""
    found = small.products()
    boat = {**found["H320"]["inserts"], **dict.fromkeys(SEATS["H320"], "M8-N")}
    short = DRAWINGS["T370"]
    return {
        **found,
        "H320": {**found["H320"], "inserts": boat},
        "T370": small.product(
            "Tamsin 370", "GHM-T370-", "4.2", layers=small.layers("9.80", "7.40", "5.90"),
            inserts={**dict.fromkeys(SEATS["T370"], "M8-N"), "H1": "M6-S", "H2": "M6-S"},
            graphics=small.SIDES, drawing=short, cook=small.HULL_COOK,
            zones={zone: {"least_mm": "3.4"} for zone in short["zones"]},
        ),
        "LID": small.product(
            "Tamsin hatch lid pair", "GHM-LID-", "0.45",
            layers=[{**small.layers("1.10", "0", "0")[0], "tolerance_kg": "0.03"}], inserts={}, graphics={},
            drawing=LID, zones={}, cavities=["1", "2"],
            cook={"ovens": ["OVEN-2"], "stages": ["heat", "out"], "piat_c": ["200", "220"], "demould_max_c": "60"},
        ),
    }  # fmt: skip


PRODUCTS = products()

LONG_ARMS = ["S1", "S2"]
MOULDS: dict[str, Body] = {
    "T430-01": {"products": ["T430"], "arms": LONG_ARMS, "logger": "LG-1"},
    "T430-02": {"products": ["T430"], "arms": LONG_ARMS, "logger": "LG-2"},
    "T370-01": {"products": ["T370"], "arms": LONG_ARMS, "logger": "LG-6"},
    "H320-01": {"products": ["H320"], "arms": LONG_ARMS, "logger": "LG-3"},
    "H320-02": {"products": ["H320"], "arms": LONG_ARMS, "logger": "LG-7"},
    "LID-01": {"products": ["LID"], "arms": LONG_ARMS, "logger": "LG-8", "cavities": ["1", "2"]},
    **{
        f"B60-0{n}": {"products": ["B60"], "arms": ["A1", "A2", "A3"], "logger": "LG-4" if n <= 4 else "LG-5"}
        for n in range(1, 9)
    },
}
INSTRUMENTS = {
    **small.INSTRUMENTS,
    "W-3": {**small.INSTRUMENTS["W-3"], "accuracy": "III", "interval": "0.01"},
    "W-4": {**small.INSTRUMENTS["W-4"], "resolution": "0.02", "accuracy": "III", "interval": "0.02"},
    **{f"LG-{n}": {"kind": "logger", "calibration_due": small.FOREVER} for n in range(5, 9)},
}


def mould_body(key: str, state: str = "in service") -> Body:
    return {"cavities": ["1"], "service_every": 500, "vent_every": 120, "release_every": 60, "state": state,
            **MOULDS[key]}  # fmt: skip


def things(shifts: bool = True) -> Iterator[tuple[str, str, str, Body]]:
    """(kind, key, name, body) of all plant data, in the order in which it is recorded; orders come as they are made."""
    for key, name, roles, tasks, _ in PEOPLE:
        body: Body = {"roles": list(roles), "trained": dict.fromkeys(tasks, small.FOREVER), "until": None}
        yield "person", key, name, body
    if shifts:
        yield "setting", "shifts", "", {"value": SHIFTS}
    for key, name, body in PLACES:
        yield "place", key, "", {"name": name, **body}
    for key, body in small.MATERIALS.items():
        yield "material", key, "", body
    for key, (name, materials) in SUPPLIERS.items():
        yield "supplier", key, "", {"name": name, "materials": materials}
    for kind, table in (("machine", small.MACHINES), ("instrument", INSTRUMENTS), ("product", PRODUCTS)):
        for key, body in table.items():
            yield kind, key, "", body
    for key in MOULDS:
        yield "mould", key, "", mould_body(key)
    for key, name in CONSIGNEES.items():
        yield "consignee", key, name, {}
