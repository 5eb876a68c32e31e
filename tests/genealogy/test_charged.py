"""How much was charged of a layer, as a cause: on random plants of which some weighings are missing, against what each
lost record may have said."""

from decimal import Decimal
from random import Random

import pytest

from tests.genealogy.graphs import KG, Drawing, day
from tests.genealogy.test_scope import bags
from tests.genealogy.test_sharing import verdicts
from trace.genealogy.cause_said import said_of
from trace.genealogy.causes import CauseError, Not, read_cause
from trace.genealogy.sharing import shared_by

pytestmark = pytest.mark.django_db
LAYERS = ("skin", "inner")


class Charges:
    """Hulls of one or two mouldings, each out of a load of up to two charges a layer. masses: by hull and layer what
    each of its loads had in grams, None where a record of that is lost."""

    def __init__(self, seed: int, hulls: int = 8) -> None:
        self.random = Random(seed)
        self.d = Drawing()
        self.masses: dict[tuple[str, str], list[int | None]] = {}
        self.n = 0
        bags(self.d, S=9_000)
        for n in range(hulls):
            self._hull(f"H{n}")
        self.d.save()

    def _hull(self, hull: str) -> None:
        d = self.d
        loads = [self._load(hull) for _ in range(self.random.choice((1, 1, 2)))]
        d.unit(hull, "hull")
        for load in loads:
            moulding = load.replace("L", "M", 1)
            d.unit(moulding, "moulding")
            d.edge(moulding, load, "cavity")
            d.edge(hull, moulding, "bind" if len(loads) == 1 else "join")

    def _load(self, hull: str) -> str:
        self.n += 1
        name = f"L{self.n}"
        self.d.unit(name, "load")
        for layer in LAYERS:
            masses = self.masses.setdefault((hull, layer), [])
            match self.random.choice(("charged", "charged", "charged twice", "weight lost", "lost", "none")):
                case "lost":
                    self.d.gap(name, "layer", layer)
                    masses.append(None)
                case "none":
                    pass
                case how:
                    grams = [self.random.randint(6_950, 7_050) for _ in range(1 + (how == "charged twice"))]
                    for mass in grams:
                        self._tip(name, layer, None if how == "weight lost" else mass)
                    masses.append(None if how == "weight lost" else sum(grams))
        return name

    def _tip(self, load: str, layer: str, grams: int | None) -> None:
        charge = f"C{len(self.d.edges)}"
        mg = None if grams is None else grams * KG // 1000
        self.d.unit(charge, "charge", mg)
        self.d.edge(charge, "s", "draw", mg)
        self.d.edge(load, charge, "charge", mg, layer=layer)

    def expected(self, hull: str, layer: str, low: int, high: int) -> str:
        masses = self.masses[hull, layer]
        if any(mass is not None and low <= mass <= high for mass in masses):
            return "certain"
        return "may" if None in masses else "cannot"


@pytest.mark.parametrize("seed", range(4))
def test_a_layer_of_as_much_is_certain_one_that_nobody_recorded_may_be(seed: int) -> None:
    plant = Charges(seed)
    opposite = {"certain": "cannot", "may": "may", "cannot": "certain"}
    hulls = sorted({hull for hull, _layer in plant.masses})
    for layer in LAYERS:
        for low, high in ((6_950, 7_000), (7_001, 7_050), (13_000, 15_000)):
            cause = read_cause([f"charged:{layer}={Decimal(low) / 1000}..{Decimal(high) / 1000}"])
            expected = {hull: plant.expected(hull, layer, low, high) for hull in hulls}
            assert verdicts(shared_by(cause), plant.d) == expected, (layer, low)
            assert verdicts(shared_by(Not(cause)), plant.d) == {h: opposite[v] for h, v in expected.items()}


def test_what_is_put_right_counts_from_when_it_was() -> None:
    d = Drawing()
    d.thing("product", "T430", {"layers": [{"name": "skin"}, {"name": "foam"}]})
    bags(d, S=100)
    d.unit("L1", "load")
    d.unit("M1", "moulding")
    d.unit("H1", "hull")
    d.unit("C1", "charge", 7 * KG)
    d.edge("C1", "s", "draw", 7 * KG)
    d.edge("L1", "C1", "charge", 7 * KG, layer="skin")
    d.edge("M1", "L1", "cavity")
    d.edge("H1", "M1", "bind")
    d.at(5).void("L1", "C1")
    d.unit("C2", "charge", 8 * KG)
    d.edge("C2", "s", "draw", 8 * KG)
    d.edge("L1", "C2", "charge", 8 * KG, layer="skin")
    d.at(6).gap("M1", "before records", "")
    d.save()
    seven = read_cause(["charged:skin=7"])
    assert [verdicts(shared_by(seven, day(n)), d)["H1"] for n in (1, 5, 6)] == ["certain", "cannot", "may"]
    (line,) = shared_by(seven, day(5)).lines
    assert line.why == "skin charged: 8.000 kg"
    assert shared_by(read_cause(["charged:foam=7"]), day(5)).lines[0].why == "no charge of foam is on record"


def test_of_which_layer_a_charge_was_nobody_said() -> None:
    d = Drawing()
    d.thing("product", "T430", {"layers": [{"name": "skin"}, {"name": "foam"}]})
    bags(d, S=100)
    d.unit("L1", "load")
    d.unit("H1", "hull")
    d.unit("C1", "charge", 7 * KG)
    d.edge("C1", "s", "draw", 7 * KG)
    d.edge("L1", "C1", "charge", 7 * KG)
    d.edge("H1", "L1", "bind")
    d.save()
    assert verdicts(shared_by(read_cause(["charged:skin=7"])), d) == {"H1": "may"}


def test_how_it_is_said_and_what_is_no_such_question() -> None:
    asked = read_cause(["charged:skin=12.1..12.3"])
    assert said_of(asked) == "had charged as skin 12.1 to 12.3 kg"
    with pytest.raises(CauseError, match="needs to be told of what: charged:NAME"):
        read_cause(["charged=12.."])
