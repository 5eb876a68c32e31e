"""Papers of the told story of the desk's tests, kept in a folder of the test's own."""

from collections.abc import Callable
from pathlib import Path

import pytest

from plant.celery import app
from tests.pages.conftest import signed_in, story, story_database
from tests.pages.story import Told
from trace.exports.asked import Asked, Reader
from trace.exports.kinds.table import BY_NAME
from trace.exports.paper import Paper
from trace.genealogy.answer import what_was_known

__all__ = ["signed_in", "story", "story_database"]

MakePaper = Callable[..., Paper]
ALL = Reader(consignees=True, words=True)
_made: dict[object, Paper] = {}


@pytest.fixture
def papers(settings: object, tmp_path: Path) -> Path:
    """The folder of papers, and the app that the jobs belong to, whatever another test has set."""
    app.set_current()
    settings.PAPER_FOLDER = tmp_path / "papers"  # type: ignore[attr-defined]
    return tmp_path / "papers"


@pytest.fixture
def paper_of(story: Told) -> MakePaper:
    """paper_of("hull", number=…): what it says to a reader who may see all, as known now.

    The story is the same for every test, so one that was made is handed out again; `anew` makes it once more.
    """

    def make(kind: str, reader: Reader = ALL, *, anew: bool = False, **words: str) -> Paper:
        known, _size = what_was_known(None)
        question = (kind, reader, known, tuple(words.items()))
        if anew or question not in _made:
            _made[question] = BY_NAME[kind].make(Asked(words, known, reader))
        return _made[question]

    return make
