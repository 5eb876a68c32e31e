"""Finds hulls, lots and tags by half a code: what the search page and the station's look-up ask.

Reads the read models for where things stand now; measured at 100,000 hulls by `manage.py measure search`.
"""

from dataclasses import dataclass
from typing import Any

from django.db import connection

from trace.codes.plain import storable
from trace.genealogy.live import hull_of_plate, live
from trace.genealogy.made_as import MADE_AS

MOST = 50
# With fewer readable signs nearly everything fits.
LEAST = 2
# One sign that nobody could read, and any number of them.
ONE, MANY = "?", "*"

# What people leave out when they type a number by heart.
SIGNS_BETWEEN = "- ./"
SERIAL, NUMBER = (
    f"(CASE WHEN %(loose)s THEN translate({text}, '{SIGNS_BETWEEN}', '') ELSE {text} END)"
    for text in ("s.text", "upper(u.lot_no)")
)
# The hits are counted and cut before anything is joined to them. An old hull was made when its record says, be it a
# day, a month or only a year, and not when somebody entered it.
HULLS = f"""
WITH hit AS MATERIALIZED (
  SELECT s.text, s.product, {hull_of_plate('s', 'st')} AS hull, s.plate
   FROM serial s JOIN serial_state st ON st.text = s.text
   WHERE (%(like)s = '%%' OR {SERIAL} LIKE %(like)s) AND (%(model)s = '' OR s.product = %(model)s)
     AND (st.hull IS NOT NULL OR %(plates)s OR st.standing = 'replaced')),
 fit AS MATERIALIZED (
  SELECT h.* FROM hit h WHERE NOT %(deep)s
  UNION ALL
  SELECT h.* FROM hit h JOIN unit u ON u.id = h.hull JOIN unit_state us ON us.unit = u.id
    LEFT JOIN place_now p ON p.unit = u.id JOIN event e ON e.id = u.event
   WHERE %(deep)s AND (%(colour)s = '' OR {MADE_AS}->>'colour' = %(colour)s)
     AND (%(status)s = '' OR us.status = %(status)s) AND (%(place)s = '' OR p.place = %(place)s)
     AND (%(from)s::timestamptz IS NULL OR CASE WHEN u.about->>'made' IS NULL
           THEN e.happened >= %(from)s AND e.happened < %(to)s
           ELSE left(u.about->>'made', 7) = %(month)s OR u.about->>'made' = left(%(month)s, 4) END)),
 shown AS (SELECT * FROM fit ORDER BY text OFFSET %(skipped)s LIMIT %(most)s)
SELECT n.text, n.hull, n.product, {MADE_AS}->>'colour', us.status, p.place, e.happened, st.standing,
  u.about->>'made', (SELECT x.uid::text FROM unit x WHERE x.id = n.plate),
  (SELECT COALESCE(min(h.rule) FILTER (WHERE h.rule LIKE 'scope %%'), '') FROM unit_hold uh
    JOIN hold h ON h.id = uh.hold WHERE uh.unit = n.hull HAVING count(*) > 0),
  CASE WHEN st.standing = 'replaced' THEN (SELECT x.text FROM serial_state x WHERE x.hull = n.hull) END,
  (SELECT count(*) FROM fit)
FROM shown n JOIN serial_state st ON st.text = n.text LEFT JOIN unit u ON u.id = n.hull
LEFT JOIN unit_state us ON us.unit = n.hull LEFT JOIN place_now p ON p.unit = n.hull
LEFT JOIN event e ON e.id = u.event ORDER BY n.text
"""
# Lots by the supplier's number or by their material; mouldings, which have a number for ever, by it: a bound one is
# where its hull is.
NUMBERED = f"""
SELECT u.kind, u.lot_no, u.uid::text, u.about->>'material', u.about->>'supplier', u.about->>'product',
  us.status,
  COALESCE((SELECT h.place FROM edge b JOIN place_now h ON h.unit = b.child
    WHERE b.parent = u.id AND b.role IN ('bind', 'join')
      AND {live('b')} LIMIT 1), p.place),
  EXISTS (SELECT FROM unit_hold uh WHERE uh.unit = u.id),
  (SELECT s.text FROM edge b JOIN serial_state s ON s.hull = b.child
    WHERE b.parent = u.id AND b.role IN ('bind', 'join')
      AND {live('b')} LIMIT 1)
FROM unit u LEFT JOIN unit_state us ON us.unit = u.id LEFT JOIN place_now p ON p.unit = u.id
WHERE u.kind = ANY (%(kinds)s) AND ({NUMBER} LIKE %(like)s OR upper(u.about->>'material') = %(material)s)
ORDER BY u.kind, u.lot_no, u.id OFFSET %(skipped)s LIMIT %(most)s
"""
# Not the badges: who looks for a tag has no use for them.
LABELS = """
SELECT l.code::text, r.kind, r.key, c.kind, u.kind, COALESCE(u.lot_no, ''), u.about->>'material'
FROM label l LEFT JOIN resource r ON r.id = l.resource LEFT JOIN carrier c ON c.id = l.carrier
LEFT JOIN carrier_state cs ON cs.carrier = l.carrier LEFT JOIN unit u ON u.id = COALESCE(l.unit, cs.content)
WHERE l.code LIKE %(like)s AND r.kind IS DISTINCT FROM 'person' ORDER BY l.code OFFSET %(skipped)s LIMIT %(most)s
"""
THINGS = """
SELECT kind, key FROM resource WHERE upper(key) LIKE %(like)s AND kind <> ALL ('{setting,person}')
ORDER BY key OFFSET %(skipped)s LIMIT %(most)s
"""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is looked for: part of a code, with ? for one sign and * for any number, and what is known besides.

    month: "2026-04", the month it was made. Empty texts ask for nothing.
    """

    part: str = ""
    model: str = ""
    colour: str = ""
    month: str = ""
    place: str = ""
    status: str = ""

    def like(self, *, loose: bool = False) -> str:
        """The part as SQL's LIKE takes it, anything before it, after it and at its blanks; loose: without hyphens,
        points, strokes and blanks.
        """
        text = storable(self.part.strip().upper())[:60]
        if loose:
            text = "".join(c for c in text if c not in SIGNS_BETWEEN)
        for sign in ("\\", "%", "_"):
            text = text.replace(sign, f"\\{sign}")
        return f"%{text.replace(ONE, '_').replace(MANY, '%').replace(' ', '%')}%" if text else "%"

    @property
    def signs(self) -> int:
        """How many readable signs the part has; fewer than two find too much."""
        return sum(1 for c in self.part.strip() if c not in (ONE, MANY, " "))

    @property
    def besides(self) -> bool:
        return bool(self.model or self.colour or self.month or self.place or self.status)


Found = list[tuple[Any, ...]]


def _ask(sql: str, values: dict[str, Any]) -> Found:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        found: Found = cursor.fetchall()
        return found


def hulls(wanted: Wanted, begin: object, end: object, *, loose: bool = False, skipped: int = 0) -> Found:
    """Hulls (and plates without one, when only a part is given); the month as its first and next first moment.

    Rows: serial, hull id, product, colour, status, place, made, standing of the plate, made as entered (a day, a
    month or a year) of a hull from before records, uid of the plate, of what scope a hold on it is ("scope 3"; "" of
    none, None where it is not held), count of all.
    """
    return _ask(
        HULLS,
        {
            "like": wanted.like(loose=loose), "loose": loose, "model": wanted.model, "colour": wanted.colour,
            "status": wanted.status, "place": wanted.place, "from": begin, "to": end, "month": wanted.month,
            "plates": not wanted.besides,
            "deep": bool(wanted.colour or wanted.status or wanted.place or wanted.month), "most": MOST,
            "skipped": skipped,
        },
    )  # fmt: skip


# Of these three one more than is shown is asked for: so it is known that there are more.
def numbered(wanted: Wanted, kinds: tuple[str, ...], *, loose: bool = False, skipped: int = 0) -> Found:
    values = {"like": wanted.like(loose=loose), "loose": loose, "kinds": list(kinds)}
    values |= {"most": MOST + 1, "skipped": skipped}
    return _ask(NUMBERED, {**values, "material": storable(wanted.part.strip().upper())})


def labels(like: str, skipped: int = 0) -> Found:
    return _ask(LABELS, {"like": like, "most": MOST + 1, "skipped": skipped})


def things(wanted: Wanted, skipped: int = 0) -> Found:
    return _ask(THINGS, {"like": wanted.like(), "most": MOST + 1, "skipped": skipped})
