"""A plain reckoning of carriers and of the kilograms of each lot, from nothing but what truly happened.

It shares no code with the product and knows neither events nor edges. Acts are replayed in the order in which they
happened, by the everyday rules of the floor: what enters a carrier that was not proved empty lies on what was left in
it; a container may hold a little more than its label says; what was counted stands; what is proved empty is empty.

How much of a lot is in a draw follows from conservation of mass alone. A filling of T holds s of the lot. A draw of d
takes at most min(d, s), and at least d - (T - s), because there is no more of anything else: the bounds of Fréchet
(1951) for a table of two rows with given margins. Fully mixed, it takes d x s / T. What was found over the book may
have been of any of the lots.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction

TOLERANCE = Fraction(2, 100)  # the share of a fill by which a container of the invented plant may hold more
UNKNOWN = "?"


@dataclass
class Act:
    """What truly happened. kind: topup, weigh, count, empty, tip, out. Amounts in mg; of what goes out 0 is all.

    source: the carrier that is taken from, counted, emptied or tipped ("" where nobody knows). into: the carrier that
    is filled, the tub that is weighed into, the mould that is tipped into. more: another bag follows into the same
    tub. layer: what is weighed is for. role: as what it goes out.
    """

    at: datetime
    kind: str
    source: str
    into: str = ""
    amount: int = 0
    more: bool = False
    layer: str = "skin"
    role: str = "scrap"
    material: bool = True


@dataclass(frozen=True)
class Share:
    """Of one lot: at least, fully mixed and at most so many mg (None: nobody can say); whether it is all of it."""

    least: int
    best: Fraction | None
    most: int | None
    certain: bool
    pure: bool = False

    @property
    def verdict(self) -> str:
        return "certain" if self.certain or self.least > 0 else "cannot" if self.most == 0 else "may"


NONE = Share(0, Fraction(0), 0, certain=False)


@dataclass
class Part:
    """What went into a filling: out of another one, or unknown (None). amount None: a rest that nobody weighed."""

    of: Filling | None
    amount: int | None


@dataclass
class Filling:
    """What a carrier held between two fillings; a delivery is all of one `lot`."""

    amount: int
    lot: str = ""
    parts: list[Part] = field(default_factory=list)
    balance: int = 0
    drawn: int = 0
    gains: int = 0
    losses: int = 0
    # What the book itself found, which is found once only.
    found: int = 0
    differences: list[tuple[str, int]] = field(default_factory=list)
    more: bool = False
    layer: str = ""
    # Whether its material is known: how much more than its label says a bag may hold goes by that.
    known: bool = True
    # The top-up that made it.
    by: Act | None = None
    # The lot by which it goes: all that is in it by the book is of that; "" for a mix.
    named: str = ""
    # What it may be used as while it is in use, and how it stands.
    free: str = "released"
    status: str = ""

    def __post_init__(self) -> None:
        self.balance = self.amount
        self.status = self.status or self.free
        self.named = self.named or self.lot

    def differs(self, cause: str, by: int) -> None:
        if not by and cause != "counted":
            return
        self.balance += by
        self.differences.append((cause, by))
        self.gains += max(by, 0)
        self.losses += min(by, 0)
        if cause == "fill difference":
            self.found += by

    def room(self) -> int:
        """What more a container may hold than its label says, as far as it was not found in it already."""
        return max(0, int(self.amount * TOLERANCE) - self.found) if self.known else 0

    def let_out(self, amount: int) -> None:
        short = amount - self.balance
        # Where somebody has counted that nothing is in it, nothing more is in it than its label says either.
        counted_out = self.balance <= 0 and self.differences[-1:] and self.differences[-1][0] == "counted"
        self.balance -= amount
        self.drawn += amount
        if 0 < short <= self.room() and not counted_out:
            self.differs("fill difference", min(short, amount))
        if self.balance <= 0 and self.status != "given back":
            self.status = "used up"

    def over(self) -> int:
        return self.gains + max(0, self.drawn - self.amount - self.gains - self.losses)

    def unknown(self) -> bool:
        """Whether the source of any of it is not recorded."""
        return any(p.of is None or p.of.unknown() for p in self.parts)

    def before_records(self) -> bool:
        """Whether any of it stood there before the records: of what lots that was, nobody is sure."""
        own = bool(self.lot) and self.free == "made before records"
        return own or any(p.of is not None and p.of.before_records() for p in self.parts)

    def lots(self) -> set[str]:
        own = {self.lot} if self.lot else set()
        return own.union(*(p.of.lots() for p in self.parts if p.of is not None))


@dataclass
class Book:
    """`now`: what each carrier holds. `loads`: what was tipped into each mould, with its kilograms (None: nobody knows
    what)."""

    now: dict[str, Filling | None] = field(default_factory=dict)
    every: list[Filling] = field(default_factory=list)
    loads: dict[str, list[Part]] = field(default_factory=dict)
    fillings: dict[str, list[Filling]] = field(default_factory=dict)
    # What went out of each carrier for good.
    gone: dict[str, int] = field(default_factory=dict)

    def fill(self, carrier: str, filling: Filling) -> None:
        self.every.append(filling)
        self.fillings.setdefault(carrier, []).append(filling)
        self.now[carrier] = filling

    def rest(self, carrier: str) -> tuple[list[Part], int]:
        """What is left in a carrier lies under what comes in: by the book so much, and never nothing for certain."""
        before = self.now.get(carrier)
        if before is None:
            return [], 0
        left = max(before.balance, 0)
        before.balance -= left
        before.drawn += left
        before.status = "topped up"
        return [Part(before, left or None)], left

    def topup(self, act: Act) -> None:
        source, before = self.now.get(act.source), self.now.get(act.into)
        free = [f.free for f in (source, before if before is not None and before.balance > 0 else None) if f]
        rest, left = self.rest(act.into)
        if source is not None:
            source.let_out(act.amount)
        # The worst stands; what lies on something released is that. Else it is what was added: stock from before the
        # records, or nobody knows.
        own = source.free if source is not None else "unknown"
        mixed = next((status for status in ("quarantine", "released") if status in free), own)
        named = source.named if source else ""
        named = "" if left and before is not None and before.named != named else named
        parts = [*rest, Part(source, act.amount)]
        # What came out of an empty vessel may be anything; where only the vessel is not known, its material is, if the
        # records ever named one: whoever strikes out a source says nothing of the material that was written then.
        own_known = source.known if source is not None else not act.source and act.material
        known = own_known or bool(left and before and before.known)
        filling = Filling(left + act.amount, parts=parts, free=mixed, named=named, known=known, by=act)
        self.fill(act.into, filling)

    def weigh(self, act: Act) -> None:
        source = self.now.get(act.source)
        before = self.now.get(act.into)
        rest, left = self.rest(act.into) if before is not None and before.more else ([], 0)
        if source is not None:
            source.let_out(act.amount)
        status = "part weighed" if act.more else "weighed"
        charge = Filling(left + act.amount, parts=[*rest, Part(source, act.amount)], more=act.more, status=status)
        charge.layer = act.layer
        self.fill(act.into, charge)

    def count(self, act: Act) -> None:
        filling = self.now.get(act.source)
        if filling is None:
            return
        filling.differs("counted", act.amount - filling.balance)
        filling.status = filling.free if act.amount else "used up"

    def empty(self, act: Act) -> None:
        filling = self.now.get(act.source)
        if filling is not None and filling.balance:
            within = abs(filling.balance) <= filling.room()
            filling.differs("fill difference" if within else "not found when emptied", -filling.balance)
        if filling is not None:
            filling.status = "used up"
        self.now[act.source] = None

    def tip(self, act: Act) -> None:
        charge = self.now.get(act.source)
        if charge is not None and charge.balance <= 0:
            charge = None  # nothing of it was left: nobody knows what was tipped
        tipped = Part(charge, charge.balance or None if charge is not None else None)
        self.loads.setdefault(act.into, []).append(tipped)
        if charge is not None:
            charge.drawn += charge.balance
            charge.balance = 0
            charge.status = "tipped"
        self.now[act.source] = None

    def out(self, act: Act) -> None:
        """So much leaves the plant's powder for good, or all that is left: of a tub, that stands empty then."""
        filling = self.now.get(act.source)
        if filling is not None:
            amount = act.amount or max(filling.balance, 0)
            self.gone[act.source] = self.gone.get(act.source, 0) + amount
            if amount:
                filling.let_out(amount)
                if act.role == "return" and filling.balance <= 0:
                    filling.status = "given back"
        if not act.amount and act.source.startswith("T"):
            self.now[act.source] = None

    def load(self, mould: str, layer: str = "") -> Filling:
        """All that was tipped into a mould, or what of it was for one layer, as one filling."""
        parts = [p for p in self.loads.get(mould, []) if not layer or (p.of is not None and p.of.layer == layer)]
        return Filling(sum(p.amount or 0 for p in parts), parts=parts)

    def share(self, filling: Filling, lot: str) -> Share:
        if filling.lot:
            own = Share(filling.amount, Fraction(filling.amount), filling.amount, certain=True, pure=True)
            return own if filling.lot == lot else NONE
        parts = [(self.passed(p, lot), p) for p in filling.parts]
        least = sum(s.least for s, _ in parts)
        best = Fraction(0)
        known = all(s.best is not None for s, _ in parts)
        best = sum((s.best or Fraction(0) for s, _ in parts), Fraction(0))
        top = None if any(s.most is None for s, _ in parts) else sum(s.most or 0 for s, _ in parts)
        # All of one lot, whatever each part of it was.
        pure = all(s.pure for s, _ in parts) and any(p.amount is not None for _, p in parts)
        ever = sum(f.amount for f in self.every if f.lot == lot) + sum(f.over() for f in self.back(filling))
        most = min(x for x in (top, ever, filling.amount + filling.over()) if x is not None)
        least = min(least, most)
        if pure:
            return Share(filling.amount, Fraction(filling.amount), most, certain=True, pure=True)
        mixed = min(max(best, Fraction(least)), Fraction(most)) if known else None
        return Share(least, mixed, most, certain=least > 0 or any(s.certain for s, _ in parts))

    def passed(self, part: Part, lot: str) -> Share:
        """Of one lot in what one filling gave to another."""
        if part.of is None:
            return NONE
        source, draw = part.of, part.amount
        share, over = self.share(source, lot), source.over()
        if share.most == 0:
            return NONE
        top = None if share.most is None else share.most + over
        if draw is None:
            return Share(0, None, top, certain=False, pure=share.pure)
        if share.pure:
            return Share(draw, Fraction(draw), draw, certain=True, pure=True)
        most = draw if top is None else min(draw, top)
        open_ = any(p.amount is None for p in source.parts)
        least = 0 if over or open_ else max(0, draw - (source.amount - share.least))
        if share.best is None or source.amount <= 0:
            return Share(least, None, most, certain=least > 0)
        best = draw * share.best / (source.amount + over)
        return Share(least, min(max(best, Fraction(least)), Fraction(most)), most, certain=least > 0)

    def back(self, filling: Filling) -> list[Filling]:
        """A filling and all that went into it, each once."""
        found: list[Filling] = []
        waiting = [filling]
        while waiting:
            one = waiting.pop()
            if not any(one is x for x in found):
                found.append(one)
                waiting += [p.of for p in one.parts if p.of is not None]
        return found


def replayed(
    acts: Iterable[Act], stock: dict[str, tuple[str, int]], free: Mapping[str, str] | None = None
) -> Book:
    """The book after these acts, in the order in which they happened. `stock`: carrier -> (lot, mg) delivered; `free`:
    what it may be used as where it is not released."""
    book = Book()
    for carrier, (lot, amount) in stock.items():
        book.fill(carrier, Filling(amount, lot=lot, free=(free or {}).get(carrier, "released")))
    for act in sorted(acts, key=lambda a: a.at):
        getattr(book, act.kind)(act)
    return book
