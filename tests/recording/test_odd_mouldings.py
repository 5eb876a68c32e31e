"""Odd mouldings by commands: spider, twin, cut, joined, cooked again, trial, purge, aborted. All are walked right."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from tests.cast import (
    LEAD,
    PACKER,
    PLANNER,
    QUALITY,
    SO_RED,
    WO_BUOY,
    WO_RED,
    WO_TRIAL,
    Cast,
    buoy_plate,
    plate,
    rows_of,
)
from trace.demo import plant as invented
from trace.genealogy.find import find_unit
from trace.genealogy.flows import flows
from trace.genealogy.scope import prepare
from trace.genealogy.walk import nodes, walk
from trace.lookup import free_hulls
from trace.pages import finding
from trace.readmodels.rebuild import differences
from trace.recording.acts.cook import AbortCook, EndCook, EndCooling
from trace.recording.acts.corrections import Correct
from trace.recording.acts.demould import Bind, Cut, Demould, SwapPlates
from trace.recording.acts.finishing import Scrap
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.oven import StartCook
from trace.recording.acts.packing import Dispatch, Pack
from trace.recording.acts.setup import Define
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.floor.sources import packed_for_order


def lots(code: str) -> set[str]:
    """The lots that a walk back from a hull, moulding or part comes to."""
    graph = walk([find_unit(code)], "back")
    return {str(n.lot_no) for n in graph.nodes.values() if n.kind == "lot"}


def kinds_below(code: str) -> dict[str, int]:
    graph = walk([find_unit(code)], "forward")
    found: dict[str, int] = {}
    for node in graph.nodes.values():
        found[node.kind] = found.get(node.kind, 0) + 1
    return found


def change(cast: Cast, kind: str, key: str, **body: Any) -> None:
    plant = {"mould": invented.MOULDS, "works_order": invented.WORKS_ORDERS, "sales_order": invented.SALES_ORDERS}
    now = plant[kind][key]
    mould = {"cavities": ["1"], "state": "in service"} if kind == "mould" else {}
    whole = {**mould, **now, **body}
    cast.scan(Define(kind=kind, key=key, body=whole), person=PLANNER)


def buoy(cast: Cast, n: int, red: str) -> None:
    """The n-th mould of the spider with its two charges, closed."""
    mould, tub, box = f"B60-0{n}", cast["tubs"][n], cast["boxes"][n]
    cast.charge("skin", red, tub, WO_BUOY)
    cast.charge("foam", cast["foam"][0], box, WO_BUOY)
    cast.shift.load(mould, WO_BUOY, "A1", [tub, box], [], [])


def numbers(answer: Any) -> list[str]:
    return [u["lot_no"] for u in answer.made["units"]]


def test_a_spider_is_four_hulls_of_one_cycle(cast: Cast) -> None:
    for n in (1, 2, 3, 4):
        buoy(cast, n, cast["red"] if n < 3 else cast["red2"])
    moulds = [f"B60-0{n}" for n in (1, 2, 3, 4)]
    cast.shift.cook(moulds, "A1", oven="OVEN-1")
    assert rows_of("SELECT count(DISTINCT cycle), count(*) FROM cook") == [(1, 4)]
    for n, mould in enumerate(moulds, 1):
        cast.shift.demould_and_bind(mould, buoy_plate(n))
    assert [lots(buoy_plate(n)) for n in (1, 4)] == [{"V-2288", "F-118"}, {"V-2291", "F-118"}]
    assert len({m for (m,) in rows_of("SELECT lot_no FROM unit WHERE kind = 'moulding'")}) == 4
    assert differences() == []


def test_a_twin_is_two_mouldings_and_each_plate_says_for_which(cast: Cast) -> None:
    change(cast, "mould", "T430-01", cavities=["1", "2"])
    cast.moulding()
    made = numbers(cast.scan(Demould(mould="T430-01")))
    assert [m.rsplit("/", 1)[1] for m in made] == ["1", "2"]
    refused = cast.scan(Bind(mould="T430-01", plate=plate(1)), expect="MOULDING-WHICH")
    assert refused.code == "MOULDING-WHICH"
    assert made[0] in refused.what
    cast.scan(Bind(mould="T430-01", cavity="2", plate=plate(1)))
    cast.scan(Bind(mould="T430-01", plate=plate(2)))
    bound = rows_of(
        """SELECT s.text, m.lot_no FROM serial_state s JOIN edge e ON e.child = s.hull AND e.role = 'bind'
             JOIN unit m ON m.id = e.parent ORDER BY 1"""
    )
    assert bound == [(plate(1), made[1]), (plate(2), made[0])]
    assert lots(plate(1)) == lots(plate(2)) >= {"V-2288", "F-118", "V-2301"}
    assert kinds_below("V-2288")["hull"] == 2


def test_a_moulding_left_without_its_plate_is_not_bound_by_chance(cast: Cast) -> None:
    """The one of the cycle before still waits: the plate is for one of the two, and somebody must say which."""
    cast.moulding()
    first = numbers(cast.scan(Demould(mould="T430-01")))[0]
    cast.moulding()
    second = numbers(cast.scan(Demould(mould="T430-01")))[0]
    assert cast.scan(Bind(mould="T430-01", plate=plate(1)), expect="MOULDING-WHICH").code == "MOULDING-WHICH"
    cast.scan(Bind(mouldings=(second,), plate=plate(1)))
    cast.scan(Bind(mould="T430-01", plate=plate(2)))
    assert rows_of("SELECT e.child FROM edge e JOIN unit m ON m.id = e.parent WHERE m.lot_no = %s", first) == [
        (find_unit(plate(2)),)
    ]


def test_one_moulding_cut_into_two_lids(cast: Cast) -> None:
    cast.moulding()
    number = numbers(cast.scan(Demould(mould="T430-01")))[0]
    parts = numbers(cast.scan(Cut(moulding=number, parts=("left", "right"))))
    assert parts == [f"{number}/left", f"{number}/right"]
    again = cast.scan(Cut(moulding=number, parts=("a", "b")), expect="MOULDING-BOUND")
    assert again.code == "MOULDING-BOUND"
    assert cast.scan(Scrap(unit=number), person=LEAD, expect="SCRAP-BOUND").code == "SCRAP-BOUND"
    for part, serial in zip(parts, (plate(1), plate(2)), strict=True):
        cast.scan(Bind(mouldings=(part,), plate=serial))
    assert lots(plate(1)) == lots(plate(2)) == lots(number)
    once = dict.fromkeys(("lot", "content", "charge", "load", "moulding"), 1)
    assert kinds_below("V-2288") == {**once, "part": 2, "hull": 2}
    assert differences() == []


def test_a_hull_says_of_itself_what_it_is_and_not_out_of_which_load_it_came(cast: Cast) -> None:
    """That its records say, and they can be put right."""
    cast.hull(plate(1))
    named = dict(rows_of("SELECT kind, about::jsonb ? 'load' FROM unit WHERE kind IN ('moulding', 'hull')"))
    assert named == {"moulding": True, "hull": False}


def test_two_mouldings_joined_to_one(cast: Cast) -> None:
    both = []
    for red in (cast["red"], cast["red2"]):
        cast.moulding(red=red)
        both += numbers(cast.scan(Demould(mould="T430-01")))
    # The second scan of the same number counts once.
    cast.scan(Bind(mouldings=(*both, both[0]), plate=plate(1)))
    assert lots(plate(1)) >= {"V-2288", "V-2291"}
    assert kinds_below("V-2291")["hull"] == 1
    assert rows_of("SELECT count(*) FROM edge WHERE role = 'join'") == [(2,)]


def test_cooked_again_is_the_same_moulding_in_two_cycles(cast: Cast) -> None:
    cast.moulding()
    number = numbers(cast.scan(Demould(mould="T430-01")))[0]
    cast.scan(StartCook(oven="OVEN-2", arm="S1", units=(number,)))
    cast.scan(EndCook(mould=number, piat="206", log="attached"))
    assert cast.scan(Bind(mouldings=(number,), plate=plate(1)), expect="MOULDING-NOT-FOR-SALE").outcome == "refused"
    cast.scan(EndCooling(mould=number, demould_c="48"))
    cast.scan(Bind(mouldings=(number,), plate=plate(1)))
    cooked = rows_of("SELECT u.kind FROM cook c JOIN unit u ON u.id = c.unit ORDER BY c.cycle")
    assert cooked == [("load",), ("moulding",)]
    assert lots(plate(1)) == lots(number)


def test_trial_and_purge_consume_lots_and_get_no_plate(cast: Cast) -> None:
    cast.moulding(order=WO_TRIAL)
    number = numbers(cast.scan(Demould(mould="T430-01")))[0]
    refused = cast.scan(Bind(mouldings=(number,), plate=plate(1)), expect="MOULDING-NOT-FOR-SALE")
    assert (refused.code, refused.what) == ("MOULDING-NOT-FOR-SALE", "This moulding is trial.")
    assert "V-2310" in lots(number)
    change(cast, "works_order", WO_TRIAL, purpose="purge")
    cast.moulding(order=WO_TRIAL)
    purged = numbers(cast.scan(Demould(mould="T430-01")))[0]
    statuses = rows_of(
        "SELECT u.lot_no, s.status FROM unit u JOIN unit_state s ON s.unit = u.id WHERE u.kind = 'moulding'"
    )
    assert dict(statuses) == {number: "trial", purged: "purge"}
    assert kinds_below("V-2310") == {"lot": 1, "content": 1, "charge": 2, "load": 2, "moulding": 2}


def test_an_aborted_cook_is_scrap_with_its_kilograms(cast: Cast) -> None:
    tub = cast["tubs"][0]
    cast.charge("skin", cast["red"], tub)
    cast.charge("foam", cast["foam"][0], cast["boxes"][0])
    foam = rows_of("SELECT uid::text FROM event ORDER BY id DESC LIMIT 1")[0][0]
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=tub))
    then = cast.clock()
    cast.scan(AbortCook(mould="T430-01"))
    made = rows_of("SELECT u.id, s.status FROM unit u JOIN unit_state s ON s.unit = u.id WHERE u.kind = 'moulding'")
    [(scrap, status)] = made
    assert (mass_of(scrap), status) == (12_200_000, "scrapped")
    assert rows_of("SELECT count(*) FROM unit WHERE kind = 'hull'") == [(0,)]
    assert cast.scan(Demould(mould="T430-01"), expect="NO-LOAD").code == "NO-LOAD"
    assert kinds_below("V-2288") == {"lot": 1, "content": 1, "charge": 1, "load": 1, "moulding": 1}
    # A layer told of afterwards and a weight put right are in it too.
    cast.late(TipTub(mould="T430-01", tub=cast["boxes"][0]), then)
    assert mass_of(scrap) == 12_200_000 + 9_150_000
    right = Correct(event=foam, was=cast["foam"][0], now=cast["foam"][0], amount="9.65", reason="misread")
    cast.scan(right, person=LEAD)
    assert mass_of(scrap) == 12_200_000 + 9_650_000
    assert differences() == []


def mass_of(unit: int) -> int | None:
    """The milligrams that the records give a unit."""
    graph = walk([unit], "back")
    return prepare(graph, flows(graph.nodes)).mass.get(unit)


def test_swapped_plates_are_put_right(cast: Cast) -> None:
    """Two moulds on one arm, their plates crossed: nothing of the past is changed, the walk is right."""
    cast.hull(plate(1))
    cast.hull(plate(2), red=cast["red2"])
    assert ("V-2288" in lots(plate(1)), "V-2291" in lots(plate(2))) == (True, True)
    same = SwapPlates(first=plate(1), second=plate(1).lower(), evidence="mass")
    assert cast.scan(same, person=QUALITY, expect="SWAP-ITSELF").code == "SWAP-ITSELF"
    told = cast.scan(same, person=QUALITY, mode="tells")
    assert (told.outcome, told.code, told.recorded) == ("flagged", "SWAP-ITSELF", "told, but it could not be placed")
    cast.scan(SwapPlates(first=plate(1), second=plate(2), evidence="colour under the plate"), person=QUALITY)
    assert ("V-2291" in lots(plate(1)), "V-2288" in lots(plate(2))) == (True, True)
    assert ("V-2288" in lots(plate(1)), "V-2291" in lots(plate(2))) == (False, False)
    assert differences() == []


def test_an_exchange_of_plates_takes_the_colour_along(cast: Cast) -> None:
    """What was copied to a hull at binding is that of its moulding, for sheets, search and packing alike."""
    change(cast, "works_order", WO_TRIAL, purpose="production")
    cast.hull(plate(1))
    cast.moulding(order=WO_TRIAL)
    cast.shift.demould_and_bind("T430-01", plate(2))
    cast.shift.inspect(plate(2))
    hulls = [find_unit(plate(n)) for n in (1, 2)]

    def colours(then: datetime | None = None) -> list[str]:
        return [nodes([hull], then)[hull].about["colour"] for hull in hulls]

    before, then = colours(), rows_of("SELECT max(recorded) FROM event")[0][0]
    cast.scan(SwapPlates(first=plate(1), second=plate(2), evidence="colour under the plate"), person=QUALITY)
    assert (before, colours(), colours(then)) == (["red", "teal"], ["teal", "red"], ["red", "teal"])
    assert [row[0] for row in finding.hulls(finding.Wanted(colour="teal"), None, None)] == [plate(1)]
    assert [row["serial"] for row in free_hulls("T430", "red")] == [plate(2)]
    teal = Pack(order=SO_RED, hulls=(plate(1),))
    assert cast.scan(teal, person=PACKER, expect="PACK-OFF-ORDER").code == "PACK-OFF-ORDER"
    cast.scan(Pack(order=SO_RED, hulls=(plate(2),)), person=PACKER)
    assert packed_for_order(SO_RED, "T430", "red") == 1
    assert differences() == []


def test_a_pack_whose_hull_is_another_colour_since_does_not_leave(cast: Cast) -> None:
    """The plates of a packed hull are exchanged: the order's lines are asked again when the truck is loaded."""
    change(cast, "works_order", WO_TRIAL, purpose="production")
    cast.hull(plate(1))
    cast.moulding(order=WO_TRIAL)
    cast.shift.demould_and_bind("T430-01", plate(2))
    [pack] = cast.scan(Pack(order=SO_RED, hulls=(plate(1),)), person=PACKER).made["codes"]
    cast.scan(SwapPlates(first=plate(1), second=plate(2), evidence="colour under the plate"), person=QUALITY)
    leaves = Dispatch(order=SO_RED, packs=(pack,), consignee="WHARFE", vehicle="PA 12")
    refused = cast.scan(leaves, person=PACKER, expect="GATE-OFF-ORDER")
    assert refused.what.endswith(f"{plate(1)} is T430 teal.")
    change(cast, "sales_order", SO_RED, lines=[{"product": "T430", "colour": "teal", "quantity": 1}])
    assert cast.scan(leaves, person=PACKER).outcome == "accepted"


def balance_sheet() -> list[tuple[Any, ...]]:
    """Containers of powder and pieces whose fill is not what was used, is left, or is told as a difference."""
    return rows_of(
        """SELECT u.id, u.lot_no, u.amount, used.sum, s.balance, d.sum FROM unit u JOIN unit_state s ON s.unit = u.id,
             LATERAL (SELECT COALESCE(sum(e.amount), 0) AS sum FROM edge e WHERE e.parent = u.id AND NOT e.aside
               AND NOT EXISTS (SELECT FROM edge_void v WHERE v.edge = e.id)) used,
             LATERAL (SELECT COALESCE(sum(amount), 0) AS sum FROM difference WHERE unit = u.id) d
            WHERE u.kind IN ('content', 'charge') AND u.amount + d.sum <> used.sum + s.balance"""
    )


def test_what_went_in_is_used_left_scrap_or_difference(cast: Cast) -> None:
    """The identity of mass for every container, after hulls, scrap, an abort, top-ups and a vessel found not empty."""
    cast.hull(plate(1))
    cast.moulding()
    scrap = numbers(cast.scan(Demould(mould="T430-01")))[0]
    cast.scan(Scrap(unit=scrap, reason="short shot"), person=LEAD)
    vessel = cast["vessels"][0]
    for source, kg in ((cast["natural"], "30"), (cast["natural2"], "40")):
        cast.scan(TopUp(source=source, into=vessel, amount=kg), person=LEAD)
    found = cast.scan(ProveEmpty(vessel=vessel), person=LEAD, expect="NOT-EMPTY", mode="tells")
    assert (found.outcome, found.code) == ("flagged", "NOT-EMPTY")
    assert balance_sheet() == []
    kinds = {kind for (kind,) in rows_of("SELECT kind FROM discrepancy")}
    assert kinds == {"not found when emptied", "told, but: NOT-EMPTY"}
    assert rows_of("SELECT amount, cause FROM difference") == [(-70_000_000, "not found when emptied")]


def test_a_bag_holds_a_little_more_than_its_book(cast: Cast) -> None:
    """Within the fill tolerance (2 % of 25 kg) the difference is booked; beyond it, and again and again, it is not."""
    bag = cast["foam"][1]
    for n in range(2):
        cast.shift.weigh(WO_RED, "foam", bag, cast["boxes"][n])
    cast.shift.weigh(WO_RED, "foam", bag, cast["boxes"][2], "7.10", part=True)
    assert rows_of("SELECT amount, cause FROM difference") == [(400_000, "fill difference")]
    left = rows_of("SELECT s.status, s.balance FROM unit_state s JOIN difference d ON d.unit = s.unit")
    assert left == [("used up", 0)]
    # 100 g of the 500 g are left: they may still be found in it, though it stands at 0.
    refused = cast.shift.weigh(WO_RED, "foam", bag, cast["boxes"][3], "0.40", part=True, expect="OVERDRAW")
    assert refused.code == "OVERDRAW"
    cast.shift.weigh(WO_RED, "foam", bag, cast["boxes"][3], "0.10", part=True)
    assert rows_of("SELECT sum(amount)::int FROM difference WHERE cause = 'fill difference'") == [(500_000,)]
    refused = cast.shift.weigh(WO_RED, "foam", bag, cast["boxes"][3], "0.01", part=True, expect="SOURCE-USED-UP")
    assert refused.code == "SOURCE-USED-UP"
    told = cast.shift.weigh(WO_RED, "foam", bag, cast["boxes"][3], "0.40", part=True, mode="tells", person=LEAD)
    assert told.outcome == "flagged"
    assert ("overdrawn",) in rows_of("SELECT kind FROM discrepancy")
    assert balance_sheet() == []
