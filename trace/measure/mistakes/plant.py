"""The working plant in which mistakes are played: the invented plant with its settings made."""

from collections.abc import Iterator
from typing import Any

from trace.demo import plant as invented

Thing = tuple[str, str, str, dict[str, Any]]

# What people of the trade set before they begin; every figure is invented.
SETTINGS: dict[str, Any] = {
    "tub tare kg": "1.80", "drop box tare kg": "3.20", "tare tolerance kg": "0.2",
    "tub litres": "60", "drop box litres": "50", "bind within minutes": 30, "rule:RELEASE-SAME-PERSON": "refuse",
}  # fmt: skip
TARE = {"tub": "1.80", "drop_box": "3.20"}
FLASH, FITTINGS = "0.30", "0.60"
# The kayak in two colours for sale, so that an arm can carry two that differ.
ORDERS: dict[str, dict[str, Any]] = {
    **invented.WORKS_ORDERS,
    "WO-2051": {"product": "T430", "colour": "lime", "quantity": 40, "purpose": "production"},
    "WO-2052": {"product": "T430", "colour": "red", "quantity": 40, "purpose": "production", "ended": True},
}
SALES: dict[str, dict[str, Any]] = {
    **invented.SALES_ORDERS,
    "SO-220": {"consignee": "WHARFE", "lines": [{"product": "T430", "colour": "red", "quantity": 200}]},
    "SO-221": {"consignee": "LOCKGATE", "lines": [{"product": "T430", "colour": "red", "quantity": 60}]},
    "SO-223": {"consignee": "LOCKGATE", "lines": [{"product": "T430", "colour": "lime", "quantity": 60}]},
    "SO-224": {"consignee": "CALDER", "lines": [{"product": "T430", "colour": "red", "quantity": 1}]},
}


def things() -> Iterator[Thing]:
    """All plant data in the order in which it is recorded."""
    for kind, key, name, body in invented.things():
        if kind == "product":
            cook = {**body["cook"], "set_c": ["280", "300"]}
            yield kind, key, name, {**body, "cook": cook, "mass": {"flash_kg": FLASH, "fittings_kg": FITTINGS}}
        elif kind not in ("works_order", "sales_order"):
            yield kind, key, name, body
    for key, body in ORDERS.items():
        yield "works_order", key, "", body
    for key, body in SALES.items():
        yield "sales_order", key, "", body
    yield "instrument", "W-5", "", {**invented.INSTRUMENTS["W-3"], "calibration_due": "2026-01-31"}
    yield "mould", "T430-09", "", {
        "cavities": ["1"], "service_every": 500, "vent_every": 120, "release_every": 60, **invented.MOULDS["T430-01"],
        "logger": "LG-1", "state": "on hold",
    }  # fmt: skip
    for n, arms in ((3, ["S1"]), (4, ["S2"]), (5, ["S1"])):
        yield "mould", f"T430-0{n}", "", {
            "cavities": ["1"], "service_every": 500, "vent_every": 120, "release_every": 60, "state": "in service",
            "products": ["T430"], "arms": arms, "logger": f"LG-{min(n, 4)}",
        }  # fmt: skip
    for key, value in SETTINGS.items():
        yield "setting", key, "", {"value": value}
