"""The gate that every scan goes through and that is held alone by what may not pass a scan."""

from django.db import connection

# Of trace/recording/transaction/attempt.py, which read models may not import.
GATE = 7_421_001


def alone() -> None:
    """Wait until no scan is under way, and let none begin before this transaction ends."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [GATE])
