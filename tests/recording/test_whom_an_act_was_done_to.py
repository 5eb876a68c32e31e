"""What an act was done to, as a scope asks: not what it only took from, nor the mould beside its own."""

from tests.cast import Cast, plate
from trace.genealogy.causes import With
from trace.genealogy.sharing import shared_by
from trace.recording.acts.vessels import ProveEmpty


def certain(word: str, key: str) -> set[str]:
    return {str(line.node.code) for line in shared_by(With(word, key)).lines if line.verdict == "certain"}


def test_the_last_draw_from_a_bag_is_not_done_to_what_came_out_of_it_before(cast: Cast) -> None:
    shift, bag = cast.shift, cast["foam"][1]
    shift.check_scale("W-4")
    for n, scale in ((1, "W-3"), (2, "W-3"), (3, "W-4")):
        tub, foam, inner = cast["tubs"][0], cast["boxes"][0], cast["boxes"][1]
        shift.weigh("WO-1041", "skin", cast["red"], tub)
        # 25.00 kg are in the bag: the third charge takes the rest of it.
        shift.weigh("WO-1041", "foam", bag, foam, "9.15" if n < 3 else "6.70", scale=scale, part=n == 3)
        if n == 3:
            shift.weigh("WO-1041", "foam", cast["foam"][0], foam, "2.45", scale=scale)
        shift.weigh("WO-1041", "inner", cast["natural"], inner)
        boxes, packs = [cast["m8"], cast["m6"]], [cast["side"], cast["side"], cast["capacity"]]
        shift.load("T430-01", "WO-1041", "S1", [tub, foam, inner], boxes, packs)
        shift.cook(["T430-01"], "S1")
        shift.demould_and_bind("T430-01", plate(n))
    assert certain("scale", "W-4") == {plate(3)}
    assert certain("scale", "W-3") == {plate(1), plate(2), plate(3)}
    shift.scan(ProveEmpty(vessel=cast["foam"][0]), person="P-10", mode="tells")
    assert certain("person", "P-10") == set()
