"""Random histories of carriers: made by seed, told to the product in any order with slips put right, and looked at."""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any

from tests.cast import LEAD, MORNING, QUALITY, WO_RED, Cast, rows_of
from tests.recording.plain_book import Act, Book, Share
from trace.codes import mg_to_kg
from trace.genealogy.answer import genealogy
from trace.recording.acts.corrections import Correct
from trace.recording.acts.counting import Count
from trace.recording.acts.holds import Hold
from trace.recording.acts.loading import ReadyMould, TipTub
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.commands import Command

KG = 1_000_000
CHARGE = 12_200_000
BEGIN = MORNING + timedelta(hours=6)
LOTS = {"A": "V-2288", "B": "V-2291"}


@dataclass
class Slip:
    """An act told otherwise than it was: what was said, put right afterwards. `gone`: put right to no source."""

    said: Act
    gone: bool = False


@dataclass
class History:
    """What truly happened, in order; `slips` by the number of the act; `telling` is the order of telling."""

    acts: list[Act]
    slips: dict[int, Slip] = field(default_factory=dict)
    telling: list[int] = field(default_factory=list)
    righting: list[int] = field(default_factory=list)
    held: str = ""
    hold_first: bool = False


def minute(n: float) -> datetime:
    return BEGIN + timedelta(minutes=n)


def history_of(seed: int) -> History:
    """A shift of two vessels K and L, two lots in bags A and B and a small bag C of A's lot, and its charges."""
    dice = random.Random(seed)
    acts: list[Act] = []
    tubs = iter(range(100))
    first = Act(minute(0), "topup", dice.choice("AB"), "K", dice.choice([12_200_000, 24_400_000, 24_300_000, 60 * KG]))
    acts.append(first)
    for at in range(1, dice.randint(5, 12)):
        acts += _one(dice, minute(at), tubs)
    history = History(acts, held=dice.choice(["", "A", "B"]), hold_first=dice.random() < 0.5)
    late = [dice.choice([0, 0, 0, 1.5, 3.5, 20]) for _ in acts]
    history.telling = sorted(range(len(acts)), key=lambda n: acts[n].at + timedelta(minutes=late[n]))
    if seed % 3 == 0:
        _slip(dice, history)
    return history


def _one(dice: random.Random, at: datetime, tubs: Any) -> list[Act]:
    what = dice.random()
    if what < 0.5:
        tub = f"T{next(tubs)}"
        weigh = Act(at, "weigh", dice.choice("KKKKLLAC"), tub, CHARGE)
        if what > 0.42:
            half = replace(weigh, amount=6_200_000, more=True)
            rest = replace(weigh, at=at + timedelta(seconds=20), source=dice.choice("KKLB"), amount=6_000_000)
            return [half, rest]
        return [weigh]
    if what < 0.73:
        amount = dice.choice([5 * KG, 12_200_000, 13_700_000, 30 * KG])
        return [Act(at, "topup", dice.choice("AABBC"), dice.choice("KKL"), amount)]
    if what < 0.83:
        source, into = dice.choice([("K", "L"), ("L", "K")])
        return [Act(at, "topup", source, into, dice.choice([5 * KG, 12_300_000]))]
    if what < 0.91:
        source = dice.choice("KKLAC")
        amounts = {"K": [0, 8 * KG, 20 * KG], "L": [0, 8 * KG], "A": [440 * KG, 470_500_000], "C": [0, 17 * KG]}
        return [Act(at, "count", source, "", dice.choice(amounts[source]))]
    return [Act(at, "empty", dice.choice("KL"))]


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
        if act.kind in ("weigh", "topup") and dice.random() < 0.4:
            source = dice.choice([x for x in "ABKL" if x != act.into] + [act.source])
            amount = act.amount if act.more or dice.random() < 0.5 else act.amount + dice.choice([-KG, KG])
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
        self.tubs = list(dict.fromkeys(a.into for a in history.acts if a.kind == "weigh"))
        self.codes = carriers.codes | dict(zip(self.tubs, carriers.tubs, strict=False))
        self.events: dict[int, str] = {}
        # What was known at some moments of the telling, by the charge asked about.
        self.known: dict[datetime, dict[str, dict[str, Share]]] = {}

    def told(self, *, remember: bool = False) -> None:
        """All of it in the order of telling, the slips first as they were said."""
        h = self.history
        if h.hold_first:
            self._hold()
        for told, n in enumerate(h.telling):
            self._tell(n, h.slips[n].said if n in h.slips else h.acts[n])
            if remember and told == len(h.telling) // 2:
                self._remember()
        if remember:
            self._remember()
        for n in h.righting:
            self._right(n)
        if not h.hold_first:
            self._hold()

    def in_order(self) -> None:
        """As it truly was, in the order in which it happened."""
        if self.history.hold_first:
            self._hold()
        for n, act in enumerate(self.history.acts):
            slip = self.history.slips.get(n)
            gone = slip is not None and slip.gone
            self._tell(n, slip.said if slip and gone else act)
            if gone:
                self._right(n)
        if not self.history.hold_first:
            self._hold()

    def _hold(self) -> None:
        if self.history.held:
            lot = LOTS[self.history.held]
            self.cast.scan(Hold(code=lot, rule="quality", reason="density query"), person=QUALITY)

    def _tell(self, n: int, act: Act) -> None:
        kg, code = str(mg_to_kg(act.amount)), self.codes[act.source]
        command: Command
        if act.kind == "weigh":
            command = Weigh(
                order=WO_RED, layer="skin", box=code, tub=self.codes[act.into], scale="W-3", gross=kg, part=act.more
            )
        elif act.kind == "topup":
            command = TopUp(source=code, into=self.codes[act.into], amount=kg, commingle=True)
        elif act.kind == "count":
            command = Count(box=code, amount=kg, reason="weighed")
        elif act.kind == "tip":
            command = TipTub(mould=act.into, tub=code)
        else:
            command = ProveEmpty(vessel=code)
        self.cast.late(command, act.at, person=LEAD)
        self.events[n] = str(rows_of("SELECT uid FROM event ORDER BY id DESC LIMIT 1")[0][0])

    def _right(self, n: int) -> None:
        said, act, gone = self.history.slips[n].said, self.history.acts[n], self.history.slips[n].gone
        amount = "" if gone or act.amount == said.amount else str(mg_to_kg(act.amount))
        now = "" if gone else self.codes[act.source]
        at = "" if act.at == said.at else act.at.isoformat()
        self.cast.scan(
            Correct(event=self.events[n], was=self.codes[said.source], now=now, amount=amount, at=at, reason="read"),
            person=LEAD,
        )  # fmt: skip

    def ready(self, mould: str) -> None:
        self.cast.late(ReadyMould(mould=mould, order=WO_RED, arm="S1"), BEGIN - timedelta(minutes=5))

    def _remember(self) -> None:
        self.known[self.cast.clock.now] = {uid: lots_in(uid) for uid in self.charges().values()}

    # -- what the product says ----------------------------------------------------------------------------------------

    def looked(self) -> dict[str, Any]:
        """All that has to be the same in whatever order it was told."""
        codes = list(self.codes.values())
        contents = {code: (status, left, amount) for code, status, left, amount in rows_of(CONTENTS, codes)}
        booked: dict[str, dict[str, int]] = {}
        for code, cause, amount in rows_of(BOOKED, codes):
            if amount:
                booked.setdefault(code, {})[cause] = int(amount)
        held = {code for (code,) in rows_of(HELD, codes)}
        gaps = {code for (code,) in rows_of(GAPS, codes)}
        over = {code for (code,) in rows_of(OVER, codes)}
        return {
            "carriers": {name: contents.get(code) for name, code in self.codes.items()},
            "differences": {name: booked.get(code, {}) for name, code in self.codes.items()},
            "bounds": {tub: lots_in(uid) for tub, uid in self.charges().items()},
            "held": {tub for tub in self.tubs if self.codes[tub] in held},
            "gaps": {tub for tub in self.tubs if self.codes[tub] in gaps},
            "over": {tub for tub in self.tubs if self.codes[tub] in over},
        }

    def charges(self) -> dict[str, str]:
        """The uid of the charge in each tub."""
        found = {code: str(uid) for code, uid in rows_of(CHARGES, [self.codes[tub] for tub in self.tubs])}
        return {tub: found[self.codes[tub]] for tub in self.tubs if self.codes[tub] in found}


CHARGES = """SELECT l.code::text, u.uid FROM label l JOIN carrier_state c ON c.carrier = l.carrier
  JOIN unit u ON u.id = c.content WHERE l.code = ANY (%s::text[])"""
# Status, balance and amount of what a carrier holds.
CONTENTS = """SELECT l.code::text, s.status, s.balance, u.amount
  FROM label l JOIN carrier_state c ON c.carrier = l.carrier JOIN unit u ON u.id = c.content
  JOIN unit_state s ON s.unit = u.id WHERE l.code = ANY (%s::text[])"""
# What was booked in all that a carrier ever held, by cause.
BOOKED = """SELECT l.code::text, d.cause, sum(d.amount) FROM label l JOIN unit u ON u.carrier = l.carrier
  JOIN difference d ON d.unit = u.id JOIN unit_state s ON s.unit = u.id
 WHERE l.code = ANY (%s::text[]) AND s.status <> 'made anew' GROUP BY 1, 2"""
# Charges under the hold that a person laid on the lot.
HELD = """SELECT DISTINCT l.code::text FROM label l JOIN carrier_state c ON c.carrier = l.carrier
  JOIN unit_hold x ON x.unit = c.content JOIN hold h ON h.id = x.hold
 WHERE l.code = ANY (%s::text[]) AND h.rule = 'quality'"""
# Charges held because what they came out of was empty, or did not hold so much, by the book.
OVER = """SELECT DISTINCT l.code::text FROM label l JOIN carrier_state c ON c.carrier = l.carrier
  JOIN unit_hold x ON x.unit = c.content JOIN hold h ON h.id = x.hold
 WHERE l.code = ANY (%s::text[]) AND h.rule IN ('OVERDRAW', 'SOURCE-EMPTY', 'SOURCE-USED-UP')"""
# Charges that, or something that went into them, are of a source that nobody recorded.
GAPS = """WITH RECURSIVE behind AS (
    SELECT l.code::text AS code, c.content AS id FROM label l JOIN carrier_state c ON c.carrier = l.carrier
     WHERE l.code = ANY (%s::text[])
    UNION SELECT b.code, e.parent FROM behind b JOIN edge e ON e.child = b.id AND NOT e.aside
     AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id))
  SELECT DISTINCT b.code FROM gap g JOIN behind b ON b.id = g.unit WHERE g.what = 'source'"""


def lots_in(uid: str, as_known_on: datetime | None = None) -> dict[str, Share]:
    """Lot -> its share, of the lots A and B that are or may be in a charge."""
    names = {lot: name for name, lot in LOTS.items()}
    found = {}
    for line in genealogy(uid, "back", as_known_on).lines:
        if line.node.kind == "lot" and line.node.lot_no in names:
            total = line.share.total
            found[names[line.node.lot_no]] = Share(
                total.least, total.best, total.most, certain=line.verdict == "certain"
            )
    return found


def wanted_bounds(book: Book, tub: str) -> dict[str, Share]:
    """The same by the plain reckoning."""
    charge = book.charges[tub]
    found = {}
    for lot in sorted(charge.lots()):
        share = book.share(charge, lot)
        if share.verdict != "cannot":
            best = None if share.best is None else Fraction(share.best)
            found[lot] = Share(share.least, best, share.most, certain=share.verdict == "certain")
    return found
