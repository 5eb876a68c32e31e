"""Where a lot went: its hulls in groups by model, day and place, and the bars of the drawing."""

from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.codes import printed
from trace.drawings import Certainty, Share
from trace.genealogy.amounts import Verdict, part, recorded_draw
from trace.genealogy.answer import Line
from trace.genealogy.wide import HowFar
from trace.sheets.addresses import hull_url, lot_url
from trace.sheets.contracts import HullLine, WentGroup, WentView
from trace.sheets.facts.amounts import in_trade_unit, unit_word
from trace.sheets.lots.gathered import HULLS_A_PAGE, GatheredLot

# So many hulls stand in an opened group, and in a whole view; the rest is one step away.
A_GROUP, A_VIEW, A_PAGE, BARS = 12, 120, 2_000, 7


@dataclass(frozen=True, slots=True)
class Way:
    """One way to group hulls: `group` names the group of a line, `order` sorts the names."""

    key: str
    title: str
    group: Callable[[GatheredLot, Line], str]
    order: Callable[[Line], str]


def ways() -> tuple[Way, ...]:
    return (
        Way("place", _("by place"), _place, lambda line: line.place or "~"),
        Way("model", _("by model"), model_of, lambda line: str(line.node.about.get("product"))),
        Way("day", _("by day made"), _day, lambda line: f"{line.node.happened:%Y-%m-%d %H:%M}"),
    )


def model_of(gathered: GatheredLot, line: Line) -> str:
    about = line.node.about
    body = gathered.known.plant.version("product", about.get("product"), about.get("recipe"))
    name = body.get("name") or about.get("product") or _("model not known")
    return f"{name}, {about['colour']}" if about.get("colour") else str(name)


def _day(gathered: GatheredLot, line: Line) -> str:
    if line.node.about.get("origin"):
        return _("before records")
    return f"{gathered.known.plant.day(line.node.happened):%-d %b %Y}"


def _place(gathered: GatheredLot, line: Line) -> str:
    return gathered.known.place(line.place) if line.place else _("place not recorded")


def views(gathered: GatheredLot, opened: tuple[str, str] | None = None) -> tuple[WentView, ...]:
    """Each way to group them; `opened` (way, group) is shown whole and alone."""
    if gathered.wide:
        return (_page(gathered, gathered.wide),)
    found = []
    for way in ways():
        groups: dict[str, list[Line]] = {}
        for line in sorted(gathered.hulls, key=lambda x: (way.order(x), x.node.serial or x.node.code)):
            groups.setdefault(way.group(gathered, line), []).append(line)
        if opened and opened[0] == way.key and opened[1] in groups:
            return (WentView(way.title, (_group(gathered, way, opened[1], groups[opened[1]], A_PAGE),)),)
        each = A_GROUP if sum(min(len(g), A_GROUP) for g in groups.values()) <= A_VIEW else 0
        each = max(each, A_VIEW // max(len(groups), 1) if not each else 0)
        found.append(WentView(way.title, tuple(_group(gathered, way, n, g, each) for n, g in groups.items())))
    return tuple(found)


def _page(gathered: GatheredLot, far: HowFar) -> WentView:
    """Some hulls of a wide lot in the order in which they were made."""
    first = (gathered.page - 1) * HULLS_A_PAGE
    last = first + len(gathered.hulls)
    lines = sorted(gathered.hulls, key=lambda x: x.node.id)
    more = len(far.hulls) - last
    words = _("hulls %(first)d to %(last)d") % {"first": first + 1, "last": last}
    address = lot_url(code_of(gathered), gathered.asked)
    address += f"{'&' if '?' in address else '?'}page={gathered.page + 1}"
    group = WentGroup(
        name=words, certain=_count(lines, "certain"), may=_count(lines, "may"),
        hulls=tuple(_hull(gathered, x) for x in lines), more=more,
        more_url=address if more else "",
    )  # fmt: skip
    return WentView(_("in the order in which they were made"), (group,))


def _group(gathered: GatheredLot, way: Way, name: str, lines: list[Line], most: int) -> WentGroup:
    shown = sorted(lines, key=lambda x: (x.verdict, x.node.serial or ""))[:most]
    more = len(lines) - len(shown)
    return WentGroup(
        name=name,
        certain=_count(lines, "certain"),
        may=_count(lines, "may"),
        hulls=tuple(_hull(gathered, x) for x in shown),
        more=more,
        more_url=_more_url(gathered, way.key, name) if more else "",
    )


def _count(lines: list[Line], verdict: Verdict) -> int:
    return sum(1 for line in lines if line.verdict == verdict)


def _more_url(gathered: GatheredLot, way: str, name: str) -> str:
    address = lot_url(code_of(gathered), gathered.asked)
    return f"{address}{'&' if '?' in address else '?'}{urlencode({'by': way, 'group': name})}" if address else ""


def code_of(gathered: GatheredLot) -> str:
    """The label a person can scan for this lot: its first container's, else its identifier."""
    for node in gathered.containers:
        if node.labels:
            return node.labels[0]
    return gathered.lot.uid


def _hull(gathered: GatheredLot, line: Line) -> HullLine:
    total, serial = line.share.total, line.node.serial or line.node.code
    layers = ", ".join(key for key in line.share.layers if key)
    return HullLine(
        serial=serial,
        verdict=line.verdict,
        least=in_trade_unit(total.least, line.uom),
        most=None if total.most is None else in_trade_unit(total.most, line.uom),
        uom=unit_word(line.uom, total.most),
        place=_place(gathered, line),
        made=timezone.localdate(line.node.happened),
        held=line.node.id in gathered.held,
        layers=layers,
        url=hull_url(serial, gathered.asked),
    )


def shares(gathered: GatheredLot) -> tuple[Share, ...]:
    """The bars of the drawing: by model, then what is still mixed into something else."""
    if gathered.wide:
        return ()
    uom, room = gathered.lines[gathered.lot.id].uom, received(gathered)
    groups: dict[str, list[Line]] = {}
    for line in gathered.hulls:
        groups.setdefault(model_of(gathered, line), []).append(line)
    found = [_bar(name, lines, uom, room) for name, lines in sorted(groups.items(), key=lambda x: -len(x[1]))]
    return (*found[:BARS], *(share for share, _line in still_mixed(gathered)[:3]))


def _bar(name: str, lines: list[Line], uom: str | None, room: int | None) -> Share:
    """A group's bounds: the sums of its hulls', and no more than was received (conservation)."""
    least = sum(x.share.total.least for x in lines)
    known = [x.share.total.most for x in lines if x.share.total.most is not None]
    most = sum(known) if len(known) == len(lines) else room if room is not None else max(sum(known), least)
    most = most if room is None else max(min(most, room), least)
    sure: Certainty = "certain" if all(x.verdict == "certain" for x in lines) else "may"
    words = ngettext("%(name)s, %(count)d hull", "%(name)s, %(count)d hulls", len(lines))
    words %= {"name": name, "count": len(lines)}
    return Share(words, sure, in_trade_unit(least, uom), in_trade_unit(most, uom))


def received(gathered: GatheredLot) -> int | None:
    """All that came of the lot, in its own unit."""
    amounts = [n.amount for n in gathered.containers]
    return sum(a for a in amounts if a is not None) if amounts and None not in amounts else None


def still_mixed(gathered: GatheredLot) -> list[tuple[Share, Line]]:
    """What vessels and other containers still hold of it: bounds of a draw of all that is left in them."""
    found = []
    for node in gathered.mixed:
        left, line = gathered.left(node), gathered.lines[node.id]
        if not left or left <= 0:
            continue
        flow = gathered.flows[node.id]
        bounds = part(line.share.total, node.amount, recorded_draw(left), over=flow.over(node.amount))
        if bounds.verdict == "cannot":
            continue
        where = {"vessel": _("vessel"), "tub": _("tub"), "drop_box": _("drop box")}.get(
            gathered.carriers.get(node.id, ""), _("container")
        )
        most = bounds.most if bounds.most is not None else left
        share = Share(
            _("still in %(where)s %(code)s") % {"where": where, "code": printed(node.code)},
            bounds.verdict, in_trade_unit(bounds.least, line.uom), in_trade_unit(most, line.uom),
        )  # fmt: skip
        found.append((share, line))
    return found
