"""What a hull is in: its packs and consignments as known at a moment."""

import json
from datetime import datetime

from django.db import connection

from trace.genealogy.graph import Edge, Node
from trace.genealogy.live import LIVE, known_by

AROUND = f"""
WITH RECURSIVE up(edge, unit, holder) AS (
  SELECT e.id, e.parent, e.child FROM edge e
   WHERE e.parent = %(hull)s AND e.role IN ('pack', 'ship') AND NOT e.aside AND {LIVE}
  UNION
  SELECT e.id, e.parent, e.child FROM up, edge e
   WHERE e.parent = up.holder AND e.role IN ('pack', 'ship') AND NOT e.aside AND {LIVE}
)
SELECT e.id, e.child, e.parent, e.event, e.role, u.uid::text, u.kind, u.about::text, u.event, made.happened,
  ARRAY(SELECT l.code::text FROM label l JOIN event x ON x.id = l.event
         WHERE l.unit = u.id AND x.recorded <= %(known)s::timestamptz ORDER BY l.event DESC, l.code)
FROM up JOIN edge e ON e.id = up.edge JOIN unit u ON u.id = up.holder JOIN event made ON made.id = u.event
ORDER BY e.id
"""


def packs_around(hull: int, as_known_on: datetime | None = None) -> tuple[dict[int, Node], tuple[Edge, ...]]:
    """The packs and consignments a hull (or another unit) is in, by id, and the edges into them."""
    with connection.cursor() as cursor:
        cursor.execute(AROUND, {"hull": hull, "known": known_by(as_known_on)})
        found: dict[int, Node] = {}
        edges = []
        for edge, child, parent, event, role, uid, kind, about, made, happened, labels in cursor.fetchall():
            edges.append(Edge(edge, child, parent, event, role))
            found[child] = Node(
                child, uid, kind, None, json.loads(about), None, None, None, made, happened, tuple(labels)
            )
        return found, tuple(edges)
