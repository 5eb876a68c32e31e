"""What was begun for a case: its containment walks as far as they are, and the mock recalls of the lots it suspects."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from plant.sign_on import SignedOn
from trace.genealogy.causes import CauseError, Holds, read_cause
from trace.genealogy.containment import Begun, progress
from trace.genealogy.drill import drills_for
from trace.genealogy.find import find_unit
from trace.pages.cases.contracts import CaseWalk
from trace.pages.cases.ways import way
from trace.pages.containment import in_the_plant, not_found, title_of, walk_url
from trace.pages.drill import DrillLine, drill_lines
from trace.sheets.cases.contained import begun_for
from trace.sheets.cases.told import Case
from trace.speech import names_of

# So many walks are counted, of each so many hulls named: the page of a walk has all of them.
MOST_WALKS = 6
MOST_MISSING = 20


def walked(case: Case, asked: datetime | None, known: datetime) -> tuple[CaseWalk, ...]:
    """The walks of the case, the newest first."""
    found = begun_for(case, known)[:MOST_WALKS]
    people = names_of(walk.person for walk in found)
    return tuple(_walk(walk, people.get(walk.person, ""), asked) for walk in found)


def _walk(walk: Begun, who: str, asked: datetime | None) -> CaseWalk:
    found = progress(walk, asked)
    missing = not_found(walk, found, asked)
    return CaseWalk(
        title=title_of(walk), url=walk_url(walk.uid, **({"as_known_on": asked.isoformat()} if asked else {})),
        begun=walk.begun, who=who, ended=walk.ended,
        total=in_the_plant(found), gone=len(found.gone), missing=missing[:MOST_MISSING],
        more=max(0, len(missing) - MOST_MISSING),
    )  # fmt: skip


def drilled(case: Case, asked: datetime | None) -> tuple[DrillLine, ...]:
    """The mock recalls of the lots that the case suspects, the newest first."""
    return drill_lines(drills_for(_units(case.suspects, asked), asked))


def _units(causes: Iterable[Sequence[str]], asked: datetime | None) -> set[int]:
    found = set()
    for words in causes:
        try:
            if code := lot_of(words):
                found.add(find_unit(code, asked))
        except LookupError:
            continue
    return found


def lot_of(words: Sequence[str]) -> str:
    """The code of what a cause says the hulls hold; "" for another cause."""
    try:
        cause = read_cause(words)
    except CauseError:
        return ""
    return cause.code if isinstance(cause, Holds) else ""


def drill_way(person: SignedOn, words: Sequence[str], hulls: Sequence[str]) -> str:
    """Where a mock recall of this suspect is begun, with the first hull of the case; "" where it names no lot."""
    code = lot_of(words)
    return way(person, "drill", [("lot", code), *(("hull", hull) for hull in hulls[:1])]) if code else ""
