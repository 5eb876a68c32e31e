"""Times known to the minute only: what was in a carrier within that may have been it, and stays so when told on."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from tests.cast import LEAD, QUALITY, WO_RED, Cast, rows_of
from tests.recording.test_late import balances_agree, charge_of
from trace.genealogy.answer import genealogy
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.counting import Count
from trace.recording.acts.holds import Hold
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.acts.weighing import Weigh
from trace.recording.answers import Answer

MINUTE = timedelta(minutes=1)
A, B = "V-2288", "V-2291"


def morning(cast: Cast) -> datetime:
    """A full minute, and it is an hour later now."""
    at = cast.clock().replace(second=0)
    cast.clock.now += timedelta(hours=1)
    return at


def top_up(cast: Cast, at: datetime, box: str, kg: str = "100", unsure_ms: int = 60_000) -> Answer:
    vessel = cast["vessels"][0]
    return cast.late(TopUp(source=cast[box], into=vessel, amount=kg), at, person=LEAD, unsure_ms=unsure_ms)


def weigh(cast: Cast, at: datetime, tub: int = 0, unsure_ms: int = 60_000) -> Answer:
    vessel, into = cast["vessels"][0], cast["tubs"][tub]
    command = Weigh(order=WO_RED, layer="skin", box=vessel, tub=into, scale="W-3", gross="12.20")
    return cast.late(command, at, unsure_ms=unsure_ms)


def event(kind: str) -> str:
    return str(rows_of("SELECT uid FROM event WHERE kind = %s ORDER BY id DESC LIMIT 1", kind)[0][0])


def lots(unit: int | str) -> dict[str, str]:
    """Lot -> certain or may, of all that may be in it."""
    uid = rows_of("SELECT uid::text FROM unit WHERE id = %s", unit)[0][0]
    return {line.node.lot_no or "": line.verdict for line in genealogy(uid, "back").lines if line.node.kind == "lot"}


def drawn() -> int:
    """All that left the contents of the vessels and tubs, in mg."""
    return int(rows_of("SELECT COALESCE(sum(amount), 0) FROM edge e WHERE role = 'draw' AND NOT EXISTS"
                       " (SELECT FROM edge_void v WHERE v.edge = e.id)")[0][0])  # fmt: skip


def sound() -> None:
    assert balances_agree() == []
    assert differences() == []


def test_a_draw_in_the_minute_in_which_its_vessel_was_emptied(cast: Cast) -> None:
    """All by the rules, nothing flagged: emptied at ten, filled with another lot a minute later, drawn at ten."""
    vessel, at = cast["vessels"][0], morning(cast)
    counted = Count(box=vessel, amount="15.20", again="15.20", reason="weighed")
    told = [
        top_up(cast, at - 30 * MINUTE, "red", "200"),
        cast.late(counted, at - 10 * MINUTE, person=LEAD, unsure_ms=60_000),
        weigh(cast, at - 5 * MINUTE, 1),
        cast.late(ProveEmpty(vessel=vessel), at, person=LEAD, unsure_ms=60_000),
        top_up(cast, at + MINUTE, "red2"),
        weigh(cast, at, 0),
    ]
    assert {answer.outcome for answer in told} == {"accepted"}
    assert lots(charge_of(cast["tubs"][0])) == {A: "may", B: "may"}
    assert lots(charge_of(cast["tubs"][1])) == {A: "certain"}
    cast.scan(Hold(code=A, rule="quality", reason="density"), person=QUALITY)
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    assert cast.scan(TipTub(mould="T430-01", tub=cast["tubs"][0]), expect="TUB-HELD").code == "TUB-HELD"
    sound()


def test_every_content_within_the_time_may_be_it(cast: Cast) -> None:
    """Filled, filled up and filled up again within one minute."""
    at = morning(cast)
    top_up(cast, at - 20 * MINUTE, "red")
    cast.late(ProveEmpty(vessel=cast["vessels"][0]), at - MINUTE / 2, person=LEAD)
    top_up(cast, at, "red2", unsure_ms=0)
    cast.late(ProveEmpty(vessel=cast["vessels"][0]), at + MINUTE / 4, person=LEAD)
    top_up(cast, at + MINUTE / 2, "red", "50", unsure_ms=0)
    weigh(cast, at + MINUTE / 3)
    assert lots(charge_of(cast["tubs"][0])) == {A: "may", B: "may"}
    parents = "SELECT count(DISTINCT parent) FROM edge WHERE role = 'draw' AND child = %s"
    assert rows_of(parents, charge_of(cast["tubs"][0])) == [(3,)]
    sound()


@pytest.mark.parametrize("later", [2.0, 9.8])
def test_the_doubt_stays_when_something_else_is_told(cast: Cast, later: float) -> None:
    """Drawn half a minute before the vessel was filled up, give or take one; then a fact before, or between the two."""
    at = morning(cast)
    top_up(cast, at, "red", unsure_ms=0)
    top_up(cast, at + 10 * MINUTE, "red2", unsure_ms=0)
    weigh(cast, at + 9.5 * MINUTE)
    charge = charge_of(cast["tubs"][0])
    assert lots(charge) == {A: "may", B: "may"}
    if later == 2.0:
        weigh(cast, at + later * MINUTE, 1, unsure_ms=0)
    else:
        top_up(cast, at + later * MINUTE, "red", "20", unsure_ms=0)
    assert lots(charge_of(cast["tubs"][0])) == {A: "may", B: "may"}
    assert drawn() == 12_200_000 * (2 if later == 2.0 else 1)
    left = rows_of("SELECT s.balance FROM label l JOIN carrier_state c ON c.carrier = l.carrier"
                   " JOIN unit_state s ON s.unit = c.content WHERE l.code = %s", cast["vessels"][0])  # fmt: skip
    assert left == [(175_600_000 if later == 2.0 else 207_800_000,)]
    sound()


def test_a_draw_in_doubt_is_put_right(cast: Cast) -> None:
    """Its amount: the doubt stays. Its source: the doubt goes with the vessel."""
    at = morning(cast)
    top_up(cast, at, "red", unsure_ms=0)
    top_up(cast, at + 10 * MINUTE, "red2", unsure_ms=0)
    weigh(cast, at + 9.5 * MINUTE)
    vessel, said = cast["vessels"][0], event("weighed")
    cast.scan(Correct(event=said, was=vessel, now=vessel, amount="12.30", reason="misread"), person=LEAD)
    assert lots(charge_of(cast["tubs"][0])) == {A: "may", B: "may"}
    sound()
    cast.scan(Correct(event=said, was=vessel, now=cast["red2"], reason="out of the octabin"), person=LEAD)
    assert lots(charge_of(cast["tubs"][0])) == {B: "certain"}
    sound()


def two_charges(cast: Cast, *, before: timedelta) -> str:
    """A charge weighed and tipped; another told of, weighed into the tub a little before the tip. The first's event."""
    tub = cast["tubs"][0]
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.charge("skin", cast["red"], tub)
    first = event("weighed")
    cast.scan(TipTub(mould="T430-01", tub=tub))
    tipped = cast.clock.now
    cast.clock.now += timedelta(hours=1)
    second = Weigh(order=WO_RED, layer="skin", box=cast["red2"], tub=tub, scale="W-3", gross="12.20")
    assert cast.late(second, tipped - before, unsure_ms=60_000).outcome == "accepted"
    return first


def test_a_charge_told_into_a_tub_just_before_it_was_empty_came_after(cast: Cast) -> None:
    """The tip was scanned as it was done, the weighing is known to the minute. Then an amount is put right."""
    first = two_charges(cast, before=timedelta(seconds=30))
    assert lots(rows_of("SELECT id FROM unit WHERE kind = 'load'")[0][0]) == {A: "certain"}
    cast.scan(Correct(event=first, was=cast["red"], now=cast["red"], amount="12.30", reason="misread"), person=LEAD)
    assert lots(rows_of("SELECT id FROM unit WHERE kind = 'load'")[0][0]) == {A: "certain"}
    assert lots(charge_of(cast["tubs"][0])) == {B: "certain"}
    assert rows_of("SELECT count(*) FROM carrier_log WHERE until < since") == [(0,)]
    charges = rows_of("SELECT s.status, s.balance FROM unit_state s JOIN unit u ON u.id = s.unit"
                      " WHERE u.kind = 'charge' AND s.status <> 'made anew' ORDER BY u.id")  # fmt: skip
    assert charges == [("weighed", 12_200_000), ("tipped", 0)]
    sound()


def test_a_tip_told_to_the_minute_is_of_what_was_in_the_tub_then(cast: Cast) -> None:
    """Weighed, tipped and weighed again, each a minute after the other; the tip is told last."""
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    tub, at = cast["tubs"][0], morning(cast)
    for box, minutes in (("red", 0), ("red2", 2)):
        into = Weigh(order=WO_RED, layer="skin", box=cast[box], tub=tub, scale="W-3", gross="12.20")
        cast.late(into, at + minutes * MINUTE, unsure_ms=60_000)
    cast.late(TipTub(mould="T430-01", tub=tub), at + MINUTE, unsure_ms=60_000)
    load = rows_of("SELECT child FROM edge e WHERE role = 'charge' AND NOT EXISTS"
                   " (SELECT FROM edge_void v WHERE v.edge = e.id)")  # fmt: skip
    assert [lots(child) for (child,) in load] == [{A: "certain"}]
    assert rows_of("SELECT count(*) FROM carrier_log WHERE until < since") == [(0,)]
    sound()


def test_emptied_and_filled_in_one_minute_in_the_order_in_which_it_is_told(cast: Cast) -> None:
    """Proved empty and filled with another lot, both at ten; then a late fact goes through the vessel again."""
    at = morning(cast)
    top_up(cast, at - 20 * MINUTE, "red", "100")
    cast.late(Count(box=cast["vessels"][0], amount="0", reason="weighed"), at - MINUTE, person=LEAD, unsure_ms=60_000)
    cast.late(ProveEmpty(vessel=cast["vessels"][0]), at, person=LEAD, unsure_ms=60_000)
    top_up(cast, at, "red2")
    top_up(cast, at - 30 * MINUTE, "red", "10")
    holds = rows_of("SELECT c.content, s.balance FROM label l JOIN carrier_state c ON c.carrier = l.carrier"
                    " JOIN unit_state s ON s.unit = c.content WHERE l.code = %s", cast["vessels"][0])  # fmt: skip
    assert [(lots(unit), mg) for unit, mg in holds] == [({B: "certain"}, 100_000_000)]
    sound()


def test_a_hold_told_to_the_minute_is_on_all_that_may_have_been_in_the_vessel(cast: Cast) -> None:
    at = morning(cast)
    top_up(cast, at - 10 * MINUTE, "red")
    cast.late(ProveEmpty(vessel=cast["vessels"][0]), at, person=LEAD, unsure_ms=0)
    top_up(cast, at, "red2", unsure_ms=0)
    answer = cast.late(Hold(code=cast["vessels"][0], reason="damp"), at, person=QUALITY, unsure_ms=60_000)
    assert len(answer.made["holds"]) == 2
    units = [unit for (unit,) in rows_of("SELECT unit FROM hold")]
    assert {lot for unit in units for lot in lots(unit)} == {A, B}
    sound()


def test_what_had_left_long_before_is_in_no_doubt(cast: Cast) -> None:
    """Drawn to the minute, and derived anew as more is told of what was in there half an hour before."""
    at = morning(cast)
    top_up(cast, at - 30 * MINUTE, "red", unsure_ms=0)
    cast.late(ProveEmpty(vessel=cast["vessels"][0]), at - 20 * MINUTE, person=LEAD)
    top_up(cast, at - 10 * MINUTE, "red2", unsure_ms=0)
    weigh(cast, at)
    top_up(cast, at - 25 * MINUTE, "red", "20", unsure_ms=0)
    assert lots(charge_of(cast["tubs"][0])) == {B: "certain"}
    sound()
