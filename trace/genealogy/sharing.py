"""Which hulls share a cause, as known on a day: each certain, may or cannot, with how much of it and why in one line.

Every simple cause is judged for all hulls at once (judging.py); and, or and not join their verdicts (causes.py). Where
a record is missing that could have named the cause, the hull may share it. What a line tells besides its verdict is
looked up when it is asked for: of many thousand hulls a page shows fifty.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from trace.genealogy.admitted import Admitted
from trace.genealogy.amounts import Verdict
from trace.genealogy.answer import one_picture, what_was_known
from trace.genealogy.built import Built, Hull, all_hulls
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
from trace.genealogy.owners import owner_now, owners
from trace.genealogy.places import places
from trace.genealogy.scope import Share
from trace.genealogy.walk import nodes

# What so many hulls tell is looked up at once where an answer is read from end to end.
AT_ONCE = 2_000


@dataclass
class Telling:
    """What the lines of one answer tell, by hull, as far as it was looked up."""

    cause: Cause
    known: datetime
    hulls: Mapping[int, Hull]
    judged: Mapping[Simple, Judged]
    nodes: dict[int, Node] = field(default_factory=dict)
    whys: dict[int, str] = field(default_factory=dict)
    places: dict[int, str | None] = field(default_factory=dict)
    regions: Mapping[int, str] | None = None
    reckoned: dict[Holds, dict[int, Share]] = field(default_factory=dict)

    def node(self, hull: int) -> Node:
        if hull not in self.nodes:
            self.look_up_nodes(self.hulls)
        return self.nodes[hull]

    def why(self, hull: int) -> str:
        if hull not in self.whys:
            self.look_up_whys(self.hulls)
        return self.whys[hull]

    def place(self, hull: int) -> str | None:
        if hull not in self.places:
            self.look_up_places(self.hulls)
        return self.places[hull]

    def region(self, hull: int) -> str | None:
        if self.regions is None:
            told = {one: owner_now(said) for one, said in owners(None, self.known).items()}
            self.regions = {one: owner.region for one, owner in told.items() if owner and owner.region}
        return self.regions.get(hull)

    def shares(self, hull: int) -> Mapping[Holds, tuple[Share, str | None]]:
        found = {}
        for one, said in self.judged.items():
            if isinstance(one, Holds):
                share = said.shares.get(hull) or self.reckoned.get(one, {}).get(hull)
                if share is not None:
                    found[one] = share, said.uom
        return found

    def look_up(self, hulls: Collection[int]) -> None:
        """All that the lines of these hulls tell."""
        self.look_up_nodes(hulls)
        self.look_up_whys(hulls)
        self.look_up_places(hulls)
        for one, said in self.judged.items():
            if isinstance(one, Holds):
                self.reckoned.setdefault(one, {}).update(said.reckon(hulls))

    def look_up_nodes(self, hulls: Collection[int]) -> None:
        self.nodes |= nodes([hull for hull in hulls if hull not in self.nodes], self.known)

    def forget(self, hulls: Iterable[int]) -> None:
        """Keep no longer what these hulls are and why; where they are is little and stays."""
        for hull in hulls:
            self.nodes.pop(hull, None)
            self.whys.pop(hull, None)

    def look_up_places(self, hulls: Collection[int]) -> None:
        asked = [hull for hull in hulls if hull not in self.places]
        self.places |= {**dict.fromkeys(asked), **places(asked, self.known)}

    def look_up_whys(self, hulls: Collection[int]) -> None:
        asked = [hull for hull in hulls if hull not in self.whys]
        said = {one: judged.why(asked) for one, judged in self.judged.items()}
        self.whys |= {hull: _joined(self.cause, hull, self.judged, said)[1] for hull in asked}


@dataclass(frozen=True, slots=True)
class Line:
    """One hull."""

    made: Hull
    verdict: Verdict
    telling: Telling = field(repr=False, compare=False)

    @property
    def hull(self) -> int:
        return self.made.id

    @property
    def built(self) -> Built:
        return self.made.built

    @property
    def node(self) -> Node:
        return self.telling.node(self.made.id)

    @property
    def why(self) -> str:
        return self.telling.why(self.made.id)

    @property
    def place(self) -> str | None:
        return self.telling.place(self.made.id)

    @property
    def region(self) -> str | None:
        """Where its owner is registered; None where nobody is, or the region was not told."""
        return self.telling.region(self.made.id)

    @property
    def shares(self) -> Mapping[Holds, tuple[Share, str | None]]:
        """How much of each material asked about is in it, with its unit of measure."""
        return self.telling.shares(self.made.id)


@dataclass(frozen=True, slots=True)
class Shared:
    """The answer: every hull known then, in the order in which they were made. `tree_size` as in Answer.

    `parts` counts what each simple cause is true of; `any_much` the same however little is in them, where a least
    amount was asked for.
    """

    cause: Cause
    as_known_on: datetime
    tree_size: int
    lines: tuple[Line, ...]
    parts: Mapping[Simple, Mapping[Verdict, int]]
    any_much: Mapping[Simple, Mapping[Verdict, int]]
    gaps: tuple[Admitted, ...]
    telling: Telling = field(repr=False, compare=False)

    def count(self, verdict: Verdict) -> int:
        return sum(1 for line in self.lines if line.verdict == verdict)

    def look_up(self, lines: Collection[Line]) -> None:
        """Look up at once what these lines tell; one that was not looked up makes all of them be."""
        self.telling.look_up([line.made.id for line in lines])

    def each(self, lines: Sequence[Line]) -> Iterator[Line]:
        """These lines one after another. What each is and why is looked up for some at a time and forgotten again, so
        that what 100,000 hulls tell is never in memory whole; a line is to be read while it is at hand."""
        for at in range(0, len(lines), AT_ONCE):
            some = lines[at : at + AT_ONCE]
            ids = [line.made.id for line in some]
            self.telling.look_up_nodes(ids)
            self.telling.look_up_whys(ids)
            yield from some
            self.telling.forget(ids)

    def look_up_places(self, lines: Collection[Line]) -> None:
        """Where the hulls of these lines are, at once."""
        self.telling.look_up_places([line.made.id for line in lines])


def shared_by(cause: Cause, as_known_on: datetime | None = None) -> Shared:
    """Every hull known by then. Raises CauseError, UnknownCodeError or AmbiguousCodeError, each of one sentence."""
    with one_picture():
        known, size = what_was_known(as_known_on)
        hulls = all_hulls(known)
        asked = Asked(known, hulls)
        judged = {one: asked.judged(one) for one in simple_parts(cause)}
    telling = Telling(cause, known, hulls, judged)
    order = sorted(hulls.values(), key=lambda hull: (hull.first, hull.last, hull.uid))
    lines = tuple(Line(hull, _verdict(cause, hull.id, judged), telling) for hull in order)
    parts = {one: _counts(said.verdicts, hulls) for one, said in judged.items()}
    any_much = {one: _counts(said.any_much, hulls) for one, said in judged.items() if said.any_much is not None}
    gaps = sorted({gap for said in judged.values() for gap in said.gaps})
    return Shared(cause, known, size, lines, parts, any_much, tuple(gaps), telling)


def _counts(verdicts: Mapping[int, Verdict], hulls: Collection[int]) -> dict[Verdict, int]:
    counted: dict[Verdict, int] = dict.fromkeys(reversed(STRENGTH), 0)
    for hull in hulls:
        counted[verdicts.get(hull, "cannot")] += 1
    return counted


def _verdict(cause: Cause, hull: int, judged: Mapping[Simple, Judged]) -> Verdict:
    match cause:
        case Not(part):
            return opposite(_verdict(part, hull, judged))
        case All(parts):
            return all_of(_verdict(part, hull, judged) for part in parts)
        case Some(parts):
            return some_of(_verdict(part, hull, judged) for part in parts)
        case _:
            return judged[cause].of(hull)


def _joined(
    cause: Cause, hull: int, judged: Mapping[Simple, Judged], said: Mapping[Simple, Mapping[int, str]]
) -> tuple[Verdict, str]:
    """The verdict on a hull, and the reasons (`said`, by hull) of those parts on which it rests."""
    match cause:
        case Not(part):
            verdict, why = _joined(part, hull, judged, said)
            return opposite(verdict), why
        case All(parts) | Some(parts):
            found = [_joined(part, hull, judged, said) for part in parts]
            verdict = (all_of if isinstance(cause, All) else some_of)(one for one, _why in found)
            reasons = [why for one, why in found if one == verdict]
            # Where all must hold, one that does not is enough; where one is enough, one that does.
            alone = verdict == ("cannot" if isinstance(cause, All) else "certain")
            return verdict, reasons[0] if alone else "; ".join(dict.fromkeys(reasons))
        case _:
            return judged[cause].of(hull), said[cause][hull]
