"""Find a hull by half a plate, a lot or a tag by part of its code, or a hull by what it looks like."""

from collections.abc import Iterator
from datetime import datetime, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from trace.codes import CodeError, parse_label_code, printed
from trace.pages.addresses import hull_url, lot_url, unit_url
from trace.pages.finding import MANY, MOST, ONE, Wanted, hulls, labels, numbered, things
from trace.pages.lists import FoundLine, SearchPage
from trace.pages.units.unit import kind_word
from trace.readmodels.plantdata import Directory, newest

LEAST = 2
STATES = ("bound", "released", "failed inspection", "packed", "dispatched", "scrapped", "made before records")


def search(request: HttpRequest) -> HttpResponse:
    """Context: search (trace.pages.lists.SearchPage)."""
    get = request.GET
    wanted = Wanted(*(get.get(name, "").strip()[:60] for name in ("q", "model", "colour", "month", "place", "status")))
    return render(request, "pages/search.html", {"search": search_page(wanted)})


def search_page(wanted: Wanted) -> SearchPage:
    """What is found; hulls first, then lots, mouldings, labels and things of the plant, together at most MOST."""
    plant = newest()
    begin, end, trouble = _month(wanted.month)
    hint = trouble
    found: list[FoundLine] = []
    more, cut = 0, False
    asked = wanted.signs >= LEAST or (wanted.besides and not wanted.part)
    if not asked and wanted.part:
        hint = _("Give at least two signs; %(one)s stands for one that cannot be read.") % {"one": ONE}
    if asked and not trouble:
        rows = hulls(wanted, begin, end) or hulls(wanted, begin, end, loose=True)
        found = [_hull(row, plant) for row in rows]
        more = rows[0][9] - len(rows) if rows else 0
        if not wanted.besides:
            found += _others(wanted, plant)
            cut, found = len(found) > MOST, found[:MOST]
    if asked and not found and not trouble:
        hint = _hint(wanted.part)
    products = plant.of_kind("product")
    colours = sorted({c for p in products for c in p.body.get("colours", {})})
    return SearchPage(
        asked=wanted.part,
        model=wanted.model,
        colour=wanted.colour,
        month=wanted.month,
        place=wanted.place,
        status=wanted.status,
        models=tuple((p.key, str(p.body.get("name") or p.key)) for p in products),
        colours=tuple((c, c) for c in colours),
        places=tuple((p.key, str(p.body.get("name") or p.key)) for p in plant.of_kind("place")),
        statuses=tuple((s, s) for s in STATES),
        found=tuple(found),
        more=max(more, 0),
        cut=cut,
        searched=asked,
        hint=hint,
    )


def _month(text: str) -> tuple[datetime | None, datetime | None, str]:
    if not text:
        return None, None, ""
    try:
        begin = timezone.make_aware(datetime.strptime(text, "%Y-%m"))  # noqa: DTZ007 - made aware at once
        end = (begin.replace(day=28) + timedelta(days=4)).replace(day=1)
    except (ValueError, OverflowError):
        return None, None, _("“%(text)s” is no month: write it as 2026-04.") % {"text": text[:12]}
    return begin, end, ""


def _hull(row: tuple[object, ...], plant: Directory) -> FoundLine:
    serial, hull, product, colour, status, place, made, standing, held, _count = row
    model = str(plant.body("product", str(product)).get("name") or product)
    said = [model]
    if hull is None:
        return FoundLine(str(serial), _("plate"), f"{model}, {standing}", url=unit_url(str(serial)))
    said += [str(x) for x in (colour, status) if x]
    if isinstance(made, datetime):
        said.append(f"{timezone.localtime(made):%-d %b %Y}")
    return FoundLine(str(serial), _("hull"), ", ".join(said), _place(place, plant), bool(held), hull_url(str(serial)))


def _place(key: object, plant: Directory) -> str:
    if not key:
        return ""
    text = str(key)
    if text.startswith("gone: "):
        return _("gone to %(who)s") % {"who": text.removeprefix("gone: ")}
    return str(plant.body("place", text).get("name") or text)


def _others(wanted: Wanted, plant: Directory) -> Iterator[FoundLine]:
    kinds: tuple[str, ...] = ("lot", "blend")
    if "/" in wanted.part or "-" in wanted.part:
        kinds = (*kinds, "moulding", "part")
    lots = numbered(wanted, kinds) or numbered(wanted, kinds, loose=True)
    for kind, number, uid, material, supplier, product, status, place, held, serial in lots:
        if kind in ("moulding", "part"):
            to = hull_url(serial) if serial else unit_url(uid)
            said = ", ".join(str(x) for x in (product, status, serial) if x)
        else:
            to = lot_url(uid)
            name = plant.body("supplier", supplier).get("name") or supplier
            said = ", ".join(str(x) for x in (material, name, status) if x)
        yield FoundLine(number, kind_word(kind), said, _place(place, plant), bool(held), to)
    # A label is printed with a hyphen in the middle; a part of it may be typed with or without.
    bare = "".join(c for c in wanted.part.upper() if c.isalnum() or c in (ONE, MANY))
    if len(bare.replace(ONE, "").replace(MANY, "")) >= LEAST and len(bare) <= len("XXXXXXXX"):
        for code, kind, key, carrier, unit, lot_no, material in labels(Wanted(bare).like()):
            yield _label(code, kind, key, carrier, unit, lot_no, material)
    for kind, key in things(wanted):
        yield FoundLine(key, kind.replace("_", " "), _name(plant, kind, key), url=unit_url(key))


def _name(plant: Directory, kind: str, key: str) -> str:
    return "" if kind == "consignee" else str(plant.body(kind, key).get("name") or "")


def _label(
    code: str,
    kind: str | None,
    key: str | None,
    carrier: str | None,
    unit: str | None,
    lot_no: str,
    material: str | None,
) -> FoundLine:
    if kind:
        return FoundLine(printed(code), _("tag"), f"{kind.replace('_', ' ')} {key}", url=unit_url(code))
    what = (carrier or unit or "").replace("_", " ")
    said = ", ".join(x for x in (what, material or "", lot_no) if x)
    stock = carrier in ("container", "roll", "vessel")
    return FoundLine(printed(code), _("label"), said or _("empty"), url=(lot_url if stock and unit else unit_url)(code))


def _hint(part: str) -> str:
    """Why a whole code may have found nothing: a sign of it is misread."""
    bare = "".join(c for c in part if c.isalnum())
    if len(bare) != len("XXXXXXXX"):
        return ""
    try:
        parse_label_code(bare)
    except CodeError as error:
        return str(error)
    return ""
