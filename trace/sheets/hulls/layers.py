"""The wall of a hull: each layer as charged, with its lots, its thickness and how it was weighed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from trace.codes.formulas import wall_from_charge_mm
from trace.drawings import LayerFill, LayerLot, WallPair, wall_sections
from trace.genealogy.graph import Edge
from trace.sheets.asks import like
from trace.sheets.contracts import LayerLine
from trace.sheets.facts.amounts import in_trade_unit
from trace.sheets.facts.entries import Entry
from trace.sheets.hulls.gathered import Gathered
from trace.sheets.hulls.lots import could_be, lots_at, share_of, source_held
from trace.sheets.saying import how_read

TENTH = Decimal("0.1")
REPAIR = "repair"


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer: what the recipe asks for, and the charges that were tipped for it. `mg` None: not recorded."""

    name: str
    asks: Mapping[str, Any]
    material: str
    charges: tuple[Edge, ...]
    mg: int | None


def layers(gathered: Gathered) -> list[Layer]:
    """The recipe's layers in their order, outside first, then what was charged besides."""
    recipe: Sequence[Mapping[str, Any]] = gathered.recipe.get("layers", [])  # type: ignore[assignment]
    asked = {str(x["name"]): x for x in recipe}
    charged: dict[str, list[Edge]] = {}
    for edge in gathered.into_loads:
        if edge.role == "charge":
            charged.setdefault(edge.layer or _("layer not said"), []).append(edge)
    return [_layer(gathered, n, asked.get(n, {}), charged.get(n, [])) for n in dict.fromkeys([*asked, *charged])]


def _layer(gathered: Gathered, name: str, asks: Mapping[str, Any], charges: list[Edge]) -> Layer:
    colour = next((n.about.get("colour") for n in gathered.of_kind("load")), gathered.hull.about.get("colour"))
    planned = str(asks.get("material", "")).replace("{colour}", str(colour or ""))
    taken = {
        str(gathered.lines[e.parent].node.about.get("material"))
        for e in charges
        if gathered.lines[e.parent].node.about.get("material")
    }
    amounts = [e.amount for e in charges]
    mg = sum(a for a in amounts if a is not None) if charges and None not in amounts else None
    return Layer(name, asks, ", ".join(sorted(taken)) or planned or _("material not known"), tuple(charges), mg)


def layer_lines(gathered: Gathered) -> tuple[LayerLine, ...]:
    return tuple(_line(gathered, layer) for layer in layers(gathered)) + _repaired(gathered)


def _repaired(gathered: Gathered) -> tuple[LayerLine, ...]:
    """What was welded or fitted in since, as a layer of its own."""
    lots = lots_at(gathered, REPAIR)
    edges = [e for e in gathered.answer.edges if e.role == "fit" and e.child == gathered.hull.id]
    if not lots and not edges:
        return ()
    amounts = [e.amount for e in edges if e.uom == "mg"]
    mg = sum(a for a in amounts if a is not None)
    return (LayerLine(
        name=_("Repair"), material=", ".join(sorted({str(x.node.about.get("material") or "?") for x in lots})),
        kg=in_trade_unit(mg, "mg") if mg and None not in amounts else None, target="",
        lots=tuple(share_of(gathered, line, REPAIR) for line in lots), missing=not edges, how="",
    ),)  # fmt: skip


def _line(gathered: Gathered, layer: Layer) -> LayerLine:
    target = ""
    if layer.asks.get("target_kg"):
        target = f"{layer.asks['target_kg']} ± {layer.asks.get('tolerance_kg', '?')} kg"
    return LayerLine(
        name=layer.name.capitalize(),
        material=layer.material,
        kg=None if layer.mg is None else in_trade_unit(layer.mg, "mg"),
        target=target,
        lots=tuple(share_of(gathered, line, layer.name) for line in lots_at(gathered, layer.name)),
        missing=not layer.charges,
        how=_how(gathered, layer),
        cause=_cause(layer),
    )


def _cause(layer: Layer) -> str:
    known = layer.mg is not None and all(e.layer for e in layer.charges)
    return like("charged", in_trade_unit(layer.mg or 0, "mg"), layer.name) if known else ""


def weighings(gathered: Gathered, layer: str | None = None) -> list[Entry]:
    """The weighings of this hull's charges (of one layer), oldest first."""
    charges = {n.uid for n in gathered.of_kind("charge")}
    # A charge made anew, as when its amount was put right, was weighed when the first one was.
    again = {
        row["of"] for e in gathered.entries for row in e.part("edges") if row.get("of") and row["child"] in charges
    }
    return [
        e for e in gathered.entries
        if e.kind == "weighed" and (e.makes(charges) or e.uid in again) and layer in (None, e.says["layer"])
    ]  # fmt: skip


def _how(gathered: Gathered, layer: Layer) -> str:
    if not layer.charges:
        could = could_be(gathered, layer.material)
        return _("could be of %(lots)s") % {"lots": could} if could else ""
    said = []
    for entry in weighings(gathered, layer.name):
        gross, tare = entry.says["gross"], entry.says["tare"]
        shown = f"{gross} kg" if tare in ("", "0") else _("%(g)s kg less tare %(t)s kg") % {"g": gross, "t": tare}
        text = _("%(shown)s, %(how)s, scale %(scale)s") % {
            "shown": shown, "how": how_read(str(entry.says.get("how"))), "scale": entry.says["scale"],
        }  # fmt: skip
        if "SCALE-UNCHECKED" in entry.warned:
            text += _(", unproved: no check-weight that day")
        said.append(text)
    return "; ".join(said)


def wall(gathered: Gathered) -> WallPair | None:
    """The wall section, None where neither recipe nor charge says anything of layers."""
    fills = [_fill(gathered, layer) for layer in layers(gathered)]
    return wall_sections(fills) if fills else None


def _fill(gathered: Gathered, layer: Layer) -> LayerFill:
    material = gathered.plant.at("material", layer.material, gathered.begun)
    thinnest, thickest = _thickness(gathered, layer, material)
    words = ""
    if thinnest is not None and thickest is not None and thinnest != thickest:
        words = f"{thinnest}–{thickest}"
    kg = None if layer.mg is None else in_trade_unit(layer.mg, "mg")
    lots = []
    for line in lots_at(gathered, layer.name):
        share = share_of(gathered, line, layer.name)
        most = share.most if share.most is not None else kg if kg is not None else share.least
        held = source_held(gathered, line.node, layer.name)
        lots.append(LayerLot(_("lot %(lot)s") % {"lot": share.lot}, share.verdict, share.least, most, held))
    return LayerFill(
        name=layer.name.capitalize(),
        material=layer.material,
        colour=str(material.get("colour", "")),
        thickness_mm=_middle(thinnest, thickest),
        thickness_words=words,
        kg=kg,
        lots=tuple(lots),
        missing=not layer.charges,
        foam=material.get("kind") == "foam",
    )


def _thickness(gathered: Gathered, layer: Layer, material: Mapping[str, Any]) -> tuple[Decimal | None, Decimal | None]:
    """Mean wall t = m / (rho A), least and most where the density is known as a range; None without data."""
    density, area = material.get("density"), gathered.recipe.get("area_m2")
    if not density or not area or not layer.mg:
        return None, None
    ends = [str(d) for d in (density if isinstance(density, list) else [density])]
    kg = Decimal(layer.mg).scaleb(-6)
    walls = [wall_from_charge_mm(kg, Decimal(str(area)), Decimal(d)).quantize(TENTH) for d in ends]
    return min(walls), max(walls)


def _middle(thinnest: Decimal | None, thickest: Decimal | None) -> Decimal | None:
    if thinnest is None or thickest is None:
        return None
    return ((thinnest + thickest) / 2).quantize(TENTH)
