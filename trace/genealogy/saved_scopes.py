"""Questions that were saved with their answer: each by its number, as its records say it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trace.genealogy.amounts import Verdict
from trace.genealogy.asked_again import digest_of
from trace.genealogy.live import known_by
from trace.genealogy.prepared import fetch_json
from trace.genealogy.sharing import Shared

# Numbered in the order in which they were recorded, each alone: none is left out, and none changes.
NUMBERED = """
SELECT row_number() OVER (ORDER BY e.id) AS number, e.uid, e.recorded, e.person, e.body::jsonb->'says' AS says
  FROM event e WHERE e.kind = 'scope_saved'
"""
ASIDE = """
SELECT DISTINCT ON (number) (e.body::jsonb #>> '{says,number}')::bigint AS number, e.recorded, e.person, e.why
  FROM event e WHERE e.kind = 'scope_put_aside' ORDER BY number, e.id
"""
SAVED = f"""
SELECT COALESCE(json_agg(json_build_object('number', s.number, 'uid', s.uid, 'saved', s.recorded, 'person', s.person,
   'says', s.says, 'aside', a.recorded, 'aside_by', a.person, 'why', a.why) ORDER BY s.number), '[]')::text
  FROM ({NUMBERED}) s LEFT JOIN ({ASIDE}) a ON a.number = s.number AND a.recorded <= %(known)s::timestamptz
 WHERE s.recorded <= %(known)s::timestamptz
   AND (%(numbers)s::bigint[] IS NULL OR s.number = ANY (%(numbers)s::bigint[]))
"""


@dataclass(frozen=True, slots=True)
class SavedScope:
    """One saved question and what it was answered for the moment `known`. `name` and `why` are digests of notes;
    `aside`: when it was put aside, None while it was not."""

    number: int
    uid: str
    name: str
    words: tuple[str, ...]
    known: datetime
    counts: Mapping[Verdict, int]
    tree_size: int
    digest: str
    person: str
    saved: datetime
    aside: datetime | None = None
    aside_by: str = ""
    why: str = ""

    def same_as(self, answer: Shared) -> bool:
        """Whether this is the answer that was saved, for the moment it was asked for."""
        counts = all(answer.count(verdict) == n for verdict, n in self.counts.items())
        return counts and answer.tree_size == self.tree_size and digest_of(answer) == self.digest


def saved_scopes(*numbers: int, as_known_on: datetime | None = None) -> list[SavedScope]:
    """Those of these numbers, or all, as known then, by number."""
    asked = {"known": known_by(as_known_on), "numbers": list(numbers) or None}
    return [_saved(row) for row in fetch_json(SAVED, asked)]


def saved_scope(number: int) -> SavedScope | None:
    """The one of this number, None where none was saved."""
    return next(iter(saved_scopes(number)), None)


def _saved(row: Mapping[str, Any]) -> SavedScope:
    says = row["says"]
    return SavedScope(
        number=row["number"], uid=row["uid"], name=says["name"], words=tuple(says["cause"]),
        known=datetime.fromisoformat(says["known"]),
        counts={"certain": says["certain"], "may": says["may"], "cannot": says["cannot"]},
        tree_size=says["tree_size"], digest=says["digest"], person=row["person"] or "",
        saved=datetime.fromisoformat(row["saved"]),
        aside=datetime.fromisoformat(row["aside"]) if row["aside"] else None,
        aside_by=row["aside_by"] or "", why=row["why"] or "",
    )  # fmt: skip
