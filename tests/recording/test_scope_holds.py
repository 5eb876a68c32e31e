"""A hold on a scope: what shares it here and now is stopped, and what is made later and shares it, or may."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from tests.cast import LEAD, PACKER, PLANNER, QUALITY, SO_RED, Cast, plate, rows_of
from trace.genealogy.built import all_hulls
from trace.genealogy.causes import Holds, Not, read_cause, simple_parts
from trace.genealogy.find import find_unit
from trace.genealogy.sharing import Shared, shared_by
from trace.readmodels.plantdata import newest
from trace.readmodels.rebuild import differences
from trace.recording.acts.opening import OldHull
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.scope_holds import EndScopeHold, HoldScope, SpreadScope, under
from trace.recording.floor.behind_hull import Behind, Judge, read_behind
from trace.recording.floor.scopes_on_hold import live_scopes

# One of each sort of question that the cast's records can answer.
QUESTIONS = (
    "arm=S1", "arm=S2", "oven=OVEN-2", "scale=W-3", "person=P-01", "person=P-09", "mould=T430-01",
    "mould=T430-02", "works-order=WO-1041", "model=T430", "model=H320", "colour=red", "colour=teal", "cavity=1",
    "recipe=T430/1", "recipe=H320/1", "holds=V-2288", "holds=V-2291", "holds=N-0398", "holds=N-0417",
    "holds=F-118 in=foam",
    "supplier=VERRIN", "supplier=MARROW", "made=2026-06-08", "made=2026-06-09..", "peak=200..210", "peak=215..",
    "demould-temperature=..50", "thickness=..4.1", "thickness=4.2..", "cook-time=5..", "cook-time=300..", "stopped=1..",
    "oven-set=100..300", "stage:heat=1..", "certificate:mfi=3..4", "certificate:mfi=9..", "hull-mass=1..",
    "charged:skin=12.1..12.3", "charged:skin=20..", "charged:foam=1..",
    "arm=S1 and holds=V-2288", "arm=S1 and not holds=V-2288", "model=T430 and not arm=S2 and made=2026-06-08",
)  # fmt: skip


def lay(cast: Cast, words: str, **by: str) -> int:
    asked = tuple(words.split(" "))
    cast.scan(HoldScope(cause=asked, reason="cracked"), person=QUALITY, **by)
    return live_scopes()[-1].number


def spread(cast: Cast, number: int) -> Shared:
    (scope,) = [one for one in live_scopes() if one.number == number]
    answer = shared_by(scope.cause)
    sharing = tuple(line.made.uid for line in answer.lines if line.verdict != "cannot")
    cast.scan(SpreadScope(number=number, hulls=sharing), person=QUALITY)
    return answer


def held(*plates: str) -> list[bool]:
    found = {
        text for (text,) in rows_of("SELECT s.text FROM unit_hold h JOIN serial_state s ON s.hull = h.unit")
    }
    return [text in found for text in plates]


def uid(serial: str) -> str:
    found = rows_of("SELECT u.uid::text FROM serial_state s JOIN unit u ON u.id = s.hull WHERE s.text = %s", serial)
    return str(found[0][0])


def bound(cast: Cast, plate: str, mould: str = "T430-01", arm: str = "S1") -> str:
    """A kayak with its plate, not inspected yet: one on hold cannot pass."""
    cast.moulding(mould, arm)
    cast.shift.demould_and_bind(mould, plate)
    return plate


def judged(words: Sequence[str]) -> dict[str, str]:
    """The verdict on every hull by what is behind it, as a scan judges."""
    cause = read_cause(words)
    roots = {part.code: find_unit(part.code) for part in simple_parts(cause) if isinstance(part, Holds)}
    plant = newest()
    judge = Judge(roots, plant.calendar, lambda one, name: name in plant.body("material", one).get("spec", {}))
    hulls = all_hulls()
    behind = read_behind({
        hull.id: (Behind(hull.about, hull.built.first, hull.built.last, hull.joined), [hull.id])
        for hull in hulls.values()
    })  # fmt: skip
    return {hulls[key].uid: judge.verdict(cause, one) for key, one in behind.items()}


def test_a_scan_never_calls_free_what_the_whole_answer_does_not(cast: Cast) -> None:
    cast.hull(plate(1))
    cast.hull(plate(2), "T430-02", "S2", red=cast["red2"])
    cast.scan(OldHull(serial="OLD-001", product="T430", colour="red", made="2025-06"), person=PLANNER)
    exact = 0
    for words in QUESTIONS:
        asked = [part.replace("_", " ") for part in words.split(" ")]
        whole = {line.made.uid: line.verdict for line in shared_by(read_cause(asked)).lines}
        for hull, verdict in judged(asked).items():
            assert verdict != "cannot" or whole[hull] == "cannot", (words, verdict, whole[hull])
            assert verdict != "certain" or whole[hull] == "certain", (words, verdict, whole[hull])
            exact += (verdict == "cannot") == (whole[hull] == "cannot")
    # It stops little more than shares it: mostly what was made before records began.
    assert exact >= len(QUESTIONS) * 3 * 0.9
    assert judged(["not", "arm=S1"]) == {
        line.made.uid: line.verdict for line in shared_by(Not(read_cause(["arm=S1"]))).lines
    }


def test_what_shares_it_is_stopped_and_what_is_made_later_too(cast: Cast) -> None:
    first, other = cast.hull(plate(1)), cast.hull(plate(2), "T430-02", "S2", red=cast["red2"])
    number = lay(cast, "arm=S1 and holds=V-2288")
    # In force at once: packing judges by it before any hull is named.
    stopped = cast.scan(Pack(order=SO_RED, hulls=(first,)), person=PACKER, expect="PACK-MAY-BE-HELD")
    assert "It shares scope 1 (arm=S1 and holds=V-2288), which is on hold, or may." in stopped.why
    assert held(first, other) == [False, False]
    answer = spread(cast, number)
    assert [answer.count(verdict) for verdict in ("certain", "may", "cannot")] == [1, 0, 1]
    assert held(first, other) == [True, False]
    assert cast.scan(Pack(order=SO_RED, hulls=(first,)), person=PACKER, expect="PACK-HELD").code == "PACK-HELD"
    later, free = bound(cast, plate(3)), bound(cast, plate(4), "T430-02", "S2")
    assert held(later, free) == [True, False]
    assert cast.scan(Pack(order=SO_RED, hulls=(other,)), person=PACKER).outcome == "accepted"
    # As it was held while it was recorded, so the whole question answers.
    lines = shared_by(read_cause(["arm=S1", "holds=V-2288"])).lines
    assert {line.node.code for line in lines if line.verdict != "cannot"} == {first, later}
    assert differences() == []


def test_one_is_let_go_with_a_reason_and_stays_so(cast: Cast) -> None:
    first, second = cast.hull(plate(1)), cast.hull(plate(2))
    number = lay(cast, "arm=S1")
    spread(cast, number)
    mine = EndScopeHold(number=number, hulls=(uid(first),), reason="looked at")
    assert cast.scan(mine, person=QUALITY, expect="AMOUNT-UNREADABLE").code == "AMOUNT-UNREADABLE"
    assert cast.scan(EndScopeHold(number=number, hulls=(uid(first),)), person=LEAD, expect="REASON-MISSING")
    cast.scan(mine, person=LEAD)
    assert held(first, second) == [False, True]
    spread(cast, number)
    assert under(number) == [uid(second)]
    assert cast.scan(Pack(order=SO_RED, hulls=(first,)), person=PACKER).outcome == "accepted"
    cast.scan(EndScopeHold(number=number, reason="cleared"), person=LEAD)
    assert held(first, second) == [False, False]
    assert live_scopes() == ()
    assert held(bound(cast, plate(3))) == [False]
    assert differences() == []


def test_the_gate_judges_what_was_packed_before(cast: Cast) -> None:
    first = cast.hull(plate(1))
    pack = cast.scan(Pack(order=SO_RED, hulls=(first,)), person=PACKER).made["codes"][0]
    lay(cast, "mould=T430-01")
    go = Dispatch(order=SO_RED, packs=(pack,), consignee="WHARFE", vehicle="PA 12")
    assert cast.scan(go, person=PACKER, expect="GATE-MAY-BE-HELD").code == "GATE-MAY-BE-HELD"
    spread(cast, 1)
    assert cast.scan(go, person=PACKER, expect="GATE-HELD").code == "GATE-HELD"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("luck=bad", "not known as a cause"), ("holds=nobody", "Nothing is known under"), ("arm=S99", "No arm S99"),
        ("arm=S1 )", "nothing can follow"),
    ],
)
def test_what_cannot_be_asked_cannot_be_held(cast: Cast, words: str, says: str) -> None:
    refused = cast.scan(HoldScope(cause=tuple(words.split()), reason="x"), person=QUALITY, expect="AMOUNT-UNREADABLE")
    assert says in refused.why
    assert cast.scan(SpreadScope(number=7, hulls=()), person=QUALITY, expect="AMOUNT-UNREADABLE")


def test_nothing_is_looked_up_where_no_scope_is_on_hold(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("trace.recording.acts.doubted.behind_hulls", lambda _hulls: pytest.fail("looked behind a hull"))
    cast.scan(Pack(order=SO_RED, hulls=(cast.hull(plate(1)),)), person=PACKER)
