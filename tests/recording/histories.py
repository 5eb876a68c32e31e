"""Random histories of carriers: made by seed, told to the product in any order with slips put right, and looked at."""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any

from tests.cast import LEAD, MORNING, QUALITY, STORES, WO_RED, Cast, rows_of
from tests.recording.plain_book import Act, Book, Filling, Share, replayed
from trace.codes import mg_to_kg
from trace.genealogy.answer import Answer, genealogy
from trace.recording.acts.corrections import Correct
from trace.recording.acts.counting import Count
from trace.recording.acts.giving_back import GiveBack
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.holds import Hold
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.opening import OpeningStock
from trace.recording.acts.sampling import TakeSample
from trace.recording.acts.scrapping import ScrapStock
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.answers import Answer as Recorded
from trace.recording.commands import Command

KG = 1_000_000
CHARGE = 12_200_000
BEGIN = MORNING + timedelta(hours=6)
LOTS = {"A": "V-2288", "B": "V-2291", "X": "V-2299"}
MOULDS = ("T430-01", "T430-02")
LAYERS = ("skin", "inner")


@dataclass
class Slip:
    """An act told otherwise than it was: what was said, put right afterwards. `gone`: put right to no source."""

    said: Act
    gone: bool = False


@dataclass
class Delivery:
    """Two bags D and E that came before the shift and were booked as of lot `said`: it was `lot`, of both or of D only.
    opening: they stood there before the records, and each was booked for itself.
    """

    said: str
    lot: str
    only: bool
    opening: bool = False

    # In mg, by the bag.
    AMOUNTS = {"D": 50_000_000, "E": 20_000_000}

    def booked(self) -> dict[str, str]:
        """The lot that was said, by the bags that were booked together."""
        return dict.fromkeys("DE" if self.opening else ("DE",), self.said)

    def lots(self) -> dict[str, str]:
        return {"D": self.lot, "E": self.said if self.only else self.lot}


OF_LOT = -1  # in the order of righting: the delivery's lot number


@dataclass
class History:
    """What truly happened, in order; `slips` by the number of the act; `telling` is the order of telling."""

    acts: list[Act]
    delivery: Delivery | None = None
    slips: dict[int, Slip] = field(default_factory=dict)
    telling: list[int] = field(default_factory=list)
    righting: list[int] = field(default_factory=list)
    held: str = ""
    hold_first: bool = False


def minute(n: float) -> datetime:
    return BEGIN + timedelta(minutes=n)


def history_of(seed: int) -> History:
    """A shift of two vessels K and L, two lots in bags A and B and a small bag C of A's lot, now and then two bags of a
    delivery that waits in quarantine or was there before the records, its charges and the moulds they are tipped into.
    """
    dice = random.Random(seed)
    acts: list[Act] = []
    tubs = Tubs(dice)
    delivery = None
    if seed % 4 == 2:
        said, lot = dice.choice([("A", "B"), ("B", "A"), ("X", "A"), ("A", "X"), ("B", "B")])
        opening = dice.random() < 0.4
        delivery, tubs.bags = Delivery(said, lot, opening or dice.random() < 0.3, opening), "DE"
    first = Act(minute(0), "topup", dice.choice("AB"), "K", dice.choice([12_200_000, 24_400_000, 24_300_000, 60 * KG]))
    acts.append(first)
    for at in range(1, dice.randint(5, 12)):
        acts += _one(dice, minute(at), tubs)
    if seed % 3 != 1:
        acts = sorted([*acts, *_outs(random.Random(-seed - 1), acts)], key=lambda act: act.at)
    history = History(acts, delivery, held=dice.choice(["", "A", "B"]), hold_first=dice.random() < 0.5)
    late = [dice.choice([0, 0, 0, 1.5, 3.5, 20]) for _ in acts]
    history.telling = sorted(range(len(acts)), key=lambda n: acts[n].at + timedelta(minutes=late[n]))
    if seed % 3 == 0:
        _slip(dice, history)
    if delivery is not None and delivery.said != delivery.lot:
        history.righting.insert(dice.randint(0, len(history.righting)), OF_LOT)
    return history


def _outs(dice: random.Random, acts: list[Act]) -> list[Act]:
    """What is scrapped or returned between the acts of a shift: some or all of a bag, a vessel or a tub, also an empty
    one."""
    tubs = [act.into for act in acts if act.kind == "weigh"]
    found = []
    for n in range(dice.randint(1, 3)):
        at = minute(dice.randint(1, len(acts)) + 0.5 + n / 10)
        source = dice.choice([*"AKKLC", *(dice.sample(tubs, 1) if tubs else [])])
        role = dice.choice(["scrap", "return"]) if source in "AC" else "scrap"
        amount = dice.choice([0, 0, KG, 6_200_000, 13 * KG])
        found.append(Act(at, "out", source, role="sample" if amount == KG else role, amount=amount))
    return found


class Tubs:
    """The tubs of a shift: which are full, and which stand empty again; and the bags of its delivery."""

    def __init__(self, dice: random.Random) -> None:
        self.dice, self.next, self.bags = dice, 0, ""
        self.full: list[str] = []
        self.empty: list[str] = []

    def fill(self) -> str:
        """One to weigh into: a tipped one now and then, else a new one."""
        if self.empty and self.dice.random() < 0.5:
            tub = self.empty.pop()
        else:
            tub, self.next = f"T{self.next}", self.next + 1
        self.full.append(tub)
        return tub

    def tip(self) -> str:
        """One to tip: now and then one into which nothing was weighed."""
        if not self.full or self.dice.random() < 0.1:
            return f"T{self.next + 1}"
        tub = self.full.pop(self.dice.randrange(len(self.full)))
        self.empty.append(tub)
        return tub


def _one(dice: random.Random, at: datetime, tubs: Tubs) -> list[Act]:
    what = dice.random()
    if what < 0.12:
        return [Act(at, "tip", tubs.tip(), dice.choice(MOULDS))]
    if what < 0.5:
        weigh = Act(at, "weigh", dice.choice("KKKKLLAC" + tubs.bags), tubs.fill(), CHARGE, layer=dice.choice(LAYERS))
        if what > 0.42:
            half = replace(weigh, amount=6_200_000, more=True)
            rest = replace(weigh, at=at + timedelta(seconds=20), source=dice.choice("KKLB"), amount=6_000_000)
            return [half, rest]
        return [weigh]
    return [_of_vessels(dice, at, what, tubs.bags)]


def _of_vessels(dice: random.Random, at: datetime, what: float, bags: str) -> Act:
    if what < 0.73:
        amount = dice.choice([5 * KG, 12_200_000, 13_700_000, 30 * KG])
        return Act(at, "topup", dice.choice("AABBC" + 2 * bags), dice.choice("KKL"), amount)
    if what < 0.83:
        source, into = dice.choice([("K", "L"), ("L", "K")])
        return Act(at, "topup", source, into, dice.choice([400_000, 5 * KG, 12_300_000]))
    if what < 0.91:
        source = dice.choice("KKLAC")
        amounts = {"K": [0, 8 * KG, 20 * KG], "L": [0, 8 * KG], "A": [440 * KG, 470_500_000], "C": [0, 17 * KG]}
        return Act(at, "count", source, "", dice.choice(amounts[source]))
    return Act(at, "empty", dice.choice("KL"))


def _slip(dice: random.Random, history: History) -> None:
    """Some were told with another source, another amount, of another time, or are put right to no source at all."""
    parts = {act.into for act in history.acts if act.more}
    for n, act in enumerate(history.acts):
        if act.into not in parts and dice.random() < 0.2:
            at = max(act.at + timedelta(minutes=dice.choice([-3, -1, 1, 2, 4])), minute(-1)) + timedelta(seconds=15)
            history.slips[n] = Slip(replace(act, at=at))
            continue
        if act.kind == "count" and dice.random() < 0.4:
            history.slips[n] = Slip(replace(act, amount=act.amount + 2 * KG))
        if act.kind == "tip":
            other = dice.choice([a.into for a in history.acts if a.kind == "weigh"] or [act.source])
            if dice.random() < 0.3 and other != act.source:
                history.slips[n] = Slip(replace(act, source=other))
            continue
        if act.kind in ("weigh", "topup") and dice.random() < 0.4:
            source = dice.choice([x for x in "ABKL" if x != act.into] + [act.source])
            less = -KG if act.amount > KG else KG
            amount = act.amount if act.more or dice.random() < 0.5 else act.amount + dice.choice([less, KG])
            gone = dice.random() < 0.15
            if (source, amount) != (act.source, act.amount) or gone:
                said = act if gone else replace(act, source=source, amount=amount)
                history.slips[n] = Slip(said, gone)
    history.righting = list(history.slips)
    dice.shuffle(history.righting)
    history.acts = [
        replace(act, source="") if n in history.slips and history.slips[n].gone else act
        for n, act in enumerate(history.acts)
    ]


@dataclass
class Carriers:
    """The labels of the carriers that histories use, by the names that they have there."""

    codes: dict[str, str]
    tubs: list[str]


def carriers_of(cast: Cast) -> Carriers:
    """A small bag beside the cast's own stock, and empty tubs; a day later than all that is told of happened."""
    cast.clock.now = BEGIN - timedelta(hours=2)
    one, two = cast["vessels"]
    small = cast.shift.stock("VERRIN", "LL-35 red", LOTS["A"], ("25",))[0]
    tubs = cast.shift.carriers("tub", 14)
    cast.clock.now = BEGIN + timedelta(days=1)
    return Carriers({"A": cast["red"], "B": cast["red2"], "C": small, "K": one, "L": two}, tubs)


class Teller:
    """Tells acts to the product; `codes` are the labels by the names that the acts use."""

    def __init__(self, cast: Cast, history: History, carriers: Carriers | None = None) -> None:
        self.cast, self.history = cast, history
        carriers = carriers or carriers_of(cast)
        self.stock = {"A": ("A", 500 * KG), "B": ("B", 500 * KG), "C": ("A", 25 * KG)}
        of_tubs = [a for a in history.acts if a.kind in ("weigh", "tip")]
        tubs = [a.into if a.kind == "weigh" else a.source for a in of_tubs]
        self.tubs = list(dict.fromkeys(tubs))
        self.moulds = sorted({a.into for a in history.acts if a.kind == "tip"})
        self.codes = carriers.codes | dict(zip(self.tubs, carriers.tubs, strict=False))
        self.events: dict[int, str] = {}
        # What the bags of the delivery may be used as, all the time.
        self.free: dict[str, str] = {}
        if history.delivery is not None:
            as_what = "made before records" if history.delivery.opening else "quarantine"
            self.free = dict.fromkeys(Delivery.AMOUNTS, as_what)
            self.stock |= {bag: (lot, Delivery.AMOUNTS[bag]) for bag, lot in history.delivery.lots().items()}
        # What the records say happened, as far as it was told and put right so far, by the number of the act.
        self.said: dict[int, Act] = {}
        # What was known at some moments of the telling, by the charge asked about.
        self.known: dict[datetime, dict[str, dict[str, Share]]] = {}

    def told(self, *, remember: bool = False) -> None:
        """All of it in the order of telling, the slips first as they were said."""
        h = self.history
        self._begin(h.delivery.booked() if h.delivery else {})
        for told, n in enumerate(h.telling):
            self.tell(n, h.slips[n].said if n in h.slips else h.acts[n])
            if remember and told == len(h.telling) // 2:
                self._remember()
        if remember:
            self._remember()
        for n in h.righting:
            self.right(n) if n != OF_LOT else self._right_lot()
        if not h.hold_first:
            self._hold()

    def in_order(self) -> None:
        """As it truly was, in the order in which it happened."""
        self._begin(self.history.delivery.lots() if self.history.delivery else {})
        for n, act in enumerate(self.history.acts):
            slip = self.history.slips.get(n)
            gone = slip is not None and slip.gone
            self.tell(n, slip.said if slip and gone else act)
            if gone:
                self.right(n)
        if not self.history.hold_first:
            self._hold()

    def _begin(self, deliveries: dict[str, str]) -> None:
        """deliveries: of which lot each is booked, by its bags."""
        for mould in self.moulds:
            self.cast.late(ReadyMould(mould=mould, order=WO_RED, arm="S1"), BEGIN - timedelta(minutes=5))
        for bags, lot in deliveries.items():
            answer = self._deliver(bags, LOTS[lot])
            self.codes |= dict(zip(bags, answer.made["codes"], strict=True))
            if "D" in bags:
                self.events[OF_LOT] = newest()
        if self.history.hold_first:
            self._hold()

    def _deliver(self, bags: str, lot_no: str) -> Recorded:
        amounts = tuple(str(mg_to_kg(Delivery.AMOUNTS[bag])) for bag in bags)
        when, red = BEGIN - timedelta(minutes=20), "LL-35 red"
        if self.history.delivery is not None and self.history.delivery.opening:
            stock = OpeningStock(supplier="VERRIN", material=red, lot_no=lot_no, amount=amounts[0])
            return self.cast.late(stock, when, person=STORES, helper=LEAD)
        received = Receive(supplier="VERRIN", material=red, lot_no=lot_no, amounts=amounts)
        return self.cast.late(received, when, person=STORES)

    def _hold(self) -> None:
        if self.history.held:
            lot = LOTS[self.history.held]
            self.cast.scan(Hold(code=lot, rule="quality", reason="density query"), person=QUALITY)

    def tell(self, n: int, act: Act) -> None:
        kg, code = str(mg_to_kg(act.amount)), self.codes[act.source]
        command: Command
        if act.kind == "weigh":
            command = Weigh(
                order=WO_RED, layer=act.layer, box=code, tub=self.codes[act.into], scale="W-3", gross=kg, part=act.more
            )
        elif act.kind == "topup":
            command = TopUp(source=code, into=self.codes[act.into], amount=kg, commingle=True)
        elif act.kind == "count":
            command = Count(box=code, amount=kg, again=kg, reason="weighed")
        elif act.kind == "out":
            amount = kg if act.amount else ""
            if act.role == "sample":
                command = TakeSample(box=code, amount=amount)
            elif act.role == "return":
                command = GiveBack(box=code, amount=amount, everything=not act.amount, note_no="RN-1")
            else:
                command = ScrapStock(box=code, amount=amount, everything=not act.amount, cause="spilt")
        elif act.kind == "tip":
            command = TipTub(mould=act.into, tub=code)
        else:
            command = ProveEmpty(vessel=code)
        self.cast.late(command, act.at, person=LEAD)
        self.events[n] = newest()
        self.said[n] = act
        self._name_materials()

    def _right_lot(self) -> None:
        delivery, bag = self.history.delivery, self.codes["D"]
        assert delivery is not None
        command = Correct(
            event=self.events[OF_LOT], was=bag, now=bag, lot=LOTS[delivery.lot], only=delivery.only, reason="read"
        )
        self.cast.scan(command, person=LEAD)

    def right(self, n: int) -> None:
        said, act, gone = self.history.slips[n].said, self.history.acts[n], self.history.slips[n].gone
        amount = "" if gone or act.amount == said.amount else str(mg_to_kg(act.amount))
        now = "" if gone else self.codes[act.source]
        at = "" if act.at == said.at else act.at.isoformat()
        self.cast.scan(
            Correct(event=self.events[n], was=self.codes[said.source], now=now, amount=amount, at=at, reason="read"),
            person=LEAD,
        )  # fmt: skip
        # As the record was said, it named the material of what its source held by the records of that moment.
        named = self._named()
        self.said[n] = replace(act, material=n in named) if gone else act
        self._name_materials()

    def _name_materials(self) -> None:
        """What lies on something whose material is known has that written too, and keeps it."""
        if not all(act.material for act in self.said.values()):
            for n in self._named():
                self.said[n] = replace(self.said[n], material=True)

    def _named(self) -> set[int]:
        """The top-ups whose content has a material by all that the records say so far."""
        book = replayed(self.said.values(), self.stock, self.free)
        known = [filling.by for filling in book.every if filling.known]
        return {n for n, act in self.said.items() if any(act is one for one in known)}

    def happened(self) -> list[Act]:
        """What truly happened, with what the records kept of that of which nobody knows the source."""
        return [self.said[n] for n in range(len(self.history.acts))]

    def _remember(self) -> None:
        self.known[self.cast.clock.now] = {uid: lots_in(uid) for uid in self.made().values()}

    # -- what the product says ----------------------------------------------------------------------------------------

    def looked(self) -> dict[str, Any]:
        """All that has to be the same in whatever order it was told."""
        codes, made = list(self.codes.values()), self.made()
        contents = {code: (status, left, amount) for code, status, left, amount in rows_of(CONTENTS, codes)}
        lots = dict(rows_of(CONTENT_LOTS, codes))
        booked: dict[str, dict[str, int]] = {}
        for code, cause, amount in rows_of(BOOKED, codes):
            if amount:
                booked.setdefault(code, {})[cause] = int(amount)
        uids = list(made.values())
        held, gaps, over = ({str(uid) for (uid,) in rows_of(sql, uids)} for sql in (HELD, GAPS, OVER))
        answers = {name: genealogy(uid, "back") for name, uid in made.items()}
        return {
            "carriers": {name: contents.get(code) for name, code in self.codes.items()},
            "lots": {name: lots.get(code) for name, code in self.codes.items() if name not in self.tubs},
            "differences": {name: booked.get(code, {}) for name, code in self.codes.items()},
            "bounds": {name: lots_of(answer) for name, answer in answers.items()},
            "layers": {mould: layers_of(answers[mould]) for mould in self.moulds},
            "held": {name for name, uid in made.items() if uid in held},
            "gaps": {name for name, uid in made.items() if uid in gaps},
            "over": {name for name, uid in made.items() if uid in over},
        }

    def made(self) -> dict[str, str]:
        """The uids of all that was weighed into each tub, as "T0/0", "T0/1" …, and of the load in each mould."""
        found: dict[str, str] = {}
        by_tub: dict[str, list[str]] = {}
        for code, uid in rows_of(CHARGES, [self.codes[tub] for tub in self.tubs]):
            by_tub.setdefault(code, []).append(str(uid))
        for tub in self.tubs:
            found |= {f"{tub}/{n}": uid for n, uid in enumerate(by_tub.get(self.codes[tub], []))}
        return found | {mould: str(uid) for mould, uid in rows_of(LOADS, self.moulds)}


def newest() -> str:
    """The uid of the newest event."""
    return str(rows_of("SELECT uid FROM event ORDER BY id DESC LIMIT 1")[0][0])


CHARGES = """SELECT l.code::text, u.uid FROM label l JOIN carrier_log g ON g.carrier = l.carrier
  JOIN unit u ON u.id = g.content WHERE l.code = ANY (%s::text[]) ORDER BY g.since"""
LOADS = """SELECT r.key, u.uid FROM mould_state m JOIN resource r ON r.id = m.mould JOIN unit u ON u.id = m.load
 WHERE r.key = ANY (%s::text[])"""
# Status, balance and amount of what a carrier holds.
CONTENTS = """SELECT l.code::text, s.status, s.balance, u.amount
  FROM label l JOIN carrier_state c ON c.carrier = l.carrier JOIN unit u ON u.id = c.content
  JOIN unit_state s ON s.unit = u.id WHERE l.code = ANY (%s::text[])"""
# The lot number by which what a carrier holds goes.
CONTENT_LOTS = """SELECT l.code::text, u.lot_no FROM label l JOIN carrier_state c ON c.carrier = l.carrier
  JOIN unit u ON u.id = c.content WHERE l.code = ANY (%s::text[])"""
# What was booked in all that a carrier ever held, by cause.
BOOKED = """SELECT l.code::text, d.cause, sum(d.amount) FROM label l JOIN unit u ON u.carrier = l.carrier
  JOIN difference d ON d.unit = u.id JOIN unit_state s ON s.unit = u.id
 WHERE l.code = ANY (%s::text[]) AND s.status <> 'made anew' GROUP BY 1, 2"""
# Charges and loads under the hold that a person laid on the lot.
HELD = """SELECT DISTINCT u.uid FROM unit u JOIN unit_hold x ON x.unit = u.id JOIN hold h ON h.id = x.hold
 WHERE u.uid = ANY (%s::uuid[]) AND h.rule = 'quality'"""
OVER_THE_BOOK = ("OVERDRAW", "SOURCE-EMPTY", "SOURCE-USED-UP")
# Those held because what they came out of was empty, or did not hold so much, by the book. A hold names the first rule
# that spoke; the others stand in what is to be looked at.
OVER = f"""
SELECT DISTINCT u.uid FROM unit u JOIN unit_hold x ON x.unit = u.id JOIN hold h ON h.id = x.hold
 WHERE u.uid = ANY (%s::uuid[]) AND (h.rule IN {OVER_THE_BOOK} OR EXISTS (
   SELECT FROM discrepancy d WHERE d.unit = u.id AND d.kind IN {tuple(f"told, but: {rule}" for rule in OVER_THE_BOOK)}))
"""
# Those that, or something that went into them, are of a source that nobody recorded.
GAPS = """WITH RECURSIVE behind AS (
    SELECT u.uid, u.id FROM unit u WHERE u.uid = ANY (%s::uuid[])
    UNION SELECT b.uid, e.parent FROM behind b JOIN edge e ON e.child = b.id AND NOT e.aside
     AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id))
  SELECT DISTINCT b.uid FROM gap g JOIN behind b ON b.id = g.unit WHERE g.what IN ('source', 'charge')"""


def layers_of(load: Answer) -> dict[str, dict[str, Share]]:
    """Layer -> lot -> its share, of the lots, in a load."""
    names = {lot: name for name, lot in LOTS.items()}
    found: dict[str, dict[str, Share]] = {layer: {} for layer in LAYERS}
    for line in load.lines:
        if line.node.kind != "lot" or line.node.lot_no not in names:
            continue
        for layer, bounds in line.share.layers.items():
            share = Share(bounds.least, bounds.best, bounds.most, certain=bounds.verdict == "certain")
            if bounds.verdict != "cannot":
                found.setdefault(layer, {})[names[line.node.lot_no]] = share
    return found


def lots_in(uid: str, as_known_on: datetime | None = None) -> dict[str, Share]:
    """Lot -> its share, of the lots that are or may be in a charge."""
    return lots_of(genealogy(uid, "back", as_known_on))


def lots_of(answer: Answer) -> dict[str, Share]:
    names = {lot: name for name, lot in LOTS.items()}
    found = {}
    for line in answer.lines:
        if line.node.kind == "lot" and line.node.lot_no in names:
            total = line.share.total
            found[names[line.node.lot_no]] = Share(
                total.least, total.best, total.most, certain=line.verdict == "certain"
            )
    return found


def wanted_bounds(book: Book, filling: Filling) -> dict[str, Share]:
    """The same by the plain reckoning."""
    found = {}
    for lot in sorted(filling.lots()):
        share = book.share(filling, lot)
        if share.verdict != "cannot":
            best = None if share.best is None else Fraction(share.best)
            found[lot] = Share(share.least, best, share.most, certain=share.verdict == "certain")
    return found
