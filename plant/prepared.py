"""Statements that the server keeps prepared: planning what every request asks anew costs more than asking it.

Prepared from the third call in a session on, with one plan for all values (plant/settings.py). Values are cast in the
SQL, so that a statement keeps its types from call to call.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import psycopg
from django.db import connection
from django.db.backends.utils import CursorWrapper


def prepared_cursor() -> CursorWrapper:
    """Django's own cursors put the values into the text of a statement; this one sends them apart."""
    connection.ensure_connection()
    wrap = connection.make_debug_cursor if connection.queries_logged else connection.make_cursor
    # Django's stubs know wrapped cursors only.
    return wrap(psycopg.Cursor(connection.connection))  # type: ignore[arg-type]


def fetch_rows(sql: str, parameters: Mapping[str, Any] | Sequence[Any]) -> list[tuple[Any, ...]]:
    """All rows; numbers come as bytes, not as digits."""
    with prepared_cursor() as cursor:
        cursor.cursor.format = psycopg.pq.Format.BINARY
        cursor.execute(sql, parameters)
        rows: list[tuple[Any, ...]] = cursor.fetchall()
        return rows
