"""Names and free words stand in notes alone: not in event bytes, not in a scan's answer, not in what was sent."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from tests.below import erase
from tests.cast import DEPUTY, LEAD, PLANNER, QUALITY, WO_RED, WO_TRIAL, Cast, plate, rows_of
from tests.recording.test_containment import old, over_list
from tests.recording.test_drills import begun as drill_begun
from tests.recording.test_drills import marked as in_hand
from tests.recording.test_recalls import begun
from tests.recording.test_statements import day, looked_into
from tests.schema.bytes import assert_bytes_hold_no_words
from trace.genealogy.causes import read_cause
from trace.genealogy.sharing import shared_by
from trace.pages.saved_scopes import as_saved
from trace.recording.acts.badge_seen import LookAtBadge
from trace.recording.acts.calibration import Calibrate, FollowUpCalibration, WithdrawCalibration
from trace.recording.acts.compared import ComparePlates
from trace.recording.acts.containment import EndContainment, SeeHull
from trace.recording.acts.corrections import CloseDiscrepancy, Correct
from trace.recording.acts.demould import Demould, SwapPlates
from trace.recording.acts.drills import SignDrill, outcome_of
from trace.recording.acts.erasing import Erase
from trace.recording.acts.finishing import Scrap
from trace.recording.acts.goods_in import Receive, Release
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.impact import DropDart, EndImpact, ReopenImpact, TakeBackDrop
from trace.recording.acts.mould_care import CareForMould, PassFirstOff
from trace.recording.acts.new_plates import ReplacePlate
from trace.recording.acts.owners import RegisterOwner, WithdrawOwner
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.reading_corrections import CorrectReading
from trace.recording.acts.recalls import ReplyToRecall
from trace.recording.acts.remoulds import Remould
from trace.recording.acts.repairs import Repair
from trace.recording.acts.returns import Return
from trace.recording.acts.sampling import EndSample, TakeSample
from trace.recording.acts.saved_scopes import PutScopeAside
from trace.recording.acts.scope_holds import EndScopeHold, HoldScope
from trace.recording.acts.setup import Define
from trace.recording.acts.stock_counts import EndStockCount
from trace.recording.acts.training import Train
from trace.recording.acts.vessels import TopUp
from trace.recording.commands import HANDLERS, Command
from trace.recording.floor.stock_counts import stock_counts

MARK = "Zebedee"


def marked(command: Command, n: int) -> Command:
    """The command with a marked text in every field of words."""
    fields = [s.name for s in dataclasses.fields(command) if s.metadata.get("words")]
    return dataclasses.replace(command, **{name: f"{MARK} {n} said {name}" for name in fields})


def everywhere() -> list[tuple[str, str]]:
    """Every text of the database that could hold a word, apart from notes: where it stands, and the text."""
    found: list[tuple[str, str]] = []
    for (table,) in rows_of("SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1"):
        readable = rows_of("SELECT has_table_privilege(%s, 'SELECT')", table)[0][0]
        if table != "note" and readable:
            found += [(table, text) for (text,) in rows_of(f'SELECT t::text FROM "{table}" t')]
    return found


def followed(cast: Cast) -> None:
    """A walk, a recall, a mock recall and a hold on a scope, to their ends, each with marked words."""
    scan, here, away = cast.scan, old(cast, 1), plate(3)
    walk = over_list(cast, here)
    scan(marked(SeeHull(walk=walk.uid, place="STORE", hull=here), 400), person=QUALITY)
    scan(marked(EndContainment(walk=walk.uid), 401), person=QUALITY)
    recall = begun(cast, away, product=f"{MARK} 402 said product")
    replied = ReplyToRecall(recall=recall.uid, consignee="WHARFE", results={away: "corrected"})
    scan(marked(replied, 403), person=QUALITY)
    scan(marked(RegisterOwner(hull=away), 407), person=QUALITY)
    event = str(rows_of("SELECT uid::text FROM event WHERE kind = 'owner_registered'")[0][0])
    drop = str(rows_of("SELECT uid::text FROM event WHERE kind = 'impact_dropped'")[0][0])
    scan(marked(TakeBackDrop(unit=plate(1), drop=drop), 409), person=QUALITY)
    scan(DropDart(unit=plate(1), height="1.05", result="pass", temperature="-40"), person=QUALITY)
    scan(EndImpact(unit=plate(1)), person=QUALITY, mode="tells")
    end = str(rows_of("SELECT uid::text FROM event WHERE kind = 'impact_ended'")[0][0])
    scan(marked(ReopenImpact(unit=plate(1), end=end), 417), person=QUALITY)
    scan(marked(WithdrawOwner(hull=away, registration=event), 408), person=QUALITY)
    scan(marked(Repair(hull=plate(1), work="flamed", spot="Z3"), 411), person=QUALITY, mode="tells")
    scan(marked(Return(hull=away, place="R4-2", consignee="WHARFE"), 410), person="P-07")
    off = Calibrate(instrument="W-3", certificate="C-1", points=(("10", "9"),))
    body = {"kind": "scale", "limit": "0.02", "calibration_due": "2031-01-01", "check_mass": "10"}
    scan(Define(kind="instrument", key="W-3", body=body), person="P-09")
    scan(marked(off, 412), person=QUALITY)
    scan(marked(Train(person="P-02", trainer="P-03", task="oven"), 415), person=QUALITY)
    scan(marked(LookAtBadge(badge="P-02", first="x", second="y"), 416), person=QUALITY)
    event = str(rows_of("SELECT uid::text FROM event WHERE kind = 'calibrated'")[0][0])
    scan(marked(FollowUpCalibration(instrument="W-3", calibration=event), 413), person=QUALITY)
    scan(marked(WithdrawCalibration(instrument="W-3", calibration=event), 414), person=QUALITY)
    scan(marked(ReplacePlate(hull=away, plate=plate(9), cause="lost"), 415), person=LEAD, mode="tells")
    scan(marked(Remould(hull=plate(9), old=plate(1)), 416), person=LEAD, mode="tells")
    drill = in_hand(cast, drill_begun(cast, hull=away))
    found = outcome_of(drill)
    signed = SignDrill(drill=drill.uid, result=dict(found.said), unaccounted=found.unaccounted)
    scan(marked(signed, 404), person=QUALITY)
    scan(marked(HoldScope(cause=("mould=T430-02",)), 405), person=QUALITY)
    scan(marked(EndScopeHold(number=1), 406), person=DEPUTY)
    scan(marked(as_saved(shared_by(read_cause(["mould=T430-02"])), "x"), 410), person=QUALITY)
    scan(marked(PutScopeAside(number=1), 411), person=QUALITY)


@pytest.fixture
def busy(cast: Cast) -> Cast:
    """Every command that has words recorded with marked ones, refused once where it can be, overridden, told."""
    for n, (command, person) in enumerate(day(cast)):
        cast.scan(marked(command, n), person=person, helper=DEPUTY)
    cast.hull(plate(2))
    cast.hull(plate(3))
    scan = cast.scan
    inspected = str(rows_of("SELECT uid::text FROM event WHERE kind = 'inspected' ORDER BY id DESC LIMIT 1")[0][0])
    read = CorrectReading(of=plate(3), event=inspected, n=0, value="4.2")
    scan(marked(read, 108), person=QUALITY)
    held = scan(marked(Hold(code=cast["red"]), 100), person=QUALITY).made["holds"][0]
    scan(marked(ReleaseHold(hold=held), 101), person=DEPUTY)
    scan(marked(ComparePlates(first=plate(2), second=plate(3)), 110), person=QUALITY)
    sample = scan(TakeSample(box=cast["natural"], amount="0.250"), person=QUALITY).made["codes"][0]
    scan(marked(EndSample(sample=sample, how="used"), 111), person=QUALITY)
    scan(marked(SwapPlates(first=plate(2), second=plate(3)), 102), person=QUALITY)
    scan(marked(Scrap(unit=plate(2), plate_destroyed=True), 103), person=LEAD)
    pack = scan(Pack(order="SO-220", hulls=(plate(3),)), person="P-07").made["codes"][0]
    scan(marked(Dispatch(order="SO-220", packs=(pack,), consignee="WHARFE", vehicle="PA 12"), 104), person="P-07")
    more = scan(
        marked(Receive(supplier="VERRIN", material="LL-35", lot_no="V-9", amounts=("5",), hold_reason="x"), 105),
        person="P-05",
    )
    scan(marked(Release(container=more.made["codes"][0]), 106), person=QUALITY, expect="CERTIFICATE-MISSING")
    body = {"roles": [], "trained": {}, "name": f"{MARK} Body"}
    name = Define(kind="person", key="P-77", name=f"{MARK} Person", body=body)
    scan(name, person=PLANNER)
    scan(dataclasses.replace(name, key="P:78"), person=PLANNER, expect="THING-UNFIT")
    cast.shift.weigh(WO_RED, "skin", cast["red"], cast["tubs"][2], "12.50", person=LEAD,
                     overrides={"CHARGE-HEAVY": f"{MARK} override"})  # fmt: skip
    event = str(rows_of("SELECT max(uid::text) FROM event WHERE kind = 'weighed'")[0][0])
    scan(marked(Correct(event=event, was=cast["red"], now=cast["red2"]), 107), person=LEAD)
    for n, (command, person) in enumerate(looked_into(cast), 300):
        scan(marked(command, n), person=person)
    note = str(rows_of("SELECT body::jsonb->'says'->>'story' FROM event WHERE kind = 'complained'")[0][0])
    scan(marked(Erase(notes=(note,)), 109), person=QUALITY)
    followed(cast)
    scan(CareForMould(mould="T430-01", done=("refurbished",)), person=LEAD)
    cast.moulding(order=WO_TRIAL)
    number = scan(Demould(mould="T430-01")).made["units"][0]["lot_no"]
    scan(marked(PassFirstOff(mould="T430-01", unit=number), 112), person=QUALITY)
    scan(marked(EndStockCount(count=stock_counts()[0].uid), 113), person=LEAD)
    told = scan(TopUp(source=cast["natural"], into=cast["vessels"][0], amount="900"), person=LEAD, mode="tells")
    assert told.outcome == "flagged"
    open_ = rows_of("SELECT e.uid::text, d.n FROM discrepancy d JOIN event e ON e.id = d.event WHERE closed_by IS NULL")
    for n, (uid, number) in enumerate(open_):
        scan(marked(CloseDiscrepancy(event=uid, n=number), 200 + n), person=QUALITY)
    return cast


def test_words_are_in_notes_and_nowhere_else(busy: Cast) -> None:
    notes = [text for (text,) in rows_of("SELECT text FROM note WHERE text LIKE %s", f"%{MARK}%")]
    assert len(notes) > 12
    for table, text in everywhere():
        assert MARK.casefold() not in text.casefold(), (table, text[:300])
    for (body,) in rows_of("SELECT body FROM event"):
        assert_bytes_hold_no_words(body, [MARK, *notes])
    # Every command that takes words was among them.
    with_words = {c.KIND for c in HANDLERS if any(s.metadata.get("words") for s in dataclasses.fields(c))}
    names = "reason|evidence|remark|name|collector|hold_reason|buyer|what|answer|headline|contact|owner|done_by"
    digests = f'"({names})":"[0-9a-f]{{64}}"'
    recorded = {kind for (kind,) in rows_of("SELECT DISTINCT kind FROM event WHERE body ~ %s", digests)}
    assert with_words - recorded <= {"released"}


def test_people_are_known_by_their_key_in_every_answer(busy: Cast) -> None:
    names: list[Any] = [n for (n,) in rows_of("SELECT text FROM note WHERE text ~ '^[A-Z][a-z]+ [A-Z][a-z]+$'")]
    assert "Ines Orrell" in names
    for (answer,) in rows_of("SELECT answer FROM scan"):
        assert not [n for n in names if n in answer]


def test_an_erased_word_leaves_the_bytes_and_their_leaf_as_they_were(busy: Cast) -> None:
    before = rows_of("SELECT id, body, leaf FROM event ORDER BY id")
    assert erase(f"%{MARK}%")
    assert rows_of("SELECT id, body, leaf FROM event ORDER BY id")[:-1] == before
    assert rows_of("SELECT 1 FROM note WHERE text LIKE %s", f"%{MARK}%") == []
    from trace.readmodels.rebuild import differences

    assert differences() == []
