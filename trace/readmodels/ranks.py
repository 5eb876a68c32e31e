"""Keeps unit_state.rank the longest path from a root over every edge ever made, also when a late edge arrives."""

from collections import defaultdict

from django.db import connection

from trace.readmodels.store import Ids, Store

RAISE = """
UPDATE unit_state s SET rank = x.rank
  FROM (SELECT e.child, max(p.rank) + 1 AS rank FROM edge e JOIN unit_state p ON p.unit = e.parent
         WHERE e.parent = ANY (%s) AND NOT e.aside GROUP BY e.child) x
 WHERE s.unit = x.child AND s.rank < x.rank RETURNING s.unit
"""


def raise_below(store: Store, ids: Ids) -> None:
    """Raise what hangs below units that this event raised and that had gone into something before."""
    below = store.raised & ids.parents
    if not below:
        return
    with connection.cursor() as cursor:
        while below:
            cursor.execute(RAISE, [sorted(below)])
            below = {unit for (unit,) in cursor.fetchall()}


def longest_paths(edges: list[tuple[int, int]]) -> dict[int, int]:
    """Rank of every child from (child, parent) pairs without circles; roots are absent (rank 0)."""
    parents: dict[int, set[int]] = defaultdict(set)
    children: dict[int, set[int]] = defaultdict(set)
    for child, parent in edges:
        parents[child].add(parent)
        children[parent].add(child)
    waiting = {child: len(found) for child, found in parents.items()}
    ready = [p for p in children if p not in parents]
    rank: dict[int, int] = defaultdict(int)
    while ready:
        unit = ready.pop()
        for child in children[unit]:
            rank[child] = max(rank[child], rank[unit] + 1)
            waiting[child] -= 1
            if not waiting[child]:
                ready.append(child)
    return dict(rank)
