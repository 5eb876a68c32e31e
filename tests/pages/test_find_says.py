"""Find never answers nothing where one word less answers more: it says so, and what that word should have been."""

from collections.abc import Callable

import pytest
from django.test import Client

from tests.pages.story import Told
from trace.pages.finding import Wanted
from trace.pages.search import search_page


def test_a_colour_that_is_another_one_is_said(story: Told) -> None:
    page = search_page(Wanted(part="4419 teal"))
    assert page.found == ()
    [instead] = page.instead
    assert instead.text == "Without “teal”: 1 found: it is red."
    assert instead.only is not None and instead.only.name == story.hulls["no log"]
    assert search_page(Wanted(part="teal")).instead == ()


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (Wanted(part="4419 blau"), "Without “blau”: 1 found."),
        (Wanted(part="4419", colour="teal"), "Without “teal”: 1 found: it is red."),
        (Wanted(part="tamsin 000212"), "Without “Tamsin 430”: 1 found: it is H320."),
        (Wanted(part="4419", status="scrapped"), "Without “scrapped”: 1 found: it is bound."),
        (Wanted(part="V-2288 lime"), "Without “lime”: 1 found."),
        (Wanted(part="halcott red"), "Without “red”: 2 found: they are lime."),
    ],
)
def test_whatever_the_word_too_many_is(story: Told, asked: Wanted, says: str) -> None:
    page = search_page(asked)
    assert page.found == ()
    assert says in [one.text for one in page.instead]


def test_each_that_is_offered_leads_to_what_it_says(story: Told, signed_in: Callable[[str], Client]) -> None:
    client = signed_in("P-06")
    page = client.get("/search/", {"q": "halcott red"}).context["search"]
    for one in page.instead:
        found = client.get(one.url).context["search"].found
        assert len(found) == int(one.text.split(": ")[1].split()[0])
    assert "Without “red”" in client.get("/search/?q=halcott+red").content.decode()


@pytest.mark.parametrize("part", ["halcott, lime", "Halcott,lime", "lime; halcott"])
def test_a_comma_does_not_kill_a_colour(story: Told, part: str) -> None:
    assert {x.name for x in search_page(Wanted(part=part)).found} == {story.hulls["sled"], story.hulls["sled 2"]}


@pytest.mark.parametrize("part", ["T430-4419", "t430-004419", "tamsin-4419", "GHM-T430-4419"])
def test_a_model_and_the_end_of_a_number_is_a_hull_not_a_label(story: Told, part: str) -> None:
    page = search_page(Wanted(part=part))
    assert [x.name for x in page.found] == [story.hulls["no log"]]
    assert "label" not in page.hint


def test_the_key_of_a_mould_is_still_the_mould(story: Told) -> None:
    found = search_page(Wanted(part="T430-02")).found
    assert ("mould", "T430-02") in [(x.kind, x.name) for x in found]


def test_more_than_a_page_is_read_in_pages(story: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = [x.name for x in search_page(Wanted(part="GHM")).found]
    for module in ("trace.pages.finding", "trace.pages.search"):
        monkeypatch.setattr(f"{module}.MOST", 5)
    seen: list[str] = []
    for number in range(1, 20):
        page = search_page(Wanted(part="GHM"), number)
        seen += [x.name for x in page.found]
        if not page.older_url:
            break
    assert [x for x in seen if x in whole] == whole and len(seen) == len(set(seen))
