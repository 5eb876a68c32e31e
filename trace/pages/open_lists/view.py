"""The page of one list of open things, and how many there are of each for the first page."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from plant.access import allowed
from plant.errors import NotThere
from plant.sign_on import current
from trace.pages.open_lists.listed import Line, OpenPage
from trace.pages.open_lists.table import OPEN_LISTS
from trace.pages.paging import pages


def open_list(request: HttpRequest, what: str) -> HttpResponse:
    """Context: page (trace.pages.open_lists.listed.OpenPage). Raises NotThere for a list there is not."""
    listed = OPEN_LISTS.get(what)
    if listed is None:
        raise NotThere
    shown = pages(request, counts([what])[what][0])
    person = current(request)
    may = person is not None and allowed(
        person.roles, "station", "POST", {"slug": "discrepancies"}, person.tasks
    )
    lines = (line if may else _only_read(line) for line in listed.lines(shown.skipped, shown.each))
    page = OpenPage(
        str(listed.title), str(listed.one_line), str(listed.empty), str(listed.order), tuple(lines), shown
    )  # fmt: skip
    return render(request, "pages/open_list.html", {"page": page})


def _only_read(line: Line) -> Line:
    return replace(line, do="", do_url="")


def counts(slugs: Iterable[str]) -> dict[str, tuple[int, datetime | None]]:
    """How many there are in each of these lists and since when the oldest is open, in one statement."""
    wanted = list(slugs)
    if not wanted:
        return {}
    parts = [f"(SELECT {n}, x.* FROM ({OPEN_LISTS[slug].count}) x)" for n, slug in enumerate(wanted)]
    with connection.cursor() as cursor:
        cursor.execute(" UNION ALL ".join(parts))
        return {wanted[n]: (count, oldest) for n, count, oldest in cursor.fetchall()}
