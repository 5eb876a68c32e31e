"""The events of the measured check have bytes and rows of their own, and what is wrong with one of them is found."""

import psycopg

from tests.cast import Cast, fresh_database, rows_of, told, told_once, told_shared
from tests.databases import Database
from trace.measure.check import copies, timed
from trace.readmodels.checking import check_all

__all__ = ["fresh_database", "told", "told_once", "told_shared"]


def test_each_copy_is_read_again_and_compared(told: Cast, fresh_database: Database) -> None:
    ((events, things),) = rows_of(
        "SELECT count(*), count(*) FILTER (WHERE id IN (SELECT event FROM revision)) FROM event"
    )
    with psycopg.connect(fresh_database.url("postgres"), autocommit=True) as session:
        copies(session, events + 2 * (events - things))
        assert rows_of("SELECT count(*), count(DISTINCT leaf) FROM event") == [(events + 2 * (events - things),) * 2]
        assert timed().startswith(f"{events + 2 * (events - things)} events read again")
        ((edge, uid),) = rows_of(
            "SELECT e.id, v.uid::text FROM edge e JOIN event v ON v.id = e.event ORDER BY e.id DESC LIMIT 1"
        )
        session.execute("ALTER TABLE edge DISABLE TRIGGER ALL")
        session.execute("UPDATE edge SET layer = 'another' WHERE id = %s", [edge])
    check = check_all()
    assert check.differences >= 1
    assert uid in check.found[0]

