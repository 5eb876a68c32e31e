"""Retained samples: taken, kept until a day, used in a test or thrown away; a way out of their own."""

from __future__ import annotations

import pytest

from tests.cast import LEAD, MORNING, PLANNER, QUALITY, STORES, Cast, rows_of
from tests.recording.test_scrapping import KG, newest, ways
from trace.genealogy.balance.subjects import balance_of
from trace.pages.open_lists import samples
from trace.readmodels.rebuild import differences
from trace.recording.acts.corrections import Correct
from trace.recording.acts.goods_in import Receive
from trace.recording.acts.holds import Hold
from trace.recording.acts.sampling import EndSample, TakeSample
from trace.recording.acts.setup import Define
from trace.sheets.lots.gathered import gather_lot
from trace.sheets.lots.sheet import lot_sheet


def taken(cast: Cast, **said: str) -> str:
    command = TakeSample(**{"box": cast["red"], "amount": "0.5", "place": "STORE", **said})
    return str(cast.scan(command, person=QUALITY).made["codes"][0])


def standing(code: str) -> tuple[str, str]:
    """(status, the last day on which it is kept)."""
    sql = """SELECT s.status, u.about->>'discard' FROM label l JOIN unit u ON u.id = l.unit
               JOIN unit_state s ON s.unit = u.id WHERE l.code = %s"""
    [(status, until)] = rows_of(sql, code)
    return str(status), str(until)


def test_a_sample_has_a_label_a_shelf_and_a_day_and_stands_on_its_lots_page(cast: Cast) -> None:
    code = taken(cast, discard="2026-06-30")
    assert standing(code) == ("kept", "2026-06-30")
    assert ways("V-2288") == {"stock": 499_500_000, "samples": 500_000}
    assert balance_of("V-2288").book.adds_up
    [line] = lot_sheet(gather_lot("V-2288")).samples
    assert (line.code.replace("-", ""), line.amount, line.standing, str(line.until)) == (
        code, "0.50 kg", "kept", "2026-06-30",
    )  # fmt: skip
    assert line.place
    assert differences() == []


def test_what_waits_or_is_held_is_sampled_too(cast: Cast) -> None:
    delivery = Receive(supplier="VERRIN", material="LL-35 red", lot_no="V-2500", amounts=("100",), note_no="N9")
    box = cast.scan(delivery, person=STORES).made["codes"][0]
    cast.scan(Hold(code=box, rule="quality", reason="density"), person=QUALITY)
    taken(cast, box=box)
    assert ways("V-2500") == {"stock": 99_500_000, "samples": 500_000}


def test_the_plant_says_how_long_samples_are_kept(cast: Cast) -> None:
    assert standing(taken(cast))[1] == "2028-06-07"  # two years where nobody says so
    cast.scan(Define(kind="setting", key="sample days", body={"value": 30}), person=PLANNER)
    assert standing(taken(cast))[1] == "2026-07-08"


@pytest.mark.parametrize(("how", "status"), [("used", "used in a test"), ("discarded", "discarded")])
def test_it_ends_once(cast: Cast, how: str, status: str) -> None:
    code = taken(cast, discard=MORNING.date().isoformat())
    assert cast.scan(EndSample(sample=code, how=how, reason="melt flow"), person=QUALITY).outcome == "accepted"
    assert standing(code)[0] == status
    again = cast.scan(EndSample(sample=code, how=how), person=QUALITY, expect="SAMPLE-GONE")
    assert (again.outcome, status in again.what) == ("refused", True)
    # It stays a sample that was taken.
    assert ways("V-2288") == {"stock": 499_500_000, "samples": 500_000}


def test_quality_discards_one_before_its_day_with_a_reason(cast: Cast) -> None:
    command = EndSample(sample=taken(cast), how="discarded")
    assert cast.scan(command, person=STORES, expect="SAMPLE-EARLY").outcome == "refused"
    assert cast.scan(command, person=QUALITY, overrides={"SAMPLE-EARLY": "the lot is gone"}).outcome != "refused"


@pytest.mark.parametrize("said", [{"amount": "0"}, {"amount": "x"}, {"discard": "2026-06-07"}, {"discard": "soon"}])
def test_what_cannot_be(cast: Cast, said: dict[str, str]) -> None:
    command = TakeSample(**{"box": cast["red"], "amount": "0.5", **said})
    assert cast.scan(command, person=QUALITY, expect="AMOUNT-UNREADABLE").outcome == "refused"


def test_a_sample_is_put_right_like_any_draw(cast: Cast) -> None:
    taken(cast)
    right = Correct(event=newest(), was=cast["red"], now=cast["red2"], amount="0.25", reason="misread")
    assert cast.scan(right, person=LEAD).outcome == "accepted"
    assert ways("V-2288") == {"stock": 500 * KG}
    assert ways("V-2291") == {"stock": 499_750_000, "samples": 250_000}
    assert differences() == []


def test_those_past_their_day_are_listed(cast: Cast) -> None:
    """By the database's own day: the story is of June 2026."""
    code = taken(cast, discard="2026-06-08")
    kept = taken(cast, discard="2999-01-01")
    over = {line.codes[0][0].replace("-", "") for line in samples.lines(0, 50)}
    assert (code in over) == (rows_of("SELECT current_date > '2026-06-08'")[0][0])
    assert kept not in over
