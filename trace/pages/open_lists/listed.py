"""What a list of open things is, and what its page shows."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.functional import Promise

from trace.pages.forms import Act, Form
from trace.pages.open_lists.picking import rows
from trace.pages.paging import Pages
from trace.sheets.addresses import hull_url, lot_url, unit_url

__all__ = ["Counted", "Line", "OpenList", "OpenPage", "rows", "thing_url"]


Counted = tuple[int, datetime | None]


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that is open. `codes`: the labels, plates and numbers to find it by, each with its page."""

    what: str
    since: datetime
    codes: tuple[tuple[str, str], ...] = ()  # (text, url); an empty url drops the link
    detail: str = ""
    who: str = ""
    amount: str = ""  # "12 hulls here, 3 gone"
    stop: bool = False  # a hold: drawn with the stop sign
    do: str = ""  # words of the link to another page that deals with it, for those who may open that
    do_url: str = ""
    key: str = ""  # what the list knows it by, where a form beside it deals with it
    act: str = ""  # words of the link to that form
    act_url: str = ""

    @property
    def said(self) -> str:
        """All of it but what and when, on one line."""
        codes = ", ".join(text for text, _url in self.codes)
        return "; ".join(part for part in (codes, self.amount, self.detail) if part)

    @property
    def url(self) -> str:
        """The page of the thing that it is about."""
        return next((url for _text, url in self.codes if url), "")


@dataclass(frozen=True, slots=True)
class OpenList:
    """A list of open things, said once: `slug` is the last part of its address (its roles: plant/access.py).

    count: SQL for how many there are and since when the oldest is open; or what reckons it, where the database alone
    cannot say. lines: the lines from so many on, at most so many, in the order of `first`.

    A list that can be looked through says besides, picks: SQL for all of it, as key, since, kind, words (what can be
    looked for, in one text); of: the lines of these keys, in their order; kind_words: a kind as people say it; acts:
    what is done with its things in a form beside it. at_home: whether it waits for anybody, and so stands on the first
    page; where: the part of the plant's drawing it stands at.
    """

    slug: str
    title: Promise
    one_line: Promise
    empty: Promise
    order: Promise
    count: str | Callable[[], Counted]
    lines: Callable[[int, int], list[Line]]
    picks: str = ""
    of: Callable[[Sequence[str]], list[Line]] | None = None
    kind_words: Callable[[str], str] = str
    acts: tuple[Act, ...] = ()
    at_home: bool = True
    where: str = "desk"
    first: str = "oldest"  # the order in which its page is shown where none is asked for (picking.ORDERS)


@dataclass(frozen=True, slots=True)
class OpenPage:
    """Contract of templates/pages/open_list.html."""

    title: str
    one_line: str
    empty: str
    order: str
    lines: tuple[Line, ...]
    pages: Pages
    all: int = 0  # open things, found or not
    looked_through: bool = False  # words, kind and order can be asked for
    words: str = ""
    kind: str = ""
    kinds: tuple[tuple[str, str], ...] = ()
    ordered: str = ""
    orders: tuple[tuple[str, str], ...] = ()
    form: Form | None = None
    said: str = ""  # the answer to what was just sent

    @property
    def searched(self) -> bool:
        return bool(self.words or self.kind)


def thing_url(kind: str | None, serial: str | None, code: str | None, uid: str | None) -> str:
    """The page of a unit by its kind and what it is known by."""
    if kind == "hull" and (serial or code):
        return hull_url(str(serial or code))
    if kind in ("lot", "content", "blend"):
        return lot_url(str(code or uid or ""))
    return unit_url(str(code or uid or ""))
