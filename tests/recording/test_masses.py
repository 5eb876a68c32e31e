"""What a hull must weigh follows from what was charged and from its recipe's tolerances."""

from __future__ import annotations

import json
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest

from tests.cast import PACKER, SO_RED, Cast, plate, rows_of
from trace.recording.acts.demould import Bind, Demould
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.packing import Pack
from trace.recording.acts.setup import Define
from trace.recording.floor.readings import mass_limits, mass_trouble

# Thin walls, m = A t rho on 5.2 m2 (2.5 mm at 938, 8.0 mm at 220, 1.5 mm at 938 kg/m3): 28.662 kg; the tolerances are
# invented, common practice is 0.5 to 1 % of a charge.
LAYERS = [
    {"target_kg": "12.20", "tolerance_kg": "0.10"}, {"target_kg": "9.15", "tolerance_kg": "0.10"},
    {"target_kg": "7.32", "tolerance_kg": "0.08"},
]  # fmt: skip
CHARGED = 28_662_000


@pytest.mark.parametrize(
    ("mass", "low", "high"),
    [
        ({}, "24.722", "32.602"), ({"flash_kg": "0.30"}, "28.082", "32.602"),
        ({"flash_kg": "0.30", "fittings_kg": "0.60"}, "28.082", "29.542"),
    ],
)  # fmt: skip
def test_limits_come_from_the_recipe(mass: dict[str, str], low: str, high: str) -> None:
    assert mass_limits([{"layers": LAYERS, "mass": mass}], CHARGED) == (Decimal(low), Decimal(high))


def test_any_layer_that_is_missing_or_in_twice_shows() -> None:
    limits = mass_limits([{"layers": LAYERS}], CHARGED)
    assert limits is not None
    for layer in LAYERS:
        one = Decimal(layer["target_kg"])
        assert Decimal("28.662") - one < limits[0]
        assert Decimal("28.662") + one > limits[1]


def test_nobody_can_say_without_the_charges_or_the_recipe() -> None:
    assert mass_limits([{"layers": LAYERS}], None) is None
    assert mass_limits([{}], CHARGED) is None


def test_a_plate_bound_with_a_layer_missing_by_mass_is_held(cast: Cast) -> None:
    cast.moulding()
    cast.scan(Demould(mould="T430-01"))
    answer = cast.scan(Bind(mould="T430-01", plate=plate(1), mass="19.60"))
    assert (answer.outcome, answer.code) == ("flagged", "MASS-LIGHT")
    assert "28.67 kg were charged" in answer.what
    assert cast.scan(Pack(order=SO_RED, hulls=(plate(1),)), person=PACKER, expect="PACK-HELD").code == "PACK-HELD"


def test_a_recipe_that_says_its_flash_is_held_to_it(cast: Cast) -> None:
    found = rows_of("SELECT v.body FROM revision v JOIN resource r ON r.id = v.thing WHERE r.key = 'T430'")
    recipe = json.loads(found[0][0])
    recipe["mass"] = {"flash_kg": "0.20", "fittings_kg": "0.60"}
    cast.scan(Define(kind="product", key="T430", body=recipe), person="P-09")
    for n, mass, outcome in ((1, "28.20", "accepted"), (2, "28.10", "flagged"), (3, "29.60", "flagged")):
        cast.moulding()
        cast.scan(Demould(mould="T430-01"))
        assert cast.scan(Bind(mould="T430-01", plate=plate(n), mass=mass)).outcome == outcome, mass


@pytest.mark.parametrize(("typed", "fine"), [
    ("", True), ("28.60", True), ("0.5", True), ("0", False), ("0.00", False), ("-3", False), ("heavy", False),
])  # fmt: skip
def test_what_is_no_mass_is_said(typed: str, fine: bool) -> None:
    assert (mass_trouble(typed) == "") is fine


@pytest.mark.parametrize(("mass", "said"), [("28.6", "Inspected: passed; 28.6 kg"), ("", "Inspected: passed")])
def test_an_inspection_says_the_mass_that_was_read(mass: str, said: str) -> None:
    told: Any = SimpleNamespace(says={"verdict": "pass", "mass": mass})
    assert Inspect.told(told) == said
