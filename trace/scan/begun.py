"""Keeps what was scanned and typed for work that is not recorded yet, by person and by thing, for any tablet."""

import json
from typing import Any

from django.db import connection
from django.utils import timezone

from plant.models.begun import KEPT_FOR
from plant.prepared import prepared_cursor
from trace.scan.sight import Sight, Station

# What belongs to one screen and one answer.
OF_THE_SCREEN = ("refused_scan", "helper", "wants_helper", "let", "late", "happened", "holds_listed",
                 "just_refused")  # fmt: skip

_KEEP = """
WITH unhurried AS (SELECT set_config('synchronous_commit', 'off', true)),
     old AS (DELETE FROM begun WHERE changed < %(old)s::timestamptz)
INSERT INTO begun (name, held, changed)
SELECT x->>0, x->1, %(now)s::timestamptz FROM unhurried, jsonb_array_elements(%(rows)s::jsonb) x
ON CONFLICT (name) DO UPDATE SET held = EXCLUDED.held, changed = EXCLUDED.changed
"""


def _by_person(place: Station, person: str) -> str:
    return f"{place.slug} by {person}"


def _of_thing(place: Station, code: str) -> str:
    return f"{place.slug} of {code}"


def _worth(place: Station, held: dict[str, str], choices: set[str]) -> dict[str, str]:
    """What is lost when it is not kept; empty when there is nothing but what stays from scan to scan, and choices,
    of which the form sends one even where nobody chose."""
    kept = {name: value for name, value in held.items() if value and name not in OF_THE_SCREEN}
    kept = {name: value for name, value in kept.items() if not name.endswith("_how")}
    return kept if set(kept) - {*place.keeps, *place.stays} - choices else {}


def keep(place: Station, sight: Sight, before: dict[str, str]) -> None:
    """Keep what the page holds now, or forget what it held `before`; one statement where anything changed."""
    if not place.half_done or not sight.person:
        return
    choices = {field.name for field in place.fields(sight) if field.kind == "choice"}
    then, now = _worth(place, before, choices), _worth(place, sight.held, choices)
    if not then and not now:
        return
    rows: list[tuple[str, Any]] = [(_by_person(place, sight.person), now)] if then or now else []
    if place.thing:
        was, thing = before.get(place.thing, ""), sight.text(place.thing)
        if was and was != thing:
            rows.append((_of_thing(place, was), {}))
        if thing:
            rows.append((_of_thing(place, thing), now))
    if rows:
        _write(rows)


def _write(rows: list[tuple[str, Any]]) -> None:
    moment = timezone.now()
    with prepared_cursor() as cursor:
        cursor.execute(_KEEP, {"rows": json.dumps(rows), "now": moment, "old": moment - KEPT_FOR})


def _read(name: str) -> dict[str, str]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT held::text FROM begun WHERE name = %s AND changed > %s", [name, timezone.now() - KEPT_FOR]
        )
        row = cursor.fetchone()
    return dict(json.loads(row[0])) if row else {}


def left_by(place: Station, person: str) -> dict[str, str]:
    """What this person left here, at whatever tablet."""
    return _read(_by_person(place, person)) if place.half_done and person else {}


def left_of(place: Station, code: str) -> dict[str, str]:
    """What anybody left of this thing here: the moulds on an arm, the figures of a hull."""
    return _read(_of_thing(place, code)) if place.half_done else {}
