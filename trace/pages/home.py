"""The first page after signing in: what waits, then the stations and pages of the person's roles, and nothing else."""

from dataclasses import replace

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from plant.access import allowed, role_words
from plant.kinds.table import KINDS
from plant.models.begun import KEPT_FOR, Begun
from plant.roles import ROLES
from plant.sign_on import SignedOn, at_desk, current
from plant.stations import ENTRIES, GROUPS, StationEntry
from trace.drawings.arrangement import Waiting, arrangements
from trace.lookup import is_demo
from trace.pages.lists import DeskHome, HomePage, StationGroup, StationLine, WaitLine
from trace.pages.open_lists.listed import OpenList
from trace.pages.open_lists.table import OPEN_LISTS
from trace.pages.open_lists.view import counts
from trace.readmodels.plantdata import newest
from trace.sheets.cases.said import letter

# So many of each list stand on the first page of a desk; the list has the others.
SHOWN = 3


def home(request: HttpRequest) -> HttpResponse:
    """Context: home (trace.pages.lists.HomePage); at a desk with its sheet."""
    person = current(request)
    page = home_page(person)
    if person is not None and at_desk(request):
        page = replace(page, desk=desk_home(person, page.waits))
    return render(request, "pages/home.html", {"home": page})


def desk_home(person: SignedOn, waits: tuple[WaitLine, ...]) -> DeskHome:
    """What is open for a person: the list with the oldest thing first, of each its oldest, each one press away."""
    there = sorted((one for one in waits if one.oldest and one.count), key=lambda one: (one.oldest, one.url))
    shown = tuple(
        replace(one, letter=letter(n), lines=tuple(_list_of(one).lines(0, SHOWN))) for n, one in enumerate(there)
    )
    aside = ("holds", "late")
    return DeskHome(
        plant=str(newest().body("setting", "plant-name").get("value") or ""),
        person=person.name,
        roles=", ".join(role_words(role) for role in ROLES if role in person.roles),
        now=timezone.now(),
        drawing=arrangements([
            Waiting(one.letter, one.count, one.word, _list_of(one).where, f"#open-{one.letter}", one.stop)
            for one in shown
        ]) if waits else None,
        open=tuple(one for one in shown if _list_of(one).slug not in aside),
        aside=tuple(one for one in shown if _list_of(one).slug in aside),
        none=tuple(one.word for one in waits if not one.count),
        count=sum(one.count for one in shown if _list_of(one).slug != "late"),
    )  # fmt: skip


def _list_of(wait: WaitLine) -> OpenList:
    return OPEN_LISTS[wait.slug]


def home_page(person: SignedOn | None) -> HomePage:
    """The first page of a person: groups without a single open address are left out."""
    groups = (
        StationGroup(title, tuple(line for line in lines if line is not None))
        for title, lines in (
            (title, [_line(person, name, parts, word, words) for name, parts, word, words in entries])
            for title, entries in _plant()
        )
    )
    may = _may_scan_at(person) if person is not None else []
    return HomePage(
        waits=_waits(person),
        groups=tuple(group for group in groups if group.stations),
        left=_left(person, may) if person is not None else (),
        where_url=reverse("where") if may else "",
    )


def _may_scan_at(person: SignedOn) -> list[StationEntry]:
    return [
        one for one in ENTRIES.values()
        if allowed(person.roles, "station", "POST", {"slug": one.slug}, person.tasks)
    ]  # fmt: skip


def _left(person: SignedOn, may: list[StationEntry]) -> tuple[StationLine, ...]:
    """What this person began and did not finish, the newest first."""
    names = {f"{one.slug} by {person.person}": one for one in may}
    kept = Begun.objects.filter(name__in=names, changed__gt=timezone.now() - KEPT_FOR).exclude(held={})
    return tuple(
        StationLine(
            str(names[one.name].title),
            _("You left work here at %(time)s: go on with it") % {"time": f"{timezone.localtime(one.changed):%H:%M}"},
            reverse("station", args=[names[one.name].slug]),
            drawing_of(names[one.name].slug),
        )
        for one in kept.order_by("-changed")
    )


def _waits(person: SignedOn | None) -> tuple[WaitLine, ...]:
    """What is open of what this person may read, each with its number and its oldest."""
    may = [
        slug for slug, one in OPEN_LISTS.items() if one.at_home
        and person is not None and allowed(person.roles, "open_list", "GET", {"what": slug}, person.tasks)
    ]  # fmt: skip
    found = counts(may)
    return tuple(
        WaitLine(
            str(one.title), str(one.one_line), reverse("open_list", args=[slug]), *found[slug], slug == "holds", slug
        )
        for slug, one in ((slug, OPEN_LISTS[slug]) for slug in may)
    )


def _line(
    person: SignedOn | None, name: str, parts: dict[str, str], word: str, words: str
) -> StationLine | None:
    if person is None or not allowed(person.roles, name, "GET", parts, person.tasks):
        return None
    try:
        url = reverse(name, kwargs=parts)
        return StationLine(word, words, url, drawing_of(parts["slug"]) if "slug" in parts else "")
    except NoReverseMatch:
        return None


def drawing_of(slug: str) -> str:
    """The template that draws a station: what is handled there, as its pages draw it."""
    return f"drawings/stations/{slug}.svg.html"


Entry = tuple[str, dict[str, str], str, str]


def _plant() -> list[tuple[str, list[Entry]]]:
    """Every station and page with a word and a line, in the order material goes through the plant."""
    return [*_stations(), *_desk(demo=is_demo())]


def _stations() -> list[tuple[str, list[Entry]]]:
    every = ENTRIES.values()
    return [
        (str(group), [("station", {"slug": e.slug}, str(e.title), str(e.line)) for e in every if e.group == group])
        for group in GROUPS
    ]


def _desk(*, demo: bool) -> list[tuple[str, list[Entry]]]:
    to_try: Entry = ("labels_to_try", {}, _("Labels to try"), _("Everything in this demo, with badges and PINs"))
    return [
        (_("Desk"), [
            ("search", {}, _("Find"), _("A hull, lot or mould by any part of its code")),
            ("compare", {}, _("Compare"), _("Two hulls side by side")),
            ("scope", {}, _("Scope"), _("Which hulls share a cause")),
            ("common_cause", {}, _("What the bad ones share"), _("Bad hulls against good: every cause compared")),
            ("containment", {}, _("Walks"), _("Which held hulls are found, and which are not")),
            ("recall", {}, _("Recall"), _("Letters, replies, and how much is corrected")),
            ("drill", {}, _("Mock recall"), _("How long a trace takes, and how much is reconciled")),
            ("take_complaint", {}, _("Complaint"), _("Take one, also with half a plate")),
            ("impact", {}, _("Impact tests"), _("Every staircase drawn, with its mean failure height")),
            ("suspected_swaps", {}, _("Suspected swaps"), _("Plates that may stand on each other's mouldings")),
            ("owners", {}, _("Owners"), _("Who bought a hull: registered one by one, or out of a table")),
            ("cases", {}, _("Cases"), _("Complaints looked into together")),
            ("rules", {}, _("Rules"), _("What this plant refuses and warns of")),
            ("records", {}, _("Records"), _("Whether they are what they say: the last check")),
            *([to_try] if demo else []),
            ("plant_labels", {}, _("All labels"), _("Moulds, scales, arms, places, orders: to print or to scan here")),
        ]),
        (_("Plant data"), [("setup", {"kind": kind.name}, str(kind.title), str(kind.about)) for kind in KINDS]),
    ]  # fmt: skip
