"""What was read wrongly is put right: sources, tubs, inserts and what a charge is by then."""

from __future__ import annotations

import pytest

from tests.cast import LEAD, STORES, WO_RED, Cast, rows_of
from tests.recording.test_told import loads
from trace.genealogy.walk import walk
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.loading import PlaceInserts, ReadyMould
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import ProveEmpty, TopUp
from trace.recording.floor.units import read_units


def test_inserts_put_right_after_their_box_was_filled_up(cast: Cast) -> None:
    """Eight edges of one scan at once, out of a box that was topped up since."""
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(PlaceInserts(mould="T430-01", box=cast["m8"]))
    event = str(rows_of("SELECT max(uid::text) FROM event WHERE kind = 'inserts_placed'")[0][0])
    cast.scan(TopUp(source=cast["m8b"], into=cast["m8"], amount="100", commingle=True), person=STORES)
    cast.scan(Correct(event=event, was=cast["m8"], now=cast["m8b"], reason="two boxes on the bench"), person=LEAD)
    load = rows_of("SELECT id FROM unit WHERE kind = 'load'")[0][0]
    assert {n.lot_no for n in walk([load], "back").nodes.values() if n.kind == "lot"} == {"N-0417"}
    left = rows_of(
        """SELECT l.code, s.balance FROM label l JOIN carrier_state c ON c.carrier = l.carrier
             JOIN unit_state s ON s.unit = c.content WHERE l.code IN (%s, %s)""",
        cast["m8"], cast["m8b"],
    )  # fmt: skip
    assert dict(left) == {cast["m8"]: 600, cast["m8b"]: 392}
    assert differences() == []


def test_the_other_tub_was_tipped(cast: Cast) -> None:
    one, two = cast["tubs"][:2]
    cast.charge("skin", cast["red"], one)
    cast.charge("skin", cast["red2"], two)
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=one))
    event = str(rows_of("SELECT max(uid::text) FROM event WHERE kind = 'tipped'")[0][0])
    cast.scan(Correct(event=event, was=one, now=two, reason="tags swapped"), person=LEAD)
    load = rows_of("SELECT id FROM unit WHERE kind = 'load'")[0][0]
    assert {n.lot_no for n in walk([load], "back").nodes.values() if n.kind == "lot"} == {"V-2291"}
    holding = rows_of(
        """SELECT l.code, c.layer FROM label l JOIN carrier_state c ON c.carrier = l.carrier
            WHERE l.code IN (%s, %s) AND c.content IS NOT NULL""",
        one, two,
    )  # fmt: skip
    assert holding == [(one, "skin")]
    assert differences() == []


def test_the_other_tub_was_tipped_and_the_first_was_used_again(cast: Cast) -> None:
    """What stayed in the first may be under what was weighed on top of it, in the next hull; a person has to look."""
    one, two = cast["tubs"][:2]
    cast.charge("skin", cast["red"], one)
    cast.charge("skin", cast["red2"], two)
    for mould in ("T430-01", "T430-02"):
        cast.scan(ReadyMould(mould=mould, order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=one))
    event = str(rows_of("SELECT max(uid::text) FROM event WHERE kind = 'tipped'")[0][0])
    cast.charge("skin", cast["red2"], one)
    cast.scan(TipTub(mould="T430-02", tub=one))
    cast.scan(Correct(event=event, was=one, now=two, reason="tags swapped"), person=LEAD)
    first, second = loads()
    lots = {load: {n.lot_no for n in walk([load], "back").nodes.values() if n.kind == "lot"} for load in loads()}
    assert lots == {first: {"V-2291"}, second: {"V-2288", "V-2291"}}
    statuses = rows_of("SELECT s.status FROM unit_state s JOIN unit u ON u.id = s.unit WHERE u.kind = 'charge'"
                       " ORDER BY u.id")  # fmt: skip
    assert statuses == [("weighed",), ("tipped",), ("tipped",)]
    looked_at = "SELECT u.kind FROM discrepancy d JOIN unit u ON u.id = d.unit WHERE d.kind = %s"
    assert rows_of(looked_at, "weighed into a tub that was not empty") == [("charge",)]
    assert differences() == []


def test_an_insert_withdrawn_and_placed_again_is_no_gap(cast: Cast) -> None:
    """Scanned for the wrong position: withdrawn it leaves a gap, which what is placed there then closes."""
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(PlaceInserts(mould="T430-01", box=cast["m8"], positions=("S1",)))
    event = str(rows_of("SELECT max(uid::text) FROM event WHERE kind = 'inserts_placed'")[0][0])
    cast.scan(Correct(event=event, was=cast["m8"], now="", reason="wrong position"), person=LEAD)
    assert rows_of("SELECT what, which FROM gap") == [("source", "S1")]
    cast.scan(PlaceInserts(mould="T430-01", box=cast["m8"], positions=("S1",)))
    assert rows_of("SELECT what, which FROM gap") == []
    assert differences() == []


def test_an_unknown_source_put_right_to_the_vessel_itself_stays_unknown(cast: Cast) -> None:
    """Out of an empty vessel into another, twice; then somebody says that the first came out of that other."""
    empty, into = cast["vessels"]
    then = cast.clock()
    second = cast.clock()
    for at in (second, then):
        cast.late(TopUp(source=empty, into=into, amount="40"), at, person=LEAD)
    event = str(rows_of("SELECT uid FROM event WHERE kind = 'topped_up' ORDER BY id DESC LIMIT 1")[0][0])
    assert rows_of("SELECT count(*) FROM gap WHERE what = 'source'") == [(2,)]
    cast.scan(Correct(event=event, was=empty, now=into, amount="3.00", reason="x"), person=LEAD, mode="tells")
    assert rows_of("SELECT count(*) FROM gap g JOIN unit_state s ON s.unit = g.unit WHERE what = 'source'"
                   " AND s.status <> 'made anew'") == [(2,)]  # fmt: skip
    assert differences() == []


def test_a_source_that_was_not_named_there_is_not_put_right(cast: Cast) -> None:
    """It came out of the empty vessel by the record, so nothing else was named wrongly."""
    empty, into = cast["vessels"]
    cast.scan(TopUp(source=empty, into=into, amount="5"), person=LEAD, mode="tells")
    event = str(rows_of("SELECT max(uid::text) FROM event WHERE kind = 'topped_up'")[0][0])
    wrong = Correct(event=event, was=cast["natural"], now=cast["red"], reason="read wrong")
    assert cast.scan(wrong, person=LEAD, expect="NOTHING-TO-CORRECT").outcome == "refused"


def about_in(tub: str) -> tuple[str, str | None]:
    """Material and lot number of the charge in a tub, as the rules read them."""
    uid = rows_of(
        """SELECT u.uid::text FROM label l JOIN carrier_state c ON c.carrier = l.carrier JOIN unit u ON u.id = c.content
            WHERE l.code = %s""",
        tub,
    )[0][0]
    charge = read_units([uid])[uid]
    return charge.about["material"], charge.lot_no


def test_a_charge_is_what_its_weighing_is_put_right_to(cast: Cast) -> None:
    tub = cast["tubs"][0]
    cast.charge("skin", cast["red"], tub)
    event = str(rows_of("SELECT max(uid::text) FROM event WHERE kind = 'weighed'")[0][0])
    cast.scan(Correct(event=event, was=cast["red"], now=cast["red2"], reason="other bag"), person=LEAD)
    assert about_in(tub) == ("LL-35 red", "V-2291")
    cast.scan(Correct(event=event, was=cast["red2"], now=cast["natural"], reason="neither"), person=LEAD)
    assert about_in(tub)[0] == "LL-35"
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    assert cast.scan(TipTub(mould="T430-01", tub=tub), expect="TUB-OTHER-MATERIAL").code == "TUB-OTHER-MATERIAL"
    assert differences() == []


def test_a_charge_is_what_its_vessel_is_known_to_have_held(cast: Cast) -> None:
    """Natural powder went onto the red before the charge was drawn, told after; the tip asks what is in the tub."""
    tub, vessel = cast["tubs"][0], cast["vessels"][0]
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="50"), person=LEAD)
    then = cast.clock()
    cast.shift.weigh(WO_RED, "skin", vessel, tub)
    cast.late(TopUp(source=cast["natural"], into=vessel, amount="50"), then, person=LEAD)
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    refused = cast.scan(TipTub(mould="T430-01", tub=tub), expect="TUB-OTHER-MATERIAL")
    assert (refused.code, "holds LL-35 and LL-35 red." in refused.what) == ("TUB-OTHER-MATERIAL", True)
    full = cast.shift.weigh(WO_RED, "skin", cast["red"], tub, expect="TUB-FULL")
    assert "V-2288" not in full.text()


@pytest.mark.parametrize("event", ["", "the third of this morning", "018f0000-0000-7000-8000-00000000dead"])
def test_a_record_that_is_not_there_has_nothing_to_put_right(cast: Cast, event: str) -> None:
    cast.charge("skin", cast["red"], cast["tubs"][0])
    wrong = Correct(event=event, was=cast["red"], now=cast["red2"], reason="the other bag")
    assert cast.scan(wrong, person=LEAD, expect="NOTHING-TO-CORRECT").outcome == "refused"


def test_what_cannot_be_meant_is_said_before_anything_is_put_right(cast: Cast) -> None:
    vessel, (one, two) = cast["vessels"][0], cast["tubs"][:2]
    cast.charge("skin", cast["red"], one)
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=one))
    tipped = str(rows_of("SELECT max(uid::text) FROM event WHERE kind = 'tipped'")[0][0])
    said = cast.scan(
        Correct(event=tipped, was=one, now=one, amount="12.00", reason="misread"), person=LEAD,
        expect="AMOUNT-UNREADABLE",
    )  # fmt: skip
    assert "A tub is tipped whole" in said.why
    cast.scan(TopUp(source=cast["red"], into=vessel, amount="40"), person=STORES)
    cast.scan(ProveEmpty(vessel=vessel), person=LEAD, overrides={"NOT-EMPTY": "blown out"})
    emptied = str(rows_of("SELECT max(uid::text) FROM event WHERE kind = 'proved_empty'")[0][0])
    said = cast.scan(
        Correct(event=emptied, was=vessel, now=vessel, amount="1.00", reason="some was left"), person=LEAD,
        expect="AMOUNT-UNREADABLE",
    )  # fmt: skip
    assert "A vessel proved empty holds nothing" in said.why
    said = cast.scan(
        Correct(event=emptied, was=vessel, now=two, reason="that one"), person=LEAD, expect="AMOUNT-UNREADABLE"
    )
    assert "of the container itself" in said.why
    for at in ("2026-06-08T14:30", "2199-01-01T00:00+00:00", "at two"):
        said = cast.scan(
            Correct(event=emptied, was=vessel, now=vessel, at=at, reason="x"), person=LEAD, expect="AMOUNT-UNREADABLE"
        )
        assert "is no time that has come" in said.why
