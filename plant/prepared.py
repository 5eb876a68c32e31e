"""Statements that the server keeps prepared: planning what every request asks anew costs more than asking it.

Prepared from the third call in a session on, with one plan for all values (plant/settings.py). Values are cast in the
SQL, so that a statement keeps its types from call to call.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import psycopg
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.utils import CursorWrapper


def prepared_cursor() -> CursorWrapper:
    """Django's own cursors put the values into the text of a statement; this one sends them apart."""
    # Django's `connection` looks this up for each word that follows it.
    database = connections[DEFAULT_DB_ALIAS]
    database.ensure_connection()
    wrap = database.make_debug_cursor if database.queries_logged else database.make_cursor
    # Django's stubs know wrapped cursors only.
    return wrap(psycopg.Cursor(database.connection))  # type: ignore[arg-type]


def fetch_rows(sql: str, parameters: Mapping[str, Any] | Sequence[Any]) -> list[tuple[Any, ...]]:
    """All rows; numbers come as bytes, not as digits."""
    with prepared_cursor() as cursor:
        cursor.cursor.format = psycopg.pq.Format.BINARY
        cursor.execute(sql, parameters)
        rows: list[tuple[Any, ...]] = cursor.fetchall()
        return rows
