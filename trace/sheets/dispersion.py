"""What the sheet of a dispersion shows: of a lot down to its hulls, of a hull up to its lots, of all over some days."""

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.drawings import Band, FlowPair, flow_drawings
from trace.genealogy.answer import one_picture, what_was_known
from trace.genealogy.dispersion import AtStake, at_stake, lots_behind
from trace.genealogy.find import UnknownCodeError, find_unit
from trace.genealogy.graph import Node
from trace.genealogy.plan_documents import mean_said
from trace.genealogy.spread import Spread
from trace.genealogy.walk import nodes
from trace.genealogy.wide import how_far
from trace.sheets.addresses import balance_url, hull_url, lot_url
from trace.sheets.contracts import grouped
from trace.sheets.facts.known import Known, known_of
from trace.sheets.hulls.sheet import caution

# So far a lot is followed while somebody waits; streams that are drawn, the rest together.
MOST, STREAMS = 20_000, 9


@dataclass(frozen=True, slots=True)
class SpreadLine:
    """One lot of a hull, or one group of a lot's hulls; `share` of the longest bar, per cent."""

    name: str
    hulls: str
    share: int
    url: str = ""
    balance_url: str = ""


@dataclass(frozen=True, slots=True)
class SpreadSheet:
    """Contract of templates/pages/dispersion.html; `facts` are (what, figure)."""

    title: str
    kicker: str
    as_known_on: datetime
    records_count: int
    caution: str
    facts: tuple[tuple[str, str], ...]
    drawing: FlowPair | None
    head: str
    lines: tuple[SpreadLine, ...]
    own_url: str = ""
    first: str = ""
    last: str = ""

    @property
    def records(self) -> str:
        return grouped(self.records_count)


def sheet_of(code: str, asked: datetime | None = None) -> SpreadSheet:
    """Of the hull or the lot that a code stood for. Raises UnknownCodeError or AmbiguousCodeError (LookupErrors)."""
    with one_picture():
        known, size = what_was_known(asked)
        unit = find_unit(code, known)
        node = nodes([unit], known)[unit]
        if node.kind == "hull":
            return _of_hull(node, known, size, asked)
        lots = [node] if node.kind == "lot" else [lot for lot in lots_behind(unit, known) if lot.kind == "lot"]
        if not lots or node.kind not in ("lot", "content"):
            raise UnknownCodeError(_("%(code)s is no lot and no hull.") % {"code": node.said})
        if how_far([lots[0].id], known, MOST).more:
            raise UnknownCodeError(_("%(code)s went into more than can be counted here.") % {"code": node.said})
        return _of_lot(at_stake([lots[0].id], known)[0], known, size, asked)


def _of_hull(hull: Node, known: datetime, size: int, asked: datetime | None) -> SpreadSheet:
    """Its lots, each with how many hulls a recall of that lot would take."""
    lots = lots_behind(hull.id, known)
    reach = {lot.id: how_far([lot.id], known, MOST) for lot in lots}
    counts = {lot: len(far.hulls) for lot, far in reach.items()}
    order = sorted(lots, key=lambda lot: (-counts[lot.id], lot.uid))
    longest = max(counts.values(), default=1)
    lines = [
        SpreadLine(
            _lot_name(lot), _("%(n)s or more") % {"n": counts[lot.id]} if reach[lot.id].more else str(counts[lot.id]),
            round(100 * counts[lot.id] / longest), lot_url(lot.uid, asked), balance_url(lot.uid, asked),
        )
        for lot in order
    ]  # fmt: skip
    bands = [Band(_lot_name(lot), 1.0, _hulls_said(counts[lot.id]), short=_short(lot)) for lot in order]
    words = ngettext("%(n)d lot", "%(n)d lots", len(lots)) % {"n": len(lots)}
    drawing = flow_drawings(bands, [Band(hull.said, float(len(lots)), words)], title=hull.said, total=words)
    worst = max(counts.values(), default=0)
    facts = ((_("lots in it"), str(len(lots))), (_("most hulls that share one of them"), str(worst)))
    return SpreadSheet(
        hull.said, _("Upward dispersion of hull"), known, size, caution(), facts, drawing if lots else None,
        _("Its lots, by how many hulls each of them reached"), tuple(lines),
        hull_url(hull.serial or hull.code, asked),
    )  # fmt: skip


def _of_lot(stake: AtStake, known: datetime, size: int, asked: datetime | None) -> SpreadSheet:
    """Its hulls by model, and what becomes a hull."""
    hulls = nodes(stake.hulls, known)
    words = known_of((), [node.about for node in hulls.values()], as_known_on=known)
    groups = Counter(_model(node, words) for node in hulls.values())
    if stake.under_way:
        groups[_("not yet a hull")] = len(stake.under_way)
    order = groups.most_common()
    bands = [Band(name, float(n), _hulls_said(n)) for name, n in order[:STREAMS]]
    if rest := sum(n for _name, n in order[STREAMS:]):
        bands.append(Band(_("others"), float(rest), _hulls_said(rest)))
    total = _hulls_said(stake.count)
    name = _lot_name(stake.lot)
    longest = order[0][1] if order else 1
    own = Band(name, float(stake.count), total, short=_short(stake.lot))
    drawing = flow_drawings([own], bands, title=name, total=total)
    facts = (
        (_("hulls"), str(len(stake.hulls))),
        (_("charges, moulds and mouldings that become hulls"), str(len(stake.under_way))),
    )
    return SpreadSheet(
        stake.lot.lot_no or stake.lot.said, _("Downward dispersion of lot"), known, size, caution(), facts,
        drawing if stake.count else None, _("Where it went, by model"),
        tuple(SpreadLine(what, str(n), round(100 * n / longest)) for what, n in order), lot_url(stake.lot.uid, asked),
    )  # fmt: skip


def sheet_of_days(spread: Spread, asked: datetime | None = None) -> SpreadSheet:
    """All lots over the hulls of some days: the worst and the mean recall, and which lots make them."""
    found = spread.found
    facts = (
        (_("hulls"), str(spread.hulls)), (_("lots in them"), str(len(spread.lots))), (_("links"), str(found.links)),
        (_("worst recall of one lot"), _hulls_said(found.worst)),
        (_("mean recall of one lot"), _("%(n)s hulls") % {"n": mean_said(found.mean)}),
    )  # fmt: skip
    lines = [
        SpreadLine(
            _lot_name(lot), str(found.down[lot.id]), round(100 * found.down[lot.id] / (found.worst or 1)),
            lot_url(lot.uid, asked), balance_url(lot.uid, asked),
        )
        for lot in spread.lots
    ]  # fmt: skip
    first, last = (day.isoformat() if day else "" for day in (spread.first, spread.last))
    if first or last:
        title = _("Hulls made %(first)s to %(last)s") % {"first": first or "…", "last": last or "…"}
    else:
        title = _("All hulls")
    drawing = _of_lots(spread) if spread.lots else None
    return SpreadSheet(
        title, _("Dispersion"), spread.as_known_on, spread.tree_size, caution(), facts, drawing,
        _("Lots by how many of these hulls a recall would take"), tuple(lines), "", first, last,
    )  # fmt: skip


def _of_lots(spread: Spread) -> FlowPair:
    """Links: counted down from lots on the left, up from hulls on the right, by how many lots a hull has."""
    down, up = spread.found.down, Counter(spread.found.up.values())
    shown, rest = spread.lots[:STREAMS], spread.lots[STREAMS:]
    came = [Band(_lot_name(lot), float(down[lot.id]), _hulls_said(down[lot.id]), short=_short(lot)) for lot in shown]
    if rest:
        words = ngettext("%(n)d more lot", "%(n)d more lots", len(rest)) % {"n": len(rest)}
        links = sum(down[lot.id] for lot in rest)
        came.append(Band(words, float(links), ngettext("%(n)d link", "%(n)d links", links) % {"n": links}))
    went = [
        Band(_hulls_said(hulls), float(hulls * lots), ngettext("%(n)d lot each", "%(n)d lots each", lots) % {"n": lots})
        for lots, hulls in sorted(up.items())
        if lots
    ]
    links = spread.found.links
    total = ngettext("%(n)d link", "%(n)d links", links) % {"n": links}
    return flow_drawings(came, went, title=_("Lots and hulls"), total=total)


def _hulls_said(count: int) -> str:
    return ngettext("%(n)d hull", "%(n)d hulls", count) % {"n": count}


def _lot_name(lot: Node) -> str:
    return f"{lot.about.get('material') or _('lot')} {lot.lot_no or lot.said}"


def _short(lot: Node) -> str:
    return lot.lot_no or lot.said


def _model(node: Node, known: Known) -> str:
    about = node.about
    body = known.plant.newest("product", about.get("product"))
    name = str(body.get("name") or about.get("product") or _("model not known"))
    return f"{name}, {about['colour']}" if about.get("colour") else name

