"""How many statements a scan sends: at most ten for every ordinary command, savepoints apart."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.cast import (
    DEPUTY,
    LEAD,
    PACKER,
    PLANNER,
    QUALITY,
    SO_RED,
    STORES,
    WO_RED,
    WO_TRIAL,
    Cast,
    plate,
    rows_of,
    statements,
)
from trace.demo.plant import products
from trace.genealogy.containment import walks
from trace.recording import commands as every
from trace.recording.acts.badge_seen import LookAtBadge
from trace.recording.acts.calibration import Calibrate, FollowUpCalibration, WithdrawCalibration
from trace.recording.acts.cases import (
    CloseCase,
    Decide,
    GroupComplaints,
    HoldForCase,
    InCase,
    KeepScope,
    OpenCase,
    RecordTest,
    ReopenCase,
    Suspect,
    TellConsignee,
)
from trace.recording.acts.compared import ComparePlates
from trace.recording.acts.complaints import CloseComplaint, TakeComplaint, TieHull
from trace.recording.acts.containment import BeginContainment, EndContainment, SeeHull
from trace.recording.acts.cook import AbortCook, CookStage, EndCook, EndCooling
from trace.recording.acts.corrections import CloseDiscrepancy, Correct
from trace.recording.acts.counting import Count
from trace.recording.acts.demould import Bind, Cut, Demould, SwapPlates
from trace.recording.acts.drills import BeginDrill, MarkDrill, SignDrill
from trace.recording.acts.erasing import Erase
from trace.recording.acts.finishing import Inspect, Scrap
from trace.recording.acts.giving_back import GiveBack
from trace.recording.acts.goods_in import Certify, Receive, Release
from trace.recording.acts.hold_reading import ReadHolds
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.impact import DropDart, EndImpact, ReopenImpact, TakeBackDrop
from trace.recording.acts.loading import CloseMould, PlaceGraphic, PlaceInserts, ReadyMould
from trace.recording.acts.mould_care import CareForMould, PassFirstOff
from trace.recording.acts.mounting import Mount, TakeOff
from trace.recording.acts.new_plates import ReplacePlate
from trace.recording.acts.opening import EmptyCarrier, OldHull, OpeningStock
from trace.recording.acts.oven import StartCook
from trace.recording.acts.owners import RegisterOwner, WithdrawOwner
from trace.recording.acts.packing import Dispatch, Pack, Rack, Rewrap
from trace.recording.acts.papers import TakePaper
from trace.recording.acts.plates import CheckOutPlates, CountBackPlates, MakePlates
from trace.recording.acts.pre_use import CheckMachine
from trace.recording.acts.reading_corrections import CorrectReading
from trace.recording.acts.recalls import BeginRecall, ReplyToRecall
from trace.recording.acts.remoulds import Remould
from trace.recording.acts.repairs import Repair
from trace.recording.acts.returns import Return
from trace.recording.acts.sampling import EndSample, TakeSample
from trace.recording.acts.saved_scopes import PutScopeAside, SaveScope
from trace.recording.acts.scope_holds import EndScopeHold, HoldScope, SpreadScope
from trace.recording.acts.scrapping import ScrapStock
from trace.recording.acts.setup import Define, Reprint
from trace.recording.acts.shift_end import AcceptShift, HandOver
from trace.recording.acts.stock_counts import BeginStockCount, EndStockCount, SeeStock
from trace.recording.acts.strange_code import Shown
from trace.recording.acts.sweeping import SweepUp
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.training import Train
from trace.recording.acts.tubs import ReassignTub, TipBack
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.acts.weighing import CheckWeight, Weigh
from trace.recording.answers import Answer
from trace.recording.commands import HANDLERS, Command
from trace.recording.floor.scopes_on_hold import live_scopes
from trace.recording.floor.shift_end import handed
from trace.recording.floor.stock_counts import stock_counts

MOST = 10
# These rewrite or desk work: seldom, and nobody stands at a station for them.
SELDOM = {
    Correct, CorrectReading, SwapPlates, ComparePlates, Define, ReleaseHold, Hold, CloseDiscrepancy, Erase,
    CloseComplaint, BeginContainment, EndContainment, BeginRecall, ReplyToRecall, BeginDrill, MarkDrill,
    SignDrill, SaveScope, PutScopeAside, RegisterOwner, WithdrawOwner, TakeBackDrop, EndImpact,
    Calibrate, WithdrawCalibration, FollowUpCalibration, Train, LookAtBadge, ReopenImpact,
    *InCase.__subclasses__(),
}  # fmt: skip


def looked_into(cast: Cast) -> list[tuple[Command, str]]:
    """A complaint and a case, from the first word to the last, with who does it."""
    cause, known = ("holds=N-0417",), "2026-06-08T12:00:00+00:00"
    hold = cast.scan(Hold(code=cast["m8b"], rule="quality", reason="x"), person=QUALITY).made["holds"][0]
    return [
        (TakeComplaint(symptom="warp", buyer="b", contact="c", story="s"), LEAD),
        (TakeComplaint(symptom="colour"), LEAD),
        (TieHull(complaint=1, hull=plate(1), reason="r"), QUALITY),
        (CloseComplaint(complaint=2, cause="use", hull="not found", reason="r"), QUALITY),
        (OpenCase(name="n", complaints=(1,)), QUALITY),
        (GroupComplaints(case=1, complaints=(2,), reason="r"), QUALITY),
        (Suspect(case=1, cause=cause, reason="r"), QUALITY),
        (KeepScope(case=1, cause=cause, known=known, certain=1, may=0, cannot=0, tree_size=9), QUALITY),
        (HoldForCase(case=1, hold=hold, cause=cause), QUALITY),
        (RecordTest(case=1, what="w", result="r", by_whom="b"), QUALITY),
        (Decide(case=1, reason="r"), QUALITY),
        (TellConsignee(case=1, consignee="WHARFE", day="2026-06-08", answer="a"), QUALITY),
        (CloseCase(case=1, cause="insert", hulls="not found", reason="r"), QUALITY),
        (ReopenCase(case=1, reason="r"), QUALITY),
    ]




def day(cast: Cast) -> list[tuple[Command, str]]:
    """Every ordinary command once, in an order in which each is accepted, with who does it."""
    tub, foam, inner = cast["tubs"][0], cast["boxes"][0], cast["boxes"][1]
    weigh: dict[str, Any] = {"order": WO_RED, "scale": "W-3"}
    one = "T430-01"
    order = {"product": "T430", "colour": "red", "quantity": 3, "purpose": "production"}
    checks = ("surface", "inserts", "plate")
    zones = dict.fromkeys(products()["T430"]["zones"], "4.1")
    made = ("GHM-T430-009001", "GHM-T430-009002")
    paper = dict.fromkeys(("number", "kind", "as_known_on", "form", "digest", "fingerprint"), "x")
    return [
        (CheckWeight(scale="W-3", shown="10.000"), LEAD),
        (Receive(supplier="VERRIN", material="LL-35", lot_no="V-1", amounts=("500",) * 6, note_no="N1"), STORES),
        (EmptyCarrier(carrier="tub", count=3), STORES),
        (OpeningStock(material="LL-35", amount="40"), STORES),
        (OldHull(serial="OLD-1", product="T430"), STORES),
        (MakePlates(product="T430", serials=made, month="2026-06"), LEAD),
        (CheckOutPlates(plates=made), LEAD),
        (CountBackPlates(plates=made[:1], missing=made[1:], stay_out=True), LEAD),
        (Weigh(**weigh, layer="skin", box=cast["red"], tub=tub, gross="6.00", part=True), LEAD),
        (Weigh(**weigh, layer="skin", box=cast["red2"], tub=tub, gross="6.20"), LEAD),
        (Weigh(**weigh, layer="foam", box=cast["foam"][0], tub=foam, gross="9.15"), LEAD),
        (Weigh(**weigh, layer="inner", box=cast["natural"], tub=inner, gross="7.32"), LEAD),
        (Weigh(**weigh, layer="skin", box=cast["red"], tub=cast["tubs"][3], gross="12.20"), LEAD),
        (TipBack(tub=cast["tubs"][3], into=cast["red"]), LEAD),
        (Define(kind="works_order", key="WO-9", body=order, new=True), PLANNER),
        (Weigh(**weigh, layer="skin", box=cast["red"], tub=cast["tubs"][3], gross="12.20"), LEAD),
        (ReassignTub(tub=cast["tubs"][3], order="WO-9"), LEAD),
        (ReadyMould(mould=one, order=WO_RED, arm="S1"), LEAD),
        *[(TipTub(mould=one, tub=t), LEAD) for t in (tub, foam, inner)],
        (PlaceInserts(mould=one, box=cast["m8"]), LEAD),
        (PlaceInserts(mould=one, box=cast["m6"]), LEAD),
        *[(PlaceGraphic(mould=one, pack=cast[p]), LEAD) for p in ("side", "side", "capacity")],
        (CloseMould(mould=one, counted="12"), LEAD),
        (CheckMachine(machine="OVEN-2", cold=True), LEAD),
        (StartCook(oven="OVEN-2", arm="S1", moulds=(one,)), LEAD),
        (CookStage(mould=one, stage="heat", temperature="160"), LEAD),
        (EndCook(mould=one, piat="208", log="attached", stages=("heat", "drop foam", "drop inner", "out")), LEAD),
        (EndCooling(mould=one, demould_c="48"), LEAD),
        (Demould(mould=one), LEAD),
        (Bind(mould=one, plate=plate(1)), LEAD),
        (Inspect(hull=plate(1), verdict="pass", checks=checks, thickness=zones, mass="28.6"), QUALITY),
        (DropDart(unit=plate(1), height="1.05", result="pass", temperature="-40"), QUALITY),
        (Rack(place="R4-2", units=(plate(1),)), PACKER),
        (Pack(order=SO_RED, hulls=(plate(1),)), PACKER),
        (TopUp(source=cast["natural"], into=cast["vessels"][0], amount="20"), LEAD),
        (TopUp(source=cast["natural2"], into=cast["vessels"][0], amount="20"), LEAD),
        (TopUp(source=cast["vessels"][0], into=cast["vessels"][1], amount="40"), LEAD),
        (ProveEmpty(vessel=cast["vessels"][0]), LEAD),
        (Count(box=cast["m8"], amount="480", reason="counted"), LEAD),
        (Count(box=cast["m8"], amount="200", again="200", reason="counted"), LEAD),
        (Count(box=cast["m8"], amount="480", reason="found again"), LEAD),
        (ScrapStock(box=cast["foam"][1], amount="1", scale="W-3", cause="spilt"), LEAD),
        (SweepUp(where="DEMOULD", amount="1.2", scale="W-3"), LEAD),
        (GiveBack(box=cast["foam"][1], everything=True, note_no="RN-1"), LEAD),
        (TakeSample(box=cast["red"], amount="0.5", place="STORE"), LEAD),
        (Reprint(code=tub, reason="torn"), LEAD),
        (TakePaper(**paper, question=("number=1",)), QUALITY),
        (ReadyMould(mould="T430-02", order=WO_RED, arm="S2"), LEAD),
        (AbortCook(mould="T430-02"), LEAD),
        (CareForMould(mould="T430-02", done=("vent",)), LEAD),
        (Mount(mould="T430-02", arm="S2"), LEAD),
        (TakeOff(mould="T430-02"), LEAD),
        (BeginStockCount(place="R4-2"), LEAD),
        (HandOver(shift="Early", day="2026-06-08", due="2026-06-08T14:30:00+00:00"), LEAD),
        (Define(kind="setting", key="tub litres", body={"value": "40"}), PLANNER),
        (Hold(code=cast["m8b"], rule="quality", reason="x"), QUALITY),
    ]  # fmt: skip


def gone_on(command: Command, cast: Cast) -> list[tuple[Command, str]]:
    """What follows an act that names it by its record."""
    if isinstance(command, HandOver):
        return [(AcceptShift(handover=handed()[0].uid, giver=LEAD), DEPUTY)]
    if not isinstance(command, BeginStockCount):
        return []
    uid = stock_counts()[0].uid
    return [(SeeStock(count=uid, code=cast["natural"]), STORES), (EndStockCount(count=uid, reason="gone"), STORES)]


def test_at_most_ten_statements_a_scan(cast: Cast) -> None:
    counted: dict[str, int] = {}

    def run(command: Command, person: str, **by: object) -> Answer:
        answers: list[Answer] = []
        sent = statements(lambda: answers.append(cast.scan(command, person=person, **by)))
        name = type(command).__name__
        counted[name] = max(counted.get(name, 0), len(sent))
        return answers[0]

    # A scope is on hold meanwhile, as this process knows from the scan before.
    run(HoldScope(cause=("model=H320",), reason="x"), QUALITY)
    assert live_scopes()
    for command, person in day(cast):
        made = run(command, person, helper=DEPUTY).made
        if isinstance(command, Receive):
            code = made["codes"][0]
            run(Certify(container=code, lot_on_certificate="V-1", values={"mfi": "3.5", "density": "0.938"}), QUALITY)
            run(Release(container=code), QUALITY)
        if isinstance(command, TakeSample):
            run(EndSample(sample=made["codes"][0], how="used"), QUALITY)
        for next_, who in gone_on(command, cast):
            run(next_, who)
        if isinstance(command, Pack):
            pack = run(Rewrap(pack=made["codes"][0]), PACKER).made["codes"][0]
            run(Dispatch(order=SO_RED, packs=(pack,), consignee="WHARFE", vehicle="PA 12"), PACKER)
            run(Return(hull=plate(1), place="R4-2", consignee="WHARFE"), PACKER)
            rod = cast.shift.stock("VERRIN", "ROD-35", "R-7", ("2.000",))[0]
            run(Repair(hull=plate(1), work="welded", spot="Z3", source=rod, amount="0.045"), QUALITY)
            for serial in ("OLD-3", "OLD-4"):
                cast.scan(OldHull(serial=serial, product="T430"), person=STORES)
            run(ReplacePlate(hull="OLD-3", plate=plate(11), cause="burnt"), LEAD, helper=DEPUTY)
            run(Remould(hull="OLD-4", old=plate(11), plate_destroyed=True), LEAD)
    hold = cast.scan(Hold(code=cast["natural2"], rule="quality", reason="x"), person=QUALITY).made["holds"][0]
    cast.scan(OldHull(serial="OLD-2", product="T430"), person=STORES)
    cast.scan(BeginContainment(hold=hold, hulls=()), person=QUALITY, expect="WALK-NOTHING")
    hull = rows_of("SELECT u.uid::text FROM serial_state s JOIN unit u ON u.id = s.hull WHERE s.text = 'OLD-2'")[0][0]
    run(BeginContainment(question=("model=T430",), known_on="2026-06-08", hulls=(hull,)), QUALITY)
    run(SeeHull(walk=walks()[0].uid, place="R5-1", hull="OLD-2"), PACKER)
    run(ReadHolds(number=1), PACKER)
    run(SpreadScope(number=1, hulls=(hull,)), QUALITY)
    run(EndScopeHold(number=1, reason="x"), LEAD)
    run(CareForMould(mould="T430-01", done=("refurbished",)), LEAD)
    cast.moulding(order=WO_TRIAL)
    number = cast.scan(Demould(mould="T430-01")).made["units"][0]["lot_no"]
    run(PassFirstOff(mould="T430-01", unit=number), LEAD)
    part = run(Cut(moulding=number, parts=("left", "right")), LEAD).made["units"][0]["lot_no"]
    run(Scrap(unit=part), LEAD)
    for command, person in looked_into(cast):
        run(command, person)
    # A refusal, and a fact told though refused, are no dearer.
    for mode in ("asks", "tells"):
        command = TipTub(mould="T430-01", tub=cast["tubs"][1])
        run(command, LEAD, mode=mode, expect="NO-LOAD")
    print(counted)
    assert {name: n for name, n in counted.items() if n > MOST} == {}
    ordinary = {c.__name__ for c in HANDLERS if c not in SELDOM and c is not Shown}
    assert ordinary <= counted.keys()


def test_a_replay_sends_few(cast: Cast) -> None:
    from trace.codes import uuid7

    scan = uuid7()
    command = TopUp(source=cast["natural"], into=cast["vessels"][0], amount="20")
    again: Callable[[], Answer] = lambda: cast.scan(command, person=LEAD, scan_id=scan)  # noqa: E731
    again()
    assert len(statements(again)) <= 2


@pytest.mark.parametrize("command", list(HANDLERS), ids=lambda c: c.__name__)
def test_every_command_says_its_kind(command: type[Command]) -> None:
    assert command.KIND
    kinds = [c.KIND for c in HANDLERS]
    assert kinds.count(command.KIND) == 1
    assert every.HANDLERS is HANDLERS
