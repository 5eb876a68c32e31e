"""The papers of a case and of a mock recall: what they hold, what they leave out, and that they are the same again."""

import os
from collections.abc import Callable
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
from django.test import Client

from tests.exports.conftest import ALL, MakePaper
from tests.exports.printed import bare, pages_of, pdf_of
from tests.pages.story import Told
from trace.codes import uuid7
from trace.exports.asked import Asked, PaperError
from trace.exports.files.data import fingerprint, write_json
from trace.exports.files.packed import write_csv
from trace.exports.files.workbook import write_xlsx
from trace.exports.kinds.table import BY_NAME
from trace.exports.paper import Facts, Paper, Picture
from trace.exports.pdf.sheet import Stamp
from trace.genealogy.answer import what_was_known
from trace.genealogy.causes import read_cause
from trace.genealogy.containment import walks
from trace.genealogy.drill import drills, found_by
from trace.genealogy.sharing import shared_by
from trace.recording.acts.cases import (
    CloseCase,
    Decide,
    HoldForCase,
    KeepScope,
    OpenCase,
    RecordTest,
    Suspect,
    TellConsignee,
)
from trace.recording.acts.complaints import TakeComplaint
from trace.recording.acts.containment import BeginContainment, SeeHull
from trace.recording.acts.drills import BeginDrill, MarkDrill, SignDrill, outcome_of
from trace.recording.acts.scope_holds import HoldScope

STAMP = Stamp(datetime(2026, 12, 3, 7, 10, tzinfo=UTC), "Priya Ashdown", "9c41" * 16, "CR-1")
QUALITY, WAREHOUSE = "P-06", "P-07"
BUYER: dict[str, Any] = {
    "buyer": "Wilf Heron", "contact": "wilf@example.org", "story": "It cracked when Oona sat down.",
}  # fmt: skip
MOULD = ("mould=T430-02",)


@pytest.fixture
def case(story: Told) -> Told:
    """A case with something of everything, closed at last."""
    def does(command: Any, person: str = QUALITY, **by: Any) -> None:
        story.plant.scan(command, person=person, **by)

    does(TakeComplaint(hull=story.hulls["gone"], symptom="crack at insert", spot="S5", sold="2026-04-20",
                       failed="2026-05-30", reported="2026-06-02", hours="61", **BUYER))  # fmt: skip
    does(TakeComplaint(plate="GHM-T430-00?4", product="T430", symptom="warp"))
    does(OpenCase(complaints=(1, 2), name="crack at seat"))
    does(Suspect(case=1, cause=("holds=N-0398",), reason="cracks at its thread"))
    does(Suspect(case=1, cause=MOULD))
    found = shared_by(read_cause(["holds=N-0398"]))
    does(KeepScope(case=1, cause=("holds=N-0398",), known=found.as_known_on.isoformat(), certain=found.count("certain"),
                   may=found.count("may"), cannot=found.count("cannot"), tree_size=found.tree_size))  # fmt: skip
    does(HoldForCase(case=1, hold=story.hold, cause=("holds=N-0398",)))
    does(HoldScope(cause=MOULD, reason="after its repair"))
    does(BeginContainment(hold=story.hold))
    does(SeeHull(walk=walks()[0].uid, place="R5-1", hull=story.hulls["held"], result="tagged", remark="at the back"),
         WAREHOUSE, station="containment")  # fmt: skip
    does(RecordTest(case=1, day="2026-06-05", what="finish of an insert", result="no nickel", by_whom="a laboratory"))
    does(Decide(case=1, reason="all of the lot is fetched back"))
    does(TellConsignee(case=1, consignee="WHARFE", day="2026-06-10", way="telephone", answer="they look"))
    does(Suspect(case=1, cause=("holds=N-0398",), stands="shown", reason="section at S5"))
    does(CloseCase(case=1, cause="insert", hulls="not found", reason="shown at the section"))
    return story


def rows(paper: Paper, name: str) -> list[dict[str, Any]]:
    """One table's rows by the names of its columns."""
    table = next(one for one in paper.tables() if one.name == name)
    return [dict(zip((c.name for c in table.columns), row, strict=True)) for row in table.rows]


def facts(paper: Paper) -> dict[str, str]:
    return {what: value for part in paper.parts if isinstance(part, Facts) for what, value in part.pairs}


def every_form(paper: Paper) -> list[bytes]:
    found = [pdf_of(paper, STAMP)]
    for write in (write_json, write_csv, write_xlsx):
        out = BytesIO()
        write(paper, out, lambda: None)
        found.append(out.getvalue())
    return found


def test_a_case_tells_everything_that_was_done_in_it(case: Told, paper_of: MakePaper) -> None:
    paper = paper_of("case", number="1")
    if folder := os.environ.get("SAMPLES"):
        Path(folder, "case.pdf").write_bytes(pdf_of(paper, STAMP))
    assert paper.title == "Case 1: crack at seat"
    first, second = rows(paper, "complaints")
    assert (first["hull"], first["place"], first["use"], str(first["sold"])) == (
        case.hulls["gone"], "S5", "61 h", "2026-04-20",
    )  # fmt: skip
    assert (second["hull"], second["plate"], second["model"]) == (None, "GHM-T430-00?4", "T430")
    assert any("Complaint 2: Its hull is not known." in gap for gap in paper.gaps)
    said = [(row["suspect"], row["stands"], row["last"]) for row in rows(paper, "suspects")]
    assert said == [("A", "suspected", False), ("B", "suspected", True), ("A", "shown on the part", True)]
    [scope] = rows(paper, "scopes")
    again = shared_by(read_cause(["holds=N-0398"]), scope["known_on"])
    assert (scope["certain"], scope["may"], scope["cannot"]) == tuple(
        again.count(verdict) for verdict in ("certain", "may", "cannot")
    )
    one, other = rows(paper, "holds")
    assert (one["why"], one["ended"], one["here"] > 0) == ("Pull-out torque query", None, True)
    assert "T430-02" in other["on"]
    [walk] = rows(paper, "walks")
    assert (walk["tagged"], walk["found"], walk["ended"]) == (1, 0, None)
    walked = {row["hull"]: row for row in rows(paper, "walked")}
    assert len(walked) == walk["on_list"]
    held = walked[case.hulls["held"]]
    assert (held["seen_at"], held["remark"]) == ("Rack R5, level 1", "at the back")
    assert rows(paper, "tests")[0]["result"] == "no nickel"
    assert rows(paper, "decisions")[0]["what"] == "all of the lot is fetched back"
    assert rows(paper, "told")[0]["consignee"] == "Wharfe & Weir Paddlesport"
    assert facts(paper)["On what"] == "shown at the section"
    assert [part.title for part in paper.parts if isinstance(part, Picture)] == [
        "Where on the hull: Tamsin 430", "Made, sold, failed, told",
    ]  # fmt: skip


def test_a_buyer_stands_in_no_form_of_a_case(case: Told, paper_of: MakePaper) -> None:
    for text in map(text_of, every_form(paper_of("case", number="1"))):
        assert not [word for word in ("Heron", "wilf", "Oona") if word in text]
        assert bare("crack at seat") in bare(text)


def text_of(data: bytes) -> str:
    """All that can be read in a file of any form."""
    if data.startswith(b"%PDF"):
        return " ".join(pages_of(data))
    if not data.startswith(b"PK"):
        return data.decode()
    with ZipFile(BytesIO(data)) as packed:
        return " ".join(packed.read(name).decode() for name in packed.namelist())


@pytest.mark.parametrize("kind", ["case", "drill"])
def test_asked_again_for_the_same_moment_it_is_the_same_bytes(
    case: Told, paper_of: MakePaper, kind: str
) -> None:
    words = {"number": "1"} if kind == "case" else {"drill": drilled(case)}
    known, _size = what_was_known(None)
    before = every_form(paper_of(kind, **words))
    case.plant.scan(SeeHull(walk=walks()[0].uid, place="R5-1", hull=case.hulls["held"], result="failed"),
                    person=WAREHOUSE, station="containment")  # fmt: skip
    assert every_form(BY_NAME[kind].make(Asked(words, known, ALL))) == before
    if kind == "case":
        assert fingerprint(paper_of(kind, **words)) != fingerprint(BY_NAME[kind].make(Asked(words, known, ALL)))


def drilled(story: Told) -> str:
    """The uid of a drill that was begun, marked and signed."""
    story.plant.scan(BeginDrill(lot="N-0398", hull=story.hulls["gone"]), person=QUALITY)
    [one, *_others] = drills()
    for way in ("forward", "back"):
        story.plant.scan(MarkDrill(drill=one.uid, way=way), person=QUALITY)
    found = outcome_of(one)
    signed = SignDrill(drill=one.uid, result=dict(found.said), unaccounted=found.unaccounted, remark="Drawn by lot")
    story.plant.scan(signed, person=QUALITY)
    return one.uid


def test_a_drill_tells_its_clock_both_ways_and_the_last(story: Told, paper_of: MakePaper) -> None:
    first = drilled(story)
    uid = drilled(story)
    paper = paper_of("drill", drill=uid)
    if folder := os.environ.get("SAMPLES"):
        Path(folder, "drill.pdf").write_bytes(pdf_of(paper, STAMP))
    one = drills(uid=uid)[0]
    found = found_by("N-0398", story.hulls["gone"], one.begun)
    figures = {row["figure"]: row for row in rows(paper, "figures")}
    assert figures["hulls certain"]["signed"] == figures["hulls certain"]["last"] == found.said["certain"]
    hulls = rows(paper, "hulls")
    assert sum(row["verdict"] == "certain" for row in hulls) == int(found.said["certain"])
    assert sum(row["verdict"] == "may" for row in hulls) == int(found.said["may"])
    assert sum(row["verdict"] == "certain" for row in rows(paper, "lots")) == int(found.said["lots"])
    minutes = [row["minutes"] for row in rows(paper, "directions")]
    assert minutes == [one.minutes(one.marks[way]) for way in ("forward", "back")]
    assert facts(paper)["SHA-256 of all behind it"] == found.said["digest"]
    assert facts(paper)["Remark"] == "Drawn by lot"
    assert [row["which"] for row in rows(paper, "unaccounted")] == [which for _what, which in found.unaccounted]
    assert {row["last"] for row in rows(paper_of("drill", drill=first), "figures")} == {None}


def test_both_are_asked_for_on_their_pages(
    case: Told, papers: Path, signed_in: Callable[[str], Client], paper_of: MakePaper
) -> None:
    uid = drilled(case)
    for address, kind in (("/case/1/", "case"), (f"/drill/?drill={uid}", "drill")):
        assert signed_in(QUALITY).get(address).context["paper_form"].kind == kind
    with pytest.raises(PaperError, match="by its number"):
        paper_of("case", number="one")
    for kind, words in (("case", {"number": "99"}), ("drill", {"drill": str(uuid7())})):
        with pytest.raises(LookupError, match=r"no case|No such"):
            paper_of(kind, **words)
