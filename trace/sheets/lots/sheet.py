"""A lot's sheet as known at a moment: what trace/sheets/contracts.py asks for, from what was gathered."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from trace.codes import printed
from trace.drawings import ContainerKind, ContainerPair, container_drawings
from trace.sheets.addresses import unit_url
from trace.sheets.asks import like, same
from trace.sheets.contracts import HoldLine, LotSheet, PlaceLine, SampleLine, TestLine, WideLines, grouped, side_by_side
from trace.sheets.facts.amounts import in_trade_unit, said, unit_word
from trace.sheets.facts.holding import Laid
from trace.sheets.hulls.history import history
from trace.sheets.hulls.lots import status_of
from trace.sheets.hulls.sheet import caution
from trace.sheets.lots.balance import balance, container_lines
from trace.sheets.lots.gaps import gaps
from trace.sheets.lots.gathered import GatheredLot
from trace.sheets.lots.went import code_of, received, shares, still_mixed, views
from trace.sheets.saying import supplier

OCTABIN_FROM_MG = 150_000_000


def lot_sheet(
    gathered: GatheredLot, opened: tuple[str, str] | None = None, counted: Mapping[str, Any] | None = None
) -> LotSheet:
    """The whole sheet; `opened` (way, group) shows one group of hulls whole. `counted`: what the count in the
    background says so far of a lot that went further than was looked (trace/readmodels/counting.py)."""
    lot, about = gathered.lot, gathered.lot.about
    material = str(about.get("material") or _("material not known"))
    hulls = gathered.hulls
    outside = sum(1 for x in hulls if (x.place or "").startswith("gone: "))
    uom = gathered.lines[lot.id].uom
    return LotSheet(
        lot=lot.lot_no or (_("What is in %(code)s") % {"code": printed(lot.code)}),
        whose=lot.lot_no or (_("what is in %(code)s") % {"code": printed(lot.code)}),
        code=printed(code_of(gathered)),
        material=material,
        supplier=_suppliers(gathered),
        supplier_cause=same("supplier", gathered.lot.about.get("supplier")),
        coat_cause=_coat_cause(gathered, material),
        received=None if about.get("origin") else lot.happened,
        as_known_on=gathered.answer.as_known_on,
        records_count=gathered.answer.tree_size,
        caution=caution(),
        standing=_("on hold") if lot.id in gathered.held else status_of(gathered.entries, lot.uid),
        uom=unit_word(uom),
        expires=_date(about.get("expires")),
        gaps=gaps(gathered),
        holds=side_by_side(_hold(gathered, hold) for hold in gathered.holds),
        place=_place(gathered),
        drawing=_drawing(gathered, material),
        certain=0 if gathered.wide else sum(1 for x in hulls if x.verdict == "certain"),
        may=0 if gathered.wide else sum(1 for x in hulls if x.verdict == "may"),
        unstopped=_unstopped(gathered),
        wide=_wide(gathered, counted),
        cannot_words=_cannot(gathered),
        in_plant=0 if gathered.wide else len(hulls) - outside,
        outside=outside,
        views=views(gathered, opened),
        containers=container_lines(gathered),
        samples=_samples(gathered),
        balance=balance(gathered),
        tests=_tests(gathered, material),
        history=history(gathered.entries, gathered.known, gathered.answers),
    )


def _unstopped(gathered: GatheredLot) -> int:
    """Of a held lot: how many hulls in the plant may hold it since a record is missing. The hold follows the records,
    so it does not come to them; one on all that shares the lot does."""
    if gathered.wide or gathered.lot.id not in gathered.held:
        return 0
    may = (x for x in gathered.hulls if x.verdict == "may" and not (x.place or "").startswith("gone: "))
    return sum(1 for x in may if x.node.id not in gathered.held)


def _coat_cause(gathered: GatheredLot, material: str) -> str:
    """Of a release agent, by which the hulls are asked for that were moulded on a coat of it."""
    agent = gathered.known.plant.newest("material", material).get("kind") == "release agent"
    return same("coat", f"{material} lot {gathered.lot.lot_no}") if agent and gathered.lot.lot_no else ""


def _samples(gathered: GatheredLot) -> tuple[SampleLine, ...]:
    drawn = {e.child: e for e in gathered.answer.edges if e.role == "sample" and e.amount is not None}
    found = []
    for node in gathered.samples:
        edge, place = drawn.get(node.id), gathered.lines[node.id].place
        found.append(
            SampleLine(
                printed(node.code), unit_url(node.code), said(edge.amount, edge.uom) if edge and edge.amount else "",
                gathered.known.place(place) if place else "", _date(node.about.get("discard")),
                status_of(gathered.entries, node.uid),
            )
        )
    return tuple(found)


def _suppliers(gathered: GatheredLot) -> str:
    """Its supplier; of a mix those of all lots that went into it, and how many lots these are."""
    lots = gathered.behind or (gathered.lot,)
    names = ", ".join(sorted({name for n in lots if (name := supplier(n.about.get("supplier"), gathered.known))}))
    if len(lots) == 1:
        return names
    return _("%(suppliers)s (%(count)d lots)") % {"suppliers": names or _("not recorded"), "count": len(lots)}


def _date(text: object) -> date | None:
    try:
        return date.fromisoformat(str(text))
    except ValueError:
        return None


def _hold(gathered: GatheredLot, hold: Laid) -> HoldLine:
    whole = hold.unit == gathered.lot.id
    line = gathered.lines.get(hold.unit)
    what = _("the whole lot") if whole else _("container %(code)s") % {"code": printed(line.node.code) if line else "?"}
    why = gathered.known.notes.text(hold.why) or hold.rule
    return HoldLine(
        text=f"{what[:1].upper()}{what[1:]}: {why}", who=gathered.known.person(hold.person), when=hold.happened,
        certain=True, effect="" if whole else _("One container, not the lot: do not use it."),
        rule=hold.rule,
    )  # fmt: skip


def _place(gathered: GatheredLot) -> PlaceLine:
    """Where what is left of it stands, container by container, and what of it is mixed into a vessel."""
    places: dict[str, int] = {}
    for node in gathered.containers:
        left, line = gathered.left(node), gathered.lines[node.id]
        if left is None or left > 0:
            key = gathered.known.place(line.place) if line.place else _("place not recorded")
            places[key] = places.get(key, 0) + 1
    mixed = [
        f"{share.label}: {share.least}–{share.most} {gathered_unit(gathered)}" for share, _l in still_mixed(gathered)
    ]
    if not places:
        return PlaceLine(_("Nothing left in its containers, by the book"), detail="; ".join(mixed))
    said = "; ".join(f"{place} ({count})" if count > 1 else place for place, count in sorted(places.items()))
    return PlaceLine(said, detail="; ".join(mixed))


def gathered_unit(gathered: GatheredLot) -> str:
    return unit_word(gathered.lines[gathered.lot.id].uom)


def _drawing(gathered: GatheredLot, material: str) -> ContainerPair | None:
    """Its containers drawn as one, filled as far as the book says; None where nothing says how much there was."""
    total = received(gathered)
    if total is None:
        return None
    uom = gathered.lines[gathered.lot.id].uom
    body = gathered.known.plant.newest("material", material)
    left = sum(max(gathered.left(n) or 0, 0) for n in gathered.containers)
    largest = max((n.amount or 0 for n in gathered.containers), default=0)
    return container_drawings(
        _kind(str(body.get("kind", "")), largest, gathered),
        filled=in_trade_unit(total, uom), left=in_trade_unit(left, uom), unit=unit_word(uom),
        colour=str(body.get("colour", "")), shares=shares(gathered), name=gathered.lot.lot_no or "",
    )  # fmt: skip


def _kind(material: str, largest: int, gathered: GatheredLot) -> ContainerKind:
    if "vessel" in {gathered.carriers.get(n.id) for n in gathered.containers}:
        return "silo"
    if material == "insert":
        return "box"
    if material == "graphic":
        return "roll"
    if material == "pigment":
        return "drum"
    return "octabin" if largest >= OCTABIN_FROM_MG else "bag"


def _cannot(gathered: GatheredLot) -> str:
    """On what evidence the other hulls are said not to hold it. They are not counted: nobody waits for that."""
    if gathered.wide and gathered.wide.more:
        return ""
    return _(
        "Any other hull cannot hold it: every layer and position of it that could take %(material)s has another source"
        " on record, or nothing of this lot was there yet."
    ) % {"material": gathered.lot.about.get("material") or _("this material")}


def _wide(gathered: GatheredLot, counted: Mapping[str, Any] | None) -> WideLines | None:
    far = gathered.wide
    if far is None:
        return None
    if not far.more:
        return WideLines(grouped(len(far.hulls)), grouped(far.units))
    if counted is None:
        return WideLines(_("%(n)s or more") % {"n": grouped(len(far.hulls))}, _("more than %(n)s") % {
            "n": grouped(far.units)
        })
    hulls, units = grouped(max(len(far.hulls), counted["hulls"])), grouped(max(far.units, counted["units"]))
    if counted["done"]:
        at = f"{timezone.localtime(counted['at']):%-d %b %Y %H:%M}"
        return WideLines(hulls, units, _("Counted %(at)s.") % {"at": at})
    return WideLines(
        _("%(n)s or more") % {"n": hulls}, _("more than %(n)s") % {"n": units},
        _("The count goes on in the background; look again in a minute."),
    )  # fmt: skip


def _tests(gathered: GatheredLot, material: str) -> tuple[TestLine, ...]:
    """The newest certificate against the limits in force when it was read."""
    paper = next((e for e in reversed(gathered.entries) if e.kind == "certified"), None)
    if paper is None:
        return ()
    body = gathered.known.plant.at("material", material, paper.happened)
    limits, values = body.get("spec", {}), paper.says["values"]
    lines = [_test(n, str(values.get(n, "")), limits.get(n)) for n in sorted({*limits, *values})]
    if body.get("finish") or paper.says.get("finish"):
        wanted, seen = str(body.get("finish") or ""), str(paper.says.get("finish") or "")
        lines.append(TestLine(_("finish"), seen, wanted, _("certificate"), outside=bool(wanted) and seen != wanted))
    named = TestLine(_("lot named on it"), str(paper.says["lot_on_certificate"]), "", _("certificate"))
    return tuple(lines) or (named,)


def _test(quantity: str, value: str, limits: list[str] | None) -> TestLine:
    outside = False
    if limits and value:
        try:
            outside = not Decimal(limits[0]) <= Decimal(value) <= Decimal(limits[1])
        except (InvalidOperation, IndexError):
            outside = True
    return TestLine(
        quantity, value, _("%(low)s to %(high)s") % {"low": limits[0], "high": limits[1]} if limits else _("no limits"),
        _("certificate"), outside, like("certificate", value, quantity),
    )  # fmt: skip
