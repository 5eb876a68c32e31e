"""Everything known of one lot, or of what a vessel holds, at a moment."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from django.db import connection

from trace.genealogy.amounts import OPEN, wholly
from trace.genealogy.answer import Answer, Line, of_unit, one_picture, what_was_known
from trace.genealogy.find import UnknownCodeError, find_unit
from trace.genealogy.flows import flows
from trace.genealogy.graph import Edge, Flow, Node
from trace.genealogy.live import LIVE, known_by
from trace.genealogy.missing import Suspect
from trace.genealogy.places import places
from trace.genealogy.scope import one_layer
from trace.genealogy.walk import nodes, walk
from trace.genealogy.wide import HowFar, doubtful, how_far, known_as, shares_of
from trace.sheets.facts.entries import Entry, Row, answers, entries
from trace.sheets.facts.holding import Laid, held, laid
from trace.sheets.facts.known import Known, known_of

SUBJECTS = frozenset({"lot", "blend", "content", "regrind"})
# A container's content that was received is part of its lot; what a vessel holds is a subject of its own.
RECEIVED = f"""
SELECT e.parent FROM edge e WHERE e.child = %(unit)s AND e.role = 'receive' AND NOT e.aside AND {LIVE}
ORDER BY e.id LIMIT 1
"""
# Of a wide lot: its containers, and what was taken out of these or out of it.
TAKEN = f"""
WITH own AS (
  SELECT %(root)s::bigint AS id
  UNION SELECT e.child FROM edge e WHERE e.parent = %(root)s AND e.role = 'receive' AND NOT e.aside AND {LIVE})
SELECT e.id, e.child, e.parent, e.event, e.role, e.layer, e.position, e.amount, e.uom, e.aside
FROM own JOIN edge e ON e.parent = own.id AND NOT e.aside AND {LIVE} ORDER BY e.id LIMIT 5000
"""
CARRIERS = """
SELECT u.id, c.kind FROM unit u JOIN carrier c ON c.id = u.carrier WHERE u.id = ANY (%(ids)s)
"""
# A lot that went into more than so many units is shown by its numbers and a page of hulls at a time.
WIDE = 5_000
HULLS_A_PAGE = 60


@dataclass(frozen=True)
class GatheredLot:
    """`answer` is the forward trace of the lot. `flows` are those of its containers and of what it was mixed
    into; `carriers` says what they are in. `held`: units under any hold. `behind`: the lots that came together in a
    vessel or a blend. `wide`: it went too far to reckon each share while somebody waits; then `answer` holds only its
    containers, what was taken out of them, and the hulls of page number `page`, whose shares alone are reckoned.
    """

    answer: Answer
    flows: Mapping[int, Flow]
    carriers: Mapping[int, str]
    entries: tuple[Entry, ...]
    known: Known
    holds: tuple[Laid, ...]
    held: frozenset[int]
    answers: Mapping[int, Row]
    asked: datetime | None
    behind: tuple[Node, ...] = ()
    wide: HowFar | None = None
    page: int = 1

    @property
    def lot(self) -> Node:
        return self.answer.root

    @cached_property
    def lines(self) -> dict[int, Line]:
        return {line.node.id: line for line in self.answer.lines}

    @cached_property
    def by_uid(self) -> dict[str, Node]:
        return {line.node.uid: line.node for line in self.answer.lines}

    @cached_property
    def went_into(self) -> dict[int, int]:
        """unit -> the first thing it went into."""
        return {e.parent: e.child for e in reversed(self.answer.edges)}

    @cached_property
    def hulls(self) -> list[Line]:
        return [line for line in self.answer.lines if line.node.kind == "hull"]

    @cached_property
    def containers(self) -> list[Node]:
        """What the lot came in: the contents received of it, or the content itself."""
        if self.lot.kind != "lot":
            return [self.lot]
        own = [e.child for e in self.answer.edges if e.parent == self.lot.id and e.role == "receive"]
        return [self.lines[unit].node for unit in own]

    @cached_property
    def samples(self) -> list[Node]:
        """Retained samples of it, the newest first."""
        found = [line.node for line in self.answer.lines if line.node.kind == "sample"]
        return sorted(found, key=lambda node: (node.happened, node.id), reverse=True)

    @cached_property
    def mixed(self) -> list[Node]:
        """Other containers and vessels that hold or held some of it."""
        if self.wide:
            return []
        own = {n.id for n in self.containers}
        return [
            line.node
            for line in self.answer.lines
            if line.node.kind in ("content", "blend", "regrind") and line.node.id not in own | {self.lot.id}
        ]

    def left(self, node: Node) -> int | None:
        """What the book says is in it still: amount and differences less what was drawn; None: no book."""
        if node.amount is None:
            return None
        flow = self.flows.get(node.id, Flow())
        return node.amount + flow.difference - flow.drawn


class NoLotError(UnknownCodeError):
    """The code stands for something else than a lot or a container: `node`."""

    def __init__(self, node: Node) -> None:
        super().__init__(f"{node.code} is a {node.kind}, no lot.")
        self.node = node


def gather_lot(
    code: str, as_known_on: datetime | None = None, page: int = 1, *, whole: bool = False
) -> GatheredLot:
    """Read all of one lot, by its number or by a label of one of its containers. `page` of its hulls, where it is wide;
    `whole`: however wide it is, all of its hulls.

    Raises NoLotError, UnknownCodeError or AmbiguousCodeError (LookupErrors of one sentence).
    """
    with one_picture():
        at, size = what_was_known(as_known_on)
        unit = find_unit(code, at)
        lot = _lot_of(unit, at)
        if lot is None:
            node = nodes([unit], at)[unit]
            if node.kind not in SUBJECTS:
                raise NoLotError(node)
        shown = slice((page - 1) * HULLS_A_PAGE, page * HULLS_A_PAGE)
        far = how_far([lot or unit], at, page=shown)
        if far.units > WIDE and not whole:
            suspect = known_as(nodes([lot or unit], at)[lot or unit], far)
            if doubts := doubtful(suspect, at):
                far = how_far([lot or unit, *doubts], at, page=shown)
            answer = _in_numbers(suspect, code, at, size, far, page)
            return _gather(answer, as_known_on, far, page)
        return _gather(of_unit(lot or unit, code, "forward", at, size), as_known_on)


def _in_numbers(suspect: Suspect, code: str, at: datetime, size: int, far: HowFar, page: int) -> Answer:
    """As of_unit, of what the page of a wide lot shows: its containers, what was taken out of them, some hulls."""
    root = suspect.node
    with connection.cursor() as cursor:
        cursor.execute(TAKEN, {"root": root.id, "known": known_by(at)})
        edges = tuple(Edge(*row) for row in cursor.fetchall())
    shown = far.hulls[(page - 1) * HULLS_A_PAGE : page * HULLS_A_PAGE]
    known = nodes({root.id, *shown, *(e.child for e in edges)}, at)
    where = places([*shown, *(e.child for e in edges if e.role == "receive")], at)
    shares, uom = shares_of(suspect, shown, far, at) or ({}, None)
    shares = {**shares, root.id: one_layer(wholly(root.amount))}
    uom = uom or root.uom or next((e.uom for e in edges if e.uom), None)
    lines = tuple(
        Line(node, share.verdict, share, uom, where.get(node.id))
        for node in sorted(known.values(), key=lambda n: n.uid)
        for share in [shares.get(node.id) or one_layer(OPEN)]
    )
    return Answer(code, "forward", at, size, root, lines, edges, (), {})


def _lot_of(unit: int, at: datetime) -> int | None:
    with connection.cursor() as cursor:
        cursor.execute(RECEIVED, {"unit": unit, "known": known_by(at)})
        row = cursor.fetchone()
        return row[0] if row else None


def _gather(answer: Answer, asked: datetime | None, wide: HowFar | None = None, page: int = 1) -> GatheredLot:
    at = answer.as_known_on
    own = {answer.root.id} | {e.child for e in answer.edges if e.parent == answer.root.id and e.role == "receive"}
    # Of a wide lot nobody reckons what each vessel that it was mixed into still holds.
    stock = own if wide else {x.node.id for x in answer.lines if x.node.kind in SUBJECTS}
    samples, hulls = _of_kind(answer, "sample"), _of_kind(answer, "hull")
    told = entries(inner=samples, stock=own, as_known_on=at)
    holds = laid(own, at)
    said = answers([e.id for e in told if e.flagged])
    behind = _lots_behind(answer.root, at)
    abouts = [n.about for n in behind]
    abouts += [x.node.about for x in answer.lines if x.node.id in stock or x.node.kind in ("hull", "consignment")]
    places = {x.place for x in answer.lines if x.node.id in stock | hulls | samples}
    carriers = _carriers_of(stock)
    return GatheredLot(
        answer, flows(stock, at), carriers, tuple(told),
        known_of(told, abouts, holds, said.values(), places, at),
        tuple(holds), frozenset(held(hulls | own, asked and at)), said, asked, behind,
        wide, page,
    )  # fmt: skip


def _of_kind(answer: Answer, kind: str) -> set[int]:
    return {line.node.id for line in answer.lines if line.node.kind == kind}


def _lots_behind(root: Node, at: datetime) -> tuple[Node, ...]:
    """The lots that came together in a vessel or a blend; behind a lot stands none."""
    if root.kind == "lot":
        return ()
    return tuple(n for n in walk([root.id], "back", at).nodes.values() if n.kind == "lot")


def _carriers_of(units: set[int]) -> dict[int, str]:
    """What kind of carrier each of these units is in; those in none are left out."""
    with connection.cursor() as cursor:
        cursor.execute(CARRIERS, {"ids": sorted(units)})
        return dict(cursor.fetchall())
