"""Plant data as it stood: every revision of some things that was recorded by a moment."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import connection
from django.utils import timezone

from trace.codes.plant_day import CALENDAR_SETTINGS, Calendar, Shift, calendar_of
from trace.genealogy.live import known_by

REVISIONS = """
SELECT r.kind, r.key, v.version, v.valid_from, v.body FROM resource r
JOIN revision v ON v.thing = r.id JOIN event e ON e.id = v.event AND e.recorded <= %(known)s::timestamptz
WHERE (r.kind, r.key) IN (SELECT * FROM unnest(%(kinds)s::text[], %(keys)s::text[]))
ORDER BY r.kind, r.key, v.version
"""
NOTHING: Mapping[str, Any] = {}


@dataclass(frozen=True, slots=True)
class Revision:
    version: int
    valid_from: datetime
    body: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Revisions:
    """By (kind, key), oldest first. A thing nobody recorded has an empty body: missing shows as missing."""

    of: Mapping[tuple[str, str], tuple[Revision, ...]]

    def at(self, kind: str, key: object, when: datetime) -> Mapping[str, Any]:
        """The body in force at that time."""
        held = [r for r in self.of.get((kind, str(key)), ()) if r.valid_from <= when]
        return held[-1].body if held else NOTHING

    def version(self, kind: str, key: object, version: object) -> Mapping[str, Any]:
        """The body of that revision; the newest where the record does not say which."""
        found = [r.body for r in self.of.get((kind, str(key)), ()) if r.version == version]
        return found[0] if found else self.newest(kind, key)

    def day(self, when: datetime) -> date:
        """The plant day of that time, by the shifts and holidays in force then."""
        return self._calendar(when).day(when)

    def shift(self, when: datetime) -> Shift | None:
        """The shift of that time, likewise; None where none was worked."""
        return self._calendar(when).shift(when)

    def _calendar(self, when: datetime) -> Calendar:
        zone = timezone.get_default_timezone()
        return calendar_of(lambda key, otherwise: self.at("setting", key, when).get("value", otherwise), zone)

    def setting(self, key: str, missing: str) -> str:
        """What the plant had set; `missing` where it had not."""
        return str(self.newest("setting", key).get("value") or missing)

    def newest(self, kind: str, key: object) -> Mapping[str, Any]:
        held = self.of.get((kind, str(key)), ())
        return held[-1].body if held else NOTHING


def revisions(things: Iterable[tuple[str, object]], as_known_on: datetime | None = None) -> Revisions:
    """The revisions of these (kind, key) recorded by then; keys that are None are left out."""
    wanted = sorted({(kind, str(key)) for kind, key in things if key})
    wanted += [("setting", key) for key in CALENDAR_SETTINGS] if wanted else []
    found: dict[tuple[str, str], list[Revision]] = {}
    if wanted:
        with connection.cursor() as cursor:
            cursor.execute(
                REVISIONS,
                {
                    "kinds": [kind for kind, _ in wanted],
                    "keys": [key for _, key in wanted],
                    "known": known_by(as_known_on),
                },
            )
            for kind, key, version, valid_from, body in cursor.fetchall():
                found.setdefault((kind, key), []).append(Revision(version, valid_from, json.loads(body)))
    return Revisions({thing: tuple(held) for thing, held in found.items()})
