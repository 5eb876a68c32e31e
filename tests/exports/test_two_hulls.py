"""The paper of two hulls: it says what their page says, and keeps from a reader what that reader may not see."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.test import Client

from tests.exports.conftest import MakePaper
from tests.exports.printed import bare, pages_of, pdf_of
from tests.pages.story import Told
from trace.exports.asked import PaperError, Reader
from trace.exports.paper import Beside, Picture
from trace.exports.pdf.sheet import Stamp
from trace.sheets.hulls.compared import compared

STAMP = Stamp(datetime(2026, 12, 3, 7, 10, tzinfo=UTC), "Priya Ashdown", "9c41" * 16, "TH-1")


def test_it_says_what_the_page_says(story: Told, paper_of: MakePaper, signed_in: Callable[[str], Client]) -> None:
    one, two = story.hulls["bag change"], story.hulls["no log"]
    paper = paper_of("two-hulls", a=one, b=two)
    found = compared(one, two, paper.as_known_on)
    [table] = paper.tables()
    assert [(row[0], row[1], row[2] or "", row[3] or "") for row in table.rows] == [
        (group.title, line.about, line.left, line.right) for group in found.groups for line in group.lines
    ]
    text = bare(" ".join(pages_of(pdf_of(paper, STAMP))))
    for row in table.rows:
        assert all(bare(str(cell)) in text for cell in row if cell), row
    assert "norecord" in text and all(bare(gap) in text for gap in found.gaps)
    assert any(isinstance(part, Beside) and isinstance(part.left, Picture) for part in paper.parts)
    page = signed_in("P-06").get("/compare/", {"a": one, "b": two})
    form = page.context["paper_form"]
    assert (form.kind, dict(form.words)) == ("two-hulls", {"a": one, "b": two})
    assert signed_in("P-01").get("/compare/", {"a": one, "b": two}).context["paper_form"] is None


def test_a_consignee_s_name_is_kept_from_who_may_not_see_it(story: Told, paper_of: MakePaper) -> None:
    asked = {"a": story.hulls["gone"], "b": story.hulls["sled"]}
    assert "Wharfe" in str(paper_of("two-hulls", **asked))
    assert "Wharfe" not in str(paper_of("two-hulls", Reader(), **asked))


def test_one_hull_is_not_compared_with_itself(story: Told, paper_of: MakePaper) -> None:
    with pytest.raises(PaperError, match="plate of another hull"):
        paper_of("two-hulls", a=story.hulls["sled"], b=story.hulls["sled"])
    with pytest.raises(LookupError):
        paper_of("two-hulls", a=story.hulls["sled"], b="GHM-T430-999999")
