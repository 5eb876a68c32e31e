"""What a question asked again shows: both answers counted, and each hull that is told otherwise, with why."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from trace.genealogy.amounts import Verdict
from trace.genealogy.asked_again import HOW, AskedAgain, Change, How
from trace.genealogy.reasons import stamped
from trace.genealogy.sharing import Shared
from trace.genealogy.told_since import Since
from trace.recording.acts import act_words
from trace.sheets.addresses import hull_url

COUNTED: tuple[Verdict, ...] = ("certain", "may", "cannot")


@dataclass(frozen=True, slots=True)
class ChangedHull:
    """A hull that is told otherwise. then: its verdict then, "" where it was not made; why_then, why: on what each
    rests, in one line; since: what was recorded of it and of what it was made of since then, "" where that is not
    known."""

    code: str
    url: str
    how: How
    then: Verdict | str
    now: Verdict
    why_then: str
    why: str
    since: str


@dataclass(frozen=True, slots=True)
class Told:
    """One of the two answers, counted: for which moment, and how many records there were by then."""

    on: datetime
    counts: Mapping[Verdict, int]
    records: int


@dataclass(frozen=True, slots=True)
class AgainSheet:
    """Contract of templates/pages/parts/asked_again.html. as_kept: its moment is answered today as it was when it was
    kept; of: how many hulls changed in each way; gaps_new, gaps_gone: missing records that only one answer tells of."""

    said: str
    then: Told
    now: Told
    as_kept: bool
    of: Mapping[How, int]
    changed: tuple[ChangedHull, ...]
    more: int
    gaps_new: tuple[str, ...]
    gaps_gone: tuple[str, ...]
    unweighed: bool

    @property
    def both(self) -> tuple[Told, Told]:
        return self.then, self.now


def again_sheet(found: AskedAgain, said: str, *, as_kept: bool, skipped: int = 0, most: int = 50) -> AgainSheet:
    """The hulls told otherwise from so many on, at most so many; `more` counts those after them."""
    shown = found.changes[skipped : skipped + most]
    found.look_up(shown)
    since = found.since(shown)
    now = found.now.as_known_on
    return AgainSheet(
        said=said, then=_told(found.then), now=_told(found.now), as_kept=as_kept,
        of={how: n for how in HOW if (n := found.count(how))},
        changed=tuple(_changed(change, now, since) for change in shown),
        more=max(0, len(found.changes) - skipped - len(shown)),
        gaps_new=tuple(dict.fromkeys(gap.said for gap in found.gaps_new)),
        gaps_gone=tuple(dict.fromkeys(gap.said for gap in found.gaps_gone)), unweighed=found.unweighed,
    )  # fmt: skip


def _told(answer: Shared) -> Told:
    return Told(answer.as_known_on, {verdict: answer.count(verdict) for verdict in COUNTED}, answer.tree_size)


def _changed(change: Change, now: datetime, since: Mapping[int, list[Since]]) -> ChangedHull:
    line = change.now or change.then
    assert line is not None  # noqa: S101 - one of them is there
    shared_then = change.then is not None and change.then.verdict != "cannot"
    return ChangedHull(
        line.node.said, hull_url(line.node.serial or "", now), change.how,
        change.then.verdict if change.then else "", change.now.verdict if change.now else "cannot",
        change.then.why if change.then and shared_then else "", change.now.why if change.now else "",
        ", ".join(f"{act_words(one.kind)} ({stamped(one.recorded)})" for one in since.get(line.hull, ())),
    )  # fmt: skip
