"""A hull's sheet as known at a moment: what trace/sheets/contracts.py asks for, from what was gathered."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from trace.codes import printed
from trace.genealogy.graph import Node
from trace.recording.acts import hold_words
from trace.recording.acts.returns import Return
from trace.recording.rules.table import BY_CODE
from trace.sheets.addresses import dispersion_url, hull_url, unit_url
from trace.sheets.asks import like, same
from trace.sheets.contracts import HoldLine, HullSheet, PlaceLine, WeightLine, side_by_side
from trace.sheets.facts.days import day_said
from trace.sheets.facts.holding import Laid, reached
from trace.sheets.hulls.causes import shared
from trace.sheets.hulls.cooks import cycles
from trace.sheets.hulls.gaps import gaps
from trace.sheets.hulls.gathered import Gathered
from trace.sheets.hulls.hands import instruments, people
from trace.sheets.hulls.history import history
from trace.sheets.hulls.kin import kin
from trace.sheets.hulls.layers import layer_lines, wall
from trace.sheets.hulls.lots import lot_lines, name, status_of
from trace.sheets.hulls.placed import graphic_lines, insert_lines, nothing_asked, plan, zone_lines

STOCK = frozenset(
    {
        "received", "certified", "released", "topped_up", "opening_stock", "proved_empty", "counted", "plates_made",
        "plates_out", "plates_back",
    }
)  # fmt: skip


def caution() -> str:
    """The line every sheet carries."""
    return _("This is a record, not approval. Local law, machine makers' instructions and licensed persons come first.")


def hull_sheet(gathered: Gathered, *, with_shared: bool = True) -> HullSheet:
    """The whole sheet; the only further queries are those for hulls that share a lot (`with_shared`)."""
    about, recipe = gathered.hull.about, gathered.recipe
    product = str(about.get("product") or "")
    load = next(iter(gathered.of_kind("load")), None)
    version = load.about.get("recipe") if load else None
    serial = gathered.hull.serial or gathered.hull.code
    lines = history(gathered.entries, gathered.known, gathered.answers)
    told = list(zip(gathered.entries, lines, strict=True))
    shift = _shift(gathered)
    return HullSheet(
        serial=serial,
        code=printed(gathered.hull.labels[0]) if gathered.hull.labels else "",
        model=str(recipe.get("name") or product or _("model not known")),
        colour=str(about.get("colour") or _("colour not known")),
        made=made(gathered),
        made_about=day_said(gathered.hull.about.get("made") or ""),
        recipe_revision=_("%(product)s rev %(n)s") % {"product": product, "n": version or "?"},
        as_known_on=gathered.answer.as_known_on,
        records_count=gathered.answer.tree_size,
        caution=caution(),
        moulding=", ".join(n.lot_no or "" for n in gathered.of_kind("moulding", "part")),
        mould=str(about.get("mould") or ""),
        cavity=str(about.get("cavity") or ""),
        coat=str(about.get("coat") or ""),
        shift=shift,
        causes=_causes(gathered, version, shift),
        state=status_of(gathered.entries, gathered.hull.uid),
        purpose="" if about.get("purpose", "production") == "production" else str(about["purpose"]),
        gaps=gaps(gathered),
        holds=side_by_side(hold_line(gathered, h) for h in gathered.holds),
        place=place(gathered),
        kin=kin(gathered),
        plan=plan(gathered),
        wall=wall(gathered),
        layers=layer_lines(gathered),
        inserts=insert_lines(gathered),
        graphics=graphic_lines(gathered),
        nothing_asked=nothing_asked(gathered),
        zones=zone_lines(gathered),
        weights=tuple(_weights(gathered)),
        lots=lot_lines(gathered),
        cycles=cycles(gathered),
        stock=tuple(line for entry, line in told if entry.kind in STOCK),
        history=tuple(line for entry, line in told if entry.kind not in STOCK),
        people=people(gathered),
        instruments=instruments(gathered),
        compare_url=f"{reverse('compare')}?{urlencode({'a': serial})}",
        spread_url=dispersion_url(serial, gathered.asked),
        shared=shared(gathered) if with_shared else (),
        rules=tuple(dict.fromkeys(str(e.body["rules"]) for e in gathered.entries if e.body.get("rules"))),
    )


def _causes(gathered: Gathered, version: object, shift: str) -> dict[str, str]:
    """What the title block names, as causes (genealogy/cause_words.py)."""
    about = gathered.hull.about
    product = str(about.get("product") or "")
    return {
        "made": same("made", _plant_day(gathered)),
        "model": same("model", product), "colour": same("colour", about.get("colour")),
        "mould": same("mould", about.get("mould")), "cavity": same("cavity", about.get("cavity")),
        "coat": same("coat", about.get("coat")),
        "recipe": same("recipe", f"{product}/{version}" if product and version else ""), "shift": same("shift", shift),
    }  # fmt: skip


def _shift(gathered: Gathered) -> str:
    """The shift in which it left the mould, as shifts were set then; "" where none was worked or nobody knows."""
    mouldings = gathered.of_kind("moulding", "part")
    found = gathered.plant.shift(min(n.happened for n in mouldings)) if mouldings else None
    return found.name if found else ""


def _plant_day(gathered: Gathered) -> str:
    """The plant day on which it left the mould; "" where nobody knows."""
    mouldings = gathered.of_kind("moulding", "part")
    return gathered.plant.day(min(n.happened for n in mouldings)).isoformat() if mouldings else ""


def _weights(gathered: Gathered) -> Iterator[WeightLine]:
    """The last reading of each kind."""
    for quantity, word, what in (
        ("as moulded", "moulded-mass", _("as moulded")), ("hull mass", "hull-mass", _("when inspected")),
    ):  # fmt: skip
        read = [
            row["value"] for entry in gathered.entries for row in entry.of("readings", gathered.hull.uid)
            if row["quantity"] == quantity
        ]  # fmt: skip
        if read:
            yield WeightLine(what, f"{read[-1]} kg", like(word, read[-1]))


def made(gathered: Gathered) -> date | None:
    """The day of demoulding; of an old hull the day its record says, if any."""
    mouldings = gathered.of_kind("moulding", "part")
    if mouldings:
        return timezone.localdate(min(n.happened for n in mouldings))
    try:
        return date.fromisoformat(str(gathered.hull.about.get("made")))
    except ValueError:
        return None


def hold_line(gathered: Gathered, hold: Laid) -> HoldLine:
    """One hold in force: on what it was laid, why, by whom, and whether it fits this hull for certain."""
    edges = (*gathered.answer.edges, *gathered.around_edges)
    line = gathered.lines.get(hold.unit)
    node = line.node if line else gathered.around.get(hold.unit)
    comes_down = gathered.hull.id in reached(hold, edges)
    effect = "" if comes_down else _("The pack it is in is on hold.")
    if hold.rule == "stop-use":
        effect = _("Stop use: do not use, pack or ship.")
    return HoldLine(
        text=_("%(what)s: %(why)s") % {
            "what": thing(node) if node else _("a unit"),
            "why": hold_reason(gathered, hold),
        },
        who=gathered.known.person(hold.person),
        when=hold.happened,
        certain=not comes_down or line is None or line.verdict == "certain",
        effect=effect,
        rule=hold.rule,
        url=_thing_url(gathered, node),
    )  # fmt: skip


def hold_reason(gathered: Gathered, hold: Laid) -> str:
    """The reason somebody gave, or what the rule said that laid the hold."""
    if hold.rule in BY_CODE:
        entry = next((e for e in gathered.entries if e.uid == hold.event), None)
        said = gathered.answers.get(entry.id, {}) if entry else {}
        return gathered.known.spoken(str(said.get("what") or hold.rule))
    if hold.rule.startswith("scope ") and not hold.why:
        return gathered.known.spoken(hold_words.reason({"why": "", "rule": hold.rule}))
    return gathered.known.notes.text(hold.why) or _("no reason given")


def thing(node: Node) -> str:
    """A unit as people call it."""
    if node.kind == "lot":
        return _("%(material)s lot %(lot)s") % {"material": node.about.get("material"), "lot": name(node)}
    words = {
        "hull": _("This hull"), "content": _("Container"), "load": _("Load of mould"), "pack": _("Pack"),
        "charge": _("Charge"), "moulding": _("Moulding"), "plate": _("Plate"),
    }  # fmt: skip
    word = words.get(node.kind, node.kind)
    return word if node.kind == "hull" else f"{word} {printed(node.about.get('mould') or node.code)}"


def _thing_url(gathered: Gathered, node: Node | None) -> str:
    if node is None or node.id == gathered.hull.id:
        return ""
    return unit_url(node.labels[0] if node.labels else node.uid, gathered.asked)


def place(gathered: Gathered) -> PlaceLine:
    """Where it is at the moment asked: itself, or the pack or consignment it is in."""
    line = gathered.lines[gathered.hull.id]
    key = line.place
    if not key:
        return PlaceLine("", known=False)
    since = _came_there(gathered, key)
    around = _around_now(gathered)
    packs = ", ".join(printed(n.code) for n in around if n.kind == "pack")
    detail = _("in pack %(pack)s") % {"pack": packs} if packs else _("not packed")
    if key.startswith("gone: "):
        loads = [n.about for n in around if n.kind == "consignment"]
        orders = ", ".join(str(about["order"]) for about in loads if about.get("order"))
        detail = _("dispatched on %(order)s, %(detail)s") % {"order": orders, "detail": detail}
        if not orders:
            since = None  # when it was told of is not when it left
            detail = _gone_before(loads)
    return PlaceLine(gathered.known.place(key), since, detail=f"{detail[:1].upper()}{detail[1:]}.")


def _around_now(gathered: Gathered) -> list[Node]:
    """What it is in: it has left the pack and the load that it was in when it came back."""
    when = {entry.id: (entry.happened, entry.id) for entry in gathered.entries}
    back = max((when[e.id] for e in gathered.entries if e.kind == Return.KIND), default=None)
    if back is None:
        return list(gathered.around.values())
    since = {edge.child for edge in gathered.around_edges if when.get(edge.event, back) > back}
    return [node for node in gathered.around.values() if node.id in since]


def _came_there(gathered: Gathered, key: str) -> datetime | None:
    """When it last came to this place, itself or in what it is packed or dispatched in; None without a record."""
    holders = {gathered.hull.uid, *(n.uid for n in gathered.around.values())}
    times = [
        e.happened for e in gathered.entries for row in e.part("places")
        if row["unit"] in holders and row["place"] == key
    ]  # fmt: skip
    return max(times, default=None)


def _gone_before(loads: list[Mapping[str, Any]]) -> str:
    """What is said of a hull that left before records began, with the day where somebody told it."""
    days = ", ".join(day_said(about["gone"]) for about in loads if about.get("gone"))
    return _("gone before records began, %(day)s") % {"day": days or _("nobody recorded when")}


__all__ = ["caution", "hull_sheet", "hull_url"]
