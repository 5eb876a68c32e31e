"""What a plan says is at stake is what is at stake once it was recorded; asking records nothing."""

from collections.abc import Callable, Iterable

import pytest

from tests.cast import WO_RED, Cast, rows_of
from trace.genealogy.dispersion import at_stake
from trace.genealogy.planned import PlanError, Planned, planned_split, planned_top_up
from trace.genealogy.plans import AS_PLANNED, EMPTY_FIRST, SAME_LOTS, WHOLE_CHARGES, Way
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.acts.weighing import Weigh

KG = 1_000_000


def weighed(cast: Cast, box: str, tubs: Iterable[str], gross: str = "12.20", *, part: bool = False) -> None:
    for tub in tubs:
        cast.scan(Weigh(order=WO_RED, layer="skin", box=box, tub=tub, scale="W-3", gross=gross, part=part))


def now(way: Way) -> dict[int, int]:
    return {one.lot.id: one.count for one in at_stake(way.after)}


def vessel_of(cast: Cast) -> str:
    """With 30.5 kg of lot V-2288, out of which one charge was weighed: 18.3 kg are left."""
    vessel: str = cast["vessels"][0]
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="30.50"))
    weighed(cast, vessel, cast["tubs"][:1])
    return vessel


@pytest.mark.outside("identity", "what a plan says is at stake is at stake once it was recorded")
def test_a_top_up_as_planned(cast: Cast) -> None:
    vessel, events = vessel_of(cast), rows_of("SELECT count(*) FROM event")
    planned = planned_top_up(cast["red2"], vessel, "20.00")
    assert planned.charge == 12_200_000
    ways = {way.name: way for way in planned.ways}
    assert rows_of("SELECT count(*) FROM event") == events
    assert [(one.lot.lot_no, one.count) for one in planned.now] == [("V-2288", 1), ("V-2291", 0)]
    assert planned.worst_now == 1
    cast.scan(TopUp(source=cast["red2"], into=vessel, amount="20.00", commingle=True))
    weighed(cast, vessel, cast["tubs"][1:4])
    assert now(ways[AS_PLANNED]) == ways[AS_PLANNED].after
    assert sorted(ways[AS_PLANNED].after.values()) == [3, 4]


def test_run_empty_first(cast: Cast) -> None:
    vessel = vessel_of(cast)
    planned = planned_top_up(cast["red2"], vessel, "26.00")
    way = next(w for w in planned.ways if w.name == EMPTY_FIRST)
    assert planned.best == way
    weighed(cast, vessel, cast["tubs"][1:2])
    cast.scan(ProveEmpty(vessel=vessel), mode="tells")
    assert planned_top_up(cast["red2"], vessel, "26.00").now == planned_top_up(cast["red2"], vessel, "1.00").now
    cast.scan(TopUp(source=cast["red2"], into=vessel, amount="26.00"))
    weighed(cast, vessel, cast["tubs"][2:4])
    assert now(way) == way.after
    # 6.1 kg of the heel and 1.6 kg of what came go into no hull.
    assert way.rest == 6_100_000 + 1_600_000


def test_more_of_a_lot_that_is_in_it(cast: Cast) -> None:
    vessel = vessel_of(cast)
    way = next(w for w in planned_top_up(cast["red2"], vessel, "20.00").ways if w.name == SAME_LOTS)
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="20.00", commingle=True))
    weighed(cast, vessel, cast["tubs"][1:4])
    assert now(way) == way.after


def test_a_split_over_orders(cast: Cast) -> None:
    """18.3 kg for each of two orders at 12.2 kg a hull: as planned two hulls hold two lots."""
    planned = planned_split(cast["red"], cast["red2"], [(WO_RED, "18.30"), (WO_RED, "18.30")])
    ways = {way.name: way for way in planned.ways}
    tubs = cast["tubs"]
    for first, second in ((tubs[0], tubs[1]), (tubs[2], tubs[3])):
        weighed(cast, cast["red"], [first])
        weighed(cast, cast["red"], [second], "6.10", part=True)
        weighed(cast, cast["red2"], [second], "6.10")
    assert now(ways[AS_PLANNED]) == ways[AS_PLANNED].after
    assert sorted(ways[AS_PLANNED].after.values()) == [2, 4]
    assert sorted(ways[WHOLE_CHARGES].after.values()) == [2, 2]


def test_what_is_no_plan_is_said(cast: Cast) -> None:
    vessel = vessel_of(cast)
    wrong: tuple[Callable[[], Planned], ...] = (
        lambda: planned_top_up(cast["red2"], vessel, "900"),
        lambda: planned_top_up(vessel, vessel, "1"),
        lambda: planned_top_up("nothing", vessel, "1"),
        lambda: planned_top_up(cast["teal"], cast["vessels"][1], "1"),
        lambda: planned_split(cast["red"], cast["red"], [(WO_RED, "1")]),
        lambda: planned_split(cast["red"], cast["red2"], [("WO-9", "1")]),
        lambda: planned_split(cast["teal"], cast["red2"], [(WO_RED, "1")]),
        lambda: planned_top_up(cast["teal"], vessel, "1"),
        lambda: planned_split(cast["red"], cast["red2"], []),
    )
    for said in wrong:
        with pytest.raises(PlanError):
            said()
