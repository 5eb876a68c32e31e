"""What the pages of plant data show: contracts of templates/pages/setup_kind.html and setup_thing.html."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from plant.access import role_words
from trace.pages.facts.days import day_said
from trace.readmodels.plantdata import newest


@dataclass(frozen=True, slots=True)
class ThingLine:
    key: str
    name: str
    words: str
    version: int
    ended: bool
    url: str


@dataclass(frozen=True, slots=True)
class KindPage:
    kind: str
    words: str
    things: tuple[ThingLine, ...]
    new_url: str


@dataclass(frozen=True, slots=True)
class RevisionLine:
    version: int
    when: datetime
    who: str
    changed: str


@dataclass(frozen=True, slots=True)
class ThingPage:
    """One thing; an empty `key` is a new one. `text` is the body as JSON, `scan_id` makes a send count once."""

    kind: str
    kind_words: str
    key: str = ""
    name: str = ""
    text: str = ""
    labels: str = ""
    revisions: tuple[RevisionLine, ...] = ()
    scan_id: str = ""
    error: str = ""
    typed_key: str = ""
    history_url: str = ""

    @property
    def named(self) -> bool:
        """People and consignees: the name is kept apart, so that it can be erased."""
        return self.kind in ("person", "consignee")

    @property
    def order_form(self) -> bool:
        """A works order is entered by its own fields."""
        return self.kind == "works_order"

    @property
    def body(self) -> Mapping[str, Any]:
        import json  # only for the works order's form

        try:
            found = json.loads(self.text)
        except ValueError:
            return {}
        return found if isinstance(found, dict) else {}

    @property
    def products(self) -> tuple[tuple[str, str], ...]:
        return tuple((t.key, str(t.body.get("name") or t.key)) for t in newest().of_kind("product"))

    @property
    def colours(self) -> tuple[str, ...]:
        return tuple(sorted({c for t in newest().of_kind("product") for c in t.body.get("colours", {})}))


def kind_words(kind: str) -> str:
    words = {
        "works_order": _("Works orders"), "sales_order": _("Sales orders"), "product": _("Products"),
        "material": _("Materials"), "supplier": _("Suppliers"), "mould": _("Moulds"), "machine": _("Ovens and arms"),
        "instrument": _("Instruments"), "place": _("Places"), "person": _("People"), "consignee": _("Consignees"),
        "device": _("Devices"), "setting": _("Settings"),
    }  # fmt: skip
    return words.get(kind, kind)


def summary(kind: str, body: Mapping[str, Any]) -> str:
    """A line about one thing: what a person looks for in the list."""
    if kind == "person":
        return ", ".join(role_words(str(r)) for r in body.get("roles", []))
    if kind == "sales_order":
        lines = [f"{x.get('quantity')} × {x.get('product')} {x.get('colour')}" for x in body.get("lines", [])]
        return ", ".join([str(body.get("consignee", "")), *lines])
    if kind == "works_order":
        return _("%(n)s × %(product)s %(colour)s, %(purpose)s") % {
            "n": body.get("quantity", "?"), "product": body.get("product", "?"), "colour": body.get("colour", ""),
            "purpose": body.get("purpose", ""),
        }  # fmt: skip
    if kind == "setting":
        return str(body.get("value", ""))
    fields = {
        "mould": ("products", "arms", "state"), "machine": ("kind", "state", "calibration_due"),
        "instrument": ("kind", "calibration_due"), "material": ("kind", "density"), "supplier": ("materials",),
        "place": ("kind",), "product": ("area_m2",), "device": ("station",),
    }.get(kind, ())  # fmt: skip
    found = []
    for field in fields:
        value = body.get(field)
        if value:
            found.append(", ".join(map(str, value)) if isinstance(value, list) else day_said(value))
    return " · ".join(found)
