"""Sheets of labels to print or to scan from the screen: the things of the plant; of a demo everything that is there.

A thing of the plant stands where it stands, so its label may be printed as often as it wears off. Containers, packs and
badges are printed again at the station for labels, which records it; only a demo shows containers and badges here.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.errors import NotThere
from trace import lookup
from trace.codes import printed
from trace.demo.season.plant import PEOPLE
from trace.labels.layouts import A4_SHEET, Face
from trace.labels.pdf import draw
from trace.labels.symbol import QUIET_MODULES, matrix, payload, runs
from trace.readmodels.plantdata import Directory
from trace.recording.floor import words as say

THINGS = ("works_order", "instrument", "mould", "machine", "place", "sales_order")
CARRIERS = ("container", "roll", "vessel", "tub", "drop_box")
PLATES = 6  # of each product, the next ones
# In the order in which a hull is made.
GROUPS: tuple[tuple[str, str | Promise], ...] = (
    ("person", gettext_lazy("Sign on")),
    ("works_order", gettext_lazy("Works orders")),
    ("instrument", gettext_lazy("Scales, gauges, loggers")),
    ("powder", gettext_lazy("Powder and foam")),
    ("vessel", gettext_lazy("Vessels")),
    ("tub", gettext_lazy("Tubs")),
    ("drop_box", gettext_lazy("Drop boxes")),
    ("mould", gettext_lazy("Moulds")),
    ("insert", gettext_lazy("Boxes of inserts")),
    ("graphic", gettext_lazy("Graphics")),
    ("machine", gettext_lazy("Ovens and arms")),
    ("plate", gettext_lazy("Plates for the next hulls")),
    ("place", gettext_lazy("Places")),
    ("sales_order", gettext_lazy("Sales orders")),
)


@dataclass(frozen=True, slots=True)
class SheetLabel:
    """One label on the sheet: what its symbol holds as a path of dark modules, and what is read beside it."""

    code: str  # as printed
    title: str
    line: str
    side: int  # of the symbol with its quiet zone, in modules
    path: str
    warns: str = ""  # what is wrong with it on purpose


# A label as _described says it.
Described = tuple[str, dict[str, Any], str, str, str]


@dataclass(frozen=True, slots=True)
class LabelGroup:
    title: str
    labels: tuple[SheetLabel, ...]


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """The page. `most`: so many are shown, and there are more."""

    title: str
    groups: tuple[LabelGroup, ...]
    demo: bool
    most: int = 0


def plant_labels(request: HttpRequest) -> HttpResponse:
    """as=pdf for the PDF. Context: labels (LabelSheet)."""
    return _answer(request, lookup.labels_standing(THINGS), demo=False)


def labels_to_try(request: HttpRequest) -> HttpResponse:
    """The same with badges, PINs, containers and plates, in a database marked demo. Raises NotThere anywhere else."""
    if not lookup.is_demo():
        raise NotThere
    return _answer(request, lookup.labels_standing(("person", *THINGS), CARRIERS), demo=True)


def _answer(request: HttpRequest, rows: list[dict[str, Any]], *, demo: bool) -> HttpResponse:
    plant = lookup.plant_now()
    every = [_described(row, plant) for row in rows]
    if request.GET.get("as") == "pdf" and every:
        return _to_print(every)
    labels = [(kind, _label(row["code"], title, line, warns)) for kind, row, title, line, warns in every]
    labels += [("plate", _plate(serial)) for serial in _plates(plant)] if demo else []
    groups = (LabelGroup(str(title), tuple(one for of, one in labels if of == kind)) for kind, title in GROUPS)
    sheet = LabelSheet(
        title=_("Labels to try") if demo else _("Labels of the plant"),
        groups=tuple(group for group in groups if group.labels),
        demo=demo,
        most=len(rows) if len(rows) >= lookup.MOST_LABELS else 0,
    )
    return render(request, "pages/labels.html", {"labels": sheet})


def _to_print(every: list[Described]) -> HttpResponse:
    """The labels as a PDF of sheets to print."""
    titles = {kind: str(title) for kind, title in GROUPS}
    faces = [
        Face(row["code"], title, (line,) if line else (), titles[kind]) for kind, row, title, line, _warns in every
    ]
    response = HttpResponse(draw(faces, A4_SHEET, settings.LABEL_HOST), content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="labels.pdf"'
    return response


def _described(row: dict[str, Any], plant: Directory) -> Described:
    """The group of a label, its row, title, line, and what a station will say against it ("" nothing)."""
    if row["thing"]:
        kind, key = row["thing"], row["key"]
        return kind, row, *_thing(kind, key, plant.body(kind, key)), ""
    if row["carrier"] not in ("container", "roll"):
        held = say.amount(row["amount"], row["uom"]) if row["amount"] else ""
        return row["carrier"], row, row["carrier"].replace("_", " ").capitalize(), held, ""
    body = plant.body("material", row["material"])
    kind = body.get("kind") if body.get("kind") in ("insert", "graphic") else "powder"
    parts = [_("lot %(lot)s") % {"lot": row["lot_no"]} if row["lot_no"] else "", say.amount(row["amount"], row["uom"])]
    parts += [_positions(row["material"], plant)] if kind == "insert" else []
    warns = _("on hold: it is refused") if row["held"] else ""
    if row["status"] == "quarantine":
        warns = _("not released: it is refused")
    return str(kind), row, row["material"], ", ".join(part for part in parts if part), warns


def _thing(kind: str, key: str, body: dict[str, Any]) -> tuple[str, str]:
    """Title and line of a thing of the plant."""
    if kind == "person":
        known = {one: (name, ", ".join(roles), pin) for one, name, roles, _tasks, pin in PEOPLE}
        name, roles, pin = known.get(key, (key, "", ""))
        return name, _("PIN %(pin)s, %(roles)s") % {"pin": pin, "roles": roles} if pin else roles
    lines = {
        "works_order": "{quantity} × {product} {colour}",
        "instrument": "{kind}",
        "mould": "{products}",
        "machine": "{kind} {oven}",
        "place": "{name}",
    }
    words = {name: ", ".join(map(str, one)) if isinstance(one, list) else str(one) for name, one in body.items()}
    return key, lines.get(kind, "").format_map(_Blank(words)).strip()


class _Blank(dict[str, str]):
    """Nothing stands where the data says nothing."""

    def __missing__(self, key: str) -> str:
        return ""


def _positions(material: str, plant: Directory) -> str:
    """Which positions of which product take this part: "T430: S1–S8"."""
    found = []
    for product in plant.of_kind("product"):
        taken = [position for position, part in (product.body.get("inserts") or {}).items() if part == material]
        if taken:
            found.append(f"{product.key}: {taken[0]}–{taken[-1]}" if len(taken) > 1 else f"{product.key}: {taken[0]}")
    return "; ".join(found)


def _plates(plant: Directory) -> Iterable[str]:
    for product in plant.of_kind("product"):
        yield from lookup.plates_standing(product.key, ("out", "made"))[:PLATES]


def _label(code: str, title: str, line: str, warns: str) -> SheetLabel:
    return SheetLabel(printed(code), title, line, *_symbol(payload(code, settings.LABEL_HOST)), warns)


def _plate(serial: str) -> SheetLabel:
    return SheetLabel(serial.rpartition("-")[2], serial, "", *_symbol(serial))


def _symbol(text: str) -> tuple[int, str]:
    """Side with the quiet zone, and one path of all dark modules."""
    modules, quiet = matrix(text), QUIET_MODULES
    path = "".join(f"M{x + quiet} {y + quiet}h{length}v1h-{length}z" for x, y, length in runs(modules))
    return len(modules) + 2 * quiet, path
