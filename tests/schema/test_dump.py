"""A dump brings records and guards back alike: rows, triggers in force, rights, and numbers that go on."""

import subprocess
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from django.db import connections
from pytest_django import DjangoDbBlocker

from deploy import postgres
from plant import checks
from tests.databases import Database, cloned, drop, point_django_at, prefix
from tests.schema.attempts import ATTEMPTS, everyone, got_through, row_attempts
from tests.schema.facts import add_event, one_of_each
from tests.schema.fingerprint import fingerprint
from trace.migrations._door import GUARDS

# What a dump carries, in words that do not depend on where a row lies or which number the catalog gave it.
DEFINITIONS = """
    SELECT 'trigger', tgrelid::regclass::text, pg_get_triggerdef(oid) || tgenabled::text FROM pg_trigger
     WHERE NOT tgisinternal
    UNION ALL SELECT 'function', proname, pg_get_functiondef(oid) || proowner::regrole
     FROM pg_proc WHERE pronamespace = 'public'::regnamespace
    UNION ALL SELECT 'constraint', conrelid::regclass || ' ' || conname, pg_get_constraintdef(oid)
     FROM pg_constraint WHERE connamespace = 'public'::regnamespace
    UNION ALL SELECT 'index', indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'
    UNION ALL SELECT 'table', relname, relowner::regrole::text FROM pg_class
     WHERE relnamespace = 'public'::regnamespace
    UNION ALL SELECT 'right on table', relname, x::text
     FROM pg_class CROSS JOIN LATERAL
          unnest(COALESCE(relacl, acldefault(replace(relkind::text, 'S', 's')::"char", relowner))) AS x
     WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'S')
    UNION ALL SELECT 'right on column', attrelid::regclass || '.' || attname, x::text
     FROM pg_attribute, unnest(attacl) x WHERE attrelid::regclass::text = 'note'
    UNION ALL SELECT 'right on function', proname, x::text FROM pg_proc, unnest(proacl) AS x
     WHERE pronamespace = 'public'::regnamespace
    UNION ALL SELECT 'default', defaclrole::regrole::text, defaclacl::text FROM pg_default_acl
    UNION ALL SELECT 'sequence', sequencename, last_value::text FROM pg_sequences"""


def picture(session: psycopg.Connection) -> set[tuple[str, ...]]:
    """All rows of all tables, and all definitions and rights."""
    found: set[tuple[str, ...]] = set(session.execute(DEFINITIONS))
    names = session.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'").fetchall()
    for (name,) in names:
        found |= {("row", name, row) for (row,) in session.execute(f'SELECT x::text FROM "{name}" AS x')}
    return found


@pytest.fixture
def dumped(templates: tuple[Database, Database], tmp_path: Path) -> Iterator[tuple[Database, Database]]:
    """A database with a row in every guarded table, and another that its dump was restored into."""
    with cloned(templates[1]) as database:
        one_of_each(database)
        server, file = database.server, tmp_path / "dump"
        restored = Database(server, f"{prefix()}_restored")
        postgres.create_database(server, restored.name)
        dump = [f"{server.binaries}/pg_dump", "--format=custom", f"--file={file}", database.url("postgres")]
        restore = [f"{server.binaries}/pg_restore", "--exit-on-error", "--single-transaction", "--clean"]
        restore += ["--if-exists", f"--dbname={restored.url('postgres')}", str(file)]
        for command in (dump, restore):
            done = subprocess.run(command, check=False, capture_output=True, text=True)
            assert done.returncode == 0, done.stderr
        yield database, restored
        drop(restored)


def test_records_and_guards_come_back_alike(
    dumped: tuple[Database, Database],
    shared_database: Database,
    django_db_setup: None,
    django_db_blocker: DjangoDbBlocker,
) -> None:
    database, restored = dumped
    with database.connect("postgres") as before, restored.connect("postgres") as after:
        assert picture(after) ^ picture(before) == set()
    with django_db_blocker.unblock():
        point_django_at(restored)
        try:
            assert [fault for fault in checks.database_faults(connections["default"]) if fault.is_serious()] == []
        finally:
            point_django_at(shared_database)
    with everyone(restored) as sessions:
        attempts = [attempt for table in GUARDS for attempt in row_attempts(table)] + list(ATTEMPTS[:30])
        assert got_through(sessions, attempts, fingerprint(sessions["postgres"])) == []
        event = add_event(sessions["owner"])
        queued = sessions["sealer"].execute("SELECT count(*) FROM seal_queue WHERE event = %s", [event]).fetchone()
        assert queued == (1,)
