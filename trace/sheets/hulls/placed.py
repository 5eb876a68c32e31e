"""What was placed in the mould: inserts, graphics and thickness zones, as lists and on the mould plan."""

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils.translation import gettext as _

from trace.codes.positions import in_order, named_together
from trace.drawings import Certainty, PlanPair, PositionState, ZoneReading, mould_plans
from trace.genealogy.answer import Line
from trace.sheets.addresses import lot_url
from trace.sheets.asks import like
from trace.sheets.contracts import GraphicLine, InsertLine, ZoneLine
from trace.sheets.facts.amounts import said
from trace.sheets.hulls.gathered import Gathered
from trace.sheets.hulls.lots import lot_label, lots_at, name, source_held
from trace.sheets.saying import supplier


def filled(gathered: Gathered, role: str) -> dict[str, list[Line]]:
    """By position: the lots that are or may be there, of inserts or graphics that were recorded as placed."""
    places = {e.position or "" for e in gathered.into_loads if e.role == role}
    return {position: lots_at(gathered, position) for position in sorted(places, key=in_order)}


def _asked(gathered: Gathered, what: str) -> Mapping[str, Any]:
    asked: Mapping[str, Any] = gathered.recipe.get(what, {})  # type: ignore[assignment]
    return asked


def insert_lines(gathered: Gathered) -> tuple[InsertLine, ...]:
    """One line for the positions that share a lot, then those without a record."""
    groups: dict[tuple[str, int, Certainty], list[str]] = {}
    lines: dict[int, Line] = {}
    known = filled(gathered, "insert")
    for position, lots in known.items():
        for line in lots:
            lines[line.node.id] = line
            key = (str(line.node.about.get("material")), line.node.id, line.share.layers[position].verdict)
            groups.setdefault(key, []).append(position)
    found = [_insert(gathered, lines[lot], verdict, places) for (_m, lot, verdict), places in groups.items()]
    missing: dict[str, list[str]] = {}
    for position, part in _asked(gathered, "inserts").items():
        if position not in known:
            missing.setdefault(str(part), []).append(position)
    found += [
        InsertLine(named_together(sorted(places, key=in_order)), part, len(places), "", missing=True)
        for part, places in missing.items()
    ]
    return tuple(found)


def _insert(gathered: Gathered, line: Line, verdict: Certainty, places: list[str]) -> InsertLine:
    node = line.node
    material = str(node.about.get("material") or _("part not known"))
    body = gathered.plant.at("material", material, gathered.begun)
    finish = f", {body['finish']}" if body.get("finish") else ""
    note = ""
    if verdict == "may":
        total = line.share.total
        note = _("of this lot %(least)s to %(most)s") % {
            "least": said(total.least, line.uom), "most": said(total.most, line.uom),
        }  # fmt: skip
    if any(source_held(gathered, node, place) for place in places):
        note = "; ".join(x for x in (_("on hold"), note) if x)
    return InsertLine(
        positions=named_together(places), part=f"{material}{finish}", count=len(places), lot=name(node),
        supplier=supplier(node.about.get("supplier"), gathered.known), verdict=verdict, note=note,
        url=lot_url(lot_label(gathered, node) or node.uid, gathered.asked),
    )  # fmt: skip


def graphic_lines(gathered: Gathered) -> tuple[GraphicLine, ...]:
    """One line a graphic; those of the recipe without a record last."""
    known = filled(gathered, "graphic")
    found = [
        _graphic(gathered, zone, line, line.share.layers[zone].verdict) for zone, lots in known.items() for line in lots
    ]
    found += [
        GraphicLine(zone.capitalize(), str(asked.get("artwork", "")), str(asked.get("revision", "")), "", missing=True)
        for zone, asked in _asked(gathered, "graphics").items()
        if zone not in known
    ]
    return tuple(found)


def _graphic(gathered: Gathered, zone: str, line: Line, verdict: Certainty) -> GraphicLine:
    node = line.node
    body = gathered.plant.at("material", node.about.get("material"), gathered.begun)
    artwork, revision = str(body.get("artwork") or node.about.get("material")), str(body.get("revision") or "?")
    asked = _asked(gathered, "graphics").get(zone, {})
    note = ""
    if asked and (asked.get("artwork"), asked.get("revision")) != (artwork, revision):
        note = _("the recipe asks for %(artwork)s rev %(revision)s") % asked
    return GraphicLine(
        zone.capitalize(), artwork, revision, name(node), verdict, note=note,
        url=lot_url(lot_label(gathered, node) or node.uid, gathered.asked),
    )  # fmt: skip


def zone_lines(gathered: Gathered) -> tuple[ZoneLine, ...]:
    """Each zone of the recipe with the last reading of this hull."""
    read: dict[str, str] = {}
    for entry in gathered.entries:
        for row in entry.of("readings", gathered.hull.uid):
            if row["quantity"] == "thickness" and row["zone"]:
                read[row["zone"]] = row["value"]
    asked = _asked(gathered, "zones")
    zones = sorted({*asked, *read}, key=in_order)
    return tuple(_zone(zone, read.get(zone), str(asked.get(zone, {}).get("least_mm", "0"))) for zone in zones)


def _zone(zone: str, text: str | None, least: str) -> ZoneLine:
    try:
        value = None if text is None else Decimal(text)
    except InvalidOperation:
        value = None
    below = value is not None and value < Decimal(least)
    return ZoneLine(zone, value, Decimal(least), below, like("thickness", text, zone))


def nothing_asked(gathered: Gathered) -> bool:
    """True when the recipe is known and takes neither insert nor graphic."""
    return bool(gathered.recipe) and not _asked(gathered, "inserts") and not _asked(gathered, "graphics")


def plan(gathered: Gathered) -> PlanPair | None:
    """The mould plan of the revision in force when the load was made ready; None where it has no drawing."""
    drawing = gathered.recipe.get("drawing")
    if not isinstance(drawing, dict) or not {"box", "outline"} <= drawing.keys():
        return None
    states = _states(gathered, drawing)
    title = str(gathered.recipe.get("name") or gathered.hull.about.get("product"))
    return mould_plans(drawing, states["insert"], states["graphic"], _readings(gathered), title=title)


def _states(gathered: Gathered, drawing: Mapping[str, Any]) -> dict[str, dict[str, PositionState]]:
    """How each position of inserts and graphics is drawn: filled, asked for without a record, or not used."""
    states = {
        role: {place: _state(gathered, place, lots) for place, lots in filled(gathered, role).items()}
        for role in ("insert", "graphic")
    }
    missing, unasked = PositionState("open", _("no record")), PositionState("open", _("not used"))
    for role, what, drawn in (("insert", "inserts", "positions"), ("graphic", "graphics", "graphics")):
        asked = _asked(gathered, what)
        for place in [*asked, *drawing.get(drawn, {})]:
            states[role].setdefault(place, missing if place in asked else unasked)
    return states


def _readings(gathered: Gathered) -> dict[str, ZoneReading]:
    """The thickness in each zone; nothing at all where none was measured yet."""
    zones = {
        z.zone: ZoneReading(f"{z.mm} mm", below=z.below) if z.mm is not None else ZoneReading(missing=True)
        for z in zone_lines(gathered)
    }
    return {} if all(z.missing for z in zones.values()) else zones


def _state(gathered: Gathered, place: str, lots: list[Line]) -> PositionState:
    """How a filled position is drawn: marked where a lot that may be there, or its container, is under a hold."""
    words = [_("%(part)s lot %(lot)s") % {"part": x.node.about.get("material"), "lot": name(x.node)} for x in lots]
    held = [x for x in lots if source_held(gathered, x.node, place)]
    certain = len(lots) == 1 if not held else len(held) == len(lots)
    return PositionState("marked" if held else "done", _(" or ").join(words) or _("lot not known"), certain)
