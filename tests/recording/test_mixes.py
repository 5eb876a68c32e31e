"""A mix of two materials is that, by name; a number that a supplier gave hides no key; what is no release agent."""

from __future__ import annotations

import json
from datetime import timedelta

from tests.cast import DEPUTY, LEAD, STORES, WO_RED, Cast, rows_of
from trace.genealogy.mixes import materials_of, said_of
from trace.readmodels.rebuild import differences
from trace.recording.acts.counting import Count
from trace.recording.acts.holds import Hold, ReleaseHold
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.setup import Define
from trace.recording.acts.vessels import TopUp
from trace.recording.acts.weighing import CheckWeight, Weigh


def filled(cast: Cast) -> str:
    """A vessel of 400 kg natural with 10 kg red told on top, its holds ended by quality."""
    vessel: str = cast["vessels"][0]
    cast.scan(TopUp(source=cast["natural"], into=vessel, amount="400"), person=STORES)
    told = cast.scan(TopUp(source=cast["red"], into=vessel, amount="10"), person=STORES, mode="tells")
    assert told.code == "MIXES-MATERIALS"
    for uid in told.made["holds"]:
        cast.scan(ReleaseHold(hold=uid, reason="looked at"), person=DEPUTY)
    return vessel


def test_a_mix_of_two_materials_is_that_by_name(cast: Cast) -> None:
    vessel = filled(cast)
    found = rows_of(
        """SELECT u.about->>'material', u.about->'materials' FROM label l JOIN carrier_state s ON s.carrier = l.carrier
             JOIN unit u ON u.id = s.content WHERE l.code = %s""",
        vessel,
    )
    assert found == [("LL-35 and LL-35 red", '["LL-35", "LL-35 red"]')]
    assert differences() == []


def test_a_mix_fits_no_layer(cast: Cast) -> None:
    vessel = filled(cast)
    for layer, tub in (("skin", cast["tubs"][0]), ("inner", cast["boxes"][0])):
        refused = cast.shift.weigh(WO_RED, layer, vessel, tub, expect="LAYER-MATERIAL")
        assert (refused.code, refused.what) == ("LAYER-MATERIAL", "This is LL-35 and LL-35 red.")


def test_a_mix_that_the_recipe_names_fits(cast: Cast) -> None:
    vessel = filled(cast)
    body = rows_of("SELECT v.body FROM revision v JOIN resource r ON r.id = v.thing WHERE r.key = 'T430'")[0][0]
    recipe = json.loads(body)
    recipe["layers"][0]["mixes"] = [["LL-35 {colour}", "LL-35"]]
    cast.scan(Define(kind="product", key="T430", body=recipe), person="P-09")
    assert cast.shift.weigh(WO_RED, "skin", vessel, cast["tubs"][0]).outcome == "accepted"
    assert cast.shift.weigh(WO_RED, "inner", vessel, cast["boxes"][0], expect="LAYER-MATERIAL").outcome == "refused"


def test_a_mix_told_late_is_one_by_name_too(cast: Cast) -> None:
    vessel = cast["vessels"][0]
    cast.scan(TopUp(source=cast["natural"], into=vessel, amount="100"), person=STORES)
    then = cast.clock()
    cast.clock.now += timedelta(minutes=5)
    cast.scan(TopUp(source=cast["natural2"], into=vessel, amount="100"), person=STORES)
    cast.late(TopUp(source=cast["red"], into=vessel, amount="10"), then, person=STORES)
    found = rows_of(
        """SELECT u.about->>'material' FROM label l JOIN carrier_state s ON s.carrier = l.carrier
             JOIN unit u ON u.id = s.content WHERE l.code = %s""",
        vessel,
    )
    assert found == [("LL-35 and LL-35 red",)]
    assert differences() == []


def test_of_a_mix_the_materials_are_read_back() -> None:
    assert materials_of(said_of(["B", "A", "A"])) == ["A", "B"]
    assert said_of([]) == {"material": None}


def test_a_suppliers_lot_number_hides_no_key_of_the_plant(cast: Cast) -> None:
    cast.shift.stock("VERRIN", "LL-35", "S1", ("50.00",))
    cast.shift.stock("VERRIN", "LL-35", "W-3", ("50.00",))
    cast.shift.stock("VERRIN", "LL-35", "T430-01", ("50.00",))
    cast.shift.stock("DUNSAY", "LL-35", "T430-01", ("50.00",))
    assert cast.scan(CheckWeight(scale="W-3", shown="10.000")).outcome == "accepted"
    assert cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1")).outcome == "accepted"
    # Where a lot is asked for, its number still leads to it.
    assert cast.scan(Hold(code="S1", reason="density"), person=LEAD).outcome == "accepted"


def test_only_a_release_agent_is_taken_as_one(cast: Cast) -> None:
    def ready(agent: str) -> ReadyMould:
        return ReadyMould(mould="T430-01", order=WO_RED, arm="S1", done=("release coat",), agent=agent)

    refused = cast.scan(ready(cast["m8"]), expect="AGENT-OTHER-MATERIAL")
    assert refused.code == "AGENT-OTHER-MATERIAL"
    coat = cast.shift.receive("TOLBY", "TR-4", "R-55", ("5",))[0]
    assert cast.scan(ready(coat), expect="AGENT-UNFIT").code == "AGENT-UNFIT"
    cast.shift.certify_and_release(coat, "R-55", material="TR-4")
    assert cast.scan(ready(coat)).outcome == "accepted"


def test_a_release_agent_that_is_used_up_by_the_book_may_coat(cast: Cast) -> None:
    """A coat takes grams that nobody books: what is left in the can is seen at the mould."""
    coat = cast.shift.stock("TOLBY", "TR-4", "R-55", ("5",))[0]
    cast.scan(Count(box=coat, amount="0", again="0", reason="poured out"), person=LEAD)
    ready = ReadyMould(mould="T430-01", order=WO_RED, arm="S1", done=("release coat",), agent=coat)
    assert cast.scan(ready).outcome == "accepted"


def test_a_weighing_told_of_a_mix_is_held(cast: Cast) -> None:
    weigh = Weigh(order=WO_RED, layer="inner", box=filled(cast), tub=cast["boxes"][0], scale="W-3", gross="7.32")
    assert cast.late(weigh, cast.clock()).code == "LAYER-MATERIAL"
