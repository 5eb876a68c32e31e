"""Find a hull by half a plate, a lot or a tag by part of its code, or a hull by what it looks like."""

import re
from calendar import month_name
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _

from trace.codes import CodeError, parse_label_code, printed
from trace.pages.addresses import hull_url, lot_url, unit_url
from trace.pages.facts.days import day_said
from trace.pages.finding import LEAST, MANY, MOST, ONE, Found, Wanted, hulls, labels, numbered, things
from trace.pages.lists import FoundLine, SearchPage
from trace.pages.units.unit import kind_word
from trace.readmodels.plantdata import Directory, newest

MONTHS = {name.casefold(): number for number, name in enumerate(month_name) if name}
STATES = ("bound", "released", "failed inspection", "packed", "dispatched", "scrapped", "made before records")


def search(request: HttpRequest) -> HttpResponse:
    """Context: search (trace.pages.lists.SearchPage)."""
    get = request.GET
    wanted = Wanted(*(get.get(name, "").strip()[:60] for name in ("q", "model", "colour", "month", "place", "status")))
    return render(request, "pages/search.html", {"search": search_page(wanted)})


def search_page(wanted: Wanted) -> SearchPage:
    """What is found; hulls first, then lots, mouldings, labels and things of the plant, together at most MOST."""
    plant = newest()
    trouble = _month(wanted.month)[2]
    hint = trouble
    found: list[FoundLine] = []
    most, cut, read = 0, False, None
    asked = wanted.signs >= LEAST or (wanted.besides and not wanted.part)
    if not asked and wanted.part:
        hint = _("Give at least two signs; %(one)s stands for one that cannot be read.") % {"one": ONE}
    if asked and not trouble:
        rows, read = _hulls(wanted, plant)
        found = [_hull(row, plant) for row in rows]
        most = rows[0][-1] if rows else 0
        if not wanted.besides:
            found += _others(wanted, plant)
            cut, found = len(found) > MOST, found[:MOST]
        hint = _read(read, plant) if read else ""
    if asked and not found and not trouble:
        hint = hint or _hint(wanted.part)
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
        most=most if most > MOST else 0,
        cut=cut,
        searched=asked,
        hint=hint,
    )


def _hulls(wanted: Wanted, plant: Directory) -> tuple[Found, Wanted | None]:
    """Hulls by their plate; where none fits, by the words of a model, a colour and a month: then what was read, too."""
    begin, end, _trouble = _month(wanted.month)
    if rows := hulls(wanted, begin, end):
        return rows, None
    if (read := in_words(wanted, plant)) is not None:
        begin, end, _trouble = _month(read.month)
        return hulls(read, begin, end), read
    return hulls(wanted, begin, end, loose=True), None


def in_words(wanted: Wanted, plant: Directory) -> Wanted | None:
    """What was typed, with the words of a model, a colour and a month taken out of the part; None: there are none."""
    products = plant.of_kind("product")
    names: dict[str, set[str]] = {}
    for p in products:
        name = str(p.body.get("name") or p.key).casefold()
        for word in (p.key.casefold(), name, name.split()[0]):
            names.setdefault(word, set()).add(p.key)
    models = [(word, keys.pop()) for word, keys in names.items() if len(keys) == 1]
    colours = [(c.casefold(), c) for p in products for c in p.body.get("colours", {})]
    rest, model = _taken(wanted.part.casefold(), models)
    rest, colour = _taken(rest, colours)
    rest, month = _month_in(rest)
    if not (model or colour or month):
        return None
    return replace(
        wanted, part=rest, model=wanted.model or model, colour=wanted.colour or colour, month=wanted.month or month
    )


def _taken(text: str, words: Iterable[tuple[str, str]]) -> tuple[str, str]:
    """The text without the longest of the words that stands in it, and what that word stands for."""
    for word, value in sorted(words, key=lambda pair: -len(pair[0])):
        rest, count = re.subn(rf"(?<!\S){re.escape(word)}(?!\S)", " ", text, count=1)
        if count:
            return " ".join(rest.split()), value
    return text, ""


def _month_in(text: str) -> tuple[str, str]:
    """The text without a month, and the month as 2026-11; a month without a year is the last that has come."""
    found = re.search(rf"(?<!\S)(?:([12]\d{{3}}-(?:0[1-9]|1[0-2]))|({'|'.join(MONTHS)})(?: (\d{{4}}))?)(?!\S)", text)
    if found is None:
        return text, ""
    month = found[1]
    if month is None:
        today = timezone.localdate()
        number = MONTHS[found[2]]
        month = f"{found[3] or today.year - (number > today.month)}-{number:02d}"
    return " ".join(f"{text[: found.start()]} {text[found.end() :]}".split()), month


def _read(read: Wanted, plant: Directory) -> str:
    model = str(plant.body("product", read.model).get("name") or read.model)
    said = [x for x in (model, read.colour, read.month and day_said(read.month)) if x]
    if read.part:
        said.append(_("with “%(part)s” on the plate") % {"part": read.part})
    return _("Hulls looked for: %(said)s.") % {"said": ", ".join(said)}


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
    serial, hull, product, colour, status, place, made, standing, entered, plate, held, _count = row
    model = str(plant.body("product", str(product)).get("name") or product)
    said = [model]
    if hull is None:
        return FoundLine(str(serial), _("plate"), f"{model}, {standing}", url=unit_url(str(plate)))
    said += [str(x) for x in (colour, status) if x]
    if entered:
        said.append(_("made %(when)s") % {"when": day_said(entered)})
    elif isinstance(made, datetime):
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
    """Why a whole code may have found nothing: a sign of it is misread. A label has no blank in it."""
    if re.fullmatch(r"\w{4}-?\w{4}", part) is None:
        return ""
    try:
        parse_label_code(part)
    except CodeError as error:
        return str(error)
    return ""
