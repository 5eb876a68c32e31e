"""What stories look up of the records, as a person would on a sheet."""

import json

from django.db import connection


def read_before(plate: str) -> dict[str, str]:
    """The thicknesses of a hull, as they were read."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT v.body::jsonb->'says'->'thickness' FROM event v
                 JOIN event_unit x ON x.event = v.id AND x.role = 'inspected'
                 JOIN serial_state t ON t.hull = x.unit WHERE t.text = %s ORDER BY v.id LIMIT 1""",
            [plate],
        )
        (found,) = cursor.fetchone()
    return dict(json.loads(found) if isinstance(found, str) else found)
