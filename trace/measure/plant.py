"""A made-up plant's years of hulls: the shape of a rotational moulder's genealogy, seeded.

A hull of 60 kg takes 3 charges out of 12 bins; a bin flows first in, first out with a mixing band of 250
kg to either side, so a charge draws from 2.04 blends; a blend of about 500 kg comes from a silo mix, an
octabin, a pigment bag, an additive bag and 3-8 % regrind; a silo is filled with 20 t on its heel and
cleaned one time in ten. Inserts come in boxes of 500, graphics in rolls of 200, fitted parts in kits of
50; 4 hulls a pack, 12 packs a load. 2 % of the mouldings are scrap, 8 of them make a regrind lot. About 22
edges a hull.

1 % of the edges are recorded late, so that ids are out of order; 0.5 % are withdrawn and replaced.
"""

from trace.measure.records import MG, Records

HULL, CHARGE, BLEND, BAND = 60 * MG, 20 * MG, 500 * MG, 250 * MG
TONNE = 1000 * MG
MINUTES_A_HULL = 15
SCRAP = 0.02


class Source:
    """A stock that is replaced by a new lot in a new container when it runs out."""

    def __init__(self, records: Records, size: int) -> None:
        self.records, self.size, self.left = records, size, 0
        self.content = self.before = 0

    def take(self, amount: int) -> int:
        """The content that gives `amount` (one that runs out in between gives all of it)."""
        if self.left < amount:
            r = self.records
            lot = r.unit("lot")
            self.before, self.content = self.content, r.unit("content", self.size)
            r.edge(self.content, lot, "receive", self.size)
            self.left = self.size
        self.left -= amount
        return self.content


class Silo:
    """Deliveries of 20 t on the heel of the last; each mix is a content of its own."""

    def __init__(self, records: Records) -> None:
        self.records, self.left, self.content, self.before = records, 0, 0, 0

    def take(self, amount: int) -> int:
        r = self.records
        if self.left < 2 * TONNE:
            delivery = r.unit("content", 20 * TONNE)
            r.edge(delivery, r.unit("lot"), "receive", 20 * TONNE)
            heel = 0 if r.rng.random() < 0.1 else self.left
            mix = r.unit("content", 20 * TONNE + heel)
            if heel and self.content:
                r.edge(mix, self.content, "heel", heel)
            r.edge(mix, delivery, "topup", 20 * TONNE)
            self.before, self.content, self.left = self.content, mix, 20 * TONNE + heel
        self.left -= amount
        return self.content


class Bin:
    """Blends in a row; what lies within the mixing band of the outlet goes into a charge."""

    def __init__(self, plant: "Plant", silo: Silo) -> None:
        self.plant, self.silo = plant, silo
        self.blends: dict[int, int] = {}
        self.out = 0

    def blend(self, n: int) -> int:
        if n not in self.blends:
            plant, r = self.plant, self.plant.records
            made = r.unit("content", BLEND)
            back = int(BLEND * r.rng.uniform(0.03, 0.08)) if plant.regrind else 0
            parts: list[tuple[Silo | Source, int]] = [
                (self.silo, 300 * MG),
                (plant.pigment, MG),
                (plant.additive, 2 * MG),
            ]
            for source, much in parts:
                r.edge(made, source.take(much), "ingredient", much, other=source.before)
            rest = BLEND - back - sum(much for _, much in parts)
            r.edge(made, plant.octabin.take(rest), "ingredient", rest, other=plant.octabin.before)
            if back:
                lot = plant.regrind[0]
                plant.regrind_left -= back
                if plant.regrind_left <= 0:
                    plant.regrind.pop(0)
                    plant.regrind_left = 8 * HULL
                r.edge(made, lot, "ingredient", back)
            self.blends[n] = made
            self.blends.pop(n - 6, None)
        return self.blends[n]

    def draw(self, charge: int, layer: str) -> None:
        low, high = max(0, self.out - BAND), self.out + CHARGE + BAND
        self.out += CHARGE
        blends = [self.blend(n) for n in range(low // BLEND, high // BLEND + 1)]
        share = CHARGE // len(blends)
        mistaken = self.blends.get(low // BLEND - 1, 0)
        for n, blend in enumerate(blends):
            self.plant.records.edge(charge, blend, "draw", share, layer, other=0 if n else mistaken)


class Plant:
    """Makes hulls one after the other."""

    def __init__(self, seed: int) -> None:
        r = self.records = Records(seed)
        self.octabin = Source(r, 600 * MG)
        self.pigment = Source(r, 25 * MG)
        self.additive = Source(r, 25 * MG)
        self.inserts = [Source(r, 500) for _ in range(2)]
        self.graphics = Source(r, 200)
        self.kits = Source(r, 50)
        self.regrind: list[int] = []
        self.regrind_left = 8 * HULL
        self.bins = [[Bin(self, silo) for _ in range(4)] for silo in (Silo(r), Silo(r), Silo(r))]
        self.scrap: list[int] = []
        self.hulls: list[int] = []
        self.packed: list[int] = []
        self.packs: list[int] = []

    def make(self, count: int) -> None:
        r = self.records
        for n in range(count):
            r.now = n * MINUTES_A_HULL
            r.told_late()
            self._hull()
        r.now += 10**6
        r.told_late()

    def _hull(self) -> None:
        r = self.records
        load = r.unit("load")
        for layer, bins in zip(("skin", "foam", "inner"), self.bins, strict=True):
            charge = r.unit("charge", CHARGE)
            bins[r.rng.randrange(4)].draw(charge, layer)
            r.edge(load, charge, "charge", CHARGE, layer)
        for n, box in enumerate((*self.inserts, *self.inserts), 1):
            r.edge(load, box.take(1), "insert", 1, f"S{n}", other=box.before)
        for side in ("PORT", "STARBOARD"):
            r.edge(load, self.graphics.take(1), "graphic", 1, side)
        moulding = r.unit("moulding")
        r.edge(moulding, load, "cavity")
        if r.rng.random() < SCRAP:
            self.scrap.append(moulding)
            if len(self.scrap) == 8:
                lot = r.unit("regrind", 8 * HULL)
                for old in self.scrap:
                    r.edge(lot, old, "regrind", HULL)
                self.regrind.append(lot)
                self.scrap = []
            return
        hull = r.unit("hull")
        r.edge(hull, moulding, "bind")
        r.edge(hull, r.unit("plate"), "plate")
        r.edge(hull, self.kits.take(1), "fit", 1, "kit")
        self.hulls.append(hull)
        self.packed.append(hull)
        if len(self.packed) == 4:
            pack = r.unit("pack")
            for one in self.packed:
                r.edge(pack, one, "pack")
            self.packed = []
            self.packs.append(pack)
        if len(self.packs) == 12:
            truck = r.unit("consignment")
            for one in self.packs:
                r.edge(truck, one, "ship")
            self.packs = []
