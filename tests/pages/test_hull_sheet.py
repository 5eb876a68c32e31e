"""A hull's sheet says what was recorded, and admits first what was not."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.pages.story import Told
from trace.codes import printed
from trace.demo import plant as invented
from trace.recording.acts.corrections import Correct
from trace.recording.acts.counting import Count
from trace.recording.acts.demould import SwapPlates
from trace.recording.acts.opening import OldHull, OpeningStock
from trace.recording.acts.setup import Define
from trace.sheets.contracts import HullSheet
from trace.sheets.hulls.gathered import NoHullError, gather
from trace.sheets.hulls.sheet import hull_sheet
from trace.sheets.lots.gathered import gather_lot
from trace.sheets.lots.sheet import lot_sheet

D = Decimal


def sheet(story: Told, which: str) -> HullSheet:
    return hull_sheet(gather(story.hulls[which]))


def test_the_wall_follows_from_charge_density_and_area(story: Told) -> None:
    """t = m / (rho A): 12.19 kg, 9.16 kg and 7.31 kg on 5.2 m2 at 938, 220 and 938 kg/m3, to 0.1 mm."""
    found = sheet(story, "bag change")
    assert [(x.name, x.kg) for x in found.layers] == [("Skin", D("12.19")), ("Foam", D("9.16")), ("Inner", D("7.31"))]
    assert found.wall is not None
    said = {w.text for w in found.wall.wide.words}
    assert {"2.5", "8.0", "1.5"} <= said


def test_a_foam_of_unsure_density_is_drawn_as_a_range(story: Told) -> None:
    """9.16 kg at 180 to 260 kg/m3 on 5.2 m2: 6.8 to 9.8 mm; known only from when the data says so."""
    body = {**invented.MATERIALS["FM-22"], "density": ["180", "260"]}
    story.plant.scan(Define(kind="material", key="FM-22", body=body), person="P-09")
    story.plant.go_on()
    made = story.plant.kayak(bag=6)
    found = hull_sheet(gather(made))
    assert found.wall is not None
    assert "6.8–9.8" in {w.text for w in found.wall.wide.words}
    before = sheet(story, "bag change").wall
    assert before is not None
    assert "8.0" in {w.text for w in before.wide.words}


def test_both_lots_of_a_bag_change_are_certain_with_their_kilograms(story: Told) -> None:
    foam = sheet(story, "bag change").layers[1]
    assert [(x.lot, x.verdict, x.least, x.most) for x in foam.lots] == [
        ("F-118", "certain", D("6.90"), D("6.90")),
        ("F-121", "certain", D("2.26"), D("2.26")),
    ]
    assert foam.how.count("read from the scale") == 2


def test_a_silo_of_two_lots_leaves_the_inner_open(story: Told) -> None:
    inner = sheet(story, "bag change").layers[2]
    assert {(x.lot, x.verdict, x.least, x.most) for x in inner.lots} == {
        ("V-2301", "may", D("0.00"), D("7.31")),
        ("D-77", "may", D("0.00"), D("7.31")),
    }
    # The mixing model's figures are said to the gram, no finer, and make up the layer.
    best = [x.best for x in inner.lots if x.best is not None]
    assert all(x == round(x, 3) for x in best)
    assert sum(best) == D("7.31")


def test_a_missing_layer_is_said_first_and_what_it_could_be(story: Told) -> None:
    found = sheet(story, "no foam")
    assert found.gaps[0] == "No record of the foam: no charge was tipped. It may be of lot F-118 or F-121."
    assert [x.missing for x in found.layers] == [False, True, False]
    assert any(gap.startswith("Flagged: Mould T430-01 closed") for gap in found.gaps)


def test_one_missing_oven_log_is_one_gap(story: Told) -> None:
    said = [gap for gap in sheet(story, "no log").gaps if "log" in gap or "peak" in gap.lower()]
    assert len(said) == 1 and said[0].startswith("No oven log for cycle"), said


def test_a_missing_oven_log_is_no_pass(story: Told) -> None:
    found = sheet(story, "no log")
    assert found.gaps[0] == "No oven log for cycle 2-1003."
    assert found.cycles[0].log == ""
    assert any("No oven log" in h.text for h in found.holds)


def test_inserts_stand_by_lot_and_a_held_lot_is_marked(story: Told) -> None:
    found = sheet(story, "no log")
    assert [(x.positions, x.lot) for x in found.inserts] == [
        ("H1–H4", "N-0355"), ("S1–S4", "N-0398"), ("S5–S8", "N-0417"),
    ]  # fmt: skip
    assert found.plan is not None
    assert {m.name for m in found.plan.wide.marks if m.standing == "marked"} == {"S5", "S6", "S7", "S8"}
    assert any(h.text == "M8-N lot N-0417: Pull-out torque query" and h.who == "Priya Ashdown" for h in found.holds)


def test_a_correction_stands_beside_what_was_first_entered(story: Told) -> None:
    found = sheet(story, "gone")
    assert [x.lot for x in found.layers[1].lots] == ["F-121"]
    weighed = [h for h in found.history if h.what.startswith("Foam weighed")]
    assert weighed[0].corrected and "Put right by Priya Ashdown" in weighed[0].note
    put_right = [h for h in found.history if h.correction]
    assert len(put_right) == 1 and "The paper traveller shows the label of F-121" in put_right[0].what
    assert any(g.startswith("Put right: not ") for g in found.gaps)
    assert any(g == "The foam weight was typed, not read from the scale." for g in found.gaps)


def test_a_charge_whose_amount_was_put_right_was_weighed_all_the_same(story: Told) -> None:
    before = sheet(story, "held")
    weighed = next(e for e in gather(story.hulls["held"]).entries if e.kind == "weighed" and e.says["layer"] == "foam")
    box = str(weighed.says["box"])
    story.plant.scan(Correct(event=weighed.uid, was=box, now=box, amount="9.10", reason="misread"), person="P-06")
    after = sheet(story, "held")
    assert [x.kg for x in after.layers] == [before.layers[0].kg, D("9.10"), before.layers[2].kg]
    assert after.layers[1].how == before.layers[1].how != ""
    assert [h.what for h in after.history if "weighed" in h.what] == [
        h.what for h in before.history if "weighed" in h.what
    ]
    assert not any(gap.startswith("No weighing") for gap in after.gaps)
    assert [i.did for i in after.instruments] == [i.did for i in before.instruments]


def test_two_cooks_are_two_records(story: Told) -> None:
    found = sheet(story, "cooked twice")
    assert [(c.peak, c.note.startswith("Cooked again.")) for c in found.cycles] == [
        ("208 °C (200 to 220)", False),
        ("211 °C (200 to 220)", True),
    ]
    assert all(s.observed for c in found.cycles for s in c.stages)


def test_late_unsure_and_flagged_entries_are_admitted(story: Told) -> None:
    found = sheet(story, "bag change")
    late = [h for h in found.history if h.late]
    assert len(late) == 1 and late[0].recorded - late[0].happened > timedelta(days=2)
    assert "Scuff at the bow" in late[0].note
    assert any(g.startswith("1 entered late: Inspected") for g in found.gaps)
    assert any(g.startswith("Time known to ± 60 min only") for g in found.gaps)
    assert any(g.startswith("Flagged: Inspected") for g in found.gaps)


def test_people_and_instruments_stand_as_they_stood_then(story: Told) -> None:
    before = sheet(story, "bag change")
    body: dict[str, object] = {"roles": ["operator"], "trained": {}, "until": None}
    story.plant.scan(Define(kind="person", key="P-01", body=body), person="P-09")
    story.plant.shift.check_scale(shown="10.050")
    after = sheet(story, "bag change")
    assert after.people == before.people
    assert [p.trained for p in after.people if p.name == "Ines Orrell"] == ["weighing: to 31 Dec 2031"]
    scale = next(i for i in after.instruments if i.name == "W-3")
    assert "check-weight 12 Apr" in scale.state_then
    # The next check of the scale after this hull passed; a later failure is of later charges.
    held = next(i for i in sheet(story, "held").instruments if i.name == "W-3")
    assert held.doubtful and "failed, showing 10.050 kg" in held.since


def test_where_it_is_and_what_else_shares_its_cause(story: Told) -> None:
    gone = sheet(story, "gone")
    assert gone.place is not None
    assert (gone.place.text, gone.state) == ("Wharfe & Weir Paddlesport", "dispatched")
    assert gone.place.detail.startswith("Dispatched on SO-220, in pack ")
    held = sheet(story, "held").shared
    assert [(s.cause, s.certain, s.may, s.in_plant) for s in held] == [("M8-N lot N-0417", 3, 0, 3)]


def test_two_models_differ_on_the_sheet(story: Told) -> None:
    kayak, sled = sheet(story, "bag change"), sheet(story, "sled")
    assert (kayak.model, sled.model) == ("Tamsin 430", "Halcott 320")
    assert kayak.plan is not None and sled.plan is not None
    assert kayak.plan.wide.outline != sled.plan.wide.outline
    assert {m.name for m in sled.plan.wide.marks} == {"E1", "E2", "E3", "E4", "B1", "B2", "B3", "B4"}
    assert sled.gaps == ()


def test_a_place_that_the_recipe_leaves_empty_is_not_missing(story: Told) -> None:
    """The buoy's drawing has positions that its recipe takes nothing into."""
    story.plant.scan(OldHull(serial="GHM-B60-000007", product="B60", colour="red", made="2019-06"), person="P-09")
    buoy = hull_sheet(gather("GHM-B60-000007"))
    assert buoy.plan is not None and buoy.nothing_asked
    assert {w.text for w in buoy.plan.wide.labels} == {"L1–L4, P1: not used", "Band: not used"}
    assert not sheet(story, "no foam").nothing_asked


def test_lots_carry_certificate_and_release(story: Told) -> None:
    lots = {x.lot: x for x in sheet(story, "bag change").lots}
    assert lots["V-2288"].certificate == "density 0.935 (0.935–0.941), mfi 3.2 (3.2–3.8)"
    assert lots["V-2288"].released.startswith("Priya Ashdown, 12 Apr 2026")
    assert lots["N-0398"].certificate == "finish nickel over copper"


def test_a_code_of_something_else_is_no_hull(story: Told) -> None:
    with pytest.raises(NoHullError):
        gather("N-0417")
    with pytest.raises(LookupError):
        gather("GHM-T430-999999")


def test_the_queries_do_not_grow_with_the_history(story: Told) -> None:
    """As many for a hull with every kind of trouble as for any other: see query_counts.json for the number."""
    counts = []
    for which in ("sled", "held"):
        with CaptureQueriesContext(connection) as asked:
            sheet(story, which)
        counts.append(len(asked))
    assert max(counts) - min(counts) <= 6, counts


def test_a_hull_from_before_the_records_says_so_and_passes_for_nothing(story: Told) -> None:
    story.plant.scan(OldHull(serial="GHM-T430-000007", product="T430", colour="red", made="2019-06-01"), person="P-09")
    stock = OpeningStock(material="FM-22", amount="25.00")
    box = story.plant.scan(stock, person="P-06", helper="P-03", overrides={"OPENING-OVER": "found"}).made["codes"][0]
    found = hull_sheet(gather("GHM-T430-000007"))
    assert found.gaps[0].startswith("Made before records began")
    assert (found.cycles, [x.missing for x in found.layers], str(found.made)) == ((), [True] * 3, "2019-06-01")
    sheet = lot_sheet(gather_lot(box))
    assert sheet.gaps[0].startswith("There before records began")
    assert sheet.may >= 1, "nobody knows what was in the older hull"


def test_a_hull_that_left_before_the_records_is_found_where_it_went(story: Told) -> None:
    for serial, gone in (("GHM-T430-000008", "2019-07-02"), ("GHM-T430-000009", "")):
        story.plant.scan(OldHull(serial=serial, product="T430", consignee="WHARFE", gone=gone), person="P-09")
    places = [hull_sheet(gather(f"GHM-T430-{n:06d}")).place for n in (8, 9)]
    assert {(p.text, p.since) for p in places if p} == {("Wharfe & Weir Paddlesport", None)}
    assert [p.detail for p in places if p] == [
        "Gone before records began, 2 Jul 2019.", "Gone before records began, nobody recorded when.",
    ]  # fmt: skip


def test_exchanged_plates_carry_the_sheet_of_the_other_moulding(story: Told) -> None:
    first, second = story.hulls["no log"], story.hulls["no foam"]
    moulding = gather(first).of_kind("moulding")[0].lot_no
    story.plant.scan(SwapPlates(first=first, second=second, evidence="Photo of both plates"), person="P-06")
    found = hull_sheet(gather(second))
    assert found.moulding == moulding
    assert any(g.startswith("Plates ") and "exchanged" in g for g in found.gaps)
    assert [x.missing for x in found.layers] == [False] * 3


def marked(found: HullSheet) -> tuple[set[str], list[str]]:
    """The lots said to be on hold in the wall section, and the classes of its layers."""
    assert found.wall is not None
    words = {w.text.removesuffix(", on hold") for w in found.wall.wide.words if w.kind == "label-stop"}
    return words, [fill.kind for fill in found.wall.wide.fills]


def test_a_layer_from_a_container_on_hold_is_marked_like_a_held_insert(story: Told) -> None:
    assert marked(sheet(story, "bag change"))[0] == set()
    story.plant.hold(story.plant.boxes["foam 2"][1], reason="Torn liner")
    found = sheet(story, "bag change")
    assert [(x.lot, x.standing) for x in found.layers[1].lots] == [("F-118", "released"), ("F-121", "on hold")]
    assert marked(found) == ({"lot F-121"}, ["layer", "layer layer-marked", "layer"])
    assert found.wall is not None and "lot F-121 on hold" in found.wall.wide.description
    # Another hull took foam from another bag of that lot.
    assert marked(sheet(story, "sled"))[0] == set()


def test_inserts_from_a_box_on_hold_are_marked_too(story: Told) -> None:
    story.plant.hold(story.plant.boxes["m6"][0], reason="Rusty")
    found = sheet(story, "bag change")
    assert [x.note for x in found.inserts if x.lot == "N-0355"] == ["on hold"]
    assert found.plan is not None
    assert {m.name for m in found.plan.wide.marks if m.standing == "marked"} == {"H1", "H2", "H3", "H4"}


def test_a_hold_on_one_lot_of_a_silo_leaves_the_other_lot_unmarked(story: Told) -> None:
    story.plant.hold(story.plant.boxes["inner 2"][0], whole_lot=True, reason="Query of D-77")
    assert marked(sheet(story, "sled")) == ({"lot D-77"}, ["layer", "layer", "layer layer-marked"])
    story.plant.hold(story.plant.silo, reason="Wet silo")
    assert marked(sheet(story, "sled"))[0] == {"lot D-77", "lot V-2301"}


def test_a_stage_without_a_record_is_named_in_quotation_marks(story: Told) -> None:
    story.plant.go_on()
    plate = story.plant.kayak(bag=6)
    gathered = gather(plate)
    entries = tuple(e for e in gathered.entries if e.kind not in ("cook_stage", "cook_ended"))
    found = hull_sheet(replace(gathered, entries=entries))
    number = found.cycles[0].number
    wanted = f"Cycle {number}: no record of the stages “heat”, “drop foam”, “drop inner”, “out”."
    assert wanted in found.gaps
    alone = [e for e in gathered.entries if not (e.kind == "cook_stage" and e.says["stage"] == "out")]
    ended = hull_sheet(replace(gathered, entries=tuple(e for e in alone if e.kind != "cook_ended")))
    assert f"Cycle {number}: no record of the stage “out”." in ended.gaps


def test_a_layer_that_could_be_of_a_lot_without_a_number_reads_as_a_sentence(story: Told) -> None:
    stock = OpeningStock(material="FM-22", amount="25.00")
    story.plant.scan(stock, person="P-06", helper="P-03", overrides={"OPENING-OVER": "found"})
    story.plant.go_on()
    found = hull_sheet(gather(story.plant.kayak(foam=None)))
    assert found.gaps[0].endswith(" It may be of lot F-118 or F-121 or a lot whose number nobody recorded.")
    assert "lot lot" not in " ".join([*found.gaps, *(x.how for x in found.layers)])


def test_more_than_the_book_is_said_with_the_code_as_printed(story: Told) -> None:
    silo = story.plant.silo
    story.plant.scan(Count(box=silo, amount="600", reason="Topped up by night"), person="P-05", station="count")
    said = " ".join(sheet(story, "sled").gaps)
    assert f"{printed(silo)} held 2" in said and silo not in said


def test_alike_holds_share_a_box_and_each_can_be_reached(story: Told, signed_in: Callable[[str], Client]) -> None:
    for n in range(5):
        story.plant.hold(story.plant.boxes["foam 2"][1], reason=f"Query {n}")
    page = signed_in("P-06").get(f"/hull/{story.hulls['bag change']}/").content.decode()
    found = sheet(story, "bag change")
    assert len(found.holds) >= 5
    assert page.count('<section class="hold') == len({h.alike for h in found.holds}) < len(found.holds)
    assert all(f"Query {n}" in page for n in range(5))
    assert " holds." in page and "<summary>" in page


def test_wall_and_zones_say_what_each_is(story: Told, signed_in: Callable[[str], Client]) -> None:
    page = signed_in("P-06").get(f"/hull/{story.hulls['held']}/").content.decode()
    assert "The two need not agree." in page
