"""What a list of open things is, what its page shows, and how its SQL is asked."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import connection
from django.utils.functional import Promise

from trace.pages.paging import Pages
from trace.sheets.addresses import hull_url, lot_url, unit_url


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
    do: str = ""  # words of the link to where it is dealt with
    do_url: str = ""


@dataclass(frozen=True, slots=True)
class OpenList:
    """A list of open things, said once: `slug` is the last part of its address (its roles: plant/access.py).

    count: SQL for how many there are and since when the oldest is open. lines: the lines from so many on, at most so
    many.
    """

    slug: str
    title: Promise
    one_line: Promise
    empty: Promise
    order: Promise
    count: str
    lines: Callable[[int, int], list[Line]]


@dataclass(frozen=True, slots=True)
class OpenPage:
    """Contract of templates/pages/open_list.html."""

    title: str
    one_line: str
    empty: str
    order: str
    lines: tuple[Line, ...]
    pages: Pages


def rows(sql: str, values: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Rows as names with values; times as the database wrote them."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT COALESCE(json_agg(x), '[]')::text FROM ({sql}) x", values)
        found: list[dict[str, Any]] = json.loads(cursor.fetchone()[0])
        return found


def thing_url(kind: str | None, serial: str | None, code: str | None, uid: str | None) -> str:
    """The page of a unit by its kind and what it is known by."""
    if kind == "hull" and (serial or code):
        return hull_url(str(serial or code))
    if kind in ("lot", "content", "blend"):
        return lot_url(str(code or uid or ""))
    return unit_url(str(code or uid or ""))
