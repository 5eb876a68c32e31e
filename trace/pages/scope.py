"""Scope: the hulls that share a cause put together here, each certain, may or cannot, where it is, and why."""

import csv
import io
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import product
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.access import allowed
from plant.errors import NotThere
from plant.sign_on import current
from trace.genealogy.amounts import Verdict
from trace.genealogy.as_typed import understood
from trace.genealogy.cause_said import code_said, said_of
from trace.genealogy.causes import (
    All,
    Cause,
    CauseError,
    Holds,
    Not,
    Some,
    read_cause,
    simple_parts,
    written,
)
from trace.genealogy.documents import UNIT_WORDS, in_unit
from trace.genealogy.known_values import must_be_known
from trace.genealogy.plant_days import PlantDays, plant_days
from trace.genealogy.reasons import stamped
from trace.genealogy.scope import Share
from trace.genealogy.shared_documents import as_rows, as_text
from trace.genealogy.sharing import Line, Shared, shared_by
from trace.pages.asked import as_known_on
from trace.pages.paging import EACH, Pages, pages
from trace.pages.papers import paper_form
from trace.pages.saved_scopes import Save, save, save_form
from trace.pages.scope_form import ScopeForm, is_typed, scope_form, typed_cause
from trace.pages.scope_gaps import GapGroup, grouped_gaps
from trace.pages.scope_holds import Preview, may_hold, preview
from trace.readmodels.apply import GONE
from trace.sheets.addresses import hull_url
from trace.sheets.facts.known import known_of
from trace.sheets.hulls.sheet import caution

JOINS = {
    "and": gettext_lazy("and"), "and not": gettext_lazy("and not"), "or": gettext_lazy("or"),
    "": gettext_lazy("Hulls that"), "not": gettext_lazy("Hulls that do not"),
}  # fmt: skip
SORTS = {
    "place": gettext_lazy("by place"), "made": gettext_lazy("by plant day"), "model": gettext_lazy("by model"),
    "consignee": gettext_lazy("by consignee"), "region": gettext_lazy("by owner’s region"),
}  # fmt: skip
# On paper a list stands in full; so many hulls are one paper.
MOST_PRINTED = 20_000
BY_PLACE = ("place", "consignee")
SHOWN: Mapping[str, tuple[Verdict, ...]] = {
    "": ("certain", "may"), "certain": ("certain",), "may": ("may",), "cannot": ("cannot",),
    "all": ("certain", "may", "cannot"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the question. `without_url` asks the same without it, "" where that cannot be done with a press.
    `any_much`: certain and may however little of it is in them, where a least amount is asked for."""

    letter: str
    joined: str
    said: str
    certain: int
    may: int
    cannot: int
    without_url: str
    any_much: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class AskedPart:
    """One part of a question that could not be answered: `trouble` says what is wrong with it, "" where nothing is."""

    said: str
    trouble: str
    without_url: str


@dataclass(frozen=True, slots=True)
class Amount:
    """How much of one material is in the hulls of one verdict; `most` is "" where nobody can say."""

    name: str
    verdict: Verdict
    hulls: int
    least: str
    most: str
    unit: str


@dataclass(frozen=True, slots=True)
class Row:
    """One hull of the list."""

    code: str
    url: str
    verdict: Verdict
    why: str
    made: str
    place: str
    region: str
    model: str
    group: str = ""  # the heading above it, "" under the one before


@dataclass(frozen=True, slots=True)
class Here:
    """How many of the answer's hulls are at one place."""

    place: str
    certain: int
    may: int


@dataclass(frozen=True, slots=True)
class ScopePage:
    """Contract of templates/pages/scope.html; `answer` is None while nothing is asked, `error` says what is wrong, of
    the question (`asked`) or of what its form adds."""

    words: tuple[str, ...]
    form: ScopeForm
    joins: tuple[tuple[str, str], ...]
    error: str = ""
    asked: tuple[AskedPart, ...] = ()
    title: str = ""
    parts: tuple[Part, ...] = ()
    counts: Mapping[Verdict, int] | None = None
    amounts: tuple[Amount, ...] = ()
    places: tuple[Here, ...] = ()
    rows: tuple[Row, ...] = ()
    gaps: tuple[str | GapGroup, ...] = ()
    pages: Pages | None = None
    order: str = ""
    shows: tuple[tuple[str, str, bool], ...] = ()
    sorts: tuple[tuple[str, str, bool], ...] = ()
    answer: Shared | None = None
    csv_url: str = ""
    print_url: str = ""
    json_url: str = ""
    walk_url: str = ""
    now_url: str = ""
    preview: Preview | None = None
    save: Save | None = None
    caution: str = ""

    @property
    def whose(self) -> str:
        """Of what gaps are told."""
        return _("what is asked")


def scope(request: HttpRequest) -> HttpResponse:
    """Context: page (ScopePage), paper_form. `q` of the address, given once a word, is the question (read_cause);
    `name`, `value`, `part` and `join` add one cause to it. POST saves it as answered for a moment (saved_scopes.save).
    """
    asked, not_saved = request.GET, ""
    if request.method == "POST":
        there, not_saved = save(request)
        if there:
            return HttpResponseRedirect(there)
    words = [word for word in asked.getlist("q") if word.strip()]
    if is_typed(asked):
        try:
            return HttpResponseRedirect(_address(request, _plain(added(asked))))
        except (CauseError, LookupError) as error:
            # The question stays as it was, and what was typed stands in the form to be put right.
            return _shown(request, words, error=str(error))
    return _answered(request, words, not_saved) if words else _shown(request, ())


def _plain(words: Sequence[str]) -> list[str]:
    """The question in its one form. Raises CauseError or a LookupError where nothing knows what is named."""
    cause = understood(words)
    for part in simple_parts(cause):
        must_be_known(part)
    return written(cause)


def _answered(request: HttpRequest, words: Sequence[str], not_saved: str) -> HttpResponse:
    """The answer as a page or a file; raises NotThere for what was never there."""
    kind = request.GET.get("file", "")
    try:
        cause = understood(words, as_known_on(request))
        if not kind and request.method == "GET" and cause != read_cause(words):
            return HttpResponseRedirect(_address(request, written(cause)))
        answer = shared_by(cause, as_known_on(request))
    except CauseError as error:
        return _shown(request, words, error=str(error))
    except LookupError as nothing:
        if kind:
            raise NotThere(what=str(nothing), why=_("A scope is asked by things that the records hold.")) from None
        return _shown(request, words, error=str(nothing), status=404)
    if kind == "json":
        return HttpResponse(as_text(answer), content_type="application/json")
    if kind == "csv":
        return _csv(answer)
    return _shown(request, words, answer, not_saved=not_saved)


def added(asked: QueryDict) -> list[str]:
    """The words of the question with the cause that the form adds."""
    words = [word for word in asked.getlist("q") if word.strip()]
    join, name = asked.get("join", "and"), asked.get("name", "holds")
    more = join.split() if words else ["not"] if join.endswith("not") else []
    # What is added is said of all that was asked before.
    if words and not _all_joined_by(words, "or" if join == "or" else "and"):
        words = ["(", *words, ")"]
    return [*words, *more, *typed_cause(name, asked)]


def _all_joined_by(words: list[str], by: str) -> bool:
    """Whether one more cause joined by `by` is one more part of this question as it stands."""
    try:
        cause = read_cause(words)
    except CauseError:
        return True
    return not isinstance(cause, Some if by == "and" else All)


def _csv(answer: Shared) -> HttpResponse:
    out = io.StringIO()
    csv.writer(out).writerows(as_rows(answer))
    response = HttpResponse(out.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="scope.csv"'
    return response


def _shown(
    request: HttpRequest,
    words: Sequence[str],
    answer: Shared | None = None,
    *,
    error: str = "",
    not_saved: str = "",
    status: int = 400,
) -> HttpResponse:
    joins = [(name, str(said)) for name, said in JOINS.items() if (name in ("", "not")) == (not words)]
    page = {
        "words": tuple(words),
        "form": scope_form(request),
        "joins": tuple(joins),
        "error": error,
        "asked": () if answer else tuple(_asked(request, words)),
        **(_of(request, answer) if answer else {}),
        "save": save_form(request, answer, not_saved) if answer else None,
    }
    form = paper_form(request, "scope", {"q": "\n".join(words)}, as_known_on(request)) if answer else None
    shown = {"page": ScopePage(**page), "paper_form": form}
    return render(request, "pages/scope.html", shown, status=status if error else 409 if not_saved else 200)


def _asked(request: HttpRequest, words: Sequence[str]) -> Iterator[AskedPart]:
    """The parts of a question that has no answer, each with what is wrong with it and the way to take it out."""
    if not words:
        return
    try:
        cause = read_cause(words)
    except CauseError as error:
        yield AskedPart(" ".join(words), str(error), request.path)
        return
    for part, rest in _one_by_one(cause):
        yield AskedPart(said_of(part), _trouble(part), _address(request, written(rest)) if rest else request.path)


def _trouble(part: Cause) -> str:
    try:
        for one in simple_parts(part):
            must_be_known(one)
    except (CauseError, LookupError) as error:
        return str(error)
    return ""


def _one_by_one(cause: Cause) -> Iterator[tuple[Cause, Cause | None]]:
    """Each part of a question in a row, with the question that is left without it."""
    inner = cause.parts if isinstance(cause, All | Some) else (cause,)
    for n, part in enumerate(inner):
        rest = inner[:n] + inner[n + 1 :]
        yield part, type(cause)(rest) if isinstance(cause, All | Some) and len(rest) > 1 else rest[0] if rest else None


def _of(request: HttpRequest, answer: Shared) -> dict[str, Any]:
    """What the page shows of an answer: the list that is asked for, in groups, and all that stands above it."""
    show = request.GET.get("show", "")
    sort = request.GET.get("sort", "place")
    wanted = [line for line in answer.lines if line.verdict in SHOWN.get(show, SHOWN[""])]
    sharing = [line for line in answer.lines if line.verdict != "cannot"]
    answer.look_up_places([*sharing, *(wanted if sort in BY_PLACE else ())])
    listed = sorted(wanted, key=_sorted_by(sort))
    shown = pages(request, len(listed), MOST_PRINTED if request.GET.get("print") else EACH)
    here = listed[shown.skipped : shown.skipped + shown.each]
    answer.look_up(here)
    at = {line.place for line in (*here, *sharing) if line.place}
    known = known_of((), (), places=at, as_known_on=answer.as_known_on)
    words = {place: known.place(place) for place in at}
    days = plant_days(answer.as_known_on)
    return {
        "title": said_of(answer.cause),
        "parts": tuple(_parts(request, answer)),
        "counts": {verdict: answer.count(verdict) for verdict in ("certain", "may", "cannot")},
        "amounts": tuple(_amounts(answer)),
        "places": tuple(_places(sharing, words)),
        "rows": tuple(_grouped(
            [_row(line, words, as_known_on(request)) for line in here],
            [_group(sort, line, words, days) for line in here],
        )),
        "gaps": grouped_gaps(answer.gaps, answer.as_known_on),
        "pages": shown,
        "order": str(SORTS.get(sort, SORTS["place"])),
        "shows": tuple((said, _with(request, show=name), name == show) for name, said in _shows()),
        "sorts": tuple((str(said), _with(request, sort=name), name == sort) for name, said in SORTS.items()),
        "answer": answer,
        "csv_url": _with(request, file="csv"),
        "json_url": _with(request, file="json"),
        "walk_url": _walk_url(request),
        "now_url": _now_url(request),
        "preview": _preview(request, answer),
        "print_url": _with(request, print="1"),
        "caution": caution(),
    }


def _preview(request: HttpRequest, answer: Shared) -> Preview | None:
    """What a hold on this question would stop: only of what is known now, for who may lay it."""
    past = bool(request.GET.get("as_known_on"))
    return preview(answer) if may_hold(current(request)) and not past else None


def _now_url(request: HttpRequest) -> str:
    """The same as known now, where a day is asked for and this person could hold what shares it today; else ""."""
    if not request.GET.get("as_known_on") or not may_hold(current(request)):
        return ""
    said = request.GET.copy()
    del said["as_known_on"]
    return f"{request.path}?{said.urlencode()}"


def _walk_url(request: HttpRequest) -> str:
    """Where a walk over this list is begun, "" for those who may not look."""
    person = current(request)
    if person is None or not allowed(person.roles, "containment", "GET", {}, person.tasks):
        return ""
    return f"{reverse('containment')}?{urlencode([('q', word) for word in request.GET.getlist('q')])}"


def _shows() -> list[tuple[str, str]]:
    return [
        ("", _("certain and may")), ("certain", _("certain")), ("may", _("may")), ("cannot", _("cannot")),
        ("all", _("every hull")),
    ]  # fmt: skip


def _sorted_by(sort: str) -> Any:
    def made(line: Line) -> tuple[Any, ...]:
        return (line.made.first, line.made.last, line.made.uid)

    if sort == "made":
        return made
    if sort == "model":
        return lambda line: (str(line.made.about.get("product", "")), *made(line))
    if sort == "consignee":
        return lambda line: (_gone(line), line.place or "", *made(line))
    if sort == "region":
        return lambda line: (line.region is None, line.region or "", *made(line))
    return lambda line: (line.place or "", *made(line))


def _gone(line: Line) -> str:
    """Whom it was sent to, "" while it is in the plant."""
    place = line.place or ""
    return place if place.startswith(GONE) else ""


def _group(sort: str, line: Line, words: Mapping[str, str], days: PlantDays) -> str:
    """Under which heading of the list a hull stands."""
    if sort == "made":
        when = line.built.last
        return f"{days.at(when).day(when):%-d %b %Y}"
    if sort == "model":
        return str(line.made.about.get("product", "")) or _("model not known")
    if sort == "region":
        return line.region or _("owner’s region unknown")
    if sort == "consignee" and not _gone(line):
        return _("in the plant")
    return words.get(line.place or "", _("place unknown"))


def _grouped(rows: Sequence[Row], groups: Sequence[str]) -> Iterator[Row]:
    """The rows, the first of each group with its heading."""
    before = None
    for row, group in zip(rows, groups, strict=True):
        yield row if group == before else replace(row, group=group)
        before = group


def _row(line: Line, words: Mapping[str, str], asked: datetime | None) -> Row:
    return Row(
        code=line.node.said,
        url=hull_url(line.node.serial or "", asked),
        verdict=line.verdict,
        why=line.why,
        made=stamped(line.built.last),
        place=words.get(line.place or "", _("place unknown")),
        region=line.region or "",
        model=str(line.node.about.get("product", "")),
    )


def _places(lines: Sequence[Line], words: Mapping[str, str]) -> list[Here]:
    counted: dict[str, Counter[Verdict]] = {}
    for line in lines:
        counted.setdefault(words.get(line.place or "", _("place unknown")), Counter())[line.verdict] += 1
    return [Here(place, n["certain"], n["may"]) for place, n in sorted(counted.items())]


def _amounts(answer: Shared) -> list[Amount]:
    """How much of each material asked about is in the hulls that share the cause, and in those that may."""
    found = []
    verdicts: tuple[Verdict, ...] = ("certain", "may")
    for one, verdict in product((part for part in answer.parts if isinstance(part, Holds)), verdicts):
        shares = [line.shares[one] for line in answer.lines if line.verdict == verdict and one in line.shares]
        if shares:
            found.append(_together(_named(one), verdict, [share for share, _uom in shares], shares[0][1] or ""))
    return found


def _named(cause: Holds) -> str:
    return f"{code_said(cause.code)}, {cause.part}" if cause.part else code_said(cause.code)


def _together(name: str, verdict: Verdict, shares: Sequence[Share], uom: str) -> Amount:
    most = [share.total.most for share in shares]
    total = None if None in most else sum(filter(None, most))
    least = sum(share.total.least for share in shares)
    said = [in_unit(amount, uom) or "" for amount in (least, total)]
    return Amount(name, verdict, len(shares), said[0], said[1], UNIT_WORDS.get(uom, uom))


def _parts(request: HttpRequest, answer: Shared) -> list[Part]:
    """The parts of the question in a row, where it is one; each with the same question without it."""
    cause, found = answer.cause, []
    for n, (part, without) in enumerate(_one_by_one(cause)):
        bare = part.part if isinstance(part, Not) else part
        # What is made up of others is not counted by itself.
        counts = {} if isinstance(bare, All | Some | Not) else answer.parts.get(bare, {})
        any_much = None if isinstance(bare, All | Some | Not) else answer.any_much.get(bare)
        found.append(Part(
            letter="ABCDEFGHIJKLMNOPQRSTUVWXYZ"[n % 26],
            joined="" if n == 0 else _("or") if isinstance(cause, Some) else _("and"),
            said=said_of(part),
            certain=counts.get("cannot" if isinstance(part, Not) else "certain", 0),
            may=counts.get("may", 0),
            cannot=counts.get("certain" if isinstance(part, Not) else "cannot", 0),
            without_url=_address(request, written(without)) if without else "",
            any_much=(any_much["certain"], any_much["may"]) if any_much else None,
        ))  # fmt: skip
    return found


def _address(request: HttpRequest, words: Sequence[str]) -> str:
    """The same page with this question; the day it is asked for stays."""
    said = QueryDict(mutable=True)
    said.setlist("q", list(words))
    if day := request.GET.get("as_known_on", ""):
        said["as_known_on"] = day
    return f"{request.path}?{said.urlencode()}"


def _with(request: HttpRequest, **more: str) -> str:
    """The address of this page with something else of it asked for, from its first page on."""
    said = request.GET.copy()
    said.pop("page", None)
    for name, value in more.items():
        said[name] = value
    return f"{request.path}?{said.urlencode()}"
