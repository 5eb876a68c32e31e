"""What lies behind powder of ground hulls is read once and kept, until a record changes it."""

from __future__ import annotations

from typing import Any

import pytest

from tests.below import below_the_door
from tests.cast import QUALITY, Cast, plate, rows_of
from tests.recording.test_scope_holds import judged, uid
from trace.genealogy.causes import read_cause
from trace.genealogy.sharing import shared_by
from trace.recording.acts.goods_in import Certify
from trace.recording.floor import ground

EDGE = """INSERT INTO edge (n, child, parent, event, role, aside, recorded)
SELECT max(e.n) + 1, %s, %s, (SELECT max(id) FROM event), %s, false, now() FROM edge e"""
VOID = "INSERT INTO edge_void (edge, event, recorded) SELECT max(id), max(event), now() FROM edge"


def one(sql: str, *values: Any) -> Any:
    return rows_of(sql, *values)[0][0]


def of_lot(lot: str) -> int:
    """The filling of the box in which this lot came."""
    found: int = one(
        "SELECT e.child FROM edge e JOIN unit u ON u.id = e.parent AND u.lot_no = %s WHERE e.role = 'receive'", lot
    )
    return found


@pytest.fixture
def ground_into(cast: Cast) -> tuple[str, str]:
    """A hull of lot V-2288 that was ground into the box out of which another hull's skin came. (No act records that
    yet.)"""
    first, other = uid(cast.hull(plate(1))), uid(cast.hull(plate(2), "T430-02", "S2", red=cast["red2"]))
    assert judged(["holds=V-2288"]) == {first: "may", other: "cannot"}
    with below_the_door() as below:
        hull = one("SELECT id FROM unit WHERE uid = %s", first)
        below.execute(EDGE, [of_lot("V-2291"), hull, "regrind"])
    return first, other


def test_it_is_shared_through_it_as_the_whole_answer_says(ground_into: tuple[str, str]) -> None:
    first, other = ground_into
    for words in (["holds=V-2288"], ["supplier=VERRIN"], ["holds=V-2291"]):
        whole = {line.made.uid: line.verdict for line in shared_by(read_cause(words)).lines}
        for hull, verdict in judged(words).items():
            assert verdict != "cannot" or whole[hull] == "cannot", (words, hull)
    assert judged(["holds=V-2288"])[other] == "may"
    # What was done to the hull that was ground was not done to this one.
    assert judged(["arm=S1"]) == {first: "certain", other: "cannot"}


def test_it_is_read_once_until_a_record_changes_it(
    cast: Cast, ground_into: tuple[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    read: list[int] = []
    real = ground._read

    def counted(unit: int) -> ground.Ground:
        read.append(unit)
        return real(unit)

    monkeypatch.setattr(ground, "_read", counted)
    _first, other = ground_into
    ground.forget()
    judged(["arm=S1"])
    cast.hull(plate(3))
    judged(["arm=S1"])
    assert len(read) == 1
    # A certificate's value that is said now is known at once, with nothing read again.
    assert judged(["certificate:ash=9..10"])[other] == "cannot"
    cast.scan(Certify(container=cast["red"], lot_on_certificate="V-2288", values={"ash": "9.5"}), person=QUALITY)
    assert judged(["certificate:ash=9..10"])[other] == "may"
    assert len(read) == 1
    # An edge behind it that is new, and one that is withdrawn.
    unused = of_lot("V-2310")
    assert (judged(["holds=V-2310"])[other], len(read)) == ("cannot", 1)
    with below_the_door() as below:
        below.execute(EDGE, [of_lot("V-2288"), unused, "topup"])
        assert (judged(["holds=V-2310"])[other], len(read)) == ("may", 2)
        below.execute(VOID)
        assert (judged(["holds=V-2310"])[other], len(read)) == ("cannot", 3)
