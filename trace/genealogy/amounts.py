"""How much of a suspect may be in what was made of it: bounds that hold however the material mixed.

Amounts are whole milligrams, pieces or millimetres of the suspect, in its own unit of measure; None means
that the records do not say. Nothing here reads a database.

The bounds follow from conservation alone. A vessel holds `total`, of which s are of the suspect and total -
s are not. A draw of d takes at most min(d, s), and at least d - (total - s), because no more than total - s
of the rest can be in it: the bounds of Fréchet for a table of two rows with given margins. Both are reached
by some flow, for each draw and also after any number of earlier draws of other vessels' worth, so "what is
left of the lot" never closes them further than min(d, s) does: an earlier draw that is known only as drawn,
not as analysed, leaves a later one free to hold all of s. Plug, fully mixed and funnel flow lie inside.
`best` is the fully mixed share; it is a model, and models must sum to what went in, which bounds need not.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

Verdict = Literal["certain", "may", "cannot"]

# Exact shares of a long chain of vessels grow by the digits of each vessel's amount. Past this many binary
# digits `best` is rounded to the nearest 2^-64 of its unit, which moves no displayed digit.
LONGEST_DENOMINATOR = 256
GRID = 2**64


@dataclass(frozen=True, slots=True)
class Bounds:
    """Of the suspect in one unit or one layer: at least `least`, at most `most` (None: not known how much).

    `certain`: some of it is in there under every flow. `pure`: all of the layer or content is of the suspect.
    """

    least: int = 0
    best: Fraction | None = Fraction(0)
    most: int | None = 0
    certain: bool = False
    pure: bool = False

    @property
    def verdict(self) -> Verdict:
        if self.certain or self.least > 0:
            return "certain"
        return "cannot" if self.most == 0 else "may"


NOTHING = Bounds()
# What a missing record leaves open: it may be in there, and nobody can say how much.
OPEN = Bounds(0, None, None)


@dataclass(frozen=True, slots=True)
class Draw:
    """What was taken, as recorded: low == high when it was weighed, high None when nothing limits it."""

    low: int
    high: int | None

    @property
    def exact(self) -> int | None:
        return self.low if self.low == self.high else None


def recorded_draw(amount: int | None) -> Draw:
    """The draw of an edge by its own amount; an unrecorded one took something, nobody knows how much."""
    return Draw(0, None) if amount is None else Draw(amount, amount)


def unrecorded_draw(child_amount: int | None, other_draws: int, unrecorded: int) -> Draw:
    """A draw that was not recorded, from the child's weighed amount (by mass balance of the child).

    `other_draws` is what the child's recorded draws add up to, `unrecorded` the number of draws that are
    not recorded (this one too). With one such draw its amount follows; with several each is between nothing
    and the remainder, never a guess. Where the recorded draws leave no room, the amounts say nothing.
    """
    rest = 0 if child_amount is None else child_amount - other_draws
    if rest <= 0:
        return Draw(0, None)
    return Draw(rest, rest) if unrecorded == 1 else Draw(0, rest)


def wholly(amount: int | None) -> Bounds:
    """The suspect itself, or anything that is nothing but the suspect."""
    if amount is None:
        return Bounds(0, None, None, certain=True, pure=True)
    return Bounds(amount, Fraction(amount), amount, certain=True, pure=True)


def part(share: Bounds, total: int | None, draw: Draw, *, over: int = 0, doubtful: bool = False) -> Bounds:
    """What a draw from a parent takes of the suspect.

    `total` is the amount of the parent by the book; `over` what was in it above the book (fill gain, or
    draws beyond amount and differences). Nobody knows of which lot the surplus was, so it adds to the most
    of a mixed parent and takes its lower bound away. `doubtful`: something of unknown amount was in there
    besides what the book adds up (a heel that nobody weighed), which takes the lower bound away too.
    """
    if share.most == 0 and not share.certain:
        return NOTHING
    if share.pure:
        high = draw.high if draw.high is not None else _more(share.most, over)
        best = None if draw.exact is None else Fraction(draw.exact)
        return Bounds(draw.low, best, high, certain=True, pure=True)
    most = _lesser(draw.high, _more(share.most, over))
    least, best = 0, None
    if total is not None and total > 0:
        if over == 0 and not doubtful:
            least = max(0, draw.low - (total - share.least))
        if share.best is not None and draw.exact is not None:
            best = rounded(draw.exact * share.best / (total + over))
    return Bounds(least, _inside(best, least, most), most, certain=least > 0)


def whole(share: Bounds, total: int | None = None, removed: int | None = 0) -> Bounds:
    """All of the parent goes on, less what was cut, trimmed or sampled off it before (`removed`, None:
    unknown).

    A layer wholly of the suspect stays certain: what goes on as a moulding or hull has that layer.
    """
    if removed == 0 or share == NOTHING:
        return share
    least = 0 if removed is None else max(0, share.least - removed)
    best = None
    if share.best is not None and removed is not None and total:
        best = _inside(rounded(share.best * max(0, total - removed) / total), least, share.most)
    return Bounds(least, best, share.most, certain=share.pure or least > 0, pure=share.pure)


def split(share: Bounds, ways: int) -> Bounds:
    """One of several children that share the parent: a twin moulding, lids cut apart.

    Nothing says how it was shared out, so 0 to all of it; every one has some of a layer wholly of the
    suspect.
    """
    if ways <= 1 or share == NOTHING:
        return share
    best = None if share.best is None else rounded(share.best / ways)
    return Bounds(0, best, share.most, certain=share.pure, pure=share.pure)


def together(shares: Iterable[Bounds]) -> Bounds:
    """The sum over the ways into one unit. `pure` is the caller's to say: it needs the empty ways too."""
    shares = list(shares)
    if len(shares) == 1 and not shares[0].pure and (shares[0].certain or not shares[0].least):
        return shares[0]  # most ways are the only one
    least, best, most, certain = 0, Fraction(0), 0, False
    best_known: Fraction | None = best
    most_known: int | None = most
    for share in shares:
        least += share.least
        best_known = None if best_known is None or share.best is None else best_known + share.best
        most_known = None if most_known is None or share.most is None else most_known + share.most
        certain = certain or share.certain
    best_known = None if best_known is None else rounded(best_known)
    return Bounds(least, best_known, most_known, certain=certain or least > 0)


def capped(share: Bounds, limit: int | None) -> Bounds:
    """No more than `limit`: all there ever was of the suspect, or all that the unit can hold."""
    if limit is None or (share.most is not None and share.most <= limit):
        return share
    least = min(share.least, limit)
    return replace(share, least=least, best=_inside(share.best, least, limit), most=limit)


def rounded(value: Fraction) -> Fraction:
    """The value itself while its denominator is short, else the nearest multiple of 2^-64 (see GRID)."""
    if value.denominator.bit_length() <= LONGEST_DENOMINATOR:
        return value
    return Fraction(round(value * GRID), GRID)


def _more(most: int | None, by: int) -> int | None:
    return None if most is None else most + by


def _lesser(a: int | None, b: int | None) -> int | None:
    if a is None or b is None:
        return b if a is None else a
    return min(a, b)


def _inside(best: Fraction | None, least: int, most: int | None) -> Fraction | None:
    if best is None:
        return None
    best = max(best, Fraction(least))
    return best if most is None else min(best, Fraction(most))
