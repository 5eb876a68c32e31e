"""What is swept up is scrap of no lot: in the balance of days by its place, in no lot's, and never back in a box."""

from __future__ import annotations

from datetime import timedelta

from tests.cast import OPERATOR, Cast, rows_of
from trace.genealogy.balance.days import SWEEPINGS, balances_of_days
from trace.genealogy.balance.subjects import balance_of
from trace.readmodels.rebuild import differences
from trace.recording.acts.sweeping import SweepUp
from trace.recording.answers import Answer


def swept(cast: Cast, where: str, amount: str, **more: str) -> Answer:
    by = {name: more.pop(name) for name in ("expect", "mode") if name in more}
    return cast.scan(SweepUp(where=where, amount=amount, **more), person=OPERATOR, **by)


def told() -> dict[str, int]:
    """Place -> mg of what was swept up there, as the balance of all days has it; all of it is scrap."""
    found = [one for one in balances_of_days(None, None) if one.material == SWEEPINGS]
    for balance in found:
        [came], [scrap] = balance.came, balance.ends
        assert (came.way, scrap.way, balance.book.adds_up) == ("swept up", "scrap", True)
        assert came.bounds == scrap.bounds
    return {part.code: int(part.bounds.best or 0) for one in found for part in one.came[0].parts}


def test_it_is_scrap_by_the_place_and_the_machine_where_it_lay(cast: Cast) -> None:
    before = balance_of("V-2288")
    assert told() == {}
    assert swept(cast, "DEMOULD", "3.20", scale="W-3").outcome == "accepted"
    assert swept(cast, "DEMOULD", "0.85").outcome == "accepted"
    assert swept(cast, "OVEN-2", "1.10").outcome == "accepted"
    assert told() == {"DEMOULD": 4_050_000, "OVEN-2": 1_100_000}
    # Of whose powder it was nobody knows: no lot has less by it.
    after = balance_of("V-2288")
    assert (after.ends, after.came) == (before.ends, before.came)
    edges = "SELECT count(*) FROM edge e JOIN unit u ON u.id IN (e.child, e.parent) WHERE u.about->>'where' IS NOT NULL"
    assert rows_of(edges) == [(0,)]
    assert differences() == []


def test_told_late_it_counts_on_the_day_on_which_it_happened(cast: Cast) -> None:
    done = cast.clock()
    cast.clock.now += timedelta(days=1)
    assert cast.late(SweepUp(where="DEMOULD", amount="2"), done, person=OPERATOR).outcome == "accepted"
    [day] = [one for one in balances_of_days(done.date(), done.date()) if one.material == SWEEPINGS]
    assert day.received == 2_000_000
    assert [one for one in balances_of_days(cast.clock.now.date(), None) if one.material == SWEEPINGS] == []


def test_it_never_goes_back_and_told_as_done_what_it_went_into_is_held(cast: Cast) -> None:
    assert swept(cast, "DEMOULD", "2", into=cast["red"], expect="SWEPT-BACK").outcome == "refused"
    assert swept(cast, "DEMOULD", "a lot", expect="AMOUNT-UNREADABLE").code == "AMOUNT-UNREADABLE"
    assert swept(cast, "DEMOULD", "0", expect="AMOUNT-UNREADABLE").code == "AMOUNT-UNREADABLE"
    assert told() == {}
    assert swept(cast, "DEMOULD", "2", into=cast["red"], mode="tells").outcome == "flagged"
    held = rows_of(
        """SELECT count(*) FROM hold h JOIN unit u ON u.id = h.unit
            WHERE h.rule = 'SWEPT-BACK' AND u.kind = 'content'"""
    )
    assert held == [(1,)]
    assert differences() == []
