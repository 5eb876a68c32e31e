"""Two hulls side by side: only what differs, and what was compared and is the same."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from trace.codes.positions import in_order, named_together
from trace.drawings import PlanPair
from trace.genealogy.answer import Line
from trace.sheets.addresses import hull_url
from trace.sheets.contracts import HullSheet, LotShare
from trace.sheets.hulls.gathered import Gathered, gather
from trace.sheets.hulls.lots import source_held
from trace.sheets.hulls.placed import filled
from trace.sheets.hulls.sheet import caution, hull_sheet


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing in which two hulls differ.

    `weight` words say how much it matters, if known ("only in hulls that cracked").
    """

    about: str  # "Skin lot", "Insert positions S5–S8", "Mould"
    left: str
    right: str
    left_url: str = ""
    right_url: str = ""
    left_missing: bool = False
    right_missing: bool = False
    weight: str = ""


@dataclass(frozen=True, slots=True)
class DifferenceGroup:
    """Differences of one kind: wall, inserts, cook, people, …"""

    title: str
    lines: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class CompareSheet:
    """Two hulls side by side: only what differs."""

    left: str
    right: str
    left_line: str  # "Tamsin 430, red, made 12 Apr 2026"
    right_line: str
    as_known_on: datetime
    caution: str
    groups: tuple[DifferenceGroup, ...] = ()
    equal: str = ""  # "41 of 54 things compared are the same."
    same: tuple[str, ...] = ()  # what was compared and is the same, named so that nothing looks forgotten
    gaps: tuple[str, ...] = ()
    left_url: str = ""
    right_url: str = ""
    left_plan: PlanPair | None = None
    right_plan: PlanPair | None = None


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing said of one hull: `group` and `about` name it, an empty `value` is a missing record. `absent` says
    what it is to a hull of which this was never asked; empty: a missing record there, too.
    """

    group: str
    about: str
    value: str
    url: str = ""
    weight: str = ""
    absent: str = ""


def compared(left: str, right: str, asked: datetime | None = None) -> CompareSheet:
    """The comparison as known at a moment. Raises LookupErrors of one sentence."""
    first = gather(left, asked)
    # Both as known at one and the same moment, also when none was asked for.
    return between(first, gather(right, first.answer.as_known_on), asked)


def between(first: Gathered, second: Gathered, asked: datetime | None) -> CompareSheet:
    """The comparison of two that are known as of one moment; `asked`: the day that links lead to."""
    one, two = hull_sheet(first, with_shared=False), hull_sheet(second, with_shared=False)
    a = {(f.group, f.about): f for f in facts(first, one)}
    b = {(f.group, f.about): f for f in facts(second, two)}
    groups: dict[str, list[Difference]] = {}
    same: list[str] = []
    for key in dict.fromkeys([*a, *b]):
        x, y = a.get(key), b.get(key)
        if x and y and x.value == y.value:
            same.append(_named(x))
        else:
            # What is planned stands among a hull's facts even without a record; what does not was never asked of it.
            planned = key[0] in (_("Wall"), _("Inserts"), _("Graphics"), _("Measured"))
            absent = _("not in this model") if planned and one.model != two.model else ""
            absent = absent or "".join(f.absent for f in (x, y) if f)
            groups.setdefault(key[0], []).append(_difference(key[1], x, y, absent))
    together = [DifferenceGroup(name, tuple(_merged(lines))) for name, lines in groups.items()]
    return CompareSheet(
        left=one.serial,
        right=two.serial,
        left_line=_line(one),
        right_line=_line(two),
        as_known_on=one.as_known_on,
        caution=caution(),
        groups=tuple(together),
        equal=_("%(same)d of %(all)d things compared are the same.")
        % {"same": len(same), "all": len(same) + sum(len(lines) for lines in groups.values())},
        same=tuple(_same(same)),
        gaps=tuple(f"{sheet.serial}: {gap}" for sheet in (one, two) for gap in sheet.gaps),
        left_url=hull_url(one.serial, asked),
        right_url=hull_url(two.serial, asked),
        left_plan=one.plan,
        right_plan=two.plan,
    )


def _line(sheet: HullSheet) -> str:
    made = _(", made %(day)s") % {"day": f"{sheet.made:%-d %b %Y}"} if sheet.made else ""
    return f"{sheet.model}, {sheet.colour}{made}"


def _named(fact: Fact) -> str:
    return f"{fact.group}: {fact.about}"


def _same(names: list[str]) -> Iterator[str]:
    """One phrase a group: "wall: skin, inner"."""
    groups: dict[str, list[str]] = {}
    for name in names:
        group, _sep, about = name.partition(": ")
        groups.setdefault(group, []).append(about)
    for group, abouts in groups.items():
        named = named_together(sorted(abouts, key=in_order)) if _positions(abouts) else ", ".join(abouts)
        yield f"{group.lower()} ({named})"


def _positions(abouts: list[str]) -> bool:
    return all(name[-1:].isdigit() and " " not in name for name in abouts)


def _difference(about: str, x: Fact | None, y: Fact | None, absent: str) -> Difference:
    left, right = (f.value if f else absent for f in (x, y))
    return Difference(
        about=about,
        left=left,
        right=right,
        left_url=x.url if x else "",
        right_url=y.url if y else "",
        left_missing=not left,
        right_missing=not right,
        weight=", ".join(dict.fromkeys(f.weight for f in (x, y) if f and f.weight)),
    )


def _merged(lines: list[Difference]) -> Iterator[Difference]:
    """Positions that differ in the same way stand in one line."""
    alike: dict[tuple[object, ...], list[Difference]] = {}
    for line in lines:
        key = (line.left, line.right, line.weight) if _positions([line.about]) else (line.about,)
        alike.setdefault(key, []).append(line)
    for held in alike.values():
        first = held[0]
        about = named_together(sorted((x.about for x in held), key=in_order)) if len(held) > 1 else first.about
        yield Difference(
            about, first.left, first.right, first.left_url, first.right_url, first.left_missing,
            first.right_missing, first.weight,
        )  # fmt: skip


def facts(gathered: Gathered, sheet: HullSheet) -> Iterator[Fact]:
    """Everything two hulls can be compared in, in the order of the sheet."""
    hull = _("Hull")
    yield Fact(hull, _("model"), sheet.model)
    yield Fact(hull, _("colour"), sheet.colour)
    yield Fact(hull, _("recipe"), sheet.recipe_revision)
    yield Fact(hull, _("mould"), sheet.mould)
    yield Fact(hull, _("made"), f"{sheet.made:%-d %b %Y}" if sheet.made else "")
    yield Fact(hull, _("state"), sheet.state)
    yield Fact(hull, _("place"), sheet.place.text if sheet.place else "")
    yield Fact(hull, _("holds"), "; ".join(h.text for h in sheet.holds) or _("none"))
    yield from _wall(sheet)
    yield from _placed(gathered, sheet)
    yield from _cook(sheet)
    yield from _measured(gathered, sheet)
    yield from _hands(gathered, sheet)


def _wall(sheet: HullSheet) -> Iterator[Fact]:
    group = _("Wall")
    for layer in sheet.layers:
        yield Fact(group, _("%(layer)s material") % {"layer": layer.name.lower()}, layer.material)
        kg = "" if layer.missing or layer.kg is None else f"{layer.kg} kg"
        yield Fact(group, _("%(layer)s mass") % {"layer": layer.name.lower()}, kg)
        lots = "; ".join(_share(x) for x in layer.lots)
        held = _("a lot of it is on hold") if any(x.standing == _("on hold") for x in layer.lots) else ""
        url = layer.lots[0].url if len(layer.lots) == 1 else ""
        yield Fact(group, _("%(layer)s lots") % {"layer": layer.name.lower()}, lots, url, held)
        yield Fact(group, _("%(layer)s weighed") % {"layer": layer.name.lower()}, layer.how)


def _share(share: LotShare) -> str:
    if share.least == share.most:
        return f"{share.lot}, {share.verdict}"
    most = share.most if share.most is not None else "?"
    return f"{share.lot}, {share.verdict} {share.least}–{most} {share.uom}"


def _placed(gathered: Gathered, sheet: HullSheet) -> Iterator[Fact]:
    urls = {line.lot: line.url for line in sheet.inserts if line.lot}
    urls |= {graphic.lot: graphic.url for graphic in sheet.graphics if graphic.lot}
    for role, what, group in (("insert", "inserts", _("Inserts")), ("graphic", "graphics", _("Graphics"))):
        known = filled(gathered, role)
        asked = gathered.recipe.get(what, {})
        for place in sorted({*known, *asked}, key=in_order):  # type: ignore[misc]
            lots = known.get(place, [])
            about = place if role == "insert" else place.lower()
            url = urls.get(lots[0].node.lot_no or "", "") if len(lots) == 1 else ""
            yield Fact(group, about, _lots_said(lots), url, _held_said(gathered, lots, place))


def _lots_said(lots: list[Line]) -> str:
    """The lots that are or may be in a place, in words; empty without a record."""
    return _(" or ").join(f"{x.node.about.get('material')} {x.node.lot_no or '?'}" for x in lots)


def _held_said(gathered: Gathered, lots: list[Line], place: str) -> str:
    """A word where one of these lots is under a hold in this place, else nothing."""
    return _("its lot is on hold") if any(source_held(gathered, x.node, place) for x in lots) else ""


def _cook(sheet: HullSheet) -> Iterator[Fact]:
    group = _("Cook")
    yield Fact(group, _("cycles"), str(len(sheet.cycles)) if sheet.cycles else "")
    for n, cycle in enumerate(sheet.cycles):
        word = "" if n == 0 else _("cook %(n)d, ") % {"n": n + 1}
        once = "" if n == 0 else _("not cooked again")
        said = [
            (_("oven"), cycle.oven), (_("arm"), cycle.arm), (_("peak"), cycle.peak), (_("log"), cycle.log),
            (_("cooling and rotation"), cycle.note),
        ]  # fmt: skip
        if cycle.began and cycle.ended:
            said.append((_("minutes in the oven"), str(round((cycle.ended - cycle.began).total_seconds() / 60))))
        for about, value in said:
            yield Fact(group, f"{word}{about}", value, absent=once)
        for stage in cycle.stages:
            about = _("%(cook)sstage “%(stage)s”") % {"cook": word, "stage": stage.name}
            yield Fact(group, about, stage.after, absent=once or _("not a stage of its cook"))


def _measured(gathered: Gathered, sheet: HullSheet) -> Iterator[Fact]:
    group = _("Measured")
    masses = {
        row["quantity"]: f"{row['value']} {row['uom']}"
        for entry in gathered.entries
        for row in entry.of("readings", gathered.hull.uid)
        if row["quantity"] in ("as moulded", "hull mass")
    }
    for quantity in ("as moulded", "hull mass"):
        yield Fact(group, quantity, masses.get(quantity, ""))
    for zone in sheet.zones:
        yield Fact(group, zone.zone, "" if zone.mm is None else f"{zone.mm} mm")


def _hands(gathered: Gathered, sheet: HullSheet) -> Iterator[Fact]:
    group = _("Hands and instruments")
    by_task: dict[str, dict[str, None]] = {}
    for kind, word in (
        ("weighed", _("weighing")), ("tipped", _("loading")), ("cook_started", _("oven")),
        ("demoulded", _("demould")), ("bound", _("plate")), ("inspected", _("inspection")),
    ):  # fmt: skip
        for entry in gathered.entries:
            if entry.kind == kind:
                by_task.setdefault(word, {}).setdefault(gathered.known.person(entry.person))
        by_task.setdefault(word, {})
    for word, names in by_task.items():
        yield Fact(group, word, ", ".join(names))
    for instrument in sheet.instruments:
        yield Fact(
            group, instrument.name, instrument.state_then + (f"; {instrument.since}" if instrument.since else ""),
            absent=_("not used"),
        )  # fmt: skip
