"""The plates bound last, each with the moulding and colour that the records give its hull and the colour it was seen
in."""

from dataclasses import dataclass
from datetime import datetime

from django.db import connection

from trace.genealogy.live import live
from trace.genealogy.made_as import MADE_AS
from trace.quality.swapped import Binding

# So many bindings are looked at while somebody waits.
LOOKED_AT = 2000
# A hull inspected several times is what it was last seen as. An inspection that says no colour, as all of those did
# before the colour could be said, takes nothing back.
BOUND = f"""
SELECT t.text, {MADE_AS}->>'product', {MADE_AS}->>'colour', e.happened, e.person, s.colour, s.happened, s.person,
  (SELECT string_agg(m.lot_no, ', ' ORDER BY m.id) FROM edge b JOIN unit m ON m.id = b.parent
    WHERE b.child = u.id AND b.role IN ('bind', 'join') AND {live("b")})
FROM (SELECT h.* FROM unit h JOIN event v ON v.id = h.event AND v.kind = 'bound' WHERE h.kind = 'hull'
       ORDER BY h.id DESC LIMIT %s) u
  JOIN event e ON e.id = u.event JOIN serial_state t ON t.hull = u.id
  LEFT JOIN LATERAL (SELECT i.body::jsonb->'says'->>'colour' AS colour, i.happened, i.person
     FROM event_unit x JOIN event i ON i.id = x.event
    WHERE x.unit = u.id AND x.role = 'inspected' AND COALESCE(i.body::jsonb->'says'->>'colour', '') <> ''
    ORDER BY i.happened DESC, i.id DESC LIMIT 1) s ON TRUE
ORDER BY e.happened, u.id
"""


@dataclass(frozen=True, slots=True)
class Bound:
    """One plate as bound. `recorded`: the colour its moulding was made in; `seen`: the colour last seen on its hull;
    either "" where nothing says. People by key."""

    plate: str
    model: str
    recorded: str
    bound: datetime
    bound_by: str
    seen: str
    seen_at: datetime | None
    seen_by: str
    mouldings: str

    @property
    def other(self) -> bool:
        """It was seen in another colour than it was made in."""
        return bool(self.seen and self.recorded and self.seen != self.recorded)

    @property
    def binding(self) -> Binding:
        """As the finder takes it: by sight alone."""
        made, seen = ({"colour": colour} if colour else {} for colour in (self.recorded, self.seen))
        return Binding(self.plate, self.model, None, None, made, seen)


def bound(most: int = LOOKED_AT) -> list[Bound]:
    """The plates bound last, in the order in which they were bound."""
    with connection.cursor() as cursor:
        cursor.execute(BOUND, [most])
        return [
            Bound(plate, model or "", made or "", at, by or "", seen or "", seen_at, seen_by or "", mouldings or "")
            for plate, model, made, at, by, seen, seen_at, seen_by, mouldings in cursor.fetchall()
        ]
