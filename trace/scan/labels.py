"""The PDF of labels that a scan has just made or printed again: what stands on each comes from the records."""

from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _

from plant.errors import NotThere
from trace import lookup
from trace.labels.layouts import LAYOUTS, Face, both_sides
from trace.labels.pdf import draw
from trace.readmodels.plantdata import Directory
from trace.recording.floor import words as say
from trace.scan.label_links import may_print

MOST = 240  # labels in one PDF: ten A4 sheets
NEAR_OVEN = {"mould", "machine", "tub", "drop_box"}


def labels_pdf(request: HttpRequest) -> HttpResponse:
    """codes (comma between them), layout (see LAYOUTS), key (the link's signature). Raises NotThere.

    Labels that no longer count are left out.
    """
    text, layout = request.GET.get("codes", ""), LAYOUTS.get(request.GET.get("layout", "a4"))
    if layout is None or not may_print(text, request.GET.get("key", "")):
        raise NotThere(
            what=_("These labels cannot be printed from here."),
            why=_("A label is printed once, when it is made; the link to it is good for an hour."),
            now=_("Print it again at the station for labels: that is recorded."),
        )
    codes = text.split(",")[:MOST]
    contents = lookup.label_contents(codes)
    plant = lookup.plant_now()
    known = [contents[code] for code in codes if code in contents and not contents[code]["dead"]]
    if not known:
        raise NotThere(what=_("None of these labels is to be printed."), why=_("They do not count any more."))
    names = lookup.person_names(
        [str(plant.body("person", one["key"]).get("name")) for one in known if one["thing"] == "person"]
    )
    faces = [face for one in known for face in _faces(one, plant, names)]
    response = HttpResponse(draw(faces, layout, settings.LABEL_HOST), content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="labels.pdf"'
    return response


def _faces(one: Mapping[str, Any], plant: Directory, names: Mapping[str, str]) -> list[Face]:
    """What a label says, twice for a pack: its label stands on two faces."""
    code = str(one["code"])
    if one["thing"]:
        return [_of_thing(code, str(one["thing"]), str(one["key"]), plant, names)]
    if one["unit"] == "pack":
        about = one["unit_about"] or {}
        face = Face(code, str(about.get("order") or _("Pack")), tuple(str(one["hulls"] or "").split(", ")), _("Pack"))
        return list(both_sides(face, _("long side"), _("short side")))
    return [_of_carrier(code, one)]


def _of_carrier(code: str, one: Mapping[str, Any]) -> Face:
    """What lasts is called by its kind; anything else by what is in it, with lot, amount, date and supplier."""
    carrier = str(one["carrier"] or one["unit"])
    kind = carrier.replace("_", " ").capitalize()
    about = one["about"] or one["unit_about"] or {}
    lines = [
        _("Lot %(lot)s") % {"lot": one["lot_no"]} if one["lot_no"] else "",
        say.amount(one["amount"], one["uom"]) if one["amount"] is not None else "",
        _("Use by %(day)s") % {"day": about["expires"]} if about.get("expires") else "",
        _("Keep until %(day)s") % {"day": about["discard"]} if about.get("discard") else "",
        str(about.get("supplier") or ""),
    ]
    lasting = carrier in ("tub", "drop_box", "returnable", "vessel")
    title = kind if lasting else str(about.get("material") or kind)
    return Face(code, title, () if lasting else tuple(x for x in lines if x), kind, near_oven=carrier in NEAR_OVEN)


def _of_thing(code: str, kind: str, key: str, plant: Directory, names: Mapping[str, str]) -> Face:
    body = plant.body(kind, key)
    word = str(body.get("kind") or kind).replace("_", " ").capitalize()
    if kind == "person":
        until = str(body.get("until") or "")[:16].replace("T", " ")
        lines = (_("until %(time)s") % {"time": until} if until else "", str(body.get("agency") or ""))
        name = names.get(str(body.get("name")), "") or key
        return Face(code, name, tuple(x for x in lines if x), _("Day badge") if body.get("day_badge") else _("Badge"))
    name = str(body.get("name") or "")
    return Face(code, key, (name,) if name else (), word, near_oven=kind in NEAR_OVEN and body.get("kind") != "oven")
