"""Runs the large statements of a scan and of a walk as prepared ones: planning them anew costs more than running them.

Prepared by the server from the third call in a session on, with one plan for all values (plant/settings.py).
Arrays are cast in the SQL, so that a statement keeps its types from call to call.
"""

import json
from collections.abc import Mapping
from typing import Any

import psycopg
from django.db import connection
from django.db.backends.utils import CursorWrapper


def fetch_json(sql: str, parameters: Mapping[str, Any]) -> Any:
    """The one JSON document (as text) that `sql` selects."""
    values = {name: _array(value) if isinstance(value, list) else value for name, value in parameters.items()}
    with _cursor() as cursor:
        cursor.execute(sql, values)
        return json.loads(cursor.fetchone()[0])


def fetch_rows(sql: str, parameters: Mapping[str, Any]) -> list[tuple[Any, ...]]:
    """All rows; numbers come as bytes, not as digits."""
    with _cursor() as cursor:
        cursor.cursor.format = psycopg.pq.Format.BINARY
        cursor.execute(sql, parameters)
        rows: list[tuple[Any, ...]] = cursor.fetchall()
        return rows


def _cursor() -> CursorWrapper:
    """Django's own cursors put the values into the text of a statement; this one sends them apart."""
    connection.ensure_connection()
    wrap = connection.make_debug_cursor if connection.queries_logged else connection.make_cursor
    # Django's stubs know wrapped cursors only.
    return wrap(psycopg.Cursor(connection.connection))  # type: ignore[arg-type]


def _array(values: list[Any]) -> str:
    """PostgreSQL's own text for an array: a list's type would change with its numbers, and with it the statement."""
    return "{" + ",".join(str(v) if isinstance(v, int) else _quoted(str(v)) for v in values) + "}"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
