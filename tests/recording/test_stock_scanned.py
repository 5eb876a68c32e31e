"""A place counted by scanning: found, missing and unexpected, while work goes on; no balance is written over."""

from __future__ import annotations

import pytest

from tests.cast import LEAD, PACKER, STORES, Cast, plate, rows_of
from trace.readmodels.rebuild import differences
from trace.recording.acts.packing import Rack
from trace.recording.acts.stock_counts import BeginStockCount, EndStockCount, SeeStock
from trace.recording.floor.stock_counts import StockCount, standing, stands_in, stock_counts

PLACE = "R4-2"


def begin(cast: Cast) -> StockCount:
    cast.scan(BeginStockCount(place=PLACE), person=STORES)
    return stock_counts(most=1)[0]


def see(cast: Cast, count: StockCount, code: str) -> str:
    return cast.scan(SeeStock(count=count.uid, code=code), person=STORES).outcome


def rack(cast: Cast, n: int) -> str:
    cast.hull(plate(n))
    cast.scan(Rack(place=PLACE, units=(plate(n),)), person=PACKER)
    return plate(n)


def names(count: StockCount, what: str) -> list[str]:
    return [one.name for one in standing(count) if getattr(one, what)]


def questions() -> list[tuple[str, str]]:
    sql = """SELECT d.kind, COALESCE((SELECT text FROM serial_state s WHERE s.hull = d.unit), '') FROM discrepancy d
               WHERE d.kind LIKE '%%stock count%%' ORDER BY 1, 2"""
    return [(kind, name) for kind, name in rows_of(sql)]


def test_what_is_seen_what_is_not_and_what_came_meanwhile(cast: Cast) -> None:
    one, other = rack(cast, 1), rack(cast, 2)
    count = begin(cast)
    assert names(count, "missing") == [one, other]
    assert see(cast, count, one) == "accepted"
    late = rack(cast, 3)
    assert (names(count, "seen"), names(count, "missing"), names(count, "came")) == ([one], [other], [late])
    # Taken out while the count goes on: nobody has to find it here.
    cast.scan(Rack(place="R5-1", units=(other,)), person=PACKER)
    assert names(count, "missing") == []
    cast.scan(EndStockCount(count=count.uid), person=STORES)
    assert questions() == []
    assert stock_counts(count.uid)[0].ended is not None
    assert differences() == []


def test_what_is_not_found_stays_on_the_book_and_is_a_question(cast: Cast) -> None:
    hull = rack(cast, 1)
    count = begin(cast)
    balances = "SELECT unit, balance, status FROM unit_state ORDER BY unit"
    before = rows_of(balances)
    refused = cast.scan(EndStockCount(count=count.uid), person=STORES, expect="STOCK-NO-REASON")
    assert hull in refused.what
    cast.scan(EndStockCount(count=count.uid, reason="nobody knows"), person=STORES)
    assert questions() == [("not found at a stock count", hull)]
    assert rows_of(balances) == before
    assert stands_in([unit for unit, _b, _s in before]) != {}


def test_what_nobody_expected_stands_there_from_then_on(cast: Cast) -> None:
    cast.hull(plate(1))
    count = begin(cast)
    assert see(cast, count, plate(1)) == "warned"
    assert names(count, "strange") == [plate(1)]
    assert questions() == [("seen at a stock count where the book did not have it", plate(1))]
    # Seen again it is where the book has it.
    assert see(cast, count, plate(1)) == "accepted"
    assert differences() == []


def test_a_container_is_counted_by_its_label_and_its_balance_stays(cast: Cast) -> None:
    count = begin(cast)
    see(cast, count, cast["red"])
    [line] = [one for one in standing(count) if one.strange]
    assert (line.kind, line.balance) == ("content", 500_000_000)


@pytest.mark.parametrize("uid", ["", "nonsense", "01900000-0000-7000-8000-000000000000"])
def test_a_count_that_nobody_began(cast: Cast, uid: str) -> None:
    for command in (SeeStock(count=uid, code=cast["red"]), EndStockCount(count=uid)):
        assert cast.scan(command, person=LEAD, expect="STOCK-COUNT-UNKNOWN").outcome == "refused"
