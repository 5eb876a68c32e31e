"""A hull that comes back stands where it was put, is held and looked at, and is packed again once it has passed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from random import Random

import pytest

from tests.cast import DEPUTY, MORNING, PACKER, QUALITY, SO_RED, Cast, plate, rows_of
from trace.exports.epcis.document import faults
from trace.exports.epcis.events import hull_events
from trace.genealogy.containment import looked_for
from trace.genealogy.places import came_back, placed, places
from trace.genealogy.recall import gone_by_consignee
from trace.readmodels.rebuild import differences
from trace.recording.acts.complaints import TakeComplaint
from trace.recording.acts.finishing import Inspect
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.packing import Dispatch, Pack, Rack
from trace.recording.acts.returns import Return
from trace.recording.answers import Answer
from trace.recording.commands import Command
from trace.sheets.facts.entries import entries
from trace.sheets.hulls.gathered import gather
from trace.sheets.hulls.lots import status_of

GONE = "gone: WHARFE"


def unit_of(hull: str) -> int:
    return int(rows_of("SELECT hull FROM serial_state WHERE text = %s", hull)[0][0])


def stands(hull: str) -> tuple[str, str]:
    """(status, place) as the read models have it now."""
    [found] = rows_of(
        """SELECT s.status, p.place FROM unit_state s JOIN serial_state t ON t.hull = s.unit
            JOIN place_now p ON p.unit = s.unit WHERE t.text = %s""", hull,
    )  # fmt: skip
    return found


def packed(cast: Cast, *hulls: str, expect: str = "") -> str:
    answer = cast.scan(Pack(order=SO_RED, hulls=hulls), person=PACKER, expect=expect)
    return str(answer.made["codes"][0]) if answer.outcome != "refused" else ""


def sent(cast: Cast, *hulls: str) -> str:
    """Packed together and gone; the pack."""
    pack = packed(cast, *hulls)
    cast.scan(Dispatch(order=SO_RED, packs=(pack,), consignee="WHARFE", vehicle="PA 1"), person=PACKER)
    return pack


def back(cast: Cast, hull: str, place: str = "R4-2", **more: object) -> Answer:
    return cast.scan(Return(hull=hull, place=place, consignee="WHARFE", **more), person=PACKER)  # type: ignore[arg-type]


def looked_at(cast: Cast, hull: str) -> None:
    """Quality ends the hold of its return and passes it."""
    [(hold,)] = rows_of(
        """SELECT h.uid::text FROM hold h WHERE h.unit = %s AND h.rule LIKE 'RETURN-%%'
            AND NOT EXISTS (SELECT FROM hold_release r WHERE r.hold = h.id)""", unit_of(hull),
    )  # fmt: skip
    cast.scan(ReleaseHold(hold=hold, reason="looked at: as sent"), person=DEPUTY)
    cast.shift.inspect(hull)


def test_it_is_here_again_and_was_gone_as_known_before(cast: Cast) -> None:
    cast.hull(plate(1))
    cast.hull(plate(2))
    sent(cast, plate(1), plate(2))
    away, hull = cast.clock(), unit_of(plate(1))
    cast.scan(TakeComplaint(hull=plate(1), symptom="crack"), person=QUALITY)
    answer = back(cast, plate(1), complaint=1)
    assert (answer.outcome, answer.code) == ("flagged", "RETURN-TO-LOOK-AT")
    assert stands(plate(1)) == ("returned", "R4-2") and stands(plate(2)) == ("dispatched", GONE)
    assert places([hull]) == {hull: "R4-2"} and places([hull], away) == {hull: GONE}
    [looked] = looked_for([hull])
    assert not looked.gone and looked_for([hull], (), away)[0].gone == "WHARFE"
    both = [hull, unit_of(plate(2))]
    assert gone_by_consignee(both) == {"WHARFE": [plate(2)]}
    assert gone_by_consignee(both, away) == {"WHARFE": [plate(1), plate(2)]}
    assert came_back(both).keys() == {hull} and not came_back(both, away)
    # Racked elsewhere it stands there: what was told of the truck no longer wins.
    cast.scan(Rack(place="R5-1", units=(plate(1),)), person=PACKER)
    assert places([hull]) == {hull: "R5-1"} and stands(plate(1)) == ("returned", "R5-1")
    assert differences() == []


def test_it_is_packed_again_only_once_it_has_passed(cast: Cast) -> None:
    cast.hull(plate(1))
    old = sent(cast, plate(1))
    back(cast, plate(1))
    assert packed(cast, plate(1), expect="PACK-HELD") == ""
    refused = Inspect(hull=plate(1), verdict="pass")
    assert cast.scan(refused, person=QUALITY, expect="INSPECT-HELD").outcome == "refused"
    [(hold,)] = rows_of("SELECT uid::text FROM hold WHERE rule = 'RETURN-TO-LOOK-AT'")
    cast.scan(ReleaseHold(hold=hold, reason="looked at"), person=DEPUTY)
    assert packed(cast, plate(1), expect="PACK-NOT-RELEASED") == ""
    cast.shift.inspect(plate(1))
    assert stands(plate(1)) == ("released", "R4-2")
    new = packed(cast, plate(1))
    # A hold stops it inside the plant, and the pack it once was in has nothing to do with it.
    held = cast.scan(Hold(code=plate(1), rule="quality", reason="x"), person=QUALITY).made["holds"][0]
    again = Dispatch(order=SO_RED, packs=(new,), consignee="WHARFE", vehicle="PA 2")
    assert cast.scan(again, person=PACKER, expect="GATE-HELD").outcome == "refused"
    cast.scan(ReleaseHold(hold=held, reason="x"), person=DEPUTY)
    assert cast.scan(again, person=PACKER).outcome == "accepted"
    assert stands(plate(1)) == ("dispatched", GONE)
    assert cast.scan(Rack(place="R4-2", units=(old,)), person=PACKER, expect="RACK-GONE").outcome == "refused"
    back(cast, plate(1), "R5-1")
    assert stands(plate(1)) == ("returned", "R5-1")
    assert differences() == []


def test_it_is_never_refused_and_what_is_odd_is_flagged(cast: Cast) -> None:
    cast.hull(plate(1))
    odd = back(cast, plate(1))
    assert (odd.outcome, odd.code) == ("flagged", "RETURN-NOT-SENT")
    unknown = cast.scan(Return(place="R4-2", plate="ghm-t43? ✗", sender="Wilf Heron"), person=PACKER)
    assert (unknown.outcome, unknown.code) == ("warned", "RETURN-UNKNOWN")
    unbound = cast.scan(Return(place="R4-2", hull=plate(9)), person=PACKER)
    assert (unbound.outcome, unbound.code) == ("warned", "RETURN-UNKNOWN")
    assert rows_of("SELECT kind FROM discrepancy ORDER BY event") == [
        ("came back, though it had not left by the record",), ("a hull came back that no record knows",),
        ("a hull came back that no record knows",),
    ]  # fmt: skip
    bodies = [body for (body,) in rows_of("SELECT body FROM event WHERE kind = 'returned'")]
    assert any('"plate":"GHM-T43? ?"' in body for body in bodies) and "Wilf" not in "".join(bodies)
    cast.scan(TakeComplaint(symptom="crack"), person=QUALITY)
    sent_one = cast.hull(plate(2))
    sent(cast, sent_one)
    assert back(cast, sent_one, complaint=1).code == "RETURN-OTHER-COMPLAINT"


def test_it_is_told_to_other_systems_as_unpacked_and_returned(cast: Cast) -> None:
    cast.hull(plate(1))
    sent(cast, plate(1))
    back(cast, plate(1))
    told = list(hull_events(gather(plate(1))))
    out, seen = [e for e in told if e.get("bizStep") == "unpacking" or e.get("disposition") == "returned"]
    assert (out["type"], out["action"], out["childEPCs"]) == ("AggregationEvent", "DELETE", seen["epcList"])
    assert (seen["bizStep"], bool(seen["sourceList"]), bool(seen["bizLocation"])) == ("receiving", True, True)
    assert [fault for event in told for fault in faults(event)] == []


@dataclass(frozen=True)
class Moved:
    """One thing that happened to a hull: away (to whom), back or put (where), n minutes after the first."""

    what: str
    n: int
    place: str


def plain(moves: list[Moved]) -> str:
    """Where a hull is, by a plain reading: of what came back only what happened since counts; of that, gone is gone."""
    order = sorted(enumerate(moves), key=lambda one: (one[1].n, one[0]))
    last = max((at for at, (_, one) in enumerate(order) if one.what == "back"), default=0)
    since = [one for _, one in order[last:]]
    gone = [one.place for one in since if one.what == "away"]
    return (gone or [one.place for one in since])[-1]


@pytest.mark.parametrize("seed", range(8))
def test_told_in_any_order_the_read_model_the_truth_and_a_plain_reading_agree(cast: Cast, seed: int) -> None:
    """Trucks, returns and racks, each told late and in any order; as known after each of them."""
    rng, hull = Random(seed), plate(1)
    cast.hull(hull)
    unit, start = unit_of(hull), cast.clock.now
    [(uid,)] = rows_of("SELECT uid::text FROM unit WHERE id = %s", unit)
    pack = packed(cast, hull)
    moves = [Moved("put", -1, "PACKING")]
    cast.clock.now = start + timedelta(minutes=200)
    known: list[tuple[datetime, str]] = []
    for n in rng.sample(range(1, 100), 9):
        what, happened = rng.choice(("away", "back", "put", "put")), start + timedelta(minutes=n)
        place = rng.choice(("R4-2", "R5-1"))
        told: Command = Rack(place=place, units=(hull,))
        if what == "away":
            told = Dispatch(order=SO_RED, packs=(rng.choice((pack, hull)),), consignee="WHARFE", vehicle="PA 1")
            place = GONE
        elif what == "back":
            told = Return(hull=hull, place=place)
        before = rows_of("SELECT count(*) FROM event_unit WHERE unit = %s AND role = 'placed'", unit)
        cast.late(told, happened, person=PACKER)
        if rows_of("SELECT count(*) FROM event_unit WHERE unit = %s AND role = 'placed'", unit) != before:
            # What is gone by the record is not racked: that is asked about, and it stays where it went.
            moves.append(Moved(what, n, place))
        expected, (status, place) = plain(moves), stands(hull)
        assert place == expected, moves
        assert status_of(entries(inner=[unit]), uid) == status, moves
        assert places([unit]) == {unit: expected}, moves
        known.append((cast.clock(), expected))
    for at, expected in known:
        assert placed([unit], at)[unit].place == expected
    assert differences() == []
    assert start > MORNING
