"""Where units were put last, of a few and of many at once: on random packs and consignments, against plain Python."""

from datetime import datetime
from random import Random

import pytest

from tests.genealogy.graphs import Drawing, day
from trace.genealogy import places

pytestmark = pytest.mark.django_db


class Store:
    """Hulls that are placed, packed, sent and unpacked again, some of it recorded later than it happened."""

    def __init__(self, seed: int) -> None:
        self.random, self.drawing = Random(seed), Drawing()
        self.told: list[tuple[str, str, str, tuple[datetime, int], datetime]] = []
        d = self.drawing
        for kind, count in ("hull", 12), ("pack", 4), ("consignment", 2):
            for n in range(count):
                d.unit(f"{kind[0].upper()}{n}", kind)
        self._go_into([f"H{n}" for n in range(12)], ["P0", "P1", "P2", "P3", "C0"], "pack")
        self._go_into([f"P{n}" for n in range(4)], ["C0", "C1"], "ship")
        for name in d.units:
            for _ in range(self.random.randint(0, 3)):
                self._place(name)
        d.save()

    def _go_into(self, names: list[str], holders: list[str], role: str) -> None:
        for name in names:
            for holder in self.random.sample(holders, self.random.randint(0, 2)):
                self._some_day().edge(holder, name, role)
                if self.random.random() < 0.3:
                    self._some_day().void(holder, name)

    def _place(self, name: str) -> None:
        d = self._some_day()
        kind = self.random.choices(["dispatched", "moved", "returned"], [3, 6, 2 if name[0] == "H" else 0])[0]
        place = self.random.choice(["R1-1", "R2-2", *([] if kind == "returned" else ["gone: WHARFE", ""])])
        touches = [(name, "placed"), *([(name, "returned")] if kind == "returned" else [])]
        event = d.event(kind, {"places": [{"unit": d.units[name].uid, "place": place}]}, touches)
        self.told.append((name, kind, place, (d.now, event), d.recorded))

    def _some_day(self) -> Drawing:
        happened = self.random.randint(1, 5)
        return self.drawing.at(happened, recorded=happened + self.random.choice([0, 0, 3]))

    def where(self, name: str, known: datetime) -> str:
        """The place of a unit by what was told of it and of all that it is in; "" where that is nothing. Of one that
        came back, what was before that does not count."""
        d, inside, waiting = self.drawing, {name}, [name]
        returns = [(at, recorded) for unit, kind, _, at, recorded in self.told if (unit, kind) == (name, "returned")]
        back = max((at for at, recorded in returns if recorded <= known), default=None)
        while waiting:
            unit = d.id(waiting.pop())
            holders = {
                d.name(e.child) for e in d.live(known)
                if e.parent == unit and (back is None or (d.events[e.event - 1].happened, e.event) > back)
            } - inside  # fmt: skip
            inside |= holders
            waiting += holders
        told = [
            (kind == "dispatched", at, place)
            for unit, kind, place, at, recorded in self.told
            if unit in inside and recorded <= known and (back is None or at >= back)
        ]
        return max(told)[-1] if told else ""


@pytest.mark.parametrize("seed", range(12))
def test_many_units_are_where_a_few_are(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    if seed % 2:
        monkeypatch.setattr(places, "MANY", 0)
    store = Store(seed)
    units = store.drawing.units
    found = 0
    for n in range(1, 10):
        where = {name: store.where(name, day(n)) for name in units}
        told = places.places([node.id for node in units.values()], day(n))
        assert told == {units[name].id: place for name, place in where.items() if place}
        found += len(told)
    assert found > 30
