"""Plant data in memory: as it stands now (kept until a newer revision exists), or as known on a date."""

import json
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property, lru_cache
from typing import Any

from django.db import connection
from django.utils import timezone

from trace.codes.plant_day import Calendar, calendar_of
from trace.genealogy.prepared import fetch_rows


@dataclass(frozen=True)
class Thing:
    """One resource at one revision. `body` is the recorded JSON; `resource` the database id of the resource."""

    kind: str
    key: str
    resource: int
    uid: str
    version: int
    body: dict[str, Any]

    @property
    def ended(self) -> bool:
        return bool(self.body.get("ended", False))


@dataclass(frozen=True)
class Directory:
    """All plant data at one moment. `revision`: the newest revision's id when it was read. `since`: from when the
    newest change in it holds."""

    revision: int
    things: dict[tuple[str, str], Thing] = field(default_factory=dict)
    since: datetime | None = None

    def get(self, kind: str, key: str | None) -> Thing | None:
        return None if key is None else self.things.get((kind, key))

    @cached_property
    def _by_kind(self) -> dict[str, list[Thing]]:
        found: dict[str, list[Thing]] = {}
        for thing in sorted(self.things.values(), key=lambda t: t.key):
            found.setdefault(thing.kind, []).append(thing)
        return found

    @cached_property
    def _by_key(self) -> dict[str, list[Thing]]:
        found: dict[str, list[Thing]] = {}
        for thing in self.things.values():
            found.setdefault(thing.key.upper(), []).append(thing)
        for thing in self.of_kind("place"):    # its name stands on pages and on the rack itself
            named = found.setdefault(str(thing.body.get("name", "")).upper(), [])
            if thing not in named:
                named.append(thing)
        found.pop("", None)
        return found

    @cached_property
    def _switched(self) -> dict[str, str]:
        return {
            t.key.removeprefix("rule:"): str(t.body.get("value"))
            for t in self.of_kind("setting")
            if t.key.startswith("rule:") and not t.ended
        }

    @cached_property
    def prefixes(self) -> list[str]:
        """What the numbers of hulls begin with, by product."""
        return [str(p.body.get("hull_number", {}).get("prefix", "")) for p in self.of_kind("product")]

    def of_kind(self, kind: str) -> list[Thing]:
        return list(self._by_kind.get(kind, ()))

    def body(self, kind: str, key: str | None) -> dict[str, Any]:
        """The body, or {} where there is no such thing: a missing record shows as missing fields."""
        thing = self.get(kind, key)
        return thing.body if thing else {}

    def product_of(self, about: dict[str, Any]) -> dict[str, Any]:
        """The body of the product a unit was made as, in the version its record names; today's where it names none."""
        thing, version = self.get("product", about.get("product")), about.get("recipe")
        if thing is None or version in (None, thing.version):
            return thing.body if thing else {}
        return older(thing.uid, version) or thing.body

    def setting(self, key: str, otherwise: Any) -> Any:
        return self.body("setting", key).get("value", otherwise)

    @cached_property
    def calendar(self) -> Calendar:
        """The plant's days and shifts: of the settings `shifts` and `holidays`, else of the older `shift ends`."""
        return calendar_of(self.setting, timezone.get_default_timezone())

    def switched(self) -> dict[str, str]:
        """The plant's choice for each rule it has switched: code -> refuse, hold, warn or off."""
        return dict(self._switched)

    def find(self, text: str) -> list[Thing]:
        """Things whose key is typed, whatever the case: T430-02, w-3; a place also by its name."""
        return list(self._by_key.get(text.strip().upper(), ()))


_kept = Directory(-1)

# The newest revision of each thing that holds at a time (NULL: of all).
AT = """
SELECT DISTINCT ON (v.thing) r.kind, r.key, r.id, r.uid::text, v.version, v.body, v.valid_from
  FROM revision v JOIN resource r ON r.id = v.thing
 WHERE %(when)s::timestamptz IS NULL OR v.valid_from <= %(when)s::timestamptz
 ORDER BY v.thing, v.version DESC
"""


@lru_cache(maxsize=256)
def older(thing: str, version: int) -> dict[str, Any] | None:
    """The body of an earlier revision. It never changes, so it is read once."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT v.body FROM revision v JOIN resource r ON r.id = v.thing WHERE r.uid = %s AND v.version = %s",
            [thing, version],
        )
        found = cursor.fetchone()
        body: dict[str, Any] | None = json.loads(found[0]) if found else None
        return body


def current(revision: int) -> Directory:
    """The plant data whose newest revision has this id; read anew only when that id has moved on."""
    global _kept  # noqa: PLW0603 - one directory per process, replaced whole
    if _kept.revision != revision:
        _kept = _read(revision, None)
    return _kept


def as_of(today: Directory, when: datetime) -> Directory:
    """The plant data by which an act of that time is judged: what held then. A thing that was entered only later counts
    as it is today, for it must have been there; a setting does not."""
    if today.since is None or when >= today.since:
        return today
    then = _read(today.revision, when)
    later = {name: thing for name, thing in today.things.items() if thing.kind != "setting"}
    return replace(then, things=later | then.things)


def newest() -> Directory:
    return current(fetch_rows("SELECT COALESCE(max(id), 0) FROM revision", {})[0][0])


def forget() -> None:
    """Drop all that is kept: for tests that change the database under it."""
    global _kept  # noqa: PLW0603
    _kept = Directory(-1)
    older.cache_clear()


def _read(revision: int, when: datetime | None) -> Directory:
    with connection.cursor() as cursor:
        cursor.execute(AT, {"when": when})
        rows = cursor.fetchall()
    things = {
        (kind, key): Thing(kind, key, id_, uid, version, json.loads(body))
        for kind, key, id_, uid, version, body, _since in rows
    }
    return Directory(revision, things, max((row[-1] for row in rows), default=None))
