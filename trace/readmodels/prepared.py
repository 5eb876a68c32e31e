"""Runs the few large statements of a scan as prepared ones: planning them anew costs more than running them."""

import json
from collections.abc import Mapping
from typing import Any

import psycopg
from django.db import connection


def fetch_json(sql: str, parameters: Mapping[str, Any]) -> Any:
    """The one JSON document (as text) that `sql` selects. Arrays must be cast in the SQL. Prepared by the server
    from the third call in a session on (settings.DATABASES), with one plan for all values."""
    connection.ensure_connection()
    values = {name: _array(value) if isinstance(value, list) else value for name, value in parameters.items()}
    with connection.make_cursor(psycopg.Cursor(connection.connection)) as cursor:
        cursor.execute(sql, values)
        return json.loads(cursor.fetchone()[0])


def _array(values: list[Any]) -> str:
    """PostgreSQL's own text for an array: a list's type would change with its numbers, and with it the statement."""
    return "{" + ",".join(str(v) if isinstance(v, int) else _quoted(str(v)) for v in values) + "}"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
