"""Mock recalls: the clock, both directions, what is reconciled; a signed result is what the records give, for ever."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from tests.cast import QUALITY, STORES, Cast, plate, rows_of
from trace.codes.formulas import percent_of
from trace.genealogy.drill import Drill, drills, found_by
from trace.readmodels.rebuild import differences
from trace.recording.acts.counting import Count
from trace.recording.acts.drills import BeginDrill, MarkDrill, SignDrill, outcome_of


def begun(cast: Cast, lot: str = "V-2288", hull: str = plate(1), **more: Any) -> Drill:
    cast.scan(BeginDrill(lot=lot, hull=hull), person=QUALITY, **more)
    return drills()[0]


def marked(cast: Cast, drill: Drill) -> Drill:
    for way in ("forward", "back"):
        cast.scan(MarkDrill(drill=drill.uid, way=way), person=QUALITY)
    return drills(uid=drill.uid)[0]


def sign(cast: Cast, drill: Drill, *, expect: str = "", **changed: str) -> Any:
    found = outcome_of(drill)
    command = SignDrill(drill=drill.uid, result={**found.said, **changed}, unaccounted=found.unaccounted)
    return cast.scan(command, person=QUALITY, expect=expect)


def test_a_drill_goes_both_ways_and_balances_the_lot(cast: Cast) -> None:
    cast.hull(plate(1))
    cast.hull(plate(2))
    # 24.4 of 500 kg are in two skins; a count finds 5 kg less than the book.
    cast.scan(Count(box=cast["red"], amount="470.60", reason="weighed"), person=STORES)
    drill = begun(cast)
    said = outcome_of(drill).said
    assert (said["certain"], said["may"], said["gone"], said["nowhere"]) == ("2", "0", "0", "0")
    assert (said["received"], said["accounted"], said["uom"]) == ("500.000", "495.000", "kg")
    assert said["reconciled"] == str(percent_of(495, 500, 2)) == "99.00"
    assert int(said["lots"]) == 7
    assert ("unexplained", "5.000 kg") in outcome_of(drill).unaccounted
    signed = sign(cast, marked(cast, drill))
    assert signed.outcome == "accepted"
    drill = drills()[0]
    assert drill.result == dict(said)
    assert (drill.signed_by, drill.minutes(drill.signed)) == (QUALITY, 3)
    assert differences() == []


def test_asked_again_for_its_moment_a_drill_has_the_same_result(cast: Cast) -> None:
    cast.hull(plate(1))
    drill = marked(cast, begun(cast))
    sign(cast, drill)
    cast.hull(plate(2))
    cast.scan(Count(box=cast["red"], amount="300", again="300", reason="weighed"), person=STORES)
    drill = drills()[0]
    found = outcome_of(drill)
    assert (dict(found.said), found.unaccounted) == (dict(drill.result), drill.unaccounted)
    now = found_by(drill.lot, drill.hull, cast.clock())
    assert now.said["certain"] == "2"
    assert now.said["digest"] != found.said["digest"]


def test_what_the_records_do_not_give_cannot_be_signed(cast: Cast) -> None:
    cast.hull(plate(1))
    drill = begun(cast)
    assert sign(cast, drill, expect="DRILL-UNMARKED").code == "DRILL-UNMARKED"
    drill = marked(cast, drill)
    for changed in ({"reconciled": "99.99"}, {"certain": "2"}, {"digest": "0" * 64}):
        assert sign(cast, drill, expect="DRILL-OTHER-RESULT", **changed).code == "DRILL-OTHER-RESULT"
    again = cast.scan(MarkDrill(drill=drill.uid, way="back"), person=QUALITY, expect="DRILL-MARKED")
    assert again.code == "DRILL-MARKED"
    assert sign(cast, drill).outcome == "accepted"
    assert sign(cast, drill, expect="DRILL-SIGNED").code == "DRILL-SIGNED"
    late = cast.scan(MarkDrill(drill=drill.uid, way="back"), person=QUALITY, expect="DRILL-SIGNED")
    assert late.code == "DRILL-SIGNED"


def test_nobody_changes_a_signed_result(cast: Cast) -> None:
    cast.hull(plate(1))
    sign(cast, marked(cast, begun(cast)))
    for sql in (
        "UPDATE event SET body = replace(body, 'reconciled', 'reckoned') WHERE kind = 'drill_signed'",
        "DELETE FROM event WHERE kind = 'drill_signed'",
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            rows_of(sql)


def test_the_clock_is_that_of_the_records(cast: Cast) -> None:
    cast.hull(plate(1))
    drill = begun(cast)
    cast.clock.now += timedelta(minutes=10)
    drill = marked(cast, drill)
    assert [drill.minutes(drill.marks[way]) for way in ("forward", "back")] == [11, 12]
    assert drill.minutes(None) is None


@pytest.mark.parametrize(
    ("lot", "hull", "says"),
    [("nobody", "", "Nothing"), ("V-2288", "nobody", "Nothing"), ("V-2288", "V-2301", "is no hull")],
)
def test_a_drill_is_begun_for_what_can_be_traced(cast: Cast, lot: str, hull: str, says: str) -> None:
    cast.hull(plate(1))
    command = BeginDrill(lot=lot, hull=hull or plate(1))
    answer = cast.scan(command, person=QUALITY, expect="AMOUNT-UNREADABLE")
    assert answer.code == "AMOUNT-UNREADABLE"
    assert says in answer.why
