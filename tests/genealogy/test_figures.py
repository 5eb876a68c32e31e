"""Causes by figures, by checks of instruments and by shifts, on random plants of which some records are missing."""

from datetime import timedelta
from decimal import Decimal
from random import Random
from typing import Any

import pytest

from tests.genealogy.graphs import KG, START, Drawing, day
from tests.genealogy.test_scope import bags, charge, hull
from tests.genealogy.test_sharing import verdicts
from trace.genealogy.causes import Cause, Holds, Not, read_cause
from trace.genealogy.sharing import shared_by

pytestmark = pytest.mark.django_db
# A word, the kind of event that says it, the quantity, its unit and zone, and who it is said of: the load or the hull.
READ = {
    "peak": ("cook_ended", "peak internal air", "C", None, "L"),
    "demould-temperature": ("cooled", "at demould", "C", None, "L"),
    "oven-set": ("cook_started", "oven set", "C", None, None),
    "stage:drop 1": ("cook_stage", "drop 1", "C", None, "L"),
    "moulded-mass": ("bound", "as moulded", "kg", None, "H"),
    "hull-mass": ("inspected", "hull mass", "kg", None, "H"),
    "thickness:bow": ("inspected", "thickness", "mm", "bow", "H"),
}


class Read:
    """Hulls of one lot each: for each word and hull the figure that is on record, None where none is."""

    def __init__(self, seed: int, hulls: int = 6, *, whole: bool = False) -> None:
        self.random = Random(seed)
        self.d = Drawing()
        self.figures: dict[tuple[str, str], int | None] = {}
        self.whole = whole
        self.d.thing("product", "T430", {})
        for n in range(hulls):
            self._one(str(n))

    def _figure(self) -> int | None:
        return self.random.randint(200, 209) if self.whole or self.random.random() < 0.8 else None

    def _one(self, n: str) -> None:
        d, lot = self.d, "K" + n
        d.lot(lot, material="LL-35 red")
        d.content(lot.lower(), 25 * KG, material="LL-35 red")
        d.edge(lot.lower(), lot, "receive", 25 * KG)
        self._say("certificate:mfi", "H" + n, "certified", "mfi", "", None, lot)
        charge(d, "C" + n, (lot.lower(), 12 * KG))
        hull(d, n, ("C" + n, "skin"))
        for word, (kind, quantity, uom, zone, of) in READ.items():
            self._say(word, "H" + n, kind, quantity, uom, zone, None if of is None else of + n)

    def _say(
        self, word: str, of: str, kind: str, quantity: str, uom: str, zone: str | None, unit: str | None
    ) -> None:
        d, value = self.d, self._figure()
        self.figures[word, of] = value
        row = {
            "quantity": quantity, "value": str(value), "uom": uom, "zone": zone, "instrument": None,
            "unit": d.units[unit].uid if unit else None,
        }  # fmt: skip
        role = {"certified": "certified", "bound": "read", "inspected": "read"}.get(kind, "cooked")
        rows: dict[str, Any] = {} if value is None else {"readings": [row]}
        d.event(kind, rows, [(unit or "L" + of.removeprefix("H"), role)])

    def expected(self, word: str, low: int, high: int) -> dict[str, str]:
        found = {}
        for (said, name), value in self.figures.items():
            if said == word:
                found[name] = "may" if value is None else "certain" if low <= value <= high else "cannot"
        return found


def asked(cause: Cause, d: Drawing) -> dict[str, str]:
    return verdicts(shared_by(cause), d)


@pytest.mark.parametrize("seed", range(3))
def test_a_figure_in_the_range_is_certain_a_missing_one_may_be_in_it(seed: int) -> None:
    plant = Read(seed)
    plant.d.save()
    opposite = {"certain": "cannot", "may": "may", "cannot": "certain"}
    for word in ("certificate:mfi", *READ):
        low = plant.random.randint(200, 205)
        cause = read_cause([f"{word}={low}..{low + 3}"])
        expected = plant.expected(word, low, low + 3)
        assert asked(cause, plant.d) == expected, word
        assert asked(Not(cause), plant.d) == {name: opposite[verdict] for name, verdict in expected.items()}


@pytest.mark.parametrize("seed", range(2))
def test_one_record_removed_at_random_turns_its_hull_to_may(seed: int) -> None:
    words = ("certificate:mfi", *READ)
    plant = Read(seed, hulls=3, whole=True)
    word, name = plant.random.choice(words), f"H{plant.random.randrange(3)}"
    # The event stays, its figure goes.
    n = list(plant.figures).index((word, name))
    [e for e in plant.d.events if "readings" in e.rows][n].rows = {}
    plant.d.save()
    for other in words:
        found = asked(read_cause([f"{other}=200..209"]), plant.d)
        gone = {name: "may"} if other == word else {}
        assert found == {"H0": "certain", "H1": "certain", "H2": "certain", **gone}, (word, other)


def test_a_figure_put_right_counts_from_when_it_was() -> None:
    plant = Read(1, hulls=1, whole=True)
    peak = next(e for e in plant.d.events if e.kind == "cook_ended")
    plant.d.at(5).event("reading_corrected", {"readings_righted": [{"event": str(peak.uid), "n": 0, "value": "219"}]})
    plant.d.at(6).event("reading_corrected", {"readings_righted": [{"event": str(peak.uid), "n": 0, "value": None}]})
    plant.d.save()
    high = read_cause(["peak=215.."])
    told = [verdicts(shared_by(high, day(n)), plant.d)["H0"] for n in (1, 5, 6)]
    assert told == ["cannot", "certain", "may"]
    (line,) = shared_by(high, day(5)).lines
    assert line.why == "read: 219 °C"
    assert shared_by(high, day(5)).lines == shared_by(high, day(5)).lines


def test_how_long_a_cook_took_and_whether_it_was_stopped() -> None:
    d = Drawing()
    bags(d, S=25)
    for n in "123":
        charge(d, "C" + n, ("s", 7 * KG))
        hull(d, n, ("C" + n, "skin"))
    for n, minutes in (("1", 21), ("2", 35)):
        d.event("cook_started", {}, [("L" + n, "cooked")])
        d.now = START + timedelta(minutes=minutes)
        d.event("cook_ended", {}, [("L" + n, "cooked")])
        d.now = START
    d.event("cook_started", {}, [("L3", "cooked")])
    d.gap("L3", "stop length", "08:10")
    stop = {"quantity": "stopped", "value": "7", "uom": "min", "zone": None, "unit": d.units["L1"].uid}
    d.event("cook_stage", {"readings": [stop]}, [("L1", "cooked")])
    d.save()
    assert asked(read_cause(["cook-time=30.."]), d) == {"H1": "cannot", "H2": "certain", "H3": "may"}
    assert asked(read_cause(["stopped=5.."]), d) == {"H1": "certain", "H2": "cannot", "H3": "may"}
    assert asked(read_cause(["cooling-time=5.."]), d) == {"H1": "may", "H2": "may", "H3": "may"}


def scales(seed: int) -> tuple[Drawing, list[tuple[int, bool]], dict[str, int]]:
    """Hulls weighed on W-3 on some days, and check-weights of it at noons between."""
    random = Random(seed)
    d = Drawing()
    d.thing("instrument", "W-3", {})
    bags(d, S=500)
    weighed: dict[str, int] = {}
    checks = sorted((n, random.random() < 0.6) for n in random.sample(range(1, 20), 6))
    for n in range(6):
        at = random.randint(1, 20)
        weighed[f"H{n}"] = at
        d.at(at)
        charge(d, f"C{n}", ("s", 7 * KG))
        hull(d, str(n), (f"C{n}", "skin"))
        d.act("weighed", f"C{n}", scale="instrument:W-3")
    for at, passed in checks:
        event = d.at(at + 0.5).event("check_weighed", {"instruments": [{"instrument": "W-3", "passed": passed}]})
        d.used.append((event, "checked", "instrument", "W-3"))
    return d, checks, weighed


@pytest.mark.parametrize("seed", range(4))
def test_what_was_weighed_since_the_last_good_check_and_before_the_next(seed: int) -> None:
    d, checks, weighed = scales(seed)
    d.save()
    before = 10
    passed = [at for at, good in checks if good]
    since = max((at for at in passed if at + 0.5 <= before), default=-1)
    until = min((at for at in passed if at + 0.5 > before), default=99)
    cause = read_cause(["since-check=W-3", f"before={day(before).isoformat()}"])
    expected = {name: "certain" if since < at <= until else "cannot" for name, at in weighed.items()}
    assert asked(cause, d) == expected
    gaps = [gap.said for gap in shared_by(cause).gaps]
    assert any("No good check of W-3" in said for said in gaps) == (since == -1)


def test_a_least_amount_is_certain_only_when_the_least_is_at_or_above_it() -> None:
    d = Drawing()
    d.lot("S")
    d.content("s", 100 * KG)
    d.edge("s", "S", "receive", 100 * KG)
    bags(d, T=100)
    d.content("mix", 20 * KG)
    d.edge("mix", "s", "topup", 15 * KG)
    d.edge("mix", "t", "topup", 5 * KG)
    for n, source, much in (("1", "s", 12), ("2", "s", 3), ("3", "mix", 12), ("4", "t", 12)):
        charge(d, "C" + n, (source, much * KG))
        hull(d, n, ("C" + n, "skin"))
    d.save()
    any_much = {"H1": "certain", "H2": "certain", "H3": "certain", "H4": "cannot"}
    assert asked(Holds("S"), d) == any_much
    answer = shared_by(Holds("S", "", Decimal(8)))
    # Of 12 kg out of the mix at least 7 and at most 12 are of S.
    assert verdicts(answer, d) == {"H1": "certain", "H2": "cannot", "H3": "may", "H4": "cannot"}
    assert answer.any_much == {answer.cause: {"certain": 3, "may": 0, "cannot": 1}}
    assert asked(Holds("S", "skin", Decimal(7)), d)["H3"] == "certain"


def test_a_shift_is_the_plant_s_own() -> None:
    d = Drawing()
    d.thing("setting", "shifts", {"value": [
        {"name": "Early", "starts": "06:00"}, {"name": "Late", "starts": "14:00"}, {"name": "Night", "starts": "22:00"},
    ]})  # fmt: skip
    d.thing("product", "T430", {})
    bags(d, S=100)
    for n, at in (("1", 1.0), ("2", 1.5), ("3", 1.75)):  # 08:00, 20:00 and 02:00 in winter
        d.at(at)
        charge(d, "C" + n, ("s", 7 * KG))
        hull(d, n, ("C" + n, "skin"))
    d.unit("OLD", "hull", about={"made": "2025"})
    d.save()
    by_shift = [asked(read_cause([f"shift={name}"]), d) for name in ("Early", "Late", "Night")]
    assert [sorted(name for name, verdict in one.items() if verdict == "certain") for one in by_shift] == [
        ["H1"], ["H2"], ["H3"],
    ]  # fmt: skip
    assert {one["OLD"] for one in by_shift} == {"may"}


def test_a_recipe_a_colour_and_a_cavity_are_read_off_the_hull() -> None:
    d = Drawing()
    d.thing("product", "T430", {})
    d.thing("product", "H320", {})
    made = {"product": "T430", "recipe": 3, "colour": "red", "cavity": "1"}
    d.unit("A", "hull", about=made)
    d.unit("B", "hull", about={**made, "recipe": 4, "cavity": "2"})
    d.unit("C", "hull", about={"product": "T430"})
    for part in ("P", "Q"):
        d.unit(part, "moulding")
        d.edge("A", part, "join")
    d.save()
    assert asked(read_cause(["recipe=T430/3"]), d) == {"A": "certain", "B": "cannot", "C": "may"}
    assert asked(read_cause(["recipe=H320/1"]), d) == {"A": "cannot", "B": "cannot", "C": "cannot"}
    # Joined of two mouldings, of which it names the first one's cavity.
    assert asked(read_cause(["cavity=2"]), d) == {"A": "may", "B": "certain", "C": "may"}
    assert asked(read_cause(["colour=red"]), d) == {"A": "certain", "B": "certain", "C": "may"}
