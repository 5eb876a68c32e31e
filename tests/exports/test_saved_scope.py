"""The paper of a saved scope: what was kept, and both answers hull by hull, as each question answers by itself."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.utils import timezone

from tests.exports.conftest import MakePaper
from tests.exports.printed import bare, pages_of, pdf_of
from tests.pages.story import Told
from tests.recording.test_scope_holds import uid
from trace.exports.asked import PaperError, Reader
from trace.exports.kinds.table import BY_NAME
from trace.exports.paper import Cell, Paper, Said
from trace.exports.pdf.sheet import Stamp
from trace.genealogy.causes import Not, read_cause
from trace.genealogy.saved_scopes import saved_scope
from trace.genealogy.sharing import shared_by
from trace.pages.saved_scopes import as_saved
from trace.recording.acts.saved_scopes import PutScopeAside, SaveScope

STAMP = Stamp(datetime(2026, 12, 3, 7, 10, tzinfo=UTC), "Priya Ashdown", "9c41" * 16, "SS-1")
QUALITY = "P-06"
CAUSE = read_cause(["holds=N-0398"])


def rows(paper: Paper, name: str) -> list[dict[str, Cell]]:
    [table] = [table for table in paper.tables() if table.name == name]
    found = [dict(zip([column.name for column in table.columns], row, strict=True)) for row in table.rows]
    assert len(found) == len(table.rows)
    return found


@pytest.fixture
def later(story: Told, monkeypatch: pytest.MonkeyPatch) -> str:
    """A scope that was saved, and a hull made since that shares it: its number."""
    story.plant.scan(as_saved(shared_by(CAUSE), "seat inserts"), person=QUALITY)
    monkeypatch.setattr(story.plant.clock, "now", timezone.now() + timedelta(minutes=1))
    story.plant.go_on()
    return story.plant.kayak(bag=7)


def test_both_answers_stand_in_it_hull_by_hull(later: str, paper_of: MakePaper) -> None:
    paper = paper_of("saved-scope", anew=True, number="1")
    one = saved_scope(1)
    assert one is not None
    told = [
        {line.node.uid: line.verdict for line in shared_by(CAUSE, on).lines} for on in (one.known, paper.as_known_on)
    ]
    expected = {
        hull: (told[0].get(hull), told[1].get(hull, "cannot"))
        for hull in told[0].keys() | told[1].keys()
        if {told[0].get(hull), told[1].get(hull)} - {None, "cannot"}
    }
    assert {row["uid"]: (row["then"], row["now"]) for row in rows(paper, "hulls")} == expected
    assert expected[uid(later)] == (None, "certain")
    assert [(row["hull"], row["then"], row["now"]) for row in rows(paper, "changed")] == [(later, None, "certain")]
    assert [row["certain"] for row in rows(paper, "answers")] == [
        sum(verdict == "certain" for verdict in each.values()) for each in told
    ]
    text = bare(" ".join(pages_of(pdf_of(paper, STAMP))))
    for word in ("seat inserts", one.digest, "not made then", "answered as it was when it was kept", later):
        assert bare(word) in text, word


def test_one_that_shares_it_no_more_is_in_it(story: Told, paper_of: MakePaper, monkeypatch: pytest.MonkeyPatch) -> None:
    """By the opposite question: of it a hull made since is one that cannot."""
    story.plant.scan(as_saved(shared_by(Not(CAUSE)), "others"), person=QUALITY)
    monkeypatch.setattr(story.plant.clock, "now", timezone.now() + timedelta(minutes=1))
    story.plant.go_on()
    new = story.plant.kayak(bag=7)
    paper = paper_of("saved-scope", anew=True, number="1")
    assert new not in {row["hull"] for row in rows(paper, "hulls")} and rows(paper, "changed") == []


def test_what_does_not_match_is_said_first_and_loudly(story: Told, paper_of: MakePaper) -> None:
    right = as_saved(shared_by(CAUSE), "forged")
    story.plant.scan(SaveScope(**{**right.said(), "cause": right.cause, "digest": "0" * 64}), person=QUALITY)
    paper = paper_of("saved-scope", anew=True, number="1")
    assert isinstance(paper.parts[0], Said) and paper.parts[0].weight == "stop"
    assert "NOT answered as it was" in " ".join(pages_of(pdf_of(paper, STAMP)))


def test_its_name_and_why_it_was_put_aside_are_kept_from_who_may_not_see_words(
    story: Told, paper_of: MakePaper
) -> None:
    story.plant.scan(as_saved(shared_by(CAUSE), "seat inserts"), person=QUALITY)
    story.plant.scan(PutScopeAside(number=1, reason="it was the oven"), person=QUALITY)
    whole = str(paper_of("saved-scope", anew=True, number="1"))
    less = paper_of("saved-scope", Reader(), anew=True, number="1")
    for words in ("seat inserts", "it was the oven"):
        assert words in whole and words not in str(less)


def test_what_is_asked_for_is_a_number_that_there_is(paper_of: MakePaper) -> None:
    with pytest.raises(PaperError, match="by its number"):
        paper_of("saved-scope", number="one")
    with pytest.raises(LookupError, match="no saved scope 99"):
        paper_of("saved-scope", number="99")


def test_it_is_asked_for_on_its_page(later: str, signed_in: Callable[[str], Client]) -> None:
    form = signed_in(QUALITY).get("/scope/saved/1/").context["paper_form"]
    assert (form.kind, form.words) == ("saved-scope", (("number", "1"),))
    assert {name for name, _title in form.forms} == {"pdf", "csv", "xlsx", "json"}
    assert BY_NAME["saved-scope"].page == "saved_scope"
