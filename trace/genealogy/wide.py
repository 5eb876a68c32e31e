"""How far something went, without a look at each unit: for what was made into more than a page can reckon at once.

One query that stops at a number of units, whatever more there is, and brings back numbers and the hulls' ids alone.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trace.genealogy.live import known_by
from trace.genealogy.prepared import fetch_rows
from trace.genealogy.walk import reached_ids

MOST = 150_000

HOW_FAR = f"""
WITH met AS MATERIALIZED ({reached_ids("forward")} LIMIT %(most)s::int + 1)
SELECT (SELECT count(*) FROM met),
  ARRAY(SELECT u.id FROM unit u WHERE u.id = ANY (ARRAY(SELECT id FROM met)) AND u.kind = 'hull' ORDER BY u.id)
"""


@dataclass(frozen=True, slots=True)
class HowFar:
    """Units reached, the root too, and the hulls among them by id. `more`: it went further than was looked."""

    units: int
    hulls: tuple[int, ...]
    more: bool


def how_far(root: int, as_known_on: datetime | None = None, most: int = MOST) -> HowFar:
    """How many units came of `root`, as known then, looked at up to `most` of them."""
    values: dict[str, Any] = {"roots": f"{{{root}}}", "known": known_by(as_known_on), "most": most}
    count, hulls = fetch_rows(HOW_FAR, values)[0]
    return HowFar(min(count, most), tuple(hulls), count > most)
