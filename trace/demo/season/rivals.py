"""What ill hulls have in common by chance beside their cause: an order, a box, a lot that lay in the vessel with it.

A draw of hulls in which that is about as telling as the cause itself is a riddle without an answer, and is not planted.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator
from math import comb, log

from trace.demo.season.truth import Made

# So much likelier by chance must whatever else they share be than the cause: a lot's cuts count as so many causes, and
# none of them need be the best.
MARGIN = log(3000)
Word = tuple[str, str]


def no_rivals(_ill: list[Made]) -> float:
    return 0.0


class Rivals:
    """Of all hulls that were sent and are of these models: how many have so much of what."""

    def __init__(self, gone: list[Made], models_of: list[Made], cause: str) -> None:
        models = {made.product for made in models_of}
        self.cause: Word = "lot", cause
        self.count = 0
        self.amounts: dict[Word, list[int]] = defaultdict(list)
        for made in (one for one in gone if one.product in models):
            self.count += 1
            for word, much in held(made).items():
                self.amounts[word].append(much)
        for amounts in self.amounts.values():
            amounts.sort()

    def too_near(self, ill: list[Made]) -> float:
        """By how much the likeliest rival comes too near to the cause, 0 where none does."""
        least: dict[Word, list[int]] = defaultdict(list)
        for made in ill:
            for word, much in held(made).items():
                least[word].append(much)
        chances = {word: self._chance(word, amounts, len(ill)) for word, amounts in least.items()}
        own = chances.pop(self.cause, 0.0)
        return max(0.0, MARGIN - (min(chances.values(), default=0.0) - own))

    def _chance(self, word: Word, amounts: list[int], ill: int) -> float:
        """The logarithm of how likely it is about that so many of the ill have as much by chance."""
        there = self.amounts[word]
        have = max(1, len(there) - bisect_left(there, min(amounts)))
        return log(comb(ill, len(amounts))) + len(amounts) * log(min(1.0, have / max(1, self.count)))


def held(made: Made) -> dict[Word, int]:
    """What the records say is in it or was about it: mg of a lot, else 1. Not the mould nor the shift, which are
    planted to look guilty."""
    found: dict[Word, int] = defaultdict(int)
    for word, much in _said(made):
        found[word] += much
    return found


def _said(made: Made) -> Iterator[tuple[Word, int]]:
    yield ("order", made.order), 1
    yield ("sent", f"{made.consignee} {made.dispatched_at[:10]}"), 1
    for part in (part for layer in made.layers for part in layer.parts):
        yield ("lot", part.lot), part.book_mg
        yield ("box", part.box), 1
    for placed in (*made.inserts, *made.graphics):
        yield ("lot", placed.lot), len(placed.positions)
        yield ("box", placed.box), 1
