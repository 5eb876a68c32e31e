"""Which hulls share a cause, as known on a day: each certain, may or cannot, with how much of it and why in one line.

Every simple cause is judged for all hulls at once (judging.py); and, or and not join their verdicts (causes.py). Where
a record is missing that could have named the cause, the hull may share it.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from trace.genealogy.admitted import Admitted
from trace.genealogy.amounts import Verdict
from trace.genealogy.answer import one_picture, what_was_known
from trace.genealogy.built import Built, hulls_built
from trace.genealogy.causes import (
    STRENGTH,
    All,
    Cause,
    Holds,
    Not,
    Simple,
    Some,
    all_of,
    opposite,
    simple_parts,
    some_of,
)
from trace.genealogy.graph import Node
from trace.genealogy.judging import Asked, Judged
from trace.genealogy.places import places
from trace.genealogy.scope import Share
from trace.genealogy.walk import nodes


@dataclass(frozen=True, slots=True)
class Line:
    """One hull. `shares`: how much of each material asked about is in it, with its unit of measure."""

    node: Node
    verdict: Verdict
    why: str
    built: Built
    place: str | None
    shares: Mapping[Holds, tuple[Share, str | None]]


@dataclass(frozen=True, slots=True)
class Shared:
    """The answer: every hull known then, in the order in which they were made. `tree_size` as in Answer."""

    cause: Cause
    as_known_on: datetime
    tree_size: int
    lines: tuple[Line, ...]
    parts: Mapping[Simple, Mapping[Verdict, int]]
    gaps: tuple[Admitted, ...]

    def count(self, verdict: Verdict) -> int:
        return sum(1 for line in self.lines if line.verdict == verdict)


def shared_by(cause: Cause, as_known_on: datetime | None = None) -> Shared:
    """Every hull known by then. Raises CauseError, UnknownCodeError or AmbiguousCodeError, each of one sentence."""
    with one_picture():
        known, size = what_was_known(as_known_on)
        built = hulls_built(known)
        found = nodes(built, known)
        asked = Asked(known, size, found, built)
        judged = {one: asked.judged(one) for one in simple_parts(cause)}
        where = places(built, known)
        lines = [_line(cause, found[hull], built[hull], judged, where.get(hull)) for hull in found]
        parts = {one: _counts(said, found) for one, said in judged.items()}
        gaps = sorted({gap for said in judged.values() for gap in said.gaps})
        order = sorted(lines, key=lambda line: (line.built.first, line.built.last, line.node.uid))
        return Shared(cause, known, size, tuple(order), parts, tuple(gaps))


def _counts(judged: Judged, hulls: Collection[int]) -> dict[Verdict, int]:
    counted: dict[Verdict, int] = dict.fromkeys(reversed(STRENGTH), 0)
    for hull in hulls:
        counted[judged.of(hull)] += 1
    return counted


def _line(cause: Cause, node: Node, built: Built, judged: Mapping[Simple, Judged], place: str | None) -> Line:
    verdict, why = _joined(cause, node.id, judged)
    shares = {
        one: (said.shares[node.id], said.uom)
        for one, said in judged.items()
        if isinstance(one, Holds) and node.id in said.shares
    }
    return Line(node, verdict, why, built, place, shares)


def _joined(cause: Cause, hull: int, judged: Mapping[Simple, Judged]) -> tuple[Verdict, str]:
    """The verdict on a hull, and the reasons of those parts on which it rests."""
    match cause:
        case Not(part):
            verdict, why = _joined(part, hull, judged)
            return opposite(verdict), why
        case All(parts) | Some(parts):
            found = [_joined(part, hull, judged) for part in parts]
            verdict = (all_of if isinstance(cause, All) else some_of)(said for said, _why in found)
            reasons = [why for said, why in found if said == verdict]
            # Where all must hold, one that does not is enough; where one is enough, one that does.
            alone = verdict == ("cannot" if isinstance(cause, All) else "certain")
            return verdict, reasons[0] if alone else "; ".join(dict.fromkeys(reasons))
        case _:
            return judged[cause].of(hull), judged[cause].why(hull)


