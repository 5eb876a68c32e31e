"""A shift is handed over on one page and accepted with one scan of a badge."""

from __future__ import annotations

from tests.cast import rows_of
from tests.scan.cast import LEAD, PIN, Plant, load, weigh_all
from tests.scan.conftest import Opens
from tests.scan.rules.cases import scans
from tests.scan.rules.mould_care import first_off_made
from tests.scan.rules.shift_end import NEXT, handed, next_lead
from trace.recording.floor.shift_end import handed as handovers


def test_the_next_leads_badge_accepts_it_with_one_scan(plant: Plant, at: Opens) -> None:
    next_lead(plant)
    weigh_all(plant)
    screen = handed(at)
    page = screen.page
    assert page is not None
    assert page.outcome == "accepted"
    assert "Scan your badge" not in page.next
    # Signed on at the same post, as leads of one floor are.
    screen.sign_on(plant[NEXT], PIN)
    screen.sign_on(plant[LEAD], PIN)
    page = screen.open("handover")
    assert "the vent of T430-02 whistles" in page.said("main")
    assert screen.scan(plant[LEAD]).outcome == ""  # who handed it over only signs on
    page = screen.scan(plant[NEXT])
    assert (page.outcome, "Dov Hartnell" in page.said("main")) == ("accepted", True)
    [one] = handovers(most=1)
    assert (one.person, one.by) == (LEAD, NEXT)
    # The next scan of a badge only signs on.
    assert screen.scan(plant[LEAD]).outcome == ""


def test_who_is_not_signed_on_here_types_the_pin_first_and_records_nothing_by_it(plant: Plant, at: Opens) -> None:
    next_lead(plant)
    screen = handed(at)
    page = screen.scan(plant[NEXT])
    assert page.status == 302
    assert handovers(most=1)[0].accepted is None


def test_all_that_is_open_stands_on_the_page_by_sort_with_who_and_where(plant: Plant, at: Opens) -> None:
    load(plant)
    words = at("handover").page.said("main")  # type: ignore[union-attr]
    for said in ("Moulds loaded", "T430-01", "closed, S1", "WO-1041", "Tubs weighed and not tipped none"):
        assert said in words, words


def test_what_was_looked_at_in_a_first_off_is_kept(plant: Plant, at: Opens) -> None:
    number = first_off_made(plant)
    screen = at("first-off")
    scans(screen, plant["T430-02"], number)
    assert screen.press("pass", seen="walls as drawn").outcome == "accepted"
    digest = "SELECT body::jsonb #>> '{says,reason}' FROM event WHERE kind = 'first_off_passed'"
    assert rows_of(f"SELECT text FROM note WHERE digest = ({digest})") == [("walls as drawn",)]
