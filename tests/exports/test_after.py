"""What came of a hull after its making stands in its paper: the darts dropped on it, and its owners without a name."""

from __future__ import annotations

from tests.cast import LEAD, QUALITY, Cast, cast, plate, told_once, told_shared
from tests.exports.conftest import ALL
from trace.exports.asked import Asked
from trace.exports.files.data import fingerprint
from trace.exports.kinds.table import BY_NAME
from trace.exports.paper import Paper
from trace.genealogy.answer import what_was_known
from trace.recording.acts.impact import DropDart
from trace.recording.acts.owners import RegisterOwner

__all__ = ["cast", "told_once", "told_shared"]


def paper_of(serial: str) -> Paper:
    return BY_NAME["hull"].make(Asked({"number": serial}, what_was_known(None)[0], ALL))


def rows(paper: Paper, name: str) -> list[tuple[object, ...]]:
    return list(next(table for table in paper.tables() if table.name == name).rows)


def test_drops_and_owners_stand_in_the_paper_of_the_hull(cast: Cast) -> None:
    serial = cast.hull(plate(1))
    assert (rows(paper_of(serial), "impact"), rows(paper_of(serial), "owners")) == ([], [])
    for height, result in (("0.90", "pass"), ("1.05", "brittle")):
        drop = DropDart(unit=serial, height=height, result=result, temperature="-40")
        cast.scan(drop, person=QUALITY, station="impact")
    owner = RegisterOwner(hull=serial, sold="2026-06-01", region="GB-WLS", use="private", owner="Ann Wade")
    cast.scan(owner, person=LEAD)
    paper = paper_of(serial)
    drops, told = rows(paper, "impact"), rows(paper, "owners")
    assert [row[2:8] for row in drops] == [
        ("open", "", "0.90", "did not fail", "-40", "10 lb"), ("open", "", "1.05", "failed, brittle", "-40", "10 lb"),
    ]  # fmt: skip
    assert [row[1:4] for row in told] == [("first purchaser", "2026-06-01", "GB-WLS")]
    assert "Ann Wade" not in repr(drops + told)
    assert fingerprint(paper) == fingerprint(paper_of(serial))
