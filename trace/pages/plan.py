"""Recall size before you start: what a planned top-up or split puts at stake, and a cheaper way. Records nothing."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils.translation import gettext as _

from trace.codes import AmountError, printed
from trace.genealogy.documents import in_unit
from trace.genealogy.plan_documents import advice, lot_said, mean_said, rest_words, way_words
from trace.genealogy.planned import Planned, planned_split, planned_top_up
from trace.genealogy.plans import Way
from trace.lookup import labels_standing, plant_now
from trace.sheets.hulls.sheet import caution

ORDERS = 3


@dataclass(frozen=True, slots=True)
class LotAtStake:
    """One lot of one way: hulls today and after, and how long its bars are, per cent of the longest."""

    name: str
    now: int
    after: int
    now_share: int
    share: int


@dataclass(frozen=True, slots=True)
class WayShown:
    name: str
    worst: int
    mean: str
    hulls: int
    rest: str
    best: bool
    lots: tuple[LotAtStake, ...]


@dataclass(frozen=True, slots=True)
class PlanPage:
    """Contract of templates/pages/plan.html. `said`: what was asked for, by field; `sources`, `vessels` and `orders`
    are (code, words) to choose from."""

    sources: tuple[tuple[str, str], ...]
    vessels: tuple[tuple[str, str], ...]
    orders: tuple[tuple[str, str], ...]
    said: Mapping[str, str]
    parts: tuple[tuple[int, str, str], ...]
    error: str = ""
    title: str = ""
    as_known_on: datetime | None = None
    charge: str = ""
    worst_now: int = 0
    advice: str = ""
    ways: tuple[WayShown, ...] = ()
    caution: str = ""


FIELDS = ("do", "source", "into", "kg", "charge", "other")


def plan(request: HttpRequest) -> HttpResponse:
    """Context: page (PlanPage). `do` is top-up or split; the fields of the address are the plan."""
    asked = request.GET
    error, planned = "", None
    if asked.get("do"):
        try:
            planned = _planned(asked)
        except (LookupError, AmountError) as trouble:
            error = str(trouble)
    page = _page(asked, planned, error)
    return render(request, "pages/plan.html", {"page": page}, status=400 if error else 200)


def _planned(asked: QueryDict) -> Planned:
    source = asked.get("source", "").strip()
    if asked["do"] == "split":
        shares = [(order, kg) for _n, order, kg in _parts(asked) if order and kg]
        return planned_split(source, asked.get("other", "").strip(), shares)
    return planned_top_up(source, asked.get("into", "").strip(), asked.get("kg", "").strip(), asked.get("charge", ""))


def _parts(asked: QueryDict) -> list[tuple[int, str, str]]:
    """(number, works order, kg) of each part of a split, as typed."""
    return [(n, asked.get(f"order{n}", "").strip(), asked.get(f"kg{n}", "").strip()) for n in range(1, ORDERS + 1)]


def _page(asked: QueryDict, planned: Planned | None, error: str) -> PlanPage:
    stock = [row for row in labels_standing((), ("container", "vessel")) if row["uom"] in ("mg", None)]
    plant = plant_now()
    orders = [t for t in plant.of_kind("works_order") if not t.ended]
    page = PlanPage(
        sources=tuple((row["code"], _said(row)) for row in stock if row["amount"]),
        vessels=tuple((row["code"], _said(row)) for row in stock if row["carrier"] == "vessel"),
        orders=tuple((t.key, f"{t.key} {t.body.get('product', '')} {t.body.get('colour', '')}") for t in orders),
        said={name: asked.get(name, "") for name in FIELDS}, parts=tuple(_parts(asked)), error=error,
    )  # fmt: skip
    return page if planned is None else _with(page, planned)


def _said(row: Mapping[str, object]) -> str:
    amount = row["amount"]
    left = f"{in_unit(int(str(amount)), 'mg')} kg" if amount else _("empty")
    what = " ".join(str(x) for x in (row["material"], row["lot_no"]) if x)
    return f"{printed(str(row['code']))} {what}, {left}".replace("  ", " ")


def _with(page: PlanPage, planned: Planned) -> PlanPage:
    longest = max(1, *(way.worst for way in planned.ways))
    return PlanPage(
        page.sources, page.vessels, page.orders, page.said, page.parts, title=planned.said,
        as_known_on=planned.as_known_on, charge=in_unit(planned.charge, "mg") or "", worst_now=planned.worst_now,
        advice=advice(planned), ways=tuple(_way(planned, way, longest) for way in planned.ways), caution=caution(),
    )  # fmt: skip


def _way(planned: Planned, way: Way, longest: int) -> WayShown:
    lots = tuple(
        LotAtStake(
            lot_said(one), one.count, way.after[one.lot.id], round(100 * one.count / longest),
            round(100 * way.after[one.lot.id] / longest),
        )
        for one in planned.now
    )  # fmt: skip
    words = way_words()[way.name]
    return WayShown(
        words, way.worst, mean_said(way.mean), way.hulls, rest_words(way),
        way == planned.best and way != planned.ways[0], lots,
    )  # fmt: skip

