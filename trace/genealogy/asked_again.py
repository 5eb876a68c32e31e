"""A question asked again: what it is answered for its own moment and for a later one, and each hull told otherwise.

What was kept of an answer is its counts and a digest of everything behind them, so that whoever asks again for the same
moment can say whether the answer is the same.
"""

import hashlib
import json
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from trace.genealogy.admitted import Admitted
from trace.genealogy.amounts import Bounds
from trace.genealogy.causes import Cause, Holds, written
from trace.genealogy.judging import Judged
from trace.genealogy.scope import Share
from trace.genealogy.sharing import Line, Shared, shared_by
from trace.genealogy.told_since import Since, told_since

How = Literal["new", "gone", "verdict", "amount"]
# In the order in which they are told.
HOW: tuple[How, ...] = ("gone", "new", "verdict", "amount")


@dataclass(frozen=True, slots=True)
class Change:
    """One hull that is told otherwise. new: it shares the cause now and did not, or was not made (`then` is None);
    gone: it shared the cause and cannot now; verdict: certain and may changed places; amount: there is another amount
    of what was asked about in it."""

    how: How
    then: Line | None
    now: Line | None


@dataclass(frozen=True, slots=True)
class AskedAgain:
    """Both answers and what differs between them. `gaps_new`, `gaps_gone`: missing records that one alone tells of.
    `unweighed`: the amounts of what went too far to be reckoned at once are not compared."""

    then: Shared
    now: Shared
    changes: tuple[Change, ...]
    gaps_new: tuple[Admitted, ...]
    gaps_gone: tuple[Admitted, ...]
    unweighed: bool

    def count(self, how: How) -> int:
        return sum(1 for change in self.changes if change.how == how)

    def since(self, changes: Collection[Change]) -> Mapping[int, list[Since]]:
        """By hull, what was recorded between the two moments of those that were made by the first."""
        made = [change.then.hull for change in changes if change.then]
        return told_since(made, self.then.as_known_on, self.now.as_known_on)

    def look_up(self, changes: tuple[Change, ...]) -> None:
        """Look up at once what the lines of these tell."""
        self.then.look_up([change.then for change in changes if change.then])
        self.now.look_up([change.now for change in changes if change.now])


def asked_again(cause: Cause, known: datetime, now: datetime | None = None) -> AskedAgain:
    """Ask for `known` and for `now` (None: what is known now). Raises what `shared_by` raises."""
    return compared(shared_by(cause, known), shared_by(cause, now))


def compared(then: Shared, now: Shared) -> AskedAgain:
    """What two answers to one question tell otherwise, in the order of HOW, then as the hulls were made."""
    old, new = ({_key(gap): gap for gap in answer.gaps} for answer in (then, now))
    return AskedAgain(
        then, now, tuple(sorted(_changes(then, now), key=lambda change: HOW.index(change.how))),
        tuple(gap for key, gap in new.items() if key not in old),
        tuple(gap for key, gap in old.items() if key not in new), _too_far(then) or _too_far(now),
    )  # fmt: skip


def _changes(then: Shared, now: Shared) -> Iterator[Change]:
    weighed = [one for one, judged in _weighed(then) if judged.shares and now.telling.judged[one].shares]
    before = {line.hull: line for line in then.lines}
    for line in now.lines:
        first = before.pop(line.hull, None)
        how = _how(first, line, then, now, weighed)
        if how:
            yield Change(how, first, line)
    yield from (Change("gone", line, None) for line in before.values() if _shares(line))


def _how(then: Line | None, now: Line, at_first: Shared, today: Shared, weighed: list[Holds]) -> How | None:
    if then is None or not _shares(then):
        return "new" if _shares(now) else None
    if not _shares(now):
        return "gone"
    if then.verdict != now.verdict:
        return "verdict"
    same = all(_amounts(at_first, one, now.hull) == _amounts(today, one, now.hull) for one in weighed)
    return None if same else "amount"


def _shares(line: Line) -> bool:
    return line.verdict != "cannot"


def _weighed(answer: Shared) -> Iterator[tuple[Holds, Judged]]:
    """The parts of the question that are of an amount, in the order of their words."""
    found = [(one, judged) for one, judged in answer.telling.judged.items() if isinstance(one, Holds)]
    yield from sorted(found, key=lambda pair: written(pair[0]))


def _too_far(answer: Shared) -> bool:
    """Whether something asked about reached hulls, and how much is in each was not reckoned at once."""
    return any(judged.verdicts and not judged.shares for _one, judged in _weighed(answer))


def _amounts(answer: Shared, one: Holds, hull: int) -> list[list[Any]]:
    """The bounds in each part of a hull and in all of it. Not what mixing makes likely: that is a model."""
    share: Share | None = answer.telling.judged[one].shares.get(hull)
    if share is None:
        return []
    return [*([layer, *_bounds(bounds)] for layer, bounds in sorted(share.layers.items())), ["", *_bounds(share.total)]]


def _bounds(bounds: Bounds) -> tuple[str, str | None]:
    return str(bounds.least), None if bounds.most is None else str(bounds.most)


def _key(gap: Admitted) -> tuple[str, str, str]:
    """A gap by what never changes: labels and words may."""
    return gap.unit, gap.what, gap.which


def digest_of(answer: Shared) -> str:
    """SHA-256 of all that an answer says of each hull known then, and of the missing records: a row of JSON each, of
    uid, verdict and bounds in the smallest unit, the gaps last. How much of a lot that went too far is in each hull is
    no part of it."""
    weighed = [one for one, _judged in _weighed(answer)]
    told = hashlib.sha256()
    for line in answer.lines:
        told.update(_row([line.made.uid, line.verdict, *(_amounts(answer, one, line.hull) for one in weighed)]))
    for key in sorted(_key(gap) for gap in answer.gaps):
        told.update(_row(list(key)))
    return told.hexdigest()


def _row(values: list[Any]) -> bytes:
    return json.dumps(values, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
