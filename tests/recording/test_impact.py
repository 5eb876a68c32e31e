"""An impact test that fails holds what was made on its arm of its recipe and lots since the last pass, no more."""

from __future__ import annotations

from datetime import timedelta
from random import Random
from typing import Any

import pytest
from django.utils import timezone

from tests.cast import LEAD, QUALITY, Cast, plate, rows_of
from trace.genealogy.causes import read_cause
from trace.genealogy.impact import Moulding, alike, between, open_drops, series
from trace.genealogy.sharing import shared_by
from trace.readmodels.rebuild import differences
from trace.recording.acts.impact import IMPACT_FAILS, DropDart, EndImpact, ReopenImpact, TakeBackDrop
from trace.recording.answers import Answer

# Eleven drops about 1.2 m, and about 0.6 m.
TOUGH = ("1.05 pass", "1.20 ductile", "1.05 pass", "1.20 pass", "1.35 ductile", "1.20 pass", "1.35 ductile",
         "1.20 ductile", "1.05 pass", "1.20 ductile", "1.05 pass")  # fmt: skip
BRITTLE = ("0.60 pass", "0.75 brittle", "0.60 pass", "0.75 ductile", "0.60 ductile", "0.45 pass", "0.60 pass",
           "0.75 ductile", "0.60 brittle", "0.45 pass")  # fmt: skip


def dropped(cast: Cast, hull: str, drop: str, **by: Any) -> Answer:
    height, result = drop.split()
    command = DropDart(unit=hull, height=height, result=result, temperature=by.pop("c", "-40"))
    return cast.scan(command, person=LEAD, **by)


def staircase(cast: Cast, hull: str, drops: tuple[str, ...]) -> Answer:
    for drop in drops:
        dropped(cast, hull, drop)
    return cast.scan(EndImpact(unit=hull), person=QUALITY)


def held() -> set[str]:
    """The plates on which an impact test's hold is."""
    return {serial for (serial,) in rows_of(
        """SELECT t.text FROM unit_hold u JOIN hold h ON h.id = u.hold JOIN serial_state t ON t.hull = u.unit
            WHERE h.rule = %s""", IMPACT_FAILS,
    )}  # fmt: skip


def unit_of(hull: str) -> int:
    return int(rows_of("SELECT hull FROM serial_state WHERE text = %s", hull)[0][0])


def test_a_failed_test_reaches_back_to_the_last_pass(cast: Cast) -> None:
    """Not to another arm, not before the pass, nor to other lots; a pass on the same lots ends it on the other side."""
    for n, (mould, arm, red) in enumerate(
        (("T430-01", "S1", ""), ("T430-01", "S1", ""), ("T430-02", "S2", ""), ("T430-01", "S1", cast["red2"]),
         ("T430-01", "S1", ""), ("T430-01", "S1", "")), 1,
    ):  # fmt: skip
        cast.hull(plate(n), mould, arm, red)
    assert staircase(cast, plate(1), TOUGH).outcome == "accepted"
    answer = staircase(cast, plate(5), BRITTLE)
    assert (answer.outcome, answer.code) == ("warned", "IMPACT-FAILS")
    assert held() == {plate(2), plate(5), plate(6)}
    [first] = series([unit_of(plate(1))])[unit_of(plate(1))]
    assert (first.verdict, first.mean, len(first.drops)) == ("pass", "1.185", 11)
    # A second failure holds nothing twice; it is a figure to ask for, and who shares it.
    assert "held: 0" in staircase(cast, plate(6), BRITTLE).recorded
    asked = shared_by(read_cause(["impact=..0.9"]))
    certain = {line.node.code for line in asked.lines if line.verdict == "certain"}
    assert certain == {plate(5), plate(6)}
    assert differences() == []


def test_drops_are_judged_taken_back_and_told_late(cast: Cast) -> None:
    cast.hull(plate(1))
    assert dropped(cast, plate(1), "1.05 pass", c="-31", expect="IMPACT-WARM").outcome == "refused"
    for bad in ("1,05 pass", "0 pass", "11 pass", "1.05 cracked"):
        assert dropped(cast, plate(1), bad, expect="AMOUNT-UNREADABLE").outcome == "refused"
    other = DropDart(unit=plate(1), height="1.05", result="pass", temperature="-40", dart="30 lb")
    assert cast.scan(other, person=LEAD, expect="IMPACT-DART").outcome == "refused"
    assert dropped(cast, plate(1), "1.05 pass").outcome == "accepted"
    assert dropped(cast, plate(1), "1.05 pass", expect="IMPACT-STEP").outcome == "warned"
    assert cast.scan(EndImpact(unit=plate(1)), person=QUALITY, expect="IMPACT-FEW").outcome == "refused"
    unit = unit_of(plate(1))
    wrong = open_drops(unit)[1].uid
    back = TakeBackDrop(unit=plate(1), drop=wrong)
    assert cast.scan(back, person=QUALITY, expect="REASON-MISSING").outcome == "refused"
    cast.scan(TakeBackDrop(unit=plate(1), drop=wrong, reason="pressed twice"), person=QUALITY)
    again = TakeBackDrop(unit=plate(1), drop=wrong, reason="again")
    assert cast.scan(again, person=QUALITY, expect="IMPACT-DROP-GONE").outcome == "refused"
    # One from the paper of that morning stands before it.
    now = cast.clock()
    cast.late(
        DropDart(unit=plate(1), height="1.20", result="ductile", temperature="-40"), now - timedelta(minutes=30),
        person=LEAD,
    )  # fmt: skip
    assert [drop.height for drop in open_drops(unit)] == ["1.20", "1.05"]


@pytest.mark.parametrize("seed", range(6))
def test_the_bracket_against_looking_at_every_pass(seed: int) -> None:
    """The oracle goes through all passes one by one, by hand."""
    rng = Random(seed)
    day = timezone.now()
    made = [
        Moulding(n, day + timedelta(minutes=rng.randrange(40)), "S1", "T430", "1",
                 frozenset(rng.sample(range(3), rng.randrange(3))))
        for n in range(12)
    ]  # fmt: skip
    for of in made:
        since, until = None, None
        for one in made:
            like = all(lot in of.lots for lot in one.lots) or all(lot in one.lots for lot in of.lots)
            assert like == alike(one.lots, of.lots)
            if one.id == of.id or not like:
                continue
            if one.made <= of.made:
                since = one.made if since is None or one.made > since else since
            else:
                until = one.made if until is None or one.made < until else until
        assert between(of, made) == (since, until)


def test_an_end_taken_back_opens_the_test_and_holds_what_it_had_cleared(cast: Cast) -> None:
    for n in range(1, 6):
        cast.hull(plate(n))
    staircase(cast, plate(2), TOUGH)
    staircase(cast, plate(4), BRITTLE)
    assert held() == {plate(3), plate(4), plate(5)}
    impact = read_cause(["impact=..5"])
    assert len([line for line in shared_by(impact).lines if line.verdict == "certain"]) == 2
    [passed] = series()[unit_of(plate(2))]
    back = ReopenImpact(unit=plate(2), end=passed.uid, reason="ended before its time")
    assert cast.scan(back, person=QUALITY).outcome == "accepted"
    # Nothing stands between the failed test and the first of them any more.
    assert held() == {plate(n) for n in range(1, 6)}
    assert len(open_drops(unit_of(plate(2)))) == len(TOUGH)
    assert len([line for line in shared_by(impact).lines if line.verdict == "certain"]) == 1
    assert series([unit_of(plate(2))], passed.ended)[unit_of(plate(2))][0].verdict == "pass", "as known then"
    assert cast.scan(back, person=QUALITY, expect="IMPACT-END-GONE").outcome == "refused"
    [failed] = series()[unit_of(plate(4))]
    cast.scan(ReopenImpact(unit=plate(4), end=failed.uid, reason="wrong hull"), person=QUALITY)
    assert held() == {plate(n) for n in range(1, 6)}, "a hold stays until a person ends it"
    assert differences() == []
