"""An answer as JSON and as a tree of lines to read: kilograms, pieces and metres as decimals."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from trace.codes import mg_to_kg, printed
from trace.genealogy.amounts import Bounds
from trace.genealogy.answer import Answer, Line
from trace.genealogy.graph import Edge

# UN/ECE Recommendation 20: kilogram, piece, metre.
UNIT_CODES = {"mg": "KGM", "pc": "H87", "mm": "MTR"}
UNIT_WORDS = {"mg": "kg", "mm": "m"}


def in_unit(amount: int | Fraction | None, uom: str | None) -> str | None:
    """An amount as decimal text in its trade unit; a model's share is rounded to a mg, mm or 0.001 piece."""
    if amount is None or uom is None:
        return None
    if uom == "mg":
        return f"{mg_to_kg(round(amount)):f}"
    if uom == "mm":
        return f"{Decimal(round(amount)).scaleb(-3):f}"
    pieces = Decimal(round(amount * 1000)).scaleb(-3)
    return f"{pieces.to_integral_value() if pieces == pieces.to_integral_value() else pieces.normalize():f}"


def as_json(answer: Answer) -> dict[str, Any]:
    """{code, direction, as_known_on, tree_size, nodes, edges, gaps}: the document other systems rely on.

    Units and events are named by their uids. Amounts are decimal texts in `uom` (KGM, H87, MTR of UN/ECE
    Recommendation 20) or null where the records do not say.
    """
    uid = {line.node.id: line.node.uid for line in answer.lines}
    return {
        "code": answer.code,
        "direction": answer.direction,
        "as_known_on": utc(answer.as_known_on),
        "tree_size": answer.tree_size,
        "nodes": [_node(line) for line in answer.lines],
        "edges": [
            {
                "child": uid[edge.child],
                "parent": uid[edge.parent],
                "role": edge.role,
                "layer": edge.layer,
                "position": edge.position,
                "amount": in_unit(edge.amount, edge.uom),
                "uom": UNIT_CODES.get(edge.uom or ""),
                "event": answer.event_uids[edge.event],
            }
            for edge in answer.edges
        ],
        "gaps": [{"id": g.unit, "code": g.code, "what": g.what, "which": g.which, "text": g.text} for g in answer.gaps],
    }


def as_text(answer: Answer) -> str:
    """The JSON text itself: equal for equal knowledge."""
    return json.dumps(as_json(answer), ensure_ascii=False, indent=1, sort_keys=True)


def utc(moment: datetime) -> str:
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def _node(line: Line) -> dict[str, Any]:
    total = line.share.total
    return {
        "id": line.node.uid,
        "code": line.node.code,
        "kind": line.node.kind,
        "verdict": line.verdict,
        "min": in_unit(total.least, line.uom),
        "best": in_unit(total.best, line.uom),
        "max": in_unit(total.most, line.uom),
        "uom": UNIT_CODES.get(line.uom or ""),
        "place": line.place,
    }


def as_tree(answer: Answer) -> Iterator[str]:
    """Lines to read: what is missing first, then the tree from the unit asked about, each unit once."""
    yield from _heading(answer)
    yield ""
    yield (_("Missing from the record:") if answer.gaps else _("Nothing is known to be missing from the record."))
    for gap in answer.gaps:
        yield "  " + gap.said
    yield ""
    yield from _tree(answer)


def _heading(answer: Answer) -> Iterator[str]:
    """What was asked, and forward how many hulls the answer names."""
    yield _("%(code)s, %(direction)s, as known on %(on)s (%(size)d events)") % {
        "code": printed(answer.code), "direction": answer.direction, "on": utc(answer.as_known_on),
        "size": answer.tree_size,
    }  # fmt: skip
    for verdict, word in (("certain", _("certain")), ("may", _("may"))):
        hulls = sum(1 for x in answer.lines if x.verdict == verdict and x.node.kind == "hull")
        if answer.direction == "forward":
            words = ngettext("%(count)d hull %(word)s", "%(count)d hulls %(word)s", hulls)
            yield words % {"count": hulls, "word": word}


def _tree(answer: Answer) -> Iterator[str]:
    """A line a unit, set in by its steps from the top; what is below a unit stands under its first line only."""
    lines = {line.node.id: line for line in answer.lines}
    below = _ways_below(answer)
    opened: set[int] = set()
    inner = {far for ways in below.values() for far, _edge in ways}
    tops = [answer.root.id, *(n for n in lines if n != answer.root.id and n not in inner)]
    stack: list[tuple[int, int, Edge | None]] = [(n, 0, None) for n in reversed(tops)]
    while stack:
        unit, depth, by = stack.pop()
        again = unit in opened
        yield "  " * depth + _line(lines[unit], by) + (_(" (above)") if again and unit in below else "")
        if not again:
            opened.add(unit)
            stack += [(far, depth + 1, way) for far, way in reversed(below.get(unit, []))]


def _ways_below(answer: Answer) -> dict[int, list[tuple[int, Edge]]]:
    """For each unit the units one step further in the direction asked, with the edge that leads there."""
    below: dict[int, list[tuple[int, Edge]]] = {}
    for edge in answer.edges:
        near, far = (edge.child, edge.parent) if answer.direction == "back" else (edge.parent, edge.child)
        below.setdefault(near, []).append((far, edge))
    return below


def _line(line: Line, edge: Edge | None) -> str:
    way = ""
    if edge is not None:
        amount = in_unit(edge.amount, edge.uom)
        much = f"{amount} {_unit_word(edge.uom, amount)}" if amount and edge.uom else ""
        way = " ".join(part for part in (edge.role, edge.key, much) if part) + ": "
    layers = "; ".join(
        f"{key}: {amounts(bounds, line.uom)}" for key, bounds in line.share.layers.items() if key and line.uom
    )
    words = [f"{way}{line.node.kind} {line.node.said}", line.verdict, amounts(line.share.total, line.uom)]
    return " · ".join(w for w in (*words, layers, line.place or "") if w)


def amounts(bounds: Bounds, uom: str | None) -> str:
    """ "7.320 kg", "0.000 – 2.399 – 12.200 kg" (least, best, most) or "" where nothing is known."""
    if uom is None:
        return ""
    least, best, most = (in_unit(x, uom) for x in (bounds.least, bounds.best, bounds.most))
    if least == most:
        return f"{least} {_unit_word(uom, least)}"
    return " – ".join((least or "?", best or "?", most or "?")) + f" {_unit_word(uom, most)}"


def _unit_word(uom: str, amount: str | None) -> str:
    return UNIT_WORDS.get(uom) or (_("piece") if amount == "1" else _("pieces"))
