"""What is moulded when: every cook of the year with its day, shift, arm and works order."""

from collections import defaultdict
from dataclasses import dataclass
from random import Random

from trace.demo.season.incidents import (
    DRIFT,
    FIRST_OFF,
    PAPER_DAY,
    REFURBISHED,
    SCALE_FOUND,
    SCALE_LOW,
    SUSPECT_INSERTS,
)
from trace.demo.season.year import EARLY, LATE, NIGHT, NIGHTS, STARTS, Year

# Of 600 mouldings: how many each mould makes; a spider makes four at once.
MOULDINGS = {
    "T430-01": 78, "T430-02": 88, "T370-01": 112, "H320-01": 36, "H320-02": 34, "LID-01": 6, "spider": 248,
}  # fmt: skip
WHOLE = sum(MOULDINGS.values())
SPIDERS = (tuple(f"B60-0{n}" for n in range(1, 5)), tuple(f"B60-0{n}" for n in range(5, 9)))
COLOURS = {
    "T430": ("red", "teal", "red", "lime"), "T370": ("teal", "red"), "H320": ("lime", "red"), "B60": ("red", "lime"),
    "LID": ("red", "teal"),
}  # fmt: skip
ORDER_SIZE = {"T430": 14, "T370": 14, "H320": 9, "B60": 28, "LID": 6}


@dataclass(frozen=True)
class Cook:
    """One cook: these moulds on this arm, for this works order, on a day of the story and a shift of it."""

    day: int
    shift: str
    moulds: tuple[str, ...]
    arm: str
    product: str
    colour: str
    order: str
    number: int
    purpose: str = "production"

    @property
    def oven(self) -> str:
        return "OVEN-1" if self.arm.startswith("A") else "OVEN-2"


def plan(year: Year, rng: Random, mouldings: int = WHOLE) -> list[Cook]:
    """All cooks of the year, in order. `mouldings`: about so many, in the same proportions."""
    days, paper = year.working_days(), year.day_from(PAPER_DAY)
    arms: dict[tuple[str, int], str] = {}
    found: list[tuple[int, str, tuple[str, ...], str]] = []
    for mould, of_whole in MOULDINGS.items():
        each = 4 if mould == "spider" else 1
        for day in _days(rng, mould, days, max(1, round(of_whole * mouldings / WHOLE / each)), paper):
            shift = _shift(rng, mould, day)
            if mould == "spider":
                moulds, arm = _spider(rng, day)
            else:
                # A long mould stays on its arm all day; the second arm is everybody's favourite.
                moulds, arm = (mould,), arms.setdefault((mould, day), rng.choices(("S1", "S2"), (0.38, 0.62))[0])
            found.append((day, shift, moulds, arm))
    found.sort(key=lambda one: (one[0], list(STARTS).index(one[1])))
    cooks = _ordered(found)
    trial = Cook(
        year.day_from(FIRST_OFF), EARLY, ("T430-02",), "S2", "T430", "teal", "WO-2099", len(cooks), "trial"
    )  # fmt: skip
    return sorted([*cooks, trial], key=lambda cook: (cook.day, list(STARTS).index(cook.shift)))


def _days(rng: Random, mould: str, days: list[int], count: int, paper: int) -> list[int]:
    """Days on which this mould is used, one entry for each cook; some days twice."""
    weights = [_weight(mould, day, paper) for day in days]
    chosen: list[int] = []
    used: dict[int, int] = defaultdict(int)
    while len(chosen) < count:
        day = rng.choices(days, weights)[0]
        if used[day] < (2 if rng.random() < 0.25 else 1):
            used[day] += 1
            chosen.append(day)
    return chosen


def _weight(mould: str, day: int, paper: int) -> float:
    if day == paper and mould[0] == "T":
        return 50.0
    if mould == "T430-02":
        # Away for its refurbishment; new again, it is the mould that everybody takes.
        return 0.0 if day in REFURBISHED else 2.1 if day in SUSPECT_INSERTS else 1.0
    if SCALE_LOW <= day < SCALE_FOUND and mould != "spider":
        return 2.2
    if mould == "spider":
        return 1.5 if day in DRIFT else 1.0
    return 1.3 if mould == "T430-01" and day in REFURBISHED else 1.0


def _shift(rng: Random, mould: str, day: int) -> str:
    nights = (0.5 if mould == "T430-02" and day in SUSPECT_INSERTS else 0.3) if day in NIGHTS else 0.0
    return rng.choices((EARLY, LATE, NIGHT), ((1 - nights) * 0.55, (1 - nights) * 0.45, nights))[0]


def _spider(rng: Random, day: int) -> tuple[tuple[str, ...], str]:
    arm = rng.choices(("A1", "A2", "A3"), (0.16, 0.12, 0.72) if day in DRIFT else (0.4, 0.4, 0.2))[0]
    return SPIDERS[0 if arm == "A1" else 1 if arm == "A2" else rng.randrange(2)], arm


def _ordered(found: list[tuple[int, str, tuple[str, ...], str]]) -> list[Cook]:
    """Each cook with its works order: orders of a product follow one another, each of one colour."""
    cooks: list[Cook] = []
    made: dict[str, int] = defaultdict(int)
    numbers: dict[tuple[str, int], str] = {}
    for day, shift, moulds, arm in found:
        product = moulds[0].rsplit("-", 1)[0]
        batch = made[product] // ORDER_SIZE[product]
        made[product] += len(moulds)
        order = numbers.setdefault((product, batch), f"WO-{2101 + len(numbers)}")
        colours = COLOURS[product]
        cooks.append(
            Cook(day, shift, moulds, arm, product, colours[batch % len(colours)], order, len(cooks))
        )
    return cooks
