"""Balances of what was recorded, in any order and with slips put right, against a reckoning that shares no code."""

import os
from datetime import date, timedelta
from fractions import Fraction

import pytest
from django.db import transaction
from psycopg._preparing import PrepareManager

from tests.cast import LEAD, QUALITY, WO_RED, Cast, plate
from tests.recording.histories import LOTS, Carriers, Teller, carriers_of, history_of
from tests.recording.plain_book import Book, replayed
from trace.genealogy.balance.days import balances_of_days
from trace.genealogy.balance.documents import verdict
from trace.genealogy.balance.orders import balances_of_order
from trace.genealogy.balance.subjects import NoBalanceError, balance_of
from trace.recording.acts.counting import Count
from trace.recording.acts.demould import Demould
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh

HISTORIES = 200 if os.environ.get("LONG_TESTS") else 6


def of_carrier(book: Book, name: str) -> tuple[int, int, int, int]:
    """(came, gave, differences, left) of all that a carrier held, in mg."""
    fillings = book.fillings.get(name, [])
    stayed = sum(p.amount or 0 for f in fillings for p in f.parts if any(p.of is x for x in fillings))
    return (
        sum(f.amount for f in fillings) - stayed, sum(f.drawn for f in fillings) - stayed,
        sum(f.gains + f.losses for f in fillings), sum(f.balance for f in fillings),
    )  # fmt: skip


def drawn_of(book: Book, lot: str, tubs: list[str]) -> Fraction | None:
    """Of one lot in all that was weighed, every vessel fully mixed."""
    total = Fraction(0)
    for charge in (f for tub in tubs for f in book.fillings.get(tub, [])):
        # What a second bag was weighed onto is counted as what it became.
        if not any(p.of is charge for f in book.every for p in f.parts):
            share = book.share(charge, lot)
            if share.best is None:
                return None
            total += share.best
    return total


def check_days(teller: Teller, book: Book) -> None:
    """Over all days: what came and was found is what was weighed and is left."""
    names = [name for name in teller.codes if name not in teller.tubs]
    charges = [f for tub in teller.tubs for f in book.fillings.get(tub, [])]
    used = sum(p.amount or 0 for f in charges for p in f.parts if p.of is not None and p.of not in charges)
    stock = sum(f.balance for name in names for f in book.fillings.get(name, []))
    # What came of a source that nobody recorded is of no known material.
    found = [b for b in balances_of_days(None, None) if b.material in ("LL-35 red", "")]
    ends: dict[str, Fraction] = {}
    for balance in found:
        assert balance.book.adds_up, balance.material
        for figure in balance.ends:
            ends[figure.way] = ends.get(figure.way, Fraction(0)) + (figure.bounds.best or 0)
    assert ends.pop("stock", 0) == stock
    # What was mixed with another material goes out as the one and comes in as the other.
    ends.pop("mixed", 0)
    gone = sum(book.gone.get(name, 0) for name in names)
    assert sum(ends.values()) == used + gone


def check(cast: Cast, carriers: Carriers, seed: int) -> None:
    history = history_of(seed)
    teller = Teller(cast, history, carriers)
    teller.told()
    book = replayed(history.acts, teller.stock, teller.free)
    for name in teller.codes:
        if name in teller.tubs or not book.fillings.get(name):
            continue
        balance = balance_of(teller.codes[name])
        said = balance.book
        assert said.adds_up, name
        assert (said.came, said.gave, said.differences, said.left) == of_carrier(book, name), name
        if balance.accounted is not None and balance.unexplained.best is not None:
            assert balance.accounted + balance.unexplained.best == balance.received, name
    check_days(teller, book)
    for lot, number in LOTS.items():
        if not any(f.lot == lot for f in book.every):
            continue
        balance = balance_of(number)
        assert balance.book.adds_up
        if balance.accounted is None or balance.unexplained.best is None:
            continue
        assert balance.accounted + balance.unexplained.best == balance.received, lot
        for figure in balance.ends:
            bounds = figure.bounds
            assert bounds.best is not None
            assert bounds.least <= bounds.best, (lot, figure.way)
            assert bounds.most is None or bounds.best <= bounds.most, (lot, figure.way)
        if any(tub in book.gone for tub in teller.tubs):
            continue
        made = sum((f.bounds.best or Fraction(0) for f in balance.ends if f.way in ("charges", "moulds")), Fraction(0))
        wanted = drawn_of(book, lot, teller.tubs)
        assert wanted is None or made == wanted, lot


@pytest.mark.outside("identity", "came + differences = gave + left, for every carrier, to the milligram")
@pytest.mark.parametrize("first", range(0, HISTORIES, 3))
def test_every_carrier_adds_up(cast: Cast, first: int, monkeypatch: pytest.MonkeyPatch) -> None:
    # Each history is rolled back, whereupon the driver would forget every prepared statement.
    monkeypatch.setattr(PrepareManager, "_should_discard", lambda *_: False)
    carriers, failed = carriers_of(cast), {}
    for seed in range(first, min(first + 3, HISTORIES)):
        now = cast.clock.now
        with transaction.atomic():
            try:
                check(cast, carriers, seed)
            except AssertionError as error:
                failed[seed] = str(error)
            transaction.set_rollback(True)
        cast.clock.now = now
    assert not failed


def test_weighing_explains_so_much_and_no_more(cast: Cast) -> None:
    """W-3 shows steps of 0.01 kg and may be off by ± 0.02 kg: of 4 charges by the same, each read once."""
    for tub in cast["tubs"][:4]:
        cast.charge("skin", cast["red"], tub)
    left = 500_000_000 - 4 * 12_200_000
    cast.scan(Count(box=cast["red"], amount="451.15", reason="weighed"), person=QUALITY)
    balance = balance_of("V-2288")
    assert balance.unexplained.best == left - 451_150_000 == 50_000
    sources = {(s.what, s.of): (s.count, s.variance) for s in balance.uncertainty.sources}
    assert sources == {
        ("step of the scale", "W-3"): (4, 4 * Fraction(10_000**2, 12)),
        ("limits of the scale", "W-3"): (4, Fraction((4 * 20_000) ** 2, 3)),
        # The label of a box of 500 kg may be off by 2 %.
        ("fill tolerance", "LL-35 red"): (1, Fraction(10_000_000**2, 3)),
    }
    assert balance.uncertainty.unmeasured == 1  # the count itself
    assert balance.explained is True


def test_a_small_box_through_a_vessel(cast: Cast) -> None:
    """Told scan by scan: half of what was filled in is weighed out, a tare of its own, and where it is now."""
    vessel = cast["vessels"][0]
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="30.00"))
    cast.scan(TopUp(source=cast["red2"], into=vessel, amount="10.00"))
    cast.scan(
        Weigh(order=WO_RED, layer="skin", box=vessel, tub=cast["tubs"][0], scale="W-3", gross="13.20", tare="1.00")
    )
    cast.scan(Count(box=vessel, amount="27.00", reason="weighed"), person=QUALITY)
    balance = balance_of("V-2291")
    ways = {f.way: f.bounds for f in balance.ends}
    assert ways["charges"].best == Fraction(12_200_000, 4)
    assert (ways["charges"].least, ways["charges"].most) == (0, 10_000_000)
    assert balance.unexplained.best == Fraction(800_000, 4)
    # A quarter of each error counts, of two readings.
    steps = next(s for s in balance.uncertainty.sources if s.what == "step of the scale")
    assert (steps.count, steps.variance) == (2, 2 * Fraction(10_000**2, 12) / 16)
    book = balance_of(vessel).book
    assert (book.came, book.gave, book.differences, book.left) == (40_000_000, 12_200_000, -800_000, 27_000_000)


def test_a_works_order(cast: Cast) -> None:
    """Two kayaks of it, one given up: by material what was weighed and placed, and where that is."""
    cast.hull(plate(1))
    cast.moulding("T430-02", "S2")
    cast.scan(Demould(mould="T430-02"))
    skin, foam, inner = (b for b in balances_of_order(WO_RED) if b.material in ("LL-35 red", "FM-22", "LL-35"))
    assert {b.material: b.book.came for b in (skin, foam, inner)} == {
        "FM-22": 2 * 9_150_000, "LL-35": 2 * 7_320_000, "LL-35 red": 2 * 12_200_000,
    }  # fmt: skip
    for balance in balances_of_order(WO_RED):
        assert balance.accounted == balance.received and balance.book.adds_up
        each = (balance.received or 0) // 2
        assert {f.way: f.bounds.best for f in balance.ends} == {"hulls": each, "mouldings": each}, balance.material
        assert all(record.event for f in (*balance.came, *balance.ends) for record in f.records)
    seats = next(b for b in balances_of_order(WO_RED) if b.material == "M8-N")
    assert (seats.uom, seats.received) == ("pc", 16)
    with pytest.raises(NoBalanceError):
        balances_of_order("WO-9")


def test_plant_days(cast: Cast) -> None:
    """Stock at the start, what came and what was used on a day; the day after begins with what was left."""
    cast.charge("skin", cast["red"], cast["tubs"][0])
    cast.scan(Count(box=cast["red"], amount="487.00", reason="weighed"), person=QUALITY)
    today = cast.clock.now.date()

    def of(first: date, last: date) -> dict[str, object]:
        found = {b.material: b for b in balances_of_days(first, last)}["LL-35 red"]
        assert found.book.adds_up
        assert found.accounted is not None and found.unexplained.best is not None
        assert found.accounted + found.unexplained.best == found.received
        return {f.way: f.bounds.best for f in (*found.came, *found.ends, *found.differences)}

    assert of(today, today) == {
        "received": 1_000_000_000, "charges": 12_200_000, "counted": -800_000, "stock": 987_000_000,
    }  # fmt: skip
    after = today + timedelta(days=1)
    assert of(after, after) == {"at the start": 987_000_000, "stock": 987_000_000}
    before = today - timedelta(days=1)
    assert not [b for b in balances_of_days(before, before) if b.material == "LL-35 red"]


def test_what_of_an_insert_lot_nobody_finds_is_told_as_pieces(cast: Cast) -> None:
    """500 received, 480 counted: no scale explains 20 pieces."""
    cast.scan(Count(box=cast["m8"], amount="480", again="480", reason="counted"), person=LEAD)
    said = verdict(balance_of("N-0398"))
    assert "20 pieces" in said
    assert "These are counted, not weighed" in said
