"""The first page after signing in: the stations and pages of the person's roles, and nothing else."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext as _

from plant.access import allowed
from plant.sign_on import SignedOn, current
from trace.pages.lists import HomePage, StationGroup, StationLine


def home(request: HttpRequest) -> HttpResponse:
    """Context: home (trace.pages.lists.HomePage)."""
    return render(request, "pages/home.html", {"home": home_page(current(request))})


def home_page(person: SignedOn | None) -> HomePage:
    """The first page of a person: groups without a single open address are left out."""
    groups = (
        StationGroup(title, tuple(line for line in lines if line is not None))
        for title, lines in (
            (title, [_line(person, name, parts, word, words) for name, parts, word, words in entries])
            for title, entries in _plant()
        )
    )
    return HomePage(groups=tuple(group for group in groups if group.stations))


def _line(
    person: SignedOn | None, name: str, parts: dict[str, str], word: str, words: str
) -> StationLine | None:
    if person is None or not allowed(person.roles, name, "GET", parts, person.tasks):
        return None
    try:
        return StationLine(word, words, reverse(name, kwargs=parts))
    except NoReverseMatch:
        return None


Entry = tuple[str, dict[str, str], str, str]


def _plant() -> list[tuple[str, list[Entry]]]:
    """Every station and page with a word and a line, in the order material goes through the plant."""

    def station(slug: str, word: str, line: str) -> Entry:
        return ("station", {"slug": slug}, word, line)

    return [
        (_("Stores"), [
            station("goods-in", _("Goods in"), _("Book what stands on the dock")),
            station("certificate", _("Certificate"), _("Read the supplier's values into a lot")),
            station("release", _("Release"), _("Let a lot into use, on its certificate")),
            station("plates", _("Plates"), _("Hand out and count back number plates")),
            station("top-up", _("Top up"), _("Fill a silo, bin or hopper")),
            station("count", _("Count"), _("Say how much is in a container now")),
            station("opening", _("Before records"), _("Opening stock, old hulls, new tubs and boxes")),
            station("labels", _("Labels"), _("Print a label again")),
        ]),
        (_("Moulding"), [
            station("check-weight", _("Check weight"), _("Put the known weight on a scale")),
            station("weigh", _("Weigh"), _("Weigh the powder of one layer")),
            station("load", _("Load"), _("Fill a mould: powder, inserts, graphics")),
            station("oven", _("Oven"), _("Send an arm in and bring it out")),
            station("demould", _("Demould"), _("Take the moulding out and bind its plate")),
        ]),
        (_("Finishing and dispatch"), [
            station("cut", _("Cut"), _("Cut one moulding into its parts")),
            station("inspect", _("Inspect"), _("Look, measure and decide")),
            station("pack", _("Pack"), _("Pack a hull")),
            station("rewrap", _("Wrap again"), _("A new label for a pack; the old one stops counting")),
            station("rack", _("Rack"), _("Say where a hull stands")),
            station("dispatch", _("Dispatch"), _("Load a truck for a consignee")),
        ]),
        (_("Holds and records"), [
            station("hold", _("Hold"), _("Stop a lot, a hull or what comes of it")),
            station("release-hold", _("End a hold"), _("Let held things go on")),
            station("correct", _("Correct"), _("Put a record right beside the old one")),
            station("discrepancies", _("To look at"), _("What the records could not explain")),
            station("badges", _("Day badge"), _("A badge for one shift")),
        ]),
        (_("Desk"), [
            ("search", {}, _("Find"), _("A hull, lot or mould by any part of its code")),
            ("compare", {}, _("Compare"), _("Two hulls side by side")),
            ("rules", {}, _("Rules"), _("What this plant refuses and warns of")),
        ]),
        (_("Plant data"), [
            ("setup", {"kind": kind}, word, "")
            for kind, word in (
                ("works_order", _("Works orders")), ("sales_order", _("Sales orders")),
                ("product", _("Products")), ("material", _("Materials")), ("supplier", _("Suppliers")),
                ("mould", _("Moulds")), ("machine", _("Ovens and arms")), ("instrument", _("Instruments")),
                ("place", _("Places")), ("person", _("People")), ("consignee", _("Consignees")),
                ("device", _("Devices")), ("setting", _("Settings")),
            )
        ]),
    ]  # fmt: skip
