"""Containment walks at the desk: begun over a hold or a list, and how far each is, place by place."""

import csv
import io
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from plant.access import allowed
from plant.errors import NotThere, NotUnderstood
from plant.sign_on import SignedOn, current
from trace.codes import uuid7
from trace.genealogy.containment import RESULTS, Begun, Looked, Progress, progress, walks
from trace.pages.asked import as_known_on, form_number
from trace.pages.sought import Asked, address, asked_for, hold_said, said, uid_of
from trace.recording.acts.containment import RESULT_WORDS, BeginContainment, EndContainment
from trace.recording.commands import By, Command
from trace.recording.record import record
from trace.sheets.addresses import hull_url
from trace.sheets.facts.known import Known, known_of
from trace.sheets.facts.notes import notes
from trace.sheets.hulls.sheet import caution
from trace.speech import names_of, speak

NOT_SEEN = ""


@dataclass(frozen=True, slots=True)
class AtPlace:
    """How many hulls of the list are at one place, by what was seen of them, each result with its word; `marks` in
    walking order, one a hull."""

    place: str
    counts: tuple[tuple[str, int], ...]
    missing: int
    marks: tuple[str, ...] = ()

    @property
    def every(self) -> int:
        return sum(n for _word, n in self.counts) + self.missing


@dataclass(frozen=True, slots=True)
class Line:
    """One hull: where it stands by the book and who put it there, or what was seen of it, where and by whom."""

    code: str
    url: str
    model: str
    may: bool
    place: str
    who: str
    when: datetime | None
    result: str = ""
    elsewhere: str = ""
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Sent:
    """The hulls of the list that have gone to one consignee."""

    name: str
    hulls: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class WalkLine:
    """One walk in the list of walks."""

    title: str
    url: str
    begun: datetime
    who: str
    ended: datetime | None


@dataclass(frozen=True, slots=True)
class ContainmentPage:
    """Contract of templates/pages/containment.html. `asked` with `missing`: a walk that could be begun; `walk` and what
    follows: one that was; neither: the list of all."""

    walks: tuple[WalkLine, ...] = ()
    asked: Asked | None = None
    walk: Begun | None = None
    title: str = ""
    who: str = ""
    as_known_on: datetime | None = None
    now: bool = True
    gaps: tuple[str, ...] = ()
    places: tuple[AtPlace, ...] = ()
    total: AtPlace | None = None
    missing: tuple[Line, ...] = ()
    seen: tuple[Line, ...] = ()
    besides: tuple[Line, ...] = ()
    sent: tuple[Sent, ...] = ()
    scrapped: int = 0
    station_url: str = ""
    scope_url: str = ""
    recall_url: str = ""
    csv_url: str = ""
    scan_id: str = ""
    may_begin: bool = False
    error: str = ""
    caution: str = ""

    @property
    def whose(self) -> str:
        """Of what gaps are told."""
        return _("this walk")


def containment(request: HttpRequest) -> HttpResponse:
    """Context: page (ContainmentPage). `walk`: the uid of one; `hold`, or `q` for each word of a cause: what one could
    be begun over, or was. POST begins one (the same names) or ends it (`walk`, `do`, `reason`); `scan_id`."""
    person = current(request)
    if request.method == "POST":
        return _send(request, person)
    walk = request.GET.get("walk", "").strip()
    if not walk:
        asked = asked_for(request)
        page = _list(asked, _may(person))
        if asked is not None:
            page = replace(page, recall_url=_recall_url(person, asked.hold, asked.words))
        return render(request, "pages/containment.html", {"page": page})
    known = as_known_on(request)
    begun = next(iter(walks(known, uid_of(walk))), None)
    if begun is None:
        raise NotThere(what=_("No such walk was begun."))
    found = progress(begun, known)
    if request.GET.get("file") == "csv":
        return _csv(begun, found)
    page = _page(request, begun, found, known, may=_may(person))
    page = replace(page, recall_url=_recall_url(person, begun.hold, begun.question))
    return render(request, "pages/containment.html", {"page": page})


def _may(person: SignedOn | None) -> bool:
    return person is not None and allowed(person.roles, "containment", "POST", {}, person.tasks)


def _recall_url(person: SignedOn | None, hold: str, words: Sequence[str]) -> str:
    """Where letters go out for the same hulls, "" for those who send none."""
    if person is None or not allowed(person.roles, "recall", "GET", {}, person.tasks):
        return ""
    return address("recall", hold=hold, words=words)


def _send(request: HttpRequest, person: SignedOn | None) -> HttpResponse:
    if person is None:
        raise NotUnderstood
    walk = request.POST.get("walk", "").strip()
    command: Command
    if walk:
        command = EndContainment(walk=uid_of(walk), reason=request.POST.get("reason", "").strip()[:500])
    else:
        asked = asked_for(request)
        if asked is None:
            raise NotUnderstood
        command = BeginContainment(
            hold=asked.hold, question=asked.words, known_on=asked.known_on,
            hulls=asked.certain if asked.words else (), may=asked.may if asked.words else (),
        )  # fmt: skip
    answer = record(command, By(person=person.person, station="containment", scan_id=form_number(request.POST)))
    if answer.outcome == "refused":
        error = speak(f"{answer.what} {answer.why} {answer.now}")
        page = ContainmentPage(walks=_lines(walks()), error=error, caution=caution())
        return render(request, "pages/containment.html", {"page": page}, status=409)
    return HttpResponseRedirect(walk_url(walk or newest_begun(person)))


def newest_begun(person: SignedOn) -> str:
    """The uid of the walk that this person began last."""
    return next(walk.uid for walk in walks() if walk.person == person.person)


def walk_url(walk: str, **more: str) -> str:
    return f"{reverse('containment')}?{urlencode({'walk': walk, **more})}"


def _list(asked: Asked | None, may: bool) -> ContainmentPage:
    """Every walk that was begun, of what is asked for alone where something is; and what a new one would be over."""
    found = walks()
    if asked is not None:
        found = [walk for walk in found if (walk.hold, walk.question) == (asked.hold, asked.words)]
    listed = Progress(tuple(asked.hulls) if asked else (), ())
    words = _words(None, listed, None)
    gaps = []
    if listed.gone:
        gaps.append(_("%(n)d of them have gone: they are for letters, not for a walk.") % {"n": len(listed.gone)})
    if listed.scrapped:
        gaps.append(_("%(n)d of them are scrapped.") % {"n": len(listed.scrapped)})
    return ContainmentPage(
        walks=_lines(found), asked=asked, title=asked.title if asked else "", may_begin=may, scan_id=str(uuid7()),
        missing=tuple(_line(one, words, None, "") for one in listed.here), gaps=tuple(gaps), caution=caution(),
        scope_url=address("scope", words=asked.words) if asked and asked.words else "",
    )  # fmt: skip


def _lines(found: Sequence[Begun]) -> tuple[WalkLine, ...]:
    people = names_of(walk.person for walk in found)
    return tuple(
        WalkLine(title_of(walk), walk_url(walk.uid), walk.begun, people.get(walk.person, ""), walk.ended)
        for walk in found
    )


def title_of(walk: Begun) -> str:
    """What a walk is over, after “hulls”."""
    return hold_said(walk.hold)[0] if walk.hold else said(walk.question)


def _page(request: HttpRequest, walk: Begun, found: Progress, known: datetime | None, *, may: bool) -> ContainmentPage:
    words = _words(walk, found, known)
    texts = notes([one.seen.remark for one in (*found.hulls, *found.besides) if one.seen and one.seen.remark])

    def line(one: Looked) -> Line:
        return _line(one, words, known, texts.text(one.seen.remark) if one.seen and one.seen.remark else "")

    here = found.here
    return ContainmentPage(
        walk=walk, title=title_of(walk), who=words.person(walk.person), as_known_on=known or timezone.now(),
        now=known is None,
        gaps=tuple(_gaps(walk, found)), places=tuple(_places(here, words)), total=in_the_plant(found),
        missing=tuple(line(one) for one in here if one.seen is None),
        seen=tuple(line(one) for one in here if one.seen is not None),
        besides=tuple(line(one) for one in found.besides), sent=tuple(_sent(found.gone, words, line)),
        scrapped=len(found.scrapped), station_url=f"{reverse('station', args=['containment'])}?walk={walk.uid}",
        csv_url=f"{request.get_full_path()}&file=csv", scan_id=str(uuid7()),
        may_begin=may and walk.ended is None, caution=caution(),
    )  # fmt: skip


def not_found(walk: Begun, found: Progress, known: datetime | None) -> tuple[Line, ...]:
    """The hulls of a walk that nobody has seen, each with its last place and who put it there."""
    words = _words(walk, found, known)
    return tuple(_line(one, words, known, "") for one in found.here if one.seen is None)


def in_the_plant(found: Progress) -> AtPlace:
    """All hulls of a walk that are in the plant, by what was seen of them."""
    return _counted(_("in the plant"), found.here)


def _words(walk: Begun | None, found: Progress, known: datetime | None) -> Known:
    every = (*found.hulls, *found.besides)
    at = {one.last.place for one in every if one.last} | {one.seen.place for one in every if one.seen}
    people = {one.last.person for one in every if one.last} | {one.seen.person for one in every if one.seen}
    if walk is not None:
        people.add(walk.person)
    return known_of((), (), places=at, people=people, as_known_on=known)


def _gaps(walk: Begun, found: Progress) -> Iterable[str]:
    nowhere = sum(1 for one in found.here if one.last is None and one.seen is None)
    if nowhere:
        yield ngettext(
            "Of %(n)d hull no place is recorded.", "Of %(n)d hulls no place is recorded.", nowhere
        ) % {"n": nowhere}  # fmt: skip
    if found.without_plate:
        yield ngettext(
            "%(n)d moulding under the hold has no plate yet: it cannot be scanned, look beside the moulds.",
            "%(n)d mouldings under the hold have no plate yet: they cannot be scanned, look beside the moulds.",
            found.without_plate,
        ) % {"n": found.without_plate}
    if walk.question:
        yield _("The list is as it was known on %(day)s: what is made or recorded since is not on it.") % {
            "day": f"{timezone.localtime(datetime.fromisoformat(walk.known_on)):%-d %b %Y %H:%M}",
        }  # fmt: skip


def _place_of(one: Looked) -> str:
    return one.seen.place if one.seen else one.last.place if one.last else ""


def _places(here: Sequence[Looked], words: Known) -> Iterable[AtPlace]:
    at: dict[str, list[Looked]] = {}
    for one in here:
        at.setdefault(_place_of(one), []).append(one)
    for place, hulls in at.items():
        yield _counted(words.place(place) if place else _("place not recorded"), hulls)


def _counted(place: str, hulls: Sequence[Looked]) -> AtPlace:
    counts = Counter(one.seen.result if one.seen else NOT_SEEN for one in hulls)
    marks = tuple(one.seen.result if one.seen else NOT_SEEN for one in hulls)
    said = tuple((_(RESULT_WORDS[result]), counts[result]) for result in RESULTS)
    return AtPlace(place, said, counts[NOT_SEEN], marks)


def _line(one: Looked, words: Known, known: datetime | None, remark: str) -> Line:
    last = one.seen or one.last
    book = words.place(one.last.place) if one.last else _("place not recorded")
    return Line(
        code=one.node.said, url=hull_url(one.node.serial or "", known), model=str(one.node.about.get("product") or ""),
        may=one.may, place=words.place(one.seen.place) if one.seen else book,
        who=words.person(last.person) if last else "", when=last.happened if last else None,
        result=_(RESULT_WORDS[one.seen.result]) if one.seen else "", remark=remark,
    )  # fmt: skip


def _sent(gone: Sequence[Looked], words: Known, line: Any) -> Iterable[Sent]:
    """By whom they have gone to, by name; those nobody recorded last."""
    by: dict[str, list[Looked]] = {}
    for one in gone:
        by.setdefault(one.gone, []).append(one)
    for key in sorted(by, key=lambda key: (key == "unknown", key)):
        name = _("nobody recorded whom") if key == "unknown" else words.place(by[key][0].last.place)  # type: ignore[union-attr]
        yield Sent(name, tuple(line(one) for one in by[key]))


def _csv(walk: Begun, found: Progress) -> HttpResponse:
    """A row a hull; people by their keys, since a file cannot be erased."""
    out = io.StringIO()
    rows = csv.writer(out)
    rows.writerow([
        "hull", "model", "verdict", "place by the book", "placed by", "placed at", "gone to", "result", "seen in",
        "seen by", "seen at", "on the list",
    ])  # fmt: skip
    rows.writerows([*_cells(walk, one), "yes"] for one in found.hulls)
    rows.writerows([*_cells(walk, one), "no"] for one in found.besides)
    response = HttpResponse(out.getvalue(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="containment.csv"'
    return response


def _cells(walk: Begun, one: Looked) -> list[str]:
    last, seen = one.last, one.seen
    place, *put = [last.place, last.person, last.happened.isoformat()] if last else [""] * 3
    found = [seen.result, seen.place, seen.person, seen.happened.isoformat()] if seen else [""] * 4
    return [
        one.node.said, str(one.node.about.get("product") or ""), _verdict(walk, one), "" if one.gone else place, *put,
        one.gone, *found,
    ]  # fmt: skip


def _verdict(walk: Begun, one: Looked) -> str:
    if walk.hold:
        return "on hold"
    return "may" if one.may else "certain"
