"""Random histories told in any order, with slips put right: the same in the end as told in order, to the milligram.

Which seeds: LATE_FIRST (0) and LATE_HISTORIES (300, with LONG_TESTS 3,000), shared out by `pytest -n`; the run says at
its end how many there were, and each that failed by its seed.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction
from psycopg._preparing import PrepareManager

from tests.cast import Cast
from tests.recording.histories import LAYERS, LOTS, Carriers, Teller, carriers_of, history_of, lots_in, wanted_bounds
from tests.recording.plain_book import Act, Book, replayed
from tests.recording.test_late import balances_agree
from trace.readmodels.rebuild import differences

LONG = bool(os.environ.get("LONG_TESTS"))
HISTORIES = int(os.environ.get("LATE_HISTORIES", "3000" if LONG else "300"))
FIRST = int(os.environ.get("LATE_FIRST", "0"))
# Of so many histories one is asked again about moments on the way, and another is told once more in order.
BESIDES = 4 if LONG else 8
A_TEST = 20  # histories a test, so that they can be shared out
TOLD = "histories told"  # added up at the end of the run (tests/conftest.py)


def check_book(teller: Teller, looked: dict[str, Any], book: Book) -> None:
    """Balances, statuses, differences and kilograms are those of the plain reckoning."""
    for name in teller.codes:
        filling = book.now.get(name)
        wanted = None if filling is None else (filling.status, filling.balance, filling.amount)
        assert looked["carriers"][name] == wanted, name
        if name not in teller.tubs:  # of a charge the lots are read from what went into it
            assert looked["lots"][name] == (LOTS.get(filling.named) if filling else None), name
        booked: dict[str, int] = {}
        for one in book.fillings.get(name, []):
            for cause, amount in one.differences:
                booked[cause] = booked.get(cause, 0) + amount
        assert looked["differences"][name] == {cause: amount for cause, amount in booked.items() if amount}, name
    made = {f"{tub}/{n}": charge for tub in teller.tubs for n, charge in enumerate(book.fillings.get(tub, []))}
    loads = {mould: book.load(mould) for mould in teller.moulds}
    assert looked["bounds"].keys() == made.keys() | loads.keys()
    for name, filling in (made | loads).items():
        held, bounds = teller.history.held, wanted_bounds(book, filling)
        assert (name in looked["gaps"]) == filling.unknown(), name
        if filling.before_records():
            assert looked["bounds"][name].keys() >= bounds.keys(), name
        elif not filling.unknown():
            assert looked["bounds"][name] == bounds, name
        if held:
            assert (name in looked["held"]) == (held in bounds), name
    for mould in teller.moulds:
        if not loads[mould].unknown() and not loads[mould].before_records():
            in_layers = {layer: wanted_bounds(book, book.load(mould, layer)) for layer in LAYERS}
            assert looked["layers"][mould] == in_layers, mould


def check(cast: Cast, carriers: Carriers, seed: int) -> None:
    history, now = history_of(seed), cast.clock.now
    with transaction.atomic():
        teller = Teller(cast, history, carriers)
        teller.told(remember=seed % BESIDES == 1)
        looked, book = teller.looked(), replayed(teller.happened(), teller.stock, teller.free)
        check_book(teller, looked, book)
        assert balances_agree() == []
        for known, units in teller.known.items():
            assert {uid: lots_in(uid, known) for uid in units} == units, "as known then"
        if seed % 10 == 0:
            assert differences() == []
        transaction.set_rollback(True)
    cast.clock.now = now
    if seed % BESIDES == 0:
        with transaction.atomic():
            check_in_order(Teller(cast, history, carriers), looked, teller.happened())
            transaction.set_rollback(True)
        cast.clock.now = now


def check_in_order(teller: Teller, looked: dict[str, Any], late: list[Act]) -> None:
    """The same told in order comes out as it did: the plain reckoning knows little of what nobody knows."""
    teller.in_order()
    in_order = teller.looked()
    check_book(teller, in_order, replayed(teller.happened(), teller.stock, teller.free))
    if teller.happened() != late:
        return  # a source was struck out that by the records of that moment held no material, and here it did
    # What was held as it was told stays held until a person has looked.
    assert in_order["over"] <= looked["over"]
    assert _compared(looked) == _compared(in_order)


def _compared(looked: dict[str, Any]) -> dict[str, Any]:
    """A tub tipped with nothing in it is counted as such tippings are told, also one that was taken back since: which
    of them is called "(2)" is no fact of the floor, what each may hold is."""
    layers = {
        mould: sorted((name.split(" (")[0], repr(lots)) for name, lots in found.items())
        for mould, found in looked["layers"].items()
    }
    return {**looked, "over": None, "layers": layers}


@pytest.mark.parametrize("first", range(FIRST, FIRST + HISTORIES, A_TEST))
def test_any_history_told_in_any_order(
    cast: Cast, first: int, monkeypatch: pytest.MonkeyPatch, record_property: Callable[[str, object], None]
) -> None:
    # The driver forgets every prepared statement whenever something is rolled back; here each history is, and planning
    # the large statements anew was a third of the database's work.
    monkeypatch.setattr(PrepareManager, "_should_discard", lambda *_: False)
    failed, carriers = {}, carriers_of(cast)
    seeds = range(first, min(first + A_TEST, FIRST + HISTORIES))
    for seed in seeds:
        try:
            check(cast, carriers, seed)
        except Exception as error:
            failed[seed] = f"{type(error).__name__}: {error}"
    record_property(TOLD, len(seeds))
    assert not failed, "\n".join(f"{seed}: {why}" for seed, why in failed.items())
