"""Impact tests: every series with its mean failure height, and the staircase of one drawn beside its table."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.errors import NotThere, NotUnderstood
from plant.sign_on import current, device_of
from trace.codes import uuid7
from trace.codes.staircase import Reckoned, reckoned
from trace.drawings.staircase import StaircaseDrawing, staircase
from trace.genealogy.graph import Node
from trace.genealogy.impact import Drop, Series, series
from trace.genealogy.walk import nodes
from trace.lookup import plant_now
from trace.pages.asked import as_known_on, form_number
from trace.recording.acts.complaint_words import word
from trace.recording.acts.impact import RESULTS, ReopenImpact, TakeBackDrop
from trace.recording.commands import By
from trace.recording.record import record
from trace.sheets.addresses import hull_url, unit_url
from trace.sheets.hulls.sheet import caution
from trace.speech import names_of, speak

LISTED = 60


@dataclass(frozen=True, slots=True)
class SeriesLine:
    """One series in the list."""

    url: str
    specimen: str
    said: str
    at: datetime


@dataclass(frozen=True, slots=True)
class DropLine:
    """One drop of the table; `uid` is "" where it can no more be taken back."""

    number: int
    height: str
    result: str
    temperature: str
    dart: str
    who: str
    at: datetime
    uid: str


@dataclass(frozen=True, slots=True)
class ImpactPage:
    """Contract of templates/pages/impact.html. `mean`, `deviation`, `least`: "" where nothing says."""

    lines: tuple[SeriesLine, ...]
    specimen: str = ""
    specimen_url: str = ""
    state: str = ""
    mean: str = ""
    deviation: str = ""
    counted: str = ""
    least: str = ""
    wide: StaircaseDrawing | None = None
    narrow: StaircaseDrawing | None = None
    drops: tuple[DropLine, ...] = ()
    end: str = ""  # the record that ended it, where this person may take it back
    scan_id: str = ""
    caution: str = ""
    error: str = ""


def impact(request: HttpRequest) -> HttpResponse:
    """Context: page (ImpactPage). `unit`, `n`: the n-th series on the unit of this id. POST takes a drop back: `code`,
    `drop`, `reason`; or the end of a test: `code`, `end`, `reason`."""
    if request.method == "POST":
        return _taken_back(request)
    return render(request, "pages/impact.html", {"page": _page(request)})


def _page(request: HttpRequest, error: str = "") -> ImpactPage:
    known = as_known_on(request)
    every = [(one, n) for told in series(None, known).values() for n, one in enumerate(told, 1) if one.drops]
    every.sort(key=lambda pair: pair[0].drops[-1].happened, reverse=True)
    at = nodes({one.unit for one, _n in every[:LISTED]}, known)
    lines = tuple(_line(one, n, at[one.unit]) for one, n in every[:LISTED])
    asked = request.GET.get("unit", ""), request.GET.get("n", "1")
    if not asked[0]:
        return ImpactPage(lines, caution=caution(), error=error)
    chosen = next((one for one, n in every if (at[one.unit].uid, str(n)) == asked), None) if every else None
    if chosen is None:
        raise NotThere(what=_("No such impact test is known."))
    return _drawn(request, chosen, at[chosen.unit], lines, error)


def _line(one: Series, n: int, node: Node) -> SeriesLine:
    url = f"{reverse('impact')}?unit={node.uid}&n={n}"
    return SeriesLine(url, node.said, _state(one), one.drops[-1].happened)


def _state(one: Series) -> str:
    if not one.verdict:
        return _("open, %(n)d drops") % {"n": len(one.drops)}
    said = {"pass": _("passed"), "fail": _("failed")}.get(one.verdict, _("not decided"))
    return _("%(said)s, mean failure height %(mean)s m") % {"said": said, "mean": one.mean or "?"}


def _drawn(
    request: HttpRequest, one: Series, node: Node, lines: tuple[SeriesLine, ...], error: str
) -> ImpactPage:
    plan = plant_now().body("product", str(node.about.get("product") or "")).get("impact") or {}
    pairs = [(Decimal(drop.height), drop.result) for drop in one.drops]
    found = _reckoned(pairs, plan.get("step_m"))
    mean, least = found.mean if found else None, plan.get("least_m")
    wide, narrow = (staircase(pairs, mean, Decimal(least) if least else None, width) for width in (820.0, 384.0))
    deviation = found.deviation if found else None
    return ImpactPage(
        lines, node.said, hull_url(node.serial, None) if node.serial else unit_url(node.uid), _state(one),
        "" if mean is None else f"{mean:.3f}", "" if deviation is None else f"{deviation:.3f}",
        _counted(found.counted, by_failures=found.by_failures) if found else "", str(least or ""),
        wide, narrow, _drops(request, one), one.uid if _may(request) else "", str(uuid7()), caution(), error,
    )  # fmt: skip


def _reckoned(pairs: list[tuple[Decimal, str]], step: str | None) -> Reckoned | None:
    return reckoned([(at, result != "pass") for at, result in pairs], Decimal(step)) if step else None


def _may(request: HttpRequest) -> bool:
    person = current(request)
    return person is not None and allowed(person.roles, "impact", "POST", {}, person.tasks)


def _drops(request: HttpRequest, one: Series) -> tuple[DropLine, ...]:
    may = _may(request) and not one.verdict
    names = names_of({drop.person for drop in one.drops})
    return tuple(_drop(n, drop, names, may=may) for n, drop in enumerate(one.drops, 1))


def _counted(n: int, *, by_failures: bool) -> str:
    said = _("reckoned from %(n)d that failed") if by_failures else _("reckoned from %(n)d that did not fail")
    return said % {"n": n}


def _drop(n: int, drop: Drop, names: dict[str, str], *, may: bool) -> DropLine:
    return DropLine(
        n, drop.height, word(RESULTS, drop.result), drop.temperature, drop.dart, names.get(drop.person, ""),
        drop.happened, drop.uid if may else "",
    )  # fmt: skip


def _taken_back(request: HttpRequest) -> HttpResponse:
    person, post = current(request), request.POST
    if person is None:
        raise NotUnderstood
    unit, reason, end = str(post.get("code", ""))[:60], str(post.get("reason", "")), str(post.get("end", ""))[:40]
    command = (
        ReopenImpact(unit=unit, end=end, reason=reason) if end
        else TakeBackDrop(unit=unit, drop=str(post.get("drop", ""))[:40], reason=reason)
    )  # fmt: skip
    by = By(person=person.person, station="impact", device=device_of(request).id, scan_id=form_number(post))
    answer = record(command, by)
    if answer.outcome != "refused":
        return HttpResponseRedirect(reverse("impact"))
    page = _page(request, speak(" ".join(part for part in (answer.what, answer.why, answer.now) if part)))
    return render(request, "pages/impact.html", {"page": page}, status=409)
