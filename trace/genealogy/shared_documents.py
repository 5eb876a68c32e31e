"""The answer to a scope as JSON, as rows for a spreadsheet and as lines to read."""

import json
from collections.abc import Iterator, Mapping
from typing import Any

from django.utils.translation import gettext as _

from trace.genealogy.admitted import Admitted
from trace.genealogy.amounts import Bounds
from trace.genealogy.asked_again import HOW, AskedAgain, Change
from trace.genealogy.causes import STRENGTH, Holds, written
from trace.genealogy.documents import UNIT_CODES, in_unit, utc
from trace.genealogy.reasons import stamped
from trace.genealogy.sharing import Line, Shared
from trace.genealogy.told_since import Since

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
        "gaps": [_gap(gap) for gap in answer.gaps],
    }


def _gap(gap: Admitted) -> dict[str, Any]:
    return {"id": gap.unit, "code": gap.code, "what": gap.what, "which": gap.which, "text": gap.text}


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


def again_as_json(found: AskedAgain) -> dict[str, Any]:
    """{then, now: {as_known_on, tree_size, counts}, changes, gaps_new, gaps_gone, unweighed}."""
    found.look_up(found.changes)
    since = found.since(found.changes)
    return {
        **{
            name: {
                "as_known_on": utc(answer.as_known_on), "tree_size": answer.tree_size,
                "counts": {verdict: answer.count(verdict) for verdict in STRONGEST_FIRST},
            }
            for name, answer in (("then", found.then), ("now", found.now))
        },
        "changes": [_change(change, since) for change in found.changes],
        "gaps_new": [_gap(gap) for gap in found.gaps_new],
        "gaps_gone": [_gap(gap) for gap in found.gaps_gone],
        "unweighed": found.unweighed,
    }  # fmt: skip


def _change(change: Change, since: Mapping[int, list[Since]]) -> dict[str, Any]:
    line = change.now or change.then
    assert line is not None  # noqa: S101 - one of them is there
    return {
        "how": change.how, "id": line.node.uid, "code": line.node.code,
        "then": _told(change.then) if change.then else None, "now": _told(change.now) if change.now else None,
        "since": [{"kind": one.kind, "recorded": utc(one.recorded)} for one in since.get(line.hull, ())],
    }  # fmt: skip


def _told(line: Line) -> dict[str, str]:
    return {"verdict": line.verdict, "why": line.why}


def again_as_lines(found: AskedAgain, *, as_kept: bool) -> Iterator[str]:
    """Lines to read: whether its moment is answered as it was, then what differs from now, by how."""
    found.look_up(found.changes)
    kept = _("answered as it was when it was saved")
    yield _("As known on %(on)s: %(same)s.") % {
        "on": utc(found.then.as_known_on),
        "same": kept if as_kept else _("NOT ANSWERED AS IT WAS when it was saved: check the records"),
    }  # fmt: skip
    for answer in (found.then, found.now):
        yield _("%(on)s: %(certain)d certain, %(may)d may, %(cannot)d cannot") % {
            "on": utc(answer.as_known_on), "certain": answer.count("certain"), "may": answer.count("may"),
            "cannot": answer.count("cannot"),
        }  # fmt: skip
    if not found.changes:
        yield _("No hull is told otherwise today.")
    words = {"gone": _("shares it no more"), "new": _("shares it now"), "verdict": _("changed"),
             "amount": _("holds another amount")}  # fmt: skip
    for how in HOW:
        for change in found.changes:
            if change.how == how:
                yield f"  {_change_said(change)}  {words[how]}"
    for gap in found.gaps_new:
        yield _("Known to be missing now: %(gap)s") % {"gap": gap.said}
    for gap in found.gaps_gone:
        yield _("Missing then, and no more: %(gap)s") % {"gap": gap.said}


def _change_said(change: Change) -> str:
    line = change.now or change.then
    assert line is not None  # noqa: S101 - one of them is there
    then = change.then.verdict if change.then else _("not made then")
    return f"{line.node.said}  {then} → {change.now.verdict if change.now else 'cannot'}  {line.why}"
