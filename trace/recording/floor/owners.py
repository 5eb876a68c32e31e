"""The words that registrations of a hull's owners hold, as far as they still stand."""

from django.db import connection

NOTES = """
SELECT DISTINCT n.digest FROM serial_state t JOIN event_unit x ON x.unit = t.hull AND x.role = 'owner registered'
JOIN event v ON v.id = x.event CROSS JOIN LATERAL unnest(ARRAY['owner', 'contact']) AS field
JOIN note n ON n.digest = v.body::jsonb->'says'->>field AND n.erased_by IS NULL
WHERE t.text = %s ORDER BY n.digest
"""


def notes_of_owners(plate: str) -> list[str]:
    """The digests of the names and contacts of all who were ever registered for the hull with this plate."""
    with connection.cursor() as cursor:
        cursor.execute(NOTES, [plate])
        return [digest for (digest,) in cursor.fetchall()]
