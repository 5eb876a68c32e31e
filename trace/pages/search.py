"""Find a hull by half a plate, a lot or a tag by part of its code, or a hull by what it looks like."""

import re
from calendar import month_name
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import astuple, dataclass, field, replace
from datetime import datetime, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.codes import CodeError, parse_label_code, printed
from trace.pages.finding import LEAST, MANY, MOST, ONE, Found, Wanted, hulls, labels, numbered, things
from trace.pages.lists import FoundLine, InsteadLine, SearchPage
from trace.pages.paging import asked
from trace.pages.units.unit import kind_word
from trace.readmodels.plantdata import Directory, newest
from trace.recording.acts import hold_words
from trace.sheets.addresses import hull_url, lot_url, unit_url
from trace.sheets.facts.days import day_said
from trace.speech import spoken

MONTHS = {name.casefold(): number for number, name in enumerate(month_name) if name}
# The names of what is asked for, in the order of Wanted's fields.
NAMES = ("q", "model", "colour", "month", "place", "status")
# So many words are left out one by one where all of them together find nothing.
MOST_WORDS = 6
HELD = 10  # where a row of hulls says that it is held
STATES = (
    "bound", "released", "failed inspection", "packed", "dispatched", "returned", "repaired", "scrapped",
    "made before records",
)  # fmt: skip


def search(request: HttpRequest) -> HttpResponse:
    """Context: search (trace.pages.lists.SearchPage)."""
    get = request.GET
    wanted = Wanted(*(get.get(name, "").strip()[:60] for name in NAMES))
    return render(request, "pages/search.html", {"search": search_page(wanted, asked(request))})


def search_page(wanted: Wanted, number: int = 1) -> SearchPage:
    """What is found; hulls first, then lots, mouldings, labels and things of the plant: MOST a page."""
    plant = newest()
    # Commas part what is listed; no plate, label or number has one.
    wanted = replace(wanted, part=" ".join(re.sub("[,;]", " ", wanted.part).split()))
    hint = _month(wanted.month)[2]
    found, most, more = Findings((), 0), 0, False
    instead: tuple[InsteadLine, ...] = ()
    looked = not hint and (wanted.signs >= LEAST or (wanted.besides and not wanted.part))
    if not looked and not hint and wanted.part:
        hint = _("Give at least two signs; %(one)s stands for one that cannot be read.") % {"one": ONE}
    if looked:
        found = _found(wanted, plant, (number - 1) * MOST)
        most, more = found.hulls, found.hulls > number * MOST or len(found.lines) > MOST
        hint = _read(found.read, plant) if found.read else ""
    if looked and not found.lines and number == 1:
        hint = hint or _hint(wanted.part)
        instead = tuple(_instead(found.read or wanted, plant))
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
        found=found.lines[:MOST],
        most=most if most > MOST else 0,
        cut=len(found.lines) > MOST,
        searched=looked or bool(_month(wanted.month)[2]),
        hint=hint,
        first=(number - 1) * MOST + 1,
        last=min(number * MOST, most),
        newer_url=_url(wanted, number - 1) if looked and number > 1 else "",
        older_url=_url(wanted, number + 1) if more else "",
        instead=instead,
    )


@dataclass(frozen=True, slots=True)
class Findings:
    """What fits: lines (one more than a page where there are more), how many hulls, and how the words were read."""

    lines: tuple[FoundLine, ...]
    hulls: int
    read: Wanted | None = None
    rows: Found = field(default_factory=list)


def _found(wanted: Wanted, plant: Directory, skipped: int = 0) -> Findings:
    rows, read = _hulls(wanted, plant, skipped)
    rules = sorted({str(row[HELD]) for row in rows if row[HELD]})
    whys = spoken([hold_words.reason({"why": "", "rule": rule}) for rule in rules])
    lines = [_hull(row, plant, dict(zip(rules, whys, strict=True))) for row in rows]
    if not wanted.besides:
        lines += _others(wanted, plant, skipped)
    return Findings(tuple(lines), rows[0][-1] if rows else 0, read, rows)


def _url(wanted: Wanted, number: int) -> str:
    said = {name: value for name, value in zip(NAMES, astuple(wanted), strict=True) if value}
    return f"{reverse('search')}?{urlencode(said | ({'page': number} if number > 1 else {}))}"


def _instead(wanted: Wanted, plant: Directory) -> Iterator[InsteadLine]:
    """Where nothing fits: what fits when one word is left out, and what that word should have been."""
    words = wanted.part.split()
    less = [(word, replace(wanted, part=" ".join(w for w in words if w != word))) for word in dict.fromkeys(words)]
    for name in NAMES[1:]:
        if value := getattr(wanted, name):
            less.append((_said(name, value, plant), replace(wanted, **{name: ""})))
    for word, rest in less[:MOST_WORDS]:
        if rest.signs < LEAST and (rest.part or not rest.besides):
            continue
        found = _found(rest, plant)
        count = max(found.hulls, len(found.lines))
        if not count:
            continue
        text = ngettext(
            "Without “%(word)s”: %(n)d found", "Without “%(word)s”: %(n)d found", count
        ) % {"word": word, "n": count}  # fmt: skip
        is_ = _is(wanted, rest, found)
        yield InsteadLine(f"{text}{is_}.", _url(rest, 1), found.lines[0] if count == 1 else None)


def _is(wanted: Wanted, rest: Wanted, found: Findings) -> str:
    """What the hulls found are where something else was asked for: ": it is red"."""
    column = {"model": 2, "colour": 3, "status": 4}
    dropped = next((name for name in column if getattr(wanted, name) and not getattr(rest, name)), "")
    values = sorted({str(row[column[dropped]]) for row in found.rows if row[column[dropped]]}) if dropped else []
    if not values or len(values) > 4 or found.hulls > MOST:
        return ""
    said = ", ".join(values)
    return _(": it is %(what)s") % {"what": said} if found.hulls == 1 else _(": they are %(what)s") % {"what": said}


def _said(name: str, value: str, plant: Directory) -> str:
    if name == "month":
        return day_said(value)
    kind = {"model": "product", "place": "place"}.get(name)
    return str(plant.body(kind, value).get("name") or value) if kind else value


def _hulls(wanted: Wanted, plant: Directory, skipped: int = 0) -> tuple[Found, Wanted | None]:
    """Hulls by their plate; where none fits, by the words of a model, a colour and a month: then what was read, too."""
    begin, end, _trouble = _month(wanted.month)
    if rows := hulls(wanted, begin, end, skipped=skipped):
        return rows, None
    if (read := in_words(wanted, plant)) is not None:
        begin, end, _trouble = _month(read.month)
        return hulls(read, begin, end, skipped=skipped), read
    return hulls(wanted, begin, end, loose=True, skipped=skipped), None


def in_words(wanted: Wanted, plant: Directory) -> Wanted | None:
    """What was typed, with the words of a model, a colour and a month taken out of the part; None: there are none."""
    products = plant.of_kind("product")
    names: dict[str, set[str]] = {}
    for p in products:
        name = str(p.body.get("name") or p.key).casefold()
        numbering = p.body.get("hull_number") or {}
        prefix = str(numbering.get("prefix") or p.key).rstrip("-").casefold()
        for word in (p.key.casefold(), name, name.split()[0], prefix):
            names.setdefault(word, set()).add(p.key)
    models = [(word, keys.pop()) for word, keys in names.items() if len(keys) == 1]
    colours = [(c.casefold(), c) for p in products for c in p.body.get("colours", {})]
    text = wanted.part.casefold()
    if not plant.find(wanted.part):
        # T430-4423 is a model and the end of a number; T430-02 is a mould.
        words = "|".join(re.escape(word) for word, _key in models) or "(?!)"
        text = re.sub(rf"(?<!\S)({words})-(?=\d{{3,}}(?!\S))", r"\1 ", text)
    rest, model = _taken(text, models)
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


def _hull(row: tuple[object, ...], plant: Directory, whys: Mapping[str, str]) -> FoundLine:
    serial, hull, product, colour, status, place, made, standing, entered, plate, held, now_on_it, _count = row
    model = str(plant.body("product", str(product)).get("name") or product)
    said = [model]
    if hull is None:
        return FoundLine(str(serial), _("plate"), f"{model}, {standing}", url=unit_url(str(plate)))
    said += [str(x) for x in (colour, status) if x]
    if now_on_it:
        said.insert(0, _("its plate now reads %(plate)s") % {"plate": now_on_it})
    if entered:
        said.append(_("made %(when)s") % {"when": day_said(entered)})
    elif isinstance(made, datetime):
        said.append(f"{timezone.localtime(made):%-d %b %Y}")
    return FoundLine(
        str(serial), _("hull"), ", ".join(said), _place(place, plant), held is not None, hull_url(str(serial)),
        whys.get(str(held), ""),
    )  # fmt: skip


def _place(key: object, plant: Directory) -> str:
    if not key:
        return ""
    text = str(key)
    if text.startswith("gone: "):
        return _("gone to %(who)s") % {"who": text.removeprefix("gone: ")}
    return str(plant.body("place", text).get("name") or text)


def _others(wanted: Wanted, plant: Directory, skipped: int) -> Iterator[FoundLine]:
    """What is found besides hulls: lots, blends and single parts, then labels, then things of the plant."""
    yield from _lots(wanted, plant, skipped)
    yield from _labels(wanted, skipped)
    for kind, key in things(wanted, skipped):
        yield FoundLine(key, kind.replace("_", " "), _name(plant, kind, key), url=unit_url(key))


def _lots(wanted: Wanted, plant: Directory, skipped: int) -> Iterator[FoundLine]:
    """Lots and blends by their number; mouldings and parts too, where a mark stands in it that their numbers have."""
    kinds: tuple[str, ...] = ("lot", "blend")
    if "/" in wanted.part or "-" in wanted.part:
        kinds = (*kinds, "moulding", "part")
    lots = numbered(wanted, kinds, skipped=skipped) or numbered(wanted, kinds, loose=True, skipped=skipped)
    for kind, number, uid, material, supplier, product, status, place, held, serial in lots:
        if kind in ("moulding", "part"):
            to = hull_url(serial) if serial else unit_url(uid)
            said = _joined(product, status, serial)
        else:
            to = lot_url(uid)
            said = _joined(material, plant.body("supplier", supplier).get("name") or supplier, status)
        yield FoundLine(number, kind_word(kind), said, _place(place, plant), bool(held), to)


def _joined(*words: object) -> str:
    """The words that there are, with commas between."""
    return ", ".join(str(x) for x in words if x)


def _labels(wanted: Wanted, skipped: int) -> Iterator[FoundLine]:
    """Labels by a part of their code that is long enough to mean something."""
    # A label is printed with a hyphen in the middle; a part of it may be typed with or without.
    bare = "".join(c for c in wanted.part.upper() if c.isalnum() or c in (ONE, MANY))
    if len(bare.replace(ONE, "").replace(MANY, "")) >= LEAST and len(bare) <= len("XXXXXXXX"):
        for code, kind, key, carrier, unit, lot_no, material in labels(Wanted(bare).like(), skipped):
            yield _label(code, kind, key, carrier, unit, lot_no, material)


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
