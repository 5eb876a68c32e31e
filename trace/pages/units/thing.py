"""One thing of the plant: a mould, arm, oven, scale, place or order, as it stood, and what was done with it."""

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import connection
from django.utils.translation import gettext as _

from plant.kinds.table import NAMED
from trace.codes import CodeError, parse_label_code, printed
from trace.genealogy.answer import one_picture, what_was_known
from trace.genealogy.cause_words import WORDS, Fact, Thing
from trace.genealogy.find import UnknownCodeError
from trace.genealogy.live import known_by
from trace.pages.sheets import Drawn, UnitSheet
from trace.pages.units.drawn_calibrations import drawn_calibrations
from trace.pages.units.drawn_thing import drawn_thing
from trace.pages.units.drawn_training import drawn_training
from trace.sheets.asks import same
from trace.sheets.facts.days import day_said
from trace.sheets.facts.entries import Entry, answers
from trace.sheets.facts.known import known_of
from trace.sheets.facts.notes import named
from trace.sheets.hulls.history import history
from trace.sheets.hulls.sheet import caution

SHOWN = 100
FIND = """
SELECT r.id, r.kind, r.key, ARRAY(SELECT l.code::text FROM label l JOIN event x ON x.id = l.event
    WHERE l.resource = r.id AND x.recorded <= %(known)s::timestamptz ORDER BY l.event DESC)
FROM resource r JOIN event e ON e.id = r.event AND e.recorded <= %(known)s::timestamptz
WHERE r.id = (SELECT resource FROM label WHERE code = %(code)s) OR upper(r.key) = %(key)s
ORDER BY r.id = (SELECT resource FROM label WHERE code = %(code)s) DESC NULLS LAST, r.kind, r.id LIMIT 1
"""
EVENTS = """
SELECT e.id, e.uid::text, e.kind, e.happened, e.recorded, e.body, count(*) OVER ()
FROM (SELECT DISTINCT event FROM event_resource WHERE resource = %(thing)s) x JOIN event e ON e.id = x.event
WHERE e.recorded <= %(known)s::timestamptz ORDER BY e.happened DESC, e.id DESC OFFSET %(skipped)s LIMIT %(most)s
"""


def thing_sheet(code: str, as_known_on: datetime | None = None, number: int = 1) -> UnitSheet:
    """The sheet of the thing with this tag or key; page `number` of its history, the newest page first, the newest
    entry of a page last. Raises UnknownCodeError."""
    with one_picture():
        at, size = what_was_known(as_known_on)
        thing, kind, key, labels = _find(code, at)
        with connection.cursor() as cursor:
            asked: dict[str, Any] = {"thing": thing, "known": known_by(at), "most": SHOWN}
            cursor.execute(EVENTS, {**asked, "skipped": (number - 1) * SHOWN})
            rows = cursor.fetchall()
        told = [Entry(*row[:5], json.loads(row[5])) for row in reversed(rows)]  # type: ignore[call-arg]
        answered = answers([e.id for e in told if e.flagged])
        known = known_of(told, [{}], (), answered.values(), (), at)
        body = known.plant.newest(kind, key)
        drawn = drawn_thing(thing, kind, key, body, as_known_on, at)
        beside = _beside(kind, key, body, at)
    return UnitSheet(
        name=named(kind, key, known.plant, known.notes) if kind in NAMED else str(body.get("name") or key),
        kind=kind.replace("_", " "),
        code=", ".join([key, *(printed(c) for c in labels)]),
        as_known_on=at,
        records_count=size,
        caution=caution(),
        cause=_cause(kind, key),
        facts=facts(body),
        drawn=drawn,
        beside=beside,
        history=history(told, known, answered),
        entries=rows[0][6] if rows else 0,
    )


def _beside(kind: str, key: str, body: Mapping[str, Any], at: datetime) -> Drawn | None:
    """What was recorded of the thing itself, drawn below it."""
    if kind == "instrument":
        return drawn_calibrations(key, body, at)
    return drawn_training(key, at) if kind == "person" else None


def _cause(kind: str, key: str) -> tuple[str, ...]:
    """What hulls share that were made with this thing; nothing where no act names such a thing."""
    words = {
        word.kind: name
        for name, word in WORDS.items()
        if isinstance(word, Fact) or (isinstance(word, Thing) and not word.roles)
    }
    name = "supplier" if kind == "supplier" else words.get(kind)
    return (f"{name}={key}",) if name else ()


def _find(code: str, at: datetime) -> tuple[int, str, str, list[str]]:
    try:
        tag = parse_label_code(code).code
    except CodeError:
        tag = ""
    with connection.cursor() as cursor:
        cursor.execute(FIND, {"code": tag, "key": code.strip().upper()[:100], "known": known_by(at)})
        row = cursor.fetchone()
    if row is None:
        raise UnknownCodeError(_("Nothing is known under “%(code)s” as of that time.") % {"code": code[:40]})
    return row[0], row[1], row[2], row[3]


# Of a works order and a moulding alike.
CAUSES = {"product": "model", "colour": "colour"}


def facts(body: Mapping[str, Any]) -> tuple[tuple[str, str, str], ...]:
    """The body's plain values in words; what has parts of its own is named by how many it has."""
    found = []
    for key, value in body.items():
        if key in ("name", "drawing") or value in (None, "", [], {}):
            continue
        if text := _in_words(value):
            found.append((key.replace("_", " "), text, same(CAUSES[key], value) if key in CAUSES else ""))
    return tuple(found)


def _in_words(value: Any) -> str:
    """One value of a body; of a list with parts of its own only their number."""
    if isinstance(value, dict):
        return ", ".join(f"{k} {day_said(v)}" for k, v in value.items() if isinstance(v, str | int))
    if isinstance(value, list):
        plain = [day_said(v) for v in value if isinstance(v, str | int)]
        return ", ".join(plain) if len(plain) == len(value) else str(len(value))
    return day_said(value)
