"""The plates bound last, each with what the records give its hull and what inspections saw and weighed, and the pairs
of them that seem to be exchanged."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import connection

from trace.genealogy.charged import charged_each
from trace.genealogy.live import live
from trace.genealogy.made_as import MADE_AS
from trace.quality.swapped import Binding, Exchange, exchanged

# So many bindings are looked at while somebody waits.
LOOKED_AT = 2000
MG = 1_000_000  # of a kilogram
# What changes any of it; what is told late of a charge counts from the next of these on.
KINDS = ("bound", "inspected", "plates_swapped", "plates_compared", "corrected", "reading_corrected")
NEWEST = "SELECT max(n) FROM unnest(%s::text[]) k, LATERAL (SELECT max(id) AS n FROM event WHERE kind = k) x"
# The last inspection that says a thing is what counts; one that says nothing of it, as all of those did before the
# colour could be said, takes nothing back. The mass is the reading's, which may have been put right since.
# What was weighed when the plate was bound stands in the same record as the moulding, so that it says nothing of
# whether the two belong together: only what was weighed of the finished hull, with its plate on it, does.
ORDERED = "ORDER BY s.happened DESC, s.id DESC"
LOOKS = f"""
SELECT (array_agg(s.colour {ORDERED}) FILTER (WHERE s.colour <> ''))[1] AS colour,
  (array_agg(s.happened {ORDERED}) FILTER (WHERE s.colour <> ''))[1] AS happened,
  (array_agg(s.person {ORDERED}) FILTER (WHERE s.colour <> ''))[1] AS person,
  (array_agg(s.mass {ORDERED}) FILTER (WHERE s.mass IS NOT NULL))[1] AS mass,
  max(s.id) FILTER (WHERE s.colour <> '' OR s.mass IS NOT NULL) AS last
FROM (SELECT i.id, i.happened, i.person, i.body::jsonb->'says'->>'colour' AS colour,
        (SELECT min(r.value) FROM reading r WHERE r.event = i.id AND r.unit = u.id AND r.quantity = 'hull mass') AS mass
      FROM event_unit x JOIN event i ON i.id = x.event WHERE x.unit = u.id AND x.role = 'inspected' OFFSET 0) s
"""
BOUND = f"""
SELECT u.id, t.text, {MADE_AS}->>'product', {MADE_AS}->>'colour', e.happened, e.person,
  s.colour, s.happened, s.person, s.mass,
  s.last < (SELECT max(x.event) FROM event_unit x WHERE x.unit = u.id AND x.role = 'plates compared'),
  (SELECT string_agg(m.lot_no, ', ' ORDER BY m.id) FROM edge b JOIN unit m ON m.id = b.parent
    WHERE b.child = u.id AND b.role IN ('bind', 'join') AND {live("b")})
FROM (SELECT h.* FROM unit h JOIN event v ON v.id = h.event AND v.kind = 'bound' WHERE h.kind = 'hull'
       ORDER BY h.id DESC LIMIT %s) u
  JOIN event e ON e.id = u.event JOIN serial_state t ON t.hull = u.id
  CROSS JOIN LATERAL ({LOOKS}) s
ORDER BY e.happened, u.id
"""


@dataclass(frozen=True, slots=True)
class Bound:
    """One plate as bound. `recorded`: the colour its moulding was made in; `seen`: the colour last seen on its hull;
    either "" where nothing says. `weighed`: the kg that its hull weighed at its inspection; `charged`: the kg of all
    charges, None where the records do not say all of it. settled: somebody compared it with another since and found it
    on its own hull; what is inspected later counts anew. People by key.
    """

    hull: int
    plate: str
    model: str
    recorded: str
    bound: datetime
    bound_by: str
    seen: str
    seen_at: datetime | None
    seen_by: str
    weighed: Decimal | None
    charged: float | None
    settled: bool
    mouldings: str

    @property
    def other(self) -> bool:
        """It was seen in another colour than it was made in, and nobody has settled that."""
        return bool(not self.settled and self.seen and self.recorded and self.seen != self.recorded)

    @property
    def binding(self) -> Binding:
        """As the finder takes it."""
        made, seen = ({"colour": colour} if colour else {} for colour in (self.recorded, self.seen))
        return Binding(self.plate, self.model, self.charged, float(self.weighed) if self.weighed else None, made, seen)


_kept: tuple[int | None, list[Bound]] = (None, [])


def bound() -> list[Bound]:
    """The plates bound last, in the order in which they were bound; read anew when something was recorded of them."""
    global _kept  # noqa: PLW0603 - one list per process, replaced whole
    with connection.cursor() as cursor:
        cursor.execute(NEWEST, [list(KINDS)])
        (newest,) = cursor.fetchone()
    if newest is None or _kept[0] != newest:
        _kept = newest, _bound()
    return _kept[1]


def _bound() -> list[Bound]:
    with connection.cursor() as cursor:
        cursor.execute(BOUND, [LOOKED_AT])
        found = cursor.fetchall()
    charged = charged_each([hull for hull, *_ in found]) if any(weighed for *_, weighed, _settled, _no in found) else {}
    return [
        Bound(
            hull, plate, model or "", made or "", at, by or "", seen or "", seen_at, seen_by or "", weighed,
            charged[hull] / MG if hull in charged else None, bool(settled), mouldings or "",
        )
        for hull, plate, model, made, at, by, seen, seen_at, seen_by, weighed, settled, mouldings in found
    ]  # fmt: skip


def forget() -> None:
    """Drop what is kept: for tests that change the database under it."""
    global _kept  # noqa: PLW0603
    _kept = (None, [])


def suspected(plates: Sequence[Bound]) -> list[Exchange]:
    """The pairs that seem to be exchanged, likeliest first."""
    return exchanged([one.binding for one in plates], {one.plate for one in plates if one.settled})
