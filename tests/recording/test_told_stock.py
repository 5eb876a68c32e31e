"""Stock told of: lots that are numbered alike, opening stock, and a silo filled late."""

from __future__ import annotations

from datetime import timedelta

from tests.cast import LEAD, MORNING, QUALITY, STORES, WO_RED, Cast, rows_of
from trace.genealogy.answer import genealogy
from trace.genealogy.find import find_unit
from trace.genealogy.flows import flows
from trace.genealogy.scope import prepare, sweep
from trace.genealogy.walk import walk
from trace.readmodels.rebuild import differences
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.holds import Hold
from trace.recording.acts.opening import OpeningStock
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import Weigh

KG = 1_000_000


def test_a_number_of_two_lots_is_no_lot(cast: Cast) -> None:
    """Two suppliers number alike: a hold must not fall on either by chance."""
    for supplier in ("VERRIN", "DUNSAY"):
        cast.scan(Receive(supplier=supplier, material="LL-35", lot_no="V-5000", amounts=("100",)), person=STORES)
    refused = cast.scan(Hold(code="V-5000", rule="quality", reason="x"), person=QUALITY, expect="CODE-MISREAD")
    assert "several lots" in refused.why
    assert rows_of("SELECT count(*) FROM hold") == [(0,)]


def test_opening_stock_of_one_lot_is_one_lot(cast: Cast) -> None:
    for amount in ("100", "40"):
        cast.scan(OpeningStock(material="LL-35", lot_no="OLD-7", amount=amount), person=STORES, helper=LEAD)
    assert rows_of("SELECT count(*) FROM unit WHERE kind = 'lot' AND lot_no = 'OLD-7'") == [(1,)]
    assert len(walk([find_unit("OLD-7")], "forward").nodes) == 3


def test_opening_stock_of_an_unknown_lot_may_be_of_any_older_lot_of_its_material(cast: Cast) -> None:
    def stock(material: str, lot_no: str) -> str:
        booked = cast.scan(OpeningStock(material=material, lot_no=lot_no, amount="40"), person=STORES, helper=LEAD)
        return str(booked.made["codes"][0])

    known, unknown, other = stock("LL-35 red", "OLD-LOT"), stock("LL-35 red", ""), stock("LL-35", "")
    cast.charge("skin", unknown, cast["tubs"][0])
    answer = genealogy("OLD-LOT", "forward")
    sure = {code: answer.line(find_unit(code)) for code in (known, unknown, other, cast["tubs"][0])}
    assert {code: line.share.verdict if line else "" for code, line in sure.items()} == {
        known: "certain", unknown: "may", other: "", cast["tubs"][0]: "may",
    }  # fmt: skip
    back = {x.node.lot_no: x.share.verdict for x in genealogy(unknown, "back").lines if x.node.kind == "lot"}
    assert back == {None: "certain", "OLD-LOT": "may"}


def silo(cast: Cast, *, late: bool) -> dict[int, tuple[str, int, int | None]]:
    """400 kg of A, 600 kg of B, 50 charges, 800 kg of C, 20 charges: what each charge may hold of B."""
    cast.clock.now = MORNING + timedelta(hours=5)
    shift, vessel = cast.shift, cast["vessels"][0]
    a = shift.stock("VERRIN", "LL-35 red", "S-A", ("900",))[0]
    b = shift.stock("VERRIN", "LL-35 red", "S-B", ("900",))[0]
    c = shift.stock("VERRIN", "LL-35 red", "S-C", ("900",))[0]
    tubs = shift.carriers("tub", 70)
    begin, told_at = cast.clock.now, iter(range(10_000))

    def at(minute: int) -> object:
        return begin + timedelta(minutes=minute)

    def tell(command: TopUp | Weigh, minute: int) -> None:
        recorded = begin + timedelta(days=1, seconds=next(told_at))
        cast.scan(command, person=LEAD, mode="tells", happened=at(minute), recorded=recorded)

    def fill(source: str, kg: str, minute: int) -> None:
        tell(TopUp(source=source, into=vessel, amount=kg), minute)

    def charges(first: int, last: int) -> None:
        for n in range(first, last):
            tell(Weigh(order=WO_RED, layer="skin", box=vessel, tub=tubs[n], scale="W-3", gross="12.20"), 10 + n)

    fill(a, "400", 0)
    if not late:
        fill(b, "600", 1)
    charges(0, 32)  # as many as A alone would give
    if late:
        fill(b, "600", 1)
    charges(32, 50)
    fill(c, "800", 65)
    charges(56, 70)
    suspect = find_unit("S-B")
    graph = walk([suspect], "forward")
    shares = sweep(prepare(graph, flows(graph.nodes)), suspect).shares
    found: dict[int, tuple[str, int, int | None]] = {}
    for n, tub in enumerate(tubs):
        unit = rows_of(
            "SELECT c.content FROM label l JOIN carrier_state c ON c.carrier = l.carrier WHERE l.code = %s", tub
        )[0][0]
        if unit in shares:
            total = shares[unit].total
            found[n] = (total.verdict, total.least, total.most)
    assert differences() == []
    return found


def test_a_silo_filled_late_gives_the_same_answer(cast: Cast) -> None:
    """The top-up of a wrong grade, told after 32 charges: each charge may hold of it what it would, told in time."""
    from django.db import transaction

    with transaction.atomic():
        in_order = silo(cast, late=False)
        transaction.set_rollback(True)
    from trace.readmodels import plantdata

    plantdata.forget()
    late = silo(cast, late=True)
    assert late == in_order
    assert set(late) == {*range(50), *range(56, 70)}
    assert {verdict for verdict, _, _ in late.values()} == {"may"}
    assert {most for _, _, most in late.values()} == {12_200_000}
