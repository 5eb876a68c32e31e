"""The answer to a scope as JSON, as rows for a spreadsheet and as lines to read."""

import json
from collections.abc import Iterator
from typing import Any

from django.utils.translation import gettext as _

from trace.genealogy.amounts import Bounds
from trace.genealogy.causes import STRENGTH, Holds, written
from trace.genealogy.documents import UNIT_CODES, in_unit, utc
from trace.genealogy.reasons import stamped
from trace.genealogy.sharing import Line, Shared

STRONGEST_FIRST = sorted(STRENGTH, key=lambda verdict: -STRENGTH[verdict])
COLUMNS = (
    "hull", "verdict", "why", "made from", "made to", "place", "owner's region", "of", "part", "least", "best", "most",
    "unit",
)  # fmt: skip


def as_json(answer: Shared) -> dict[str, Any]:
    """{cause, as_known_on, tree_size, counts, parts, hulls, gaps}. Amounts are decimal texts, as in a genealogy."""
    return {
        "cause": written(answer.cause),
        "as_known_on": utc(answer.as_known_on),
        "tree_size": answer.tree_size,
        "counts": {verdict: answer.count(verdict) for verdict in STRONGEST_FIRST},
        "parts": [
            {"cause": written(one), "counts": dict(counts), "any": dict(answer.any_much.get(one, counts))}
            for one, counts in answer.parts.items()
        ],
        "hulls": [_hull(line) for line in answer.lines],
        "gaps": [{"id": g.unit, "code": g.code, "what": g.what, "which": g.which, "text": g.text} for g in answer.gaps],
    }


def _hull(line: Line) -> dict[str, Any]:
    return {
        "id": line.node.uid,
        "code": line.node.code,
        "verdict": line.verdict,
        "why": line.why,
        "made": [utc(line.built.first), utc(line.built.last)],
        "place": line.place,
        "region": line.region,
        "amounts": [
            {
                "of": of.code, "part": part or None, "min": least, "best": best, "max": most,
                "uom": UNIT_CODES.get(uom or ""),
            }
            for of, part, least, best, most, uom in _amounts(line)
        ],
    }


def _amounts(line: Line) -> Iterator[tuple[Holds, str, str | None, str | None, str | None, str | None]]:
    """How much of each material asked about is in each part of the hull, the whole last where it has several."""
    for of, (share, uom) in line.shares.items():
        parts: list[tuple[str, Bounds]] = sorted(share.layers.items())
        for part, bounds in [*parts, *([("", share.total)] if len(parts) > 1 else [])]:
            yield of, part, in_unit(bounds.least, uom), in_unit(bounds.best, uom), in_unit(bounds.most, uom), uom


def as_text(answer: Shared) -> str:
    """The JSON text itself: equal for equal knowledge."""
    return json.dumps(as_json(answer), ensure_ascii=False, indent=1, sort_keys=True)


def as_rows(answer: Shared) -> Iterator[tuple[str, ...]]:
    """A heading, then a row for each hull; one for each part of it where a material was asked about."""
    yield COLUMNS
    for line in answer.lines:
        hull = (
            line.node.code, line.verdict, line.why, utc(line.built.first), utc(line.built.last), line.place or "",
            line.region or "unknown",
        )  # fmt: skip
        amounts = list(_amounts(line))
        for of, part, least, best, most, uom in amounts:
            yield (*hull, of.code, part, least or "", best or "", most or "", UNIT_CODES.get(uom or "", ""))
        if not amounts:
            yield (*hull, "", "", "", "", "", "")


def as_lines(answer: Shared) -> Iterator[str]:
    """Lines to read: what was asked, how many, what is missing, then the hulls that share it or may."""
    yield _("%(cause)s, as known on %(on)s (%(size)d events)") % {
        "cause": " ".join(written(answer.cause)), "on": utc(answer.as_known_on), "size": answer.tree_size,
    }  # fmt: skip
    yield _("%(certain)d certain, %(may)d may, %(cannot)d cannot, of %(all)d hulls") % {
        "certain": answer.count("certain"), "may": answer.count("may"), "cannot": answer.count("cannot"),
        "all": len(answer.lines),
    }  # fmt: skip
    yield ""
    yield _("Missing from the record:") if answer.gaps else _("Nothing is known to be missing from the record.")
    for said in dict.fromkeys(gap.said for gap in answer.gaps):
        yield "  " + said
    for verdict in STRONGEST_FIRST[:2]:
        shown = [line for line in answer.lines if line.verdict == verdict]
        if shown:
            yield ""
            yield verdict
        for line in shown:
            yield f"  {line.node.said}  {line.place or _('place unknown')}  {stamped(line.built.last)}  {line.why}"
