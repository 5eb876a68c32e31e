"""Work on a mould: which count it starts again, which coat its hulls were moulded on, and its first-off."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

import pytest

from tests.cast import LEAD, MORNING, PLANNER, QUALITY, WO_RED, WO_TRIAL, Cast, plate, rows_of
from trace.genealogy.causes import read_cause
from trace.genealogy.sharing import shared_by
from trace.readmodels.rebuild import differences
from trace.recording.acts.cook import AbortCook
from trace.recording.acts.demould import Demould
from trace.recording.acts.loading import ReadyMould
from trace.recording.acts.mould_care import CareForMould, PassFirstOff
from trace.recording.acts.setup import Define
from trace.recording.floor.mould_life import life
from trace.recording.floor.standing import Found
from trace.sheets.hulls.gathered import gather
from trace.sheets.hulls.sheet import hull_sheet
from trace.sheets.lots.gathered import gather_lot
from trace.sheets.lots.sheet import lot_sheet

MOULD = "T430-01"
COUNTS = "SELECT shots, since_service, since_vent, since_release FROM mould_state m JOIN resource r ON r.id = m.mould"


def counts() -> tuple[int, ...]:
    [found] = rows_of(f"{COUNTS} WHERE r.key = '{MOULD}'")
    return tuple(found)


def agent(cast: Cast, lot_no: str) -> str:
    return str(cast.shift.stock("TOLBY", "TR-4", lot_no, ("5",))[0])


def coat(cast: Cast, box: str, **said: Any) -> None:
    cast.scan(CareForMould(mould=MOULD, done=("release coat",), agent=box, **said), person=LEAD)


def worn(cast: Cast, **said: Any) -> tuple[str | None, int | None]:
    """The coat that a load is made ready on now; it is given up again."""
    cast.scan(ReadyMould(mould=MOULD, order=WO_RED, arm="S1", **said))
    sql = "SELECT about->>'coat', (about->>'coat_no')::int FROM unit WHERE kind = 'load' ORDER BY id DESC LIMIT 1"
    [(lot, number)] = rows_of(sql)
    cast.scan(AbortCook(mould=MOULD))
    return lot, number


@pytest.mark.parametrize(
    ("done", "after"),
    [
        ("service", (2, 0, 2, 2)), ("vent", (2, 2, 0, 2)), ("release coat", (2, 2, 2, 0)), ("parts", (2, 2, 2, 2)),
        ("refurbished", (2, 2, 2, 2)),
    ],
)  # fmt: skip
def test_each_work_starts_its_own_count_again(cast: Cast, done: str, after: tuple[int, ...]) -> None:
    cast.moulding(MOULD)
    cast.scan(Demould(mould=MOULD))
    cast.moulding(MOULD)
    cast.scan(Demould(mould=MOULD))
    assert counts() == (2, 2, 2, 2)
    cast.scan(CareForMould(mould=MOULD, done=(done,), what="hinge pin" if done == "parts" else ""), person=LEAD)
    assert counts() == after
    assert differences() == []


UNREADABLE = [{"done": ()}, {"done": ("polish",)}, {"done": ("parts",)}, {"coat": "0"}, {"coat": "1000"}, {"coat": "x"}]


@pytest.mark.parametrize("said", UNREADABLE)
def test_what_cannot_be_read_is_said(cast: Cast, said: dict[str, Any]) -> None:
    command = CareForMould(**{"mould": MOULD, "done": ("release coat",), **said})
    assert cast.scan(command, person=LEAD, expect="AMOUNT-UNREADABLE").outcome == "refused"


@pytest.mark.parametrize("number", ["1", "999"])
def test_the_first_and_the_last_number_of_a_coat_are_numbers(cast: Cast, number: str) -> None:
    coat(cast, "", coat=number)
    assert worn(cast)[1] == int(number)


def test_a_load_knows_the_coat_that_it_is_moulded_on(cast: Cast) -> None:
    assert worn(cast) == (None, None)  # nobody recorded one: not “none”
    coat(cast, agent(cast, "R-12"), coat="3")
    assert worn(cast) == ("TR-4 lot R-12", 3)
    coat(cast, agent(cast, "R-13"))
    assert worn(cast) == ("TR-4 lot R-13", 4)
    # One that is put on while it is made ready, as the loading page offers it.
    assert worn(cast, done=("release coat",), agent=agent(cast, "R-14")) == ("TR-4 lot R-14", 5)
    coat(cast, "")
    assert worn(cast) == (None, 6)


def test_what_is_told_late_counts_from_when_it_was_done(cast: Cast) -> None:
    first, second = agent(cast, "R-12"), agent(cast, "R-13")
    coat(cast, second)
    earlier = cast.clock() - timedelta(minutes=30)
    cast.late(CareForMould(mould=MOULD, done=("release coat",), agent=first), earlier, person=LEAD)
    assert worn(cast) == ("TR-4 lot R-13", 2)
    assert earlier > MORNING


def verdicts(*words: str) -> dict[str, str]:
    names = dict(rows_of("SELECT u.uid::text, s.text FROM serial_state s JOIN unit u ON u.id = s.hull"))
    return {names[line.made.uid]: line.verdict for line in shared_by(read_cause(words)).lines}


def test_hulls_are_found_by_the_lot_of_their_coat(cast: Cast) -> None:
    """Certain where it was recorded, may where nobody said which coat it was, cannot where it was another."""
    bare = cast.hull(plate(1))
    coat(cast, agent(cast, "R-12"))
    first = cast.hull(plate(2))
    coat(cast, agent(cast, "R-13"))
    second = cast.hull(plate(3))
    assert verdicts("coat=TR-4 lot R-12") == {bare: "may", first: "certain", second: "cannot"}


def test_the_coat_stands_on_the_hulls_page_and_its_lots_leads_to_the_hulls(cast: Cast) -> None:
    coat(cast, agent(cast, "R-12"))
    hull = cast.hull(plate(1))
    sheet = hull_sheet(gather(hull))
    assert (sheet.coat, sheet.causes["coat"]) == ("TR-4 lot R-12", "coat=TR-4 lot R-12")
    assert lot_sheet(gather_lot("R-12")).coat_cause == "coat=TR-4 lot R-12"
    assert lot_sheet(gather_lot("V-2288")).coat_cause == ""


def test_a_refurbished_mould_makes_trials_until_its_first_off_has_passed(cast: Cast) -> None:
    cast.scan(CareForMould(mould=MOULD, done=("refurbished",)), person=LEAD)
    ready = ReadyMould(mould=MOULD, order=WO_RED, arm="S1")
    assert cast.scan(ready, expect="FIRST-OFF-DUE").outcome == "refused"
    cast.moulding(MOULD, order=WO_TRIAL)
    made = cast.scan(Demould(mould=MOULD)).made["units"][0]
    sql = "SELECT status FROM unit_state s JOIN unit u ON u.id = s.unit WHERE u.lot_no = %s"
    assert rows_of(sql, made["lot_no"]) == [("trial",)]
    cast.scan(PassFirstOff(mould=MOULD, unit=made["lot_no"], reason="walls as drawn"), person=QUALITY)
    assert cast.scan(ready).outcome == "accepted"
    # The next refurbishment asks anew.
    cast.shift.scan(CareForMould(mould="T430-02", done=("refurbished",)), person=LEAD)
    other = ReadyMould(mould="T430-02", order=WO_RED, arm="S2")
    assert cast.scan(other, expect="FIRST-OFF-DUE").outcome == "refused"


def test_a_first_off_that_the_plant_data_ask_for_passes_too(cast: Cast) -> None:
    [(text,)] = rows_of("SELECT body::text FROM plant_mould WHERE key = %s", MOULD)
    body = json.loads(text)
    cast.scan(Define(kind="mould", key=MOULD, body={**body, "state": "first-off due"}), person=PLANNER)
    ready = ReadyMould(mould=MOULD, order=WO_RED, arm="S1")
    assert cast.scan(ready, expect="FIRST-OFF-DUE").outcome == "refused"
    cast.moulding(MOULD, order=WO_TRIAL)
    number = cast.scan(Demould(mould=MOULD)).made["units"][0]["lot_no"]
    cast.scan(PassFirstOff(mould=MOULD, unit=number), person=QUALITY)
    assert cast.scan(ready).outcome == "accepted"


def test_what_was_made_in_another_mould_is_no_first_off_of_this_one(cast: Cast) -> None:
    text = rows_of("SELECT v.body FROM revision v JOIN resource r ON r.id = v.thing WHERE r.key = %s"
                   " ORDER BY v.version DESC LIMIT 1", MOULD)[0][0]  # fmt: skip
    cast.scan(Define(kind="mould", key=MOULD, body={**json.loads(text), "state": "first-off due"}), person=PLANNER)
    cast.moulding("T430-02")
    number = cast.scan(Demould(mould="T430-02")).made["units"][0]["lot_no"]
    answer = cast.scan(PassFirstOff(mould=MOULD, unit=number), person=QUALITY, expect="FIRST-OFF-OTHER")
    assert answer.why.startswith("It was made in T430-02, ")


def test_nothing_is_known_of_the_life_of_a_mould_that_is_none() -> None:
    known = life(Found("X", "X"), MORNING)
    assert not (known.first_off or known.first_mounted or known.off) and known.since is None
