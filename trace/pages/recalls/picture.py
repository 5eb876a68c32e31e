"""Where on the hull the fault is: each model's drawing, marked where what is recalled sits or a complaint points."""

from collections.abc import Collection, Iterator, Sequence
from datetime import datetime

from django.utils.translation import gettext as _

from trace.drawings import PlanPair
from trace.genealogy.causes import CauseError, Holds, read_cause, simple_parts
from trace.genealogy.containment import Looked
from trace.genealogy.find import find_unit
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import REGRIND, walk
from trace.sheets.cases.spots import plan_of
from trace.sheets.cases.told import told
from trace.sheets.facts.revisions import revisions

HELD = "SELECT h.unit FROM hold h WHERE h.uid = %(hold)s::uuid"
# What sits at a place of the drawing.
PLACED = ("insert", "graphic")


def pictures(
    hulls: Sequence[Looked], hold: str, question: Sequence[str], known: datetime | None
) -> tuple[tuple[str, PlanPair], ...]:
    """(model, drawing) for each model on the list that has a drawing; one of its hulls stands for all of it."""
    models: dict[str, list[Looked]] = {}
    for one in sorted(hulls, key=lambda hull: (hull.may, hull.node.id)):
        models.setdefault(str(one.node.about.get("product") or ""), []).append(one)
    roots = _recalled(hold, question, known)
    pointed = _pointed_at({one.node.uid for one in hulls}, known)
    bodies = revisions((("product", model) for model in models), known)
    found = []
    for model, some in sorted(models.items()):
        at = _placed_in(some[0].node.id, roots, known).union(*(pointed.get(one.node.uid, ()) for one in some))
        body = bodies.newest("product", model)
        if pair := plan_of(body, dict.fromkeys(sorted(at), _("look here")), model):
            found.append((str(body.get("name") or model), pair))
    return tuple(found)


def _recalled(hold: str, question: Sequence[str], known: datetime | None) -> set[int]:
    """The units that the hold or the question is about; none where it is about something else, such as a mould."""
    if hold:
        return {unit for (unit,) in fetch_rows(HELD, {"hold": hold})}
    try:
        return {find_unit(part.code, known) for part in simple_parts(read_cause(question)) if isinstance(part, Holds)}
    except (CauseError, LookupError):
        return set()


def _placed_in(hull: int, roots: Collection[int], known: datetime | None) -> set[str]:
    """The places at which something of these units sits in the hull."""
    if not roots:
        return set()
    edges = walk([hull], "back", known, stop_roles=REGRIND).edges
    into: dict[int, list[int]] = {}
    for edge in edges:
        into.setdefault(edge.parent, []).append(edge.child)
    of_them = set(_onward(roots, into))
    return {edge.position for edge in edges if edge.position and edge.role in PLACED and edge.parent in of_them}


def _onward(roots: Collection[int], into: dict[int, list[int]]) -> Iterator[int]:
    seen: set[int] = set()
    waiting = list(roots)
    while waiting:
        unit = waiting.pop()
        if unit not in seen:
            seen.add(unit)
            waiting += into.get(unit, ())
            yield unit


def _pointed_at(hulls: Collection[str], known: datetime | None) -> dict[str, set[str]]:
    """Where complaints point, by the hull's uid."""
    found: dict[str, set[str]] = {}
    for one in told(known).complaints.values():
        if one.hull in hulls and one.says.get("spot"):
            found.setdefault(str(one.hull), set()).add(str(one.says["spot"]))
    return found
