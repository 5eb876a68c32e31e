"""What stands in a place by the records."""

from collections import Counter

from django.db import connection

STANDS = """
SELECT CASE u.kind WHEN 'hull' THEN COALESCE(u.about->>'product', '') END, count(*)::int,
  COALESCE(sum(s.balance) FILTER (WHERE u.kind = 'content' AND u.uom = 'mg' AND s.balance > 0), 0)::bigint
FROM place_now p JOIN unit u ON u.id = p.unit JOIN unit_state s ON s.unit = u.id
WHERE p.place = %s AND u.kind IN ('hull', 'content') AND s.status IS DISTINCT FROM 'scrapped'
  AND u.uid <> ALL (%s::uuid[]) GROUP BY 1
"""


def stands_at(place: str, apart_from: list[str]) -> tuple[Counter[str], int]:
    """What stands in a place by the records, apart from these units: hulls by product, and mg in containers."""
    with connection.cursor() as cursor:
        cursor.execute(STANDS, [place, apart_from])
        found = cursor.fetchall()
    return Counter({product: n for product, n, _ in found if product}), sum(mg for _, _, mg in found)
