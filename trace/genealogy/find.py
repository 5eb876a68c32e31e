"""Finds the unit that a code stands for, as it was known on a day."""

import json
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import connection
from django.utils import timezone
from django.utils.translation import gettext as _

from trace.codes import CodeError, parse_label_code
from trace.codes.plain import printable, storable
from trace.genealogy.graph import Node
from trace.genealogy.live import LIVE, known_by
from trace.genealogy.walk import nodes


class UnknownCodeError(LookupError):
    """Nothing that can be traced was known under this code then. Its text is one sentence."""


class AmbiguousCodeError(LookupError):
    """The code stands for several units. Its text names them and says how to ask for one."""


LABEL = """
SELECT l.unit, l.carrier, r.kind, r.key FROM label l
JOIN event e ON e.id = l.event AND e.recorded <= %(known)s::timestamptz
LEFT JOIN resource r ON r.id = l.resource WHERE l.code = %(code)s
"""
CARRIER = """
SELECT c.id, c.kind FROM label l JOIN carrier c ON c.id = l.carrier
JOIN event e ON e.id = l.event AND e.recorded <= %(known)s::timestamptz WHERE l.code = %(code)s
"""
# A plate's hull is the one it is bound to. Where plates were swapped, each hull stands on the other's moulding.
SERIAL = f"""
SELECT e.child FROM serial s JOIN edge e ON e.parent = s.plate AND e.role = 'plate' AND NOT e.aside AND {LIVE}
WHERE s.text = ANY (%(texts)s)
"""
NUMBER = """
SELECT u.id FROM unit u JOIN event e ON e.id = u.event AND e.recorded <= %(known)s::timestamptz
WHERE u.kind IN ('lot', 'moulding', 'part') AND u.lot_no = %(text)s
"""
UID = """
SELECT u.id FROM unit u JOIN event e ON e.id = u.event AND e.recorded <= %(known)s::timestamptz
WHERE u.uid = %(uid)s::uuid
"""
# Every event that put something into the carrier says in its bytes from when on; the log of a carrier is
# those words replayed, not the order in which they came in, because a late fact may tell of an earlier
# filling.
FILLINGS = """
SELECT u.id, u.uid::text, c.uid::text, e.id, e.happened, (e.body::jsonb->'rows'->'logs')::text
FROM unit u JOIN carrier c ON c.id = u.carrier
JOIN event e ON e.id = u.event AND e.recorded <= %(known)s::timestamptz
WHERE u.carrier = %(carrier)s ORDER BY e.id, u.id
"""
ALL_FILLINGS = """
SELECT c.id, u.id, u.uid::text, c.uid::text, e.id, e.happened, (e.body::jsonb->'rows'->'logs')::text
FROM carrier c JOIN unit u ON u.carrier = c.id
JOIN event e ON e.id = u.event AND e.recorded <= %(known)s::timestamptz
WHERE c.kind = ANY (%(kinds)s::text[]) ORDER BY e.id, u.id
"""


def find_unit(code: str, as_known_on: datetime | None = None) -> int:
    """The id of the unit that `code` stood for then.

    A label of this plant (of a carrier: what was in it then, or last), a plate's serial (the hull it was
    bound to), a moulding number, a supplier's lot number, or a unit's uid. Raises UnknownCodeError, or
    AmbiguousCodeError where several units go by it; both are LookupErrors of one sentence.
    """
    text = storable(code.strip())
    found: set[int] = set()
    trouble = ""
    try:
        label = parse_label_code(text).code
    except CodeError as error:
        trouble = str(error)
    else:
        trouble = _by_label(label, as_known_on, found)
    known = known_by(as_known_on)
    asked: list[tuple[str, dict[str, Any]]] = [
        (SERIAL, {"texts": [text, text.upper()]}),
        (NUMBER, {"text": text}),
    ]
    if uid := _uid(text):
        asked.append((UID, {"uid": uid}))
    with connection.cursor() as cursor:
        for sql, values in asked:
            cursor.execute(sql, {"known": known, **values})
            found |= {row[0] for row in cursor.fetchall()}
    if not found:
        looks_ours = len(text.replace("-", "")) == 8
        raise UnknownCodeError(
            trouble
            if trouble and looks_ours
            else _("Nothing is known under “%(code)s” as of that time.") % {"code": printable(text)}
        )
    if len(found) > 1:
        raise AmbiguousCodeError(_several(text, nodes(found, as_known_on)))
    return found.pop()


def _by_label(label: str, as_known_on: datetime | None, found: set[int]) -> str:
    """Add what the label sticks to; return why it cannot be traced, if so."""
    with connection.cursor() as cursor:
        cursor.execute(LABEL, {"known": known_by(as_known_on), "code": label})
        row = cursor.fetchone()
    if row is None:
        return ""
    unit, carrier, kind, key = row
    if kind is not None:
        return _("This is the tag of %(kind)s %(key)s: a trace begins at a lot, a container, a load or a hull.") % {
            "kind": kind.replace("_", " "),
            "key": key,
        }
    content = unit if unit is not None else content_of(carrier, as_known_on)
    if content is None:
        return _("Nothing was ever put into what this label is on, as far as was known then.")
    found.add(content)
    return ""


def content_of(carrier: int, as_known_on: datetime | None = None) -> int | None:
    """What was in the carrier at the end of what was known then; of an emptied one what was in it last."""
    fillings = fillings_of(carrier, as_known_on)
    return fillings[-1] if fillings else None


def fillings_of(carrier: int, as_known_on: datetime | None = None) -> list[int]:
    """All that the carrier ever held, as was known then, in the order in which it held them."""
    with connection.cursor() as cursor:
        cursor.execute(FILLINGS, {"known": known_by(as_known_on), "carrier": carrier})
        return _in_order(cursor.fetchall())


def fillings_by_carrier(kinds: Collection[str], as_known_on: datetime | None = None) -> dict[int, list[int]]:
    """The same of every carrier of these kinds, by the carrier's id."""
    with connection.cursor() as cursor:
        cursor.execute(ALL_FILLINGS, {"known": known_by(as_known_on), "kinds": sorted(kinds)})
        rows: dict[int, list[tuple[Any, ...]]] = {}
        for carrier, *row in cursor.fetchall():
            rows.setdefault(carrier, []).append(tuple(row))
    return {carrier: _in_order(fillings) for carrier, fillings in rows.items()}


def _in_order(fillings: Sequence[tuple[Any, ...]]) -> list[int]:
    """What one carrier held, from the rows of FILLINGS."""
    ids = {uid: unit for unit, uid, *_rest in fillings}
    log: dict[int, datetime] = {}
    done: set[int] = set()
    for unit, _uid_text, carrier_uid, event, happened, text in fillings:
        if event in done:
            continue
        done.add(event)
        entries = [x for x in json.loads(text or "[]") if x["carrier"] == carrier_uid]
        if not entries:
            log[unit] = happened
        for entry in entries:
            _replay(log, ids, entry)
    return sorted(log, key=lambda u: (log[u], u))


def carrier_of(code: str, as_known_on: datetime | None = None) -> tuple[int, str] | None:
    """The carrier, and its kind, that a label of this plant was on then; None for whatever is no such label."""
    try:
        label = parse_label_code(storable(code.strip())).code
    except CodeError:
        return None
    with connection.cursor() as cursor:
        cursor.execute(CARRIER, {"known": known_by(as_known_on), "code": label})
        row = cursor.fetchone()
        return row if row is None else (row[0], row[1])


def _replay(log: dict[int, datetime], ids: Mapping[str, int], entry: Mapping[str, Any]) -> None:
    if entry.get("replace"):
        start = datetime.fromisoformat(entry["from"])
        for unit in [u for u, since in log.items() if since >= start]:
            del log[unit]
    for step in entry["entries"]:
        if step["content"] in ids:
            log[ids[step["content"]]] = datetime.fromisoformat(step["since"])


def _uid(text: str) -> str | None:
    try:
        return str(UUID(text))
    except ValueError:
        return None


def _several(text: str, found: Mapping[int, Node]) -> str:
    each = "; ".join(
        " ".join(
            str(part)
            for part in (
                node.kind, node.about.get("material"), node.about.get("supplier"),
                f"{timezone.localdate(node.happened):%Y-%m-%d}", f"({node.uid})",
            )
            if part
        )
        for node in found.values()
    )  # fmt: skip
    return _("“%(code)s” stands for %(count)d units: %(each)s. Ask by a label, or by the identifier in brackets.") % {
        "code": printable(text),
        "count": len(found),
        "each": each,
    }
