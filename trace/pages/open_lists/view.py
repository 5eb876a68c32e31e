"""The page of one list of open things with the form beside it, and how many there are of each for the first page."""

from collections.abc import Iterable
from dataclasses import replace

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import resolve
from django.utils.http import urlencode

from plant.access import allowed
from plant.errors import NotAllowed, NotThere, NotUnderstood
from plant.sign_on import SignedOn, current
from trace.pages.forms import Act, Form, asking, carry_out, sent_values
from trace.pages.open_lists.listed import Counted, Line, OpenList, OpenPage
from trace.pages.open_lists.picking import ORDERS, pick, wanted
from trace.pages.open_lists.table import OPEN_LISTS
from trace.pages.paging import EACH, Pages, asked, pages


def open_list(request: HttpRequest, what: str) -> HttpResponse:
    """Context: page (trace.pages.open_lists.listed.OpenPage). `q`, `kind`, `order` and `page` look through the list;
    `act` and `of` open a form beside it. POST `act`, `of`, `scan_id` and the form's boxes records one act.

    Raises NotThere for a list there is not, NotUnderstood for a form that is none of it, NotAllowed for an act that is
    not this person's.
    """
    listed = OPEN_LISTS.get(what)
    if listed is None:
        raise NotThere
    person = current(request)
    may = [act for act in listed.acts if _may(person, act)]
    said, form, status = "", None, 200
    if request.method == "POST":
        sent = sent_values(request)
        act = next((one for one in listed.acts if one.name == sent.get("act")), None)
        if act is None or person is None:
            raise NotUnderstood
        if act not in may:
            raise NotAllowed
        done = carry_out(act, sent.get("of", ""), sent, person.person)
        said, form, status = done.said, done.form, 409 if done.form else 200
    elif person is not None:
        form = _form_asked(request, may, person)
    page = _page(request, listed, may)
    return render(request, "pages/open_list.html", {"page": replace(page, form=asking(form), said=said)}, status=status)


def _may(person: SignedOn | None, act: Act) -> bool:
    if person is None or (act.roles and person.tasks is not None):
        return False
    return bool(act.roles & person.roles) if act.roles else allowed(
        person.roles, "station", "POST", {"slug": act.station}, person.tasks
    )  # fmt: skip


def _form_asked(request: HttpRequest, may: list[Act], person: SignedOn) -> Form | None:
    """The form that the address asks for; where it asks for none, that of an act that needs no line."""
    name, key = request.GET.get("act", ""), request.GET.get("of", "")[:80]
    act = next((one for one in may if one.name == name), None) or next((one for one in may if not one.link), None)
    return act.form(key if act.name == name else "", person.person) if act else None


def _page(request: HttpRequest, listed: OpenList, may: list[Act]) -> OpenPage:
    """The lines asked for. A list that cannot be looked through is shown as it is."""
    page = OpenPage(str(listed.title), str(listed.one_line), str(listed.empty), str(listed.order), (), Pages(1, 0))
    if listed.of is None:
        shown = pages(request, counts([listed.slug])[listed.slug][0])
        lines = (_ways(request, line, may) for line in listed.lines(shown.skipped, shown.each))
        return replace(page, lines=tuple(lines), pages=shown, all=shown.count)
    looked = wanted(request, listed.first)
    picked = pick(listed.picks, looked, (asked(request) - 1) * EACH, EACH)
    shown = pages(request, picked.count)
    if shown.number != asked(request):
        picked = pick(listed.picks, looked, shown.skipped, EACH)
    return replace(
        page,
        lines=tuple(_ways(request, line, may) for line in listed.of(picked.keys)),
        pages=shown,
        all=picked.all,
        looked_through=True,
        order=str(ORDERS[looked.order][0]),
        words=looked.words,
        kind=looked.kind,
        kinds=tuple((kind, listed.kind_words(kind)) for kind in picked.kinds),
        ordered=looked.order,
        orders=tuple((name, str(words)) for name, (words, _sql) in ORDERS.items()),
    )


def _ways(request: HttpRequest, line: Line, may: list[Act]) -> Line:
    """The line with the way to its form, where this person may send it, and to another page, where they may open that;
    what was looked for stays."""
    if line.do_url and not _may_open(request, line.do_url):
        line = replace(line, do="", do_url="")
    act = next((one for one in may if one.link), None)
    if act is None or not line.key:
        return line
    kept = {name: str(request.GET[name]) for name in ("q", "kind", "order", "page") if name in request.GET}
    to = f"{request.path}?{urlencode({**kept, 'act': act.name, 'of': line.key})}#form"
    return replace(line, act=str(act.link), act_url=to)


def _may_open(request: HttpRequest, url: str) -> bool:
    person, found = current(request), resolve(url.partition("?")[0])
    return person is not None and allowed(
        person.roles, found.url_name or "", "GET", found.kwargs, person.tasks
    )  # fmt: skip


def counts(slugs: Iterable[str]) -> dict[str, Counted]:
    """How many there are in each of these lists and since when the oldest is open, in one statement but for those that
    are reckoned."""
    counted = {slug: OPEN_LISTS[slug].count for slug in slugs}
    found = {slug: count() for slug, count in counted.items() if not isinstance(count, str)}
    asked_ = [(slug, sql) for slug, sql in counted.items() if isinstance(sql, str)]
    if asked_:
        with connection.cursor() as cursor:
            cursor.execute(" UNION ALL ".join(f"(SELECT {n}, x.* FROM ({sql}) x)" for n, (_, sql) in enumerate(asked_)))
            found |= {asked_[n][0]: (count, oldest) for n, count, oldest in cursor.fetchall()}
    return found
