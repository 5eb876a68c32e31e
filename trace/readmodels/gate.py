"""The gate that every scan goes through and that is held alone by what may not pass a scan."""

from django.db import connection


def alone() -> None:
    """Wait until no scan is under way, and let none begin before this transaction ends."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT go_through_gate(alone => true)")
