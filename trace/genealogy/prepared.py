"""Runs the large statements of a scan and of a walk as prepared ones: planning them anew costs more than running them.

Arrays are cast in the SQL, so that a statement keeps its types from call to call (plant/prepared.py).
"""

import json
from collections.abc import Mapping
from typing import Any

from plant.prepared import fetch_rows, prepared_cursor


def fetch_json(sql: str, parameters: Mapping[str, Any]) -> Any:
    """The one JSON document (as text) that `sql` selects."""
    values = {name: _array(value) if isinstance(value, list) else value for name, value in parameters.items()}
    with prepared_cursor() as cursor:
        cursor.execute(sql, values)
        return json.loads(cursor.fetchone()[0])


def fetch_together(*asked: tuple[str, Mapping[str, Any]]) -> list[Any]:
    """The JSON documents that several such statements select, asked for in one; no two may name a value alike."""
    every: dict[str, Any] = {}
    for _sql, values in asked:
        every |= values
    return list(fetch_json(f"SELECT json_build_array({', '.join(f'({sql})::json' for sql, _ in asked)})::text", every))


def _array(values: list[Any]) -> str:
    """PostgreSQL's own text for an array: a list's type would change with its numbers, and with it the statement."""
    return "{" + ",".join(str(v) if isinstance(v, int) else _quoted(str(v)) for v in values) + "}"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


__all__ = ["fetch_json", "fetch_rows", "fetch_together"]
