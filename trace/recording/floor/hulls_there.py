"""The hulls that by the records stand in a place now, packed ones among them."""

from dataclasses import dataclass

from trace.genealogy.made_as import MADE_AS
from trace.genealogy.prepared import fetch_rows

# What is over stands nowhere, wherever it was put last. Counted apart: a page past the last still says how many.
THERE = f"""
WITH there AS MATERIALIZED (
  SELECT u.id, u.about, COALESCE(t.text, u.lot_no, '?') AS serial, COALESCE(s.status, '') AS status
    FROM place_now p JOIN unit u ON u.id = p.unit AND u.kind = 'hull' LEFT JOIN unit_state s ON s.unit = u.id
    LEFT JOIN serial_state t ON t.hull = u.id
   WHERE p.place = %(place)s::text
     AND COALESCE(s.status, '') NOT IN ('scrapped', 'dispatched', 'used in a test', 'discarded')),
 shown AS (SELECT * FROM there ORDER BY serial, id OFFSET %(first)s::int LIMIT %(most)s::int)
SELECT (SELECT count(*) FROM there), u.serial, COALESCE(u.about->>'product', ''), COALESCE({MADE_AS}->>'colour', ''),
  u.status, EXISTS (SELECT FROM unit_hold h WHERE h.unit = u.id)
  FROM (SELECT) one LEFT JOIN shown u ON TRUE ORDER BY u.serial, u.id
"""


@dataclass(frozen=True, slots=True)
class HullThere:
    """One hull: its number, the key of its model, its colour ("" where nobody said), its status, whether it is held."""

    serial: str
    model: str
    colour: str
    status: str
    held: bool


def hulls_there(place: str, first: int, most: int) -> tuple[list[HullThere], int]:
    """So many of the hulls that stand in a place (its key), from the `first` on (0: the first), by their numbers; and
    how many there are."""
    found = fetch_rows(THERE, {"place": place, "first": first, "most": most})
    return [HullThere(*row) for _n, *row in found if row[0] is not None], found[0][0]
