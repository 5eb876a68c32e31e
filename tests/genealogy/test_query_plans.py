"""Walks are planned alike on a young plant and an old one: every edge's withdrawal is looked up, never searched for."""

import json
import re
from typing import Any

import psycopg
import pytest
from django.db import connection

from tests.conftest import Connect
from tests.databases import Database
from trace.genealogy.live import LIVE, LIVE_NOW
from trace.genealogy.walk import reached_ids
from trace.genealogy.wide import HOW_FAR
from trace.sheets.facts.holding import HELD

WALKS = {
    "forward": reached_ids("forward"),
    "back": reached_ids("back"),
    "forward, not through regrind": reached_ids("forward", stops=True),
    "what went in": f"SELECT e.id FROM edge e WHERE e.child = %(one)s::bigint AND NOT e.aside AND {LIVE}",
    "what counts now": f"SELECT e.id FROM edge e WHERE e.parent = %(one)s::bigint AND {LIVE_NOW} OFFSET 0",
    "how far": HOW_FAR,
    "what is held": HELD,
}
VALUES = {
    "roots": "'{1}'", "known": "'infinity'", "one": "1", "stop_roles": "'{regrind}'", "most": "150000",
    "kinds": "'{hull,content}'", "skip": "0", "take": "60",
}  # fmt: skip
# Rows of withdrawals with statistics; None: a database of which the server knows nothing yet.
AGES = {"never analysed": None, "a young plant": 600, "an old plant": 50_000}


def _plan(name: str) -> Any:
    """The plan as the session of the product keeps it: one for all values."""
    names = list(dict.fromkeys(re.findall(r"%\((\w+)\)s", WALKS[name])))
    text = re.sub(r"%\((\w+)\)s", lambda m: f"${names.index(m[1]) + 1}", WALKS[name])
    with connection.cursor() as cursor:
        cursor.execute(f"PREPARE looked_at AS {text}")
        cursor.execute(f"EXPLAIN (FORMAT JSON) EXECUTE looked_at ({', '.join(VALUES[n] for n in names)})")
        found = cursor.fetchone()[0]
        cursor.execute("DEALLOCATE looked_at")
    return json.loads(found) if isinstance(found, str) else found


def _nodes(plan: Any) -> list[dict[str, Any]]:
    if isinstance(plan, list):
        return [node for part in plan for node in _nodes(part)]
    if not isinstance(plan, dict):
        return []
    own = [plan] if "Node Type" in plan else []
    return own + [node for part in plan.values() for node in _nodes(part)]


def _withdrawals(session: psycopg.Connection, count: int) -> None:
    session.execute("SET session_replication_role = replica")
    session.execute("ALTER TABLE edge_void DISABLE TRIGGER ALL")
    session.execute(
        "INSERT INTO edge_void (edge, event, recorded) SELECT n, n, now() FROM generate_series(1, %s) AS n", [count]
    )
    session.execute("ANALYZE edge_void")


@pytest.mark.parametrize("age", AGES)
def test_no_walk_reads_all_withdrawals(fresh_database: Database, connect: Connect, age: str) -> None:
    count = AGES[age]
    if count is not None:
        _withdrawals(connect("postgres", autocommit=True), count)
    for name in WALKS:
        searched = [
            node["Relation Name"] for node in _nodes(_plan(name))
            if node["Node Type"] == "Seq Scan" and node.get("Relation Name") in ("edge", "edge_void")
        ]  # fmt: skip
        assert searched == [], (name, age)


def test_what_was_met_is_looked_through_once_for_all_that_lies_between(db: None) -> None:
    """Sorted out anew for each unit on the way, the page of a wide lot took half a minute at a million hulls."""
    assert _read_inside("how far", "CTE between", "met") == ["SubPlan"]


def test_holds_are_followed_only_through_what_lies_behind_what_is_asked(db: None) -> None:
    """A hold that reaches four million units made every page of a lot wait twenty seconds."""
    read = _read_inside("what is held", "CTE r", "behind")
    assert (len(read), read.count("SubPlan")) == (2, 1)


def _read_inside(walk: str, part: str, kept: str) -> list[str]:
    """How what the walk keeps is read in one part of its plan: as a SubPlan it is hashed once."""
    (inside,) = [node for node in _nodes(_plan(walk)) if node.get("Subplan Name") == part]
    return [node["Parent Relationship"] for node in _nodes(inside) if node.get("CTE Name") == kept]


def test_the_looking_finds_a_search(fresh_database: Database, connect: Connect) -> None:
    """With the server's own idea of what a look-up costs, a young plant's withdrawals are read through."""
    _withdrawals(connect("postgres", autocommit=True), 60)
    with connection.cursor() as cursor:
        cursor.execute("SET random_page_cost = 4")
    kinds = {node["Node Type"] for node in _nodes(_plan("forward")) if node.get("Relation Name") == "edge_void"}
    assert kinds == {"Seq Scan"}
