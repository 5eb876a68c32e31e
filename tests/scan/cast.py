"""The floor's cast: the invented plant with a little stock of everything, told through record() on the clock of today.

Dates lie relative to today, so that the tests say the same on any day.
"""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from django.utils import timezone

from plant.credentials import set_pin
from plant.models import Person
from trace.demo import plant as invented
from trace.demo.floor import Shift, month_of
from trace.models import Label, Resource

PIN = "402917"
LATER = f"{datetime.now(UTC) + timedelta(days=300):%Y-%m-%d}"
EARLIER = f"{datetime.now(UTC) - timedelta(days=3):%Y-%m-%d}"
SERIALS = [f"GHM-T430-{n:06d}" for n in range(4411, 4431)]
OPERATOR, LEAD, STORES, QUALITY, WAREHOUSE, DEPUTY = "P-01", "P-03", "P-05", "P-06", "P-07", "P-10"


def month() -> str:
    return month_of(timezone.now())


@dataclass
class Plant:
    """Label codes by what they stand for; `shift` tells more through record()."""

    codes: dict[str, Any] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Any:
        return self.codes[name]

    @property
    def shift(self) -> Shift:
        return Shift(device="cast")


def tell() -> Plant:
    """Plant data, stock, tubs, plates; every person's PIN is PIN."""
    shift = Shift(device="cast")
    shift.set_up()
    for key, *_ in invented.PEOPLE:
        set_pin(Person.objects.get(key=key), PIN)
    stock = shift.stock
    codes: dict[str, Any] = {
        "red": stock("VERRIN", "LL-35 red", "V-2288", ("500.00",))[0],
        "red2": stock("VERRIN", "LL-35 red", "V-2291", ("100.00",))[0],
        "natural": stock("VERRIN", "LL-35", "V-2301", ("500.00",))[0],
        "foam": stock("DUNSAY", "FM-22", "F-118", ("25.00", "25.00"), expires=LATER)[0],
        "foam2": stock("DUNSAY", "FM-22", "F-119", ("250.00",), expires=LATER)[0],
        "m8": stock("MARROW", "M8-N", "N-0398", ("500",))[0],
        "m6": stock("MARROW", "M6-S", "N-0355", ("500",))[0],
        "side": stock("PELLAM", "TAMSIN-SIDE C", "G-77", ("200",), expires=LATER)[0],
        "side_b": stock("PELLAM", "TAMSIN-SIDE B", "G-60", ("20",), expires=LATER)[0],
        "capacity": stock("PELLAM", "CAPACITY A", "G-78", ("200",), expires=LATER)[0],
        "tubs": shift.carriers("tub", 4),
        "drops": shift.carriers("drop_box", 8),
        "vessel": shift.carriers("vessel", 1)[0],
        "boxes": shift.carriers("container", 2),
    }
    shift.check_scale()
    shift.check_scale("W-4")
    shift.plates("T430", SERIALS, month())
    labels = {label.resource_id: label.code for label in Label.objects.exclude(resource=None)}
    for thing in Resource.objects.all():
        if thing.pk in labels:
            codes[thing.key] = labels[thing.pk]
    return Plant(codes)


# What tests put in place before the station is asked, all of it through record().


def weigh_all(plant: Plant, n: int = 0, order: str = "WO-1041") -> list[str]:
    """Skin, foam and inner weighed for one hull; the tub and the two drop boxes."""
    tub, foam, inner = plant["tubs"][n], plant["drops"][2 * n], plant["drops"][2 * n + 1]
    shift = plant.shift
    shift.weigh(order, "skin", plant["red"], tub)
    shift.weigh(order, "foam", plant["foam2"], foam)
    shift.weigh(order, "inner", plant["natural"], inner)
    return [tub, foam, inner]


def load(plant: Plant, n: int = 0, mould: str = "T430-01", arm: str = "S1") -> None:
    """A whole load, closed."""
    tubs = weigh_all(plant, n)
    plant.shift.load(
        mould, "WO-1041", arm, tubs, [plant["m8"], plant["m6"]], [plant["side"], plant["side"], plant["capacity"]]
    )


def cook(plant: Plant, n: int = 0, mould: str = "T430-01", arm: str = "S1") -> None:
    """Loaded, cooked and cooled: it waits to be demoulded."""
    load(plant, n, mould, arm)
    plant.shift.cook([mould], arm)


def hull(plant: Plant, n: int = 0, mould: str = "T430-01", arm: str = "S1") -> str:
    """A hull with its plate."""
    cook(plant, n, mould, arm)
    plant.shift.demould_and_bind(mould, SERIALS[n])
    return SERIALS[n]


def passed(plant: Plant, n: int = 0) -> str:
    """A hull that passed its inspection."""
    serial = hull(plant, n)
    plant.shift.inspect(serial)
    return serial
