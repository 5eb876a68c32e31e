"""Powder and parts scrapped: told at once, late and put right; each is a way out of its own in the balance."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.cast import LEAD, QUALITY, STORES, WO_RED, Cast, rows_of
from trace.genealogy.balance.subjects import balance_of
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.counting import Count
from trace.recording.acts.holds import Hold
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.scrapping import ScrapStock
from trace.recording.acts.tipping import TipTub
from trace.recording.acts.vessels import TopUp
from trace.recording.answers import Answer

KG = 1_000_000


def ways(code: str) -> dict[str, int]:
    """Way -> mg (or pieces) in the balance of a code."""
    return {figure.way: int(figure.bounds.best or 0) for figure in balance_of(code).ends}


def newest() -> str:
    return str(rows_of("SELECT uid FROM event ORDER BY id DESC LIMIT 1")[0][0])


def test_some_powder_of_a_box(cast: Cast) -> None:
    answer = cast.scan(ScrapStock(box=cast["red"], amount="2.50", scale="W-3", cause="spilt"), person=STORES)
    assert (answer.outcome, "scrapped: 2.50 kg" in answer.recorded) == ("accepted", True)
    balance = balance_of("V-2288")
    assert ways("V-2288") == {"stock": 497_500_000, "scrap": 2_500_000}
    assert balance.book.adds_up
    cast.scan(Count(box=cast["red"], amount="497.40", reason="weighed"), person=QUALITY)
    assert ("step of the scale", "W-3") in {(s.what, s.of) for s in balance_of("V-2288").uncertainty.sources}
    assert differences() == []


def test_inserts_of_a_box_are_scrapped_by_the_piece(cast: Cast) -> None:
    cast.scan(ScrapStock(box=cast["m8"], amount="7", cause="damaged"), person=STORES)
    assert ways("N-0398") == {"stock": 493, "scrap": 7}
    refused = cast.scan(ScrapStock(box=cast["m8"], amount="0.5", cause="damaged"), expect="AMOUNT-UNREADABLE")
    assert refused.outcome == "refused"


def test_all_that_is_left_is_by_the_book_and_said_so(cast: Cast) -> None:
    answer = cast.scan(ScrapStock(box=cast["red"], everything=True, cause="old"), person=STORES)
    assert "all that was left, 500.00 kg by the book" in answer.recorded
    assert ways("V-2288") == {"scrap": 500 * KG}
    again = cast.scan(ScrapStock(box=cast["red"], everything=True, cause="old"), expect="OUT-NOTHING-LEFT")
    assert again.outcome == "refused"


@pytest.mark.parametrize(
    ("command", "code"),
    [
        ({"amount": "1", "cause": "fun"}, "SCRAP-CAUSE"), ({"amount": "1", "cause": "other"}, "SCRAP-CAUSE"),
        ({"amount": "", "cause": "spilt"}, "AMOUNT-UNREADABLE"),
        ({"amount": "0", "cause": "spilt"}, "AMOUNT-UNREADABLE"),
        ({"amount": "1", "everything": True, "cause": "spilt"}, "AMOUNT-UNREADABLE"),
        ({"amount": "600", "cause": "spilt"}, "OVERDRAW"),
    ],
)  # fmt: skip
def test_what_is_refused(cast: Cast, command: dict[str, object], code: str) -> None:
    answer = cast.scan(ScrapStock(box=cast["red"], **command), person=STORES, expect=code)  # type: ignore[arg-type]
    assert (answer.outcome, bool(answer.what and answer.why and answer.now)) == ("refused", True)


def test_what_is_on_hold_is_scrapped_by_quality_with_a_reason(cast: Cast) -> None:
    cast.scan(Hold(code=cast["red"], rule="quality", reason="density"), person=QUALITY)
    command = ScrapStock(box=cast["red"], amount="1", cause="dirty")
    assert cast.scan(command, person=STORES, expect="SCRAP-HELD").outcome == "refused"
    assert cast.scan(command, person=QUALITY, overrides={"SCRAP-HELD": "tested, the rest is kept"}).outcome != "refused"


def test_a_weighed_tub_is_scrapped_and_stands_empty(cast: Cast) -> None:
    tub = cast["tubs"][0]
    cast.charge("skin", cast["red"], tub)
    cast.scan(ScrapStock(box=tub, everything=True, cause="rest"))
    assert ways("V-2288") == {"stock": 487_800_000, "scrap": 12_200_000}
    assert cast.charge("skin", cast["red"], tub).outcome == "accepted"


def test_some_of_a_tub_is_scrapped_and_the_rest_is_tipped(cast: Cast) -> None:
    tub = cast["tubs"][0]
    cast.charge("skin", cast["red"], tub)
    cast.scan(ScrapStock(box=tub, amount="0.20", cause="spilt"))
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    cast.scan(TipTub(mould="T430-01", tub=tub))
    assert ways("V-2288") == {"stock": 487_800_000, "scrap": 200_000, "moulds": 12_000_000}


def test_a_tub_scrapped_late_was_not_tipped(cast: Cast) -> None:
    """Told after the tub was weighed into again: the scrap is of the charge that was in it then."""
    tub = cast["tubs"][0]
    cast.charge("skin", cast["red"], tub)
    then = cast.clock()
    cast.scan(TopUp(source=cast["natural"], into=cast["vessels"][0], amount="5"), person=LEAD)
    cast.late(ScrapStock(box=tub, everything=True, cause="spilt"), then, person=STORES)
    assert ways("V-2288") == {"stock": 487_800_000, "scrap": 12_200_000}
    assert differences() == []


def test_all_that_was_left_follows_what_is_told_late(cast: Cast) -> None:
    """5 kg left the box before all the rest was scrapped, and nobody had said so."""
    then = cast.clock()
    cast.scan(ScrapStock(box=cast["red"], everything=True, cause="old"), person=STORES)
    cast.late(TopUp(source=cast["red"], into=cast["vessels"][0], amount="5"), then, person=LEAD)
    assert ways("V-2288") == {"vessels": 5 * KG, "scrap": 495 * KG}
    assert differences() == []


@pytest.mark.parametrize(("amount", "scrapped"), [("3", 3), ("0", 0)], ids=["another amount", "it never happened"])
def test_scrap_is_put_right_like_any_draw(cast: Cast, amount: str, scrapped: int) -> None:
    for first in ({"amount": "2"}, {"everything": True}):
        cast.scan(ScrapStock(box=cast["red2"], cause="spilt", **first), person=STORES)
        command = Correct(event=newest(), was=cast["red2"], now=cast["red2"], amount=amount, reason="misread")
        assert cast.scan(command, person=LEAD).outcome == "accepted"
        wanted = {"stock": (500 - scrapped) * KG} | ({"scrap": scrapped * KG} if scrapped else {})
        assert ways("V-2291") == wanted
        back = Correct(event=newest_scrap(), was=cast["red2"], now=cast["red2"], amount="0", reason="again")
        if scrapped:
            cast.scan(back, person=LEAD)
    assert differences() == []


def newest_scrap() -> str:
    return str(rows_of("SELECT uid FROM event WHERE kind = 'stock_scrapped' ORDER BY id DESC LIMIT 1")[0][0])


def test_a_tub_scrapped_by_mistake_is_full_again(cast: Cast) -> None:
    tub = cast["tubs"][0]
    cast.charge("skin", cast["red"], tub)
    cast.scan(ScrapStock(box=tub, everything=True, cause="spilt"))
    cast.scan(Correct(event=newest(), was=tub, now=tub, amount="0", reason="the other tub"), person=LEAD)
    cast.scan(ReadyMould(mould="T430-01", order=WO_RED, arm="S1"))
    assert cast.scan(TipTub(mould="T430-01", tub=tub)).outcome == "accepted"
    assert ways("V-2288") == {"stock": 487_800_000, "moulds": 12_200_000}
    assert differences() == []


def test_nothing_left_by_the_book_leaves_a_gap_that_a_later_word_closes(cast: Cast) -> None:
    vessel = cast["vessels"][0]
    before, then = cast.clock(), cast.clock() + timedelta(minutes=1)
    cast.clock()
    command = ScrapStock(box=vessel, everything=True, cause="rest")
    assert cast.late(command, then, person=STORES).outcome == "flagged"
    cast.late(TopUp(source=cast["red"], into=vessel, amount="5"), before, person=LEAD)
    assert ways("V-2288") == {"stock": 495 * KG, "scrap": 5 * KG}
    assert differences() == []


def scrapped(cast: Cast, scale: str = "W-3", expect: str = "") -> Answer:
    command = ScrapStock(box=cast["red"], amount="1", scale=scale, cause="spilt")
    return cast.scan(command, person=STORES, expect=expect)


def test_its_scale_is_held_against_today_s_check_weight_as_at_weigh(cast: Cast) -> None:
    cast.clock.now += timedelta(days=1)
    assert scrapped(cast, expect="SCALE-UNCHECKED").outcome == "refused"
    # Where no scale was scanned nothing was weighed on one.
    assert scrapped(cast, scale="").outcome == "accepted"
    cast.shift.check_scale("W-3", "10.10")
    assert scrapped(cast, expect="SCALE-FAILED").outcome == "refused"
    cast.shift.check_scale("W-3")
    assert scrapped(cast).outcome == "accepted"


def test_scrap_told_late_is_judged_by_the_checks_of_its_time(cast: Cast) -> None:
    cast.clock.now += timedelta(days=1)
    before = cast.clock()
    cast.shift.check_scale("W-3")
    command = ScrapStock(box=cast["red"], amount="1", scale="W-3", cause="spilt")
    told = cast.late(command, before, person=STORES)
    assert (told.outcome, told.code) == ("flagged", "SCALE-UNCHECKED")
    assert cast.late(command, cast.clock(), person=STORES).outcome == "accepted"
