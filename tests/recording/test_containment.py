"""A containment walk: what is found, where and by whom; live over a hold; told in any order, against a plain book."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from random import Random
from typing import Any

import pytest

from tests.cast import PACKER, PLANNER, QUALITY, SO_RED, Cast, plate, rows_of
from trace.genealogy import containment
from trace.genealogy.containment import RESULTS, Begun, Progress, progress, walks
from trace.readmodels.rebuild import differences
from trace.recording.acts.containment import BeginContainment, EndContainment, SeeHull
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.opening import OldHull
from trace.recording.acts.packing import Dispatch, Pack, Rack

PLACES = ("R4-2", "R5-1", "STORE")


def old(cast: Cast, n: int, **more: Any) -> str:
    serial = f"OLD-{n:03d}"
    cast.scan(OldHull(serial=serial, product="T430", colour="red", place="STORE", **more), person=PLANNER)
    return serial


def uids(*serials: str) -> tuple[str, ...]:
    found = dict(rows_of("SELECT s.text, u.uid::text FROM serial_state s JOIN unit u ON u.id = s.hull"))
    return tuple(found[serial] for serial in serials)


def over_list(cast: Cast, *serials: str) -> Begun:
    known_on = "2026-06-08T06:00:00.000000Z"
    cast.scan(BeginContainment(question=("model=T430",), known_on=known_on, hulls=uids(*serials)), person=QUALITY)
    return walks()[0]


def over_hold(cast: Cast, code: str) -> tuple[Begun, str]:
    hold = cast.scan(Hold(code=code, rule="quality", reason="density query"), person=QUALITY).made["holds"][0]
    cast.scan(BeginContainment(hold=hold), person=QUALITY)
    return walks()[0], hold


def see(cast: Cast, walk: Begun, code: str, place: str = "STORE", result: str = "found", **by: Any) -> Any:
    return cast.scan(SeeHull(walk=walk.uid, place=place, hull=code, result=result), **{"person": PACKER, **by})


def by_plate(found: Progress) -> dict[str, tuple[str, str]]:
    """Plate -> (result, where it was seen) of every hull of the list."""
    return {one.node.code: (one.seen.result, one.seen.place) if one.seen else ("", "") for one in found.hulls}


def test_what_is_found_elsewhere_stands_there_from_then_on(cast: Cast) -> None:
    one, two, three = (old(cast, n) for n in (1, 2, 3))
    walk = over_list(cast, one, two)
    assert see(cast, walk, one).outcome == "accepted"
    moved = see(cast, walk, two, "R4-2", "tagged")
    assert (moved.outcome, moved.code) == ("warned", "WALK-ELSEWHERE")
    stranger = see(cast, walk, three)
    assert (stranger.outcome, stranger.code) == ("warned", "WALK-NOT-LISTED")
    found = progress(walk)
    assert by_plate(found) == {one: ("found", "STORE"), two: ("tagged", "R4-2")}
    assert [entry.node.code for entry in found.besides] == [three]
    assert [found.count(result) for result in ("", *RESULTS)] == [0, 1, 1, 0, 0]
    assert rows_of("SELECT p.place FROM place_now p JOIN serial_state s ON s.hull = p.unit WHERE s.text = %s", two) == [
        ("R4-2",)
    ]
    assert differences() == []


def test_a_walk_over_a_hold_finds_what_is_made_after_it_began(cast: Cast) -> None:
    cast.hull(plate(1))
    walk, hold = over_hold(cast, cast["red"])
    before = cast.clock()
    assert by_plate(progress(walk)) == {plate(1): ("", "")}
    see(cast, walk, plate(1), "R4-2", "passed")
    cast.scan(ReleaseHold(hold=hold, code=plate(1), reason="wall measured"), person="P-10")
    assert by_plate(progress(walk)) == {}
    # What is passed on a walk is free when quality ends its hold, and not before; as known then it was on the list.
    assert by_plate(progress(walk, before)) == {plate(1): ("", "")}


def test_a_pack_is_seen_for_all_that_is_in_it_and_what_has_left_is_told(cast: Cast) -> None:
    one, two, three = (old(cast, n) for n in (1, 2, 3))
    box = cast.scan(Pack(order=SO_RED, hulls=(one, two)), person=PACKER).made["codes"][0]
    gone = cast.scan(Pack(order=SO_RED, hulls=(three,)), person=PACKER).made["codes"][0]
    cast.scan(Dispatch(order=SO_RED, packs=(gone,), consignee="WHARFE", vehicle="PA 12"), person=PACKER)
    walk = over_list(cast, one, two, three)
    found = progress(walk)
    assert [entry.node.code for entry in found.gone] == [three]
    assert found.gone[0].gone == "WHARFE"
    see(cast, walk, box, "PACKING", "tagged")
    assert by_plate(progress(walk)) == {one: ("tagged", "PACKING"), two: ("tagged", "PACKING"), three: ("", "")}
    back = see(cast, walk, three, "R4-2")
    assert (back.outcome, back.code) == ("warned", "WALK-GONE")
    # It counts as found here, and stays gone by the record until a person has looked.
    assert [entry.node.code for entry in progress(walk).here] == [one, two, three]
    assert rows_of("SELECT count(*) FROM discrepancy WHERE kind LIKE 'seen in the plant%%' AND closed_by IS NULL") == [
        (1,)
    ]
    assert differences() == []


def test_all_that_is_held_for_one_scope_is_one_hold_to_who_looks_for_it(cast: Cast) -> None:
    one, two, other = (old(cast, n) for n in (1, 2, 3))
    laid = [
        cast.scan(Hold(code=code, rule=rule, reason="x"), person=QUALITY).made["holds"][0]
        for code, rule in ((one, "scope 7"), (two, "scope 7"), (other, "quality"))
    ]
    cast.scan(BeginContainment(hold=laid[0]), person=QUALITY)
    assert set(by_plate(progress(walks()[0]))) == {one, two}
    assert see(cast, walks()[0], two).outcome == "accepted"
    assert see(cast, walks()[0], other).code == "WALK-NOT-LISTED"


def test_what_is_missing_says_who_put_it_there_last(cast: Cast) -> None:
    one = old(cast, 1)
    cast.scan(Rack(place="R5-1", units=(one,)), person=PACKER)
    [entry] = progress(over_list(cast, one)).hulls
    assert entry.last is not None
    assert (entry.last.place, entry.last.person) == ("R5-1", PACKER)


def test_a_walk_that_is_over_takes_no_more(cast: Cast) -> None:
    one = old(cast, 1)
    walk = over_list(cast, one)
    cast.scan(EndContainment(walk=walk.uid, reason="all found"), person=QUALITY)
    assert see(cast, walk, one, expect="WALK-OVER").code == "WALK-OVER"
    assert walks()[0].ended is not None
    again = cast.scan(EndContainment(walk=walk.uid), person=QUALITY, expect="WALK-OVER")
    assert again.code == "WALK-OVER"


@pytest.mark.parametrize(
    ("begun", "code"),
    [
        ({"hold": "01900000-0000-7000-8000-000000000000"}, "WALK-NO-HOLD"),
        ({"hold": "no hold"}, "WALK-NO-HOLD"),
        ({"question": ("model=T430",)}, "WALK-NOTHING"),
        ({"question": ("model=T430",), "hulls": ("01900000-0000-7000-8000-000000000000",)}, "WALK-NOTHING"),
    ],
)
def test_a_walk_is_begun_for_something_there_is(cast: Cast, begun: dict[str, Any], code: str) -> None:
    assert cast.scan(BeginContainment(**begun), person=QUALITY, expect=code).code == code


def test_a_result_is_one_of_four(cast: Cast) -> None:
    one = old(cast, 1)
    walk = over_list(cast, one)
    assert see(cast, walk, one, result="approved", expect="AMOUNT-UNREADABLE").code == "AMOUNT-UNREADABLE"
    assert see(cast, walk, one, result="", expect="AMOUNT-UNREADABLE").code == "AMOUNT-UNREADABLE"


# A story in a random order of telling, against a plain book: of each hull what happened last counts.


def story(cast: Cast, seed: int) -> Callable[[datetime | None], dict[str, tuple[str, str]]]:
    """Tell twenty finds of five hulls, some late; the book that says what must be known of each by a moment."""
    random = Random(seed)
    serials = [old(cast, n) for n in range(1, 6)]
    walk = over_list(cast, *serials)
    start = cast.clock()
    book: list[tuple[datetime, int, datetime, str, str, str]] = []
    for n in range(20):
        serial, place, result = random.choice(serials), random.choice(PLACES), random.choice(RESULTS)
        now = cast.clock()
        late = random.random() < 0.5
        happened = start + timedelta(seconds=random.randrange(int((now - start).total_seconds()))) if late else now
        by = {"mode": "tells", "happened": happened, "recorded": now}
        see(cast, walk, serial, place, result, **by)
        book.append((happened, n, now, serial, result, place))

    def known(by: datetime | None) -> dict[str, tuple[str, str]]:
        last = dict.fromkeys(serials, ("", ""))
        for _happened, _n, recorded, serial, result, place in sorted(book):
            if by is None or recorded <= by:
                last[serial] = (result, place)
        return last

    for moment in (None, *(entry[2] for entry in random.sample(book, 3))):
        assert by_plate(progress(walk, moment)) == known(moment)
    return known


@pytest.mark.parametrize("seed", range(2))
def test_in_whatever_order_finds_are_told_the_last_that_happened_counts(cast: Cast, seed: int) -> None:
    story(cast, seed)


@pytest.mark.parametrize(
    ("what", "instead"),
    [("v.happened, v.id", "v.id"), ("v.happened, v.id", "v.happened DESC, v.id"), ("v.recorded <=", "v.happened <=")],
)
def test_the_book_finds_a_planted_fault(
    cast: Cast, monkeypatch: pytest.MonkeyPatch, what: str, instead: str
) -> None:
    assert what in containment.SEEN_SO_FAR
    monkeypatch.setattr(containment, "SEEN_SO_FAR", containment.SEEN_SO_FAR.replace(what, instead))
    with pytest.raises(AssertionError):
        story(cast, 0)
