"""Histories that were once told wrongly, each cut down to what it took, told again."""

from __future__ import annotations

import pytest
from django.db import transaction

from tests.cast import Cast
from tests.recording.histories import LAYERS, History, Slip, Teller, carriers_of, minute
from tests.recording.plain_book import Act, replayed
from tests.recording.test_late_histories import check_book, check_in_order

# One act a line, as it truly happened: minute, kind, from>into, kg, "more" if a bag follows, the layer if it is not the
# skin; after "said" what was told of it first. Then the order of telling and of putting right, and the lot held.
FOUND = {
    "proving one vessel empty rewrites the log of another, which is not proved empty by that": """
        0 topup A>K 24.3 said -0.75 topup A>K 24.3
        3 topup K>L 12.3
        5 empty L> 0
        6 topup L>K 12.3
        told 0 1 3 2
        right 0
    """,
    "a tub tipped with nothing in it by the book, and then its weighing": """
        0 topup A>K 60
        1 weigh K>T0 12.2
        2 tip T0>T430-01 0
        3 weigh K>T0 12.2
        4 tip T0>T430-01 0
        told 2 0 4 3 1
    """,
    "a tub that was weighed into again before it was tipped, told in the wrong order: each tip is of its own layer": """
        0 topup A>K 60
        1 weigh K>T0 12.2
        2 tip T0>T430-01 0
        3 weigh K>T0 12.2 inner
        4 tip T0>T430-01 0
        told 0 1 4 3 2
    """,
    "a source put right to nobody knows which, of what is used up by the book until another draw is put right": """
        0 topup A>K 24.3
        1 topup L>K 12.3
        2 topup ->L 5 said 2 topup K>L 5
        3 weigh ->T0 12.2 said 3 weigh L>T0 12.2
        told 0 1 3 2
        right 2 3
    """,
    "a bag told late under another in its tub, out of a vessel that is over its book: its lot's hold takes both": """
        0 topup B>K 24.3
        1 count K> 8
        2 weigh K>T0 6.2 more inner
        2.33333 weigh L>T0 6 inner
        3 weigh K>T1 12.2
        told 0 3 1 4 2
        held B first
    """,
    "a bag told late under another that two rules spoke against: what both said is seen at what stands there now": """
        1 weigh B>T0 6.2 more
        1.33333 weigh C>T0 26
        told 1 0
        held A first
    """,
    "a draw that proved to be out of nothing and then of what was told last is still put right": """
        0 topup B>K 12.2
        1 topup A>K 13.7 said 3.25 topup A>K 13.7
        2 empty K> 0
        4 topup ->L 12.3 said 4 topup K>L 12.3
        told 0 3 2 1
        right 3 1
    """,
    "a vessel filled out of an empty one holds nobody knows what, which may not be more than its label says": """
        6 topup K>L 12.3
        9 weigh L>T2 6.2 more inner
        10 weigh L>T3 6.2 more
        told 2 0 1
    """,
    "a tip put right to the time at which its tub held another layer, and one that was of another tub": """
        0 topup A>K 60
        1 weigh K>T0 12.2
        2 tip T0>T430-01 0
        3 weigh K>T0 12.2 inner
        4 weigh K>T1 12.2
        5 tip T0>T430-02 0 said 2.5 tip T0>T430-02 0
        6 tip T2>T430-01 0 said 6 tip T1>T430-01 0
        told 0 1 2 5 3 4 6
        right 5 6
    """,
    "two vessels poured into one another: what is put right in one event closes no circle with what it takes back": """
        0 topup B>K 60
        1 weigh A>T0 6.2 more inner
        1.33333 weigh L>T0 6 inner
        2 tip T0>T430-01 0
        3 empty K> 0
        4 topup A>K 13.7 said 6.25 topup A>K 13.7
        5 weigh B>T0 12.2
        6 topup B>K 30 said 7.25 topup B>K 30
        7 weigh K>T1 12.2 inner
        8 weigh A>T2 12.2 said 7.25 weigh A>T2 12.2
        9 empty K> 0
        10 topup K>L 5 said 11.25 topup K>L 5
        11 topup A>K 5 said 11 topup L>K 4
        told 0 1 4 3 5 7 6 10 9 11 8 12 2
        right 5 9 7 11 12
    """,
}


def read(text: str) -> History:
    history = History([])
    for line in text.strip().splitlines():
        words = line.split()
        if words[0] in ("told", "right"):
            numbers = [int(word) for word in words[1:]]
            history.telling, history.righting = (
                (numbers, history.righting) if words[0] == "told" else (history.telling, numbers)
            )
        elif words[0] == "held":
            history.held, history.hold_first = words[1], words[2] == "first"
        else:
            right, _, said = line.partition(" said ")
            if said:
                gone = right.split()[2].startswith("-")
                history.slips[len(history.acts)] = Slip(_act(said), gone)
            history.acts.append(_act(right))
    return history


def _act(text: str) -> Act:
    at, kind, way, kg, *more = text.split()
    source, _, into = way.partition(">")
    layer = next((layer for layer in LAYERS if layer in more), "skin")
    return Act(minute(float(at)), kind, source.strip("-"), into, round(float(kg) * 1_000_000), "more" in more, layer)


@pytest.mark.parametrize("text", FOUND.values(), ids=FOUND.keys())
def test_a_history_that_was_told_wrongly(cast: Cast, text: str) -> None:
    history, carriers, now = read(text), carriers_of(cast), cast.clock.now
    with transaction.atomic():
        teller = Teller(cast, history, carriers)
        teller.told()
        looked, book = teller.looked(), replayed(teller.happened(), teller.stock, teller.free)
        check_book(teller, looked, book)
        transaction.set_rollback(True)
    cast.clock.now = now
    check_in_order(Teller(cast, history, carriers), looked, teller.happened())
