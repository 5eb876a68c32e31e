"""No login but the app's can keep a scan waiting, and none can take more of the server than its share."""

from __future__ import annotations

from collections.abc import Iterator

import psycopg
import pytest

from deploy.cluster import locked
from deploy.postgres import Server
from tests.databases import ROOT, Database, cloned
from tests.schema.facts import body, enter

OTHERS = ("sealer", "auditor", "migrator")
# What would hold up a scan, or all of them, while its transaction stays open.
LOCKS = (
    "SELECT pg_advisory_lock(7421001)",
    "SELECT pg_advisory_xact_lock(7421001)",
    "SELECT pg_advisory_lock_shared(7421001)",
    "SELECT pg_try_advisory_lock(1397051214, 0)",
    "SELECT count(pg_advisory_lock(n)) FROM generate_series(1, 20000) AS n",
    "SELECT go_through_gate(true)",
    "SELECT go_through_gate(false)",
    "SELECT sign_in_turn()",
    "SELECT one_at_a_time('lot')",
    "SELECT open_scan(true, 1, 'd', gen_random_uuid(), 'asks')",
    "SELECT lock_rows('{1}', '{1}', '{1}', '{1}')",
    "SELECT * FROM unit_state FOR UPDATE",
    "SELECT * FROM event FOR KEY SHARE",
    "SELECT nextval('event_id_seq') FROM generate_series(1, 100000)",
    "TRUNCATE seal_queue",
    "DELETE FROM seal_queue",
)
STRONG = ("ROW SHARE", "ROW EXCLUSIVE", "SHARE", "EXCLUSIVE", "ACCESS EXCLUSIVE")
TAKEN = (
    "SELECT lo_creat(-1)",
    "SELECT lo_create(0)",
    "SELECT lo_from_bytea(0, 'x')",
    "SELECT lo_put(1, 0, 'x')",
    "SELECT lo_open(1, 131072)",
    "SELECT lowrite(0, 'x')",
    "SELECT lo_import('/etc/hostname')",
    "CREATE TEMP TABLE mine (n int)",
    "CREATE TEMP SEQUENCE mine",
    "CREATE TABLE mine (n int)",
    "SET temp_file_limit = -1",
    "SET temp_file_limit = '1TB'",
    "ALTER ROLE CURRENT_USER CONNECTION LIMIT -1",
    "SELECT pg_notify('a', 'b')",
    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE usename = 'postgres'",
    "CHECKPOINT",
    "SELECT pg_switch_wal()",
    "SELECT pg_create_restore_point('x')",
)


@pytest.fixture(scope="module")
def plant(templates: tuple[Database, Database]) -> Iterator[Database]:
    with cloned(templates[1]) as database:
        yield database


def refused(session: psycopg.Connection, sql: str) -> bool:
    """True when the statement is refused; what it took otherwise is still held."""
    session.rollback()
    try:
        session.execute("SET LOCAL lock_timeout = '2s'")
        session.execute(sql)
    except psycopg.Error:
        return True
    return False


def scan_goes_on(app: psycopg.Connection) -> None:
    """A whole scan and a try to sign in, none of whose statements is held up: that would last for ever here."""
    app.execute("SET LOCAL statement_timeout = '30s'")
    app.execute("SELECT * FROM open_scan(false, 1, 'd', gen_random_uuid(), 'asks')")
    app.execute("SELECT sign_in_turn()")
    app.execute("SELECT lock_rows('{1}', '{1}', '{1}', '{1}')")
    enter(app, body())
    app.rollback()


@pytest.mark.parametrize("login", OTHERS)
def test_no_other_login_can_hold_up_a_scan(plant: Database, login: str) -> None:
    with plant.connect(login) as other, plant.connect("app") as app:
        taken = [sql for sql in LOCKS if not refused(other, sql)]
        assert taken == []
        names = app.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'").fetchall()
        for (table,) in names:
            for mode in STRONG:
                # From PostgreSQL 16 on whoever reads may take ROW SHARE, which only the gate's alone side meets.
                if not refused(other, f"LOCK TABLE {table} IN {mode} MODE"):
                    assert mode == "ROW SHARE", (table, mode)
                    assert table != "gate"
        app.rollback()
        # What a login may do, held open meanwhile: reading, in a transaction that never ends.
        other.rollback()
        if login != "migrator":
            other.execute("SELECT count(*) FROM event")
        scan_goes_on(app)
        other.rollback()


@pytest.mark.parametrize("login", ("app", *OTHERS))
@pytest.mark.parametrize("sql", TAKEN)
def test_no_login_takes_what_is_not_its_share(plant: Database, login: str, sql: str) -> None:
    with plant.connect(login) as session:
        assert refused(session, sql)


def test_connections_files_and_times_are_limited(test_server: Server, plant: Database) -> None:
    """As roles.sql sets them where nothing was set before; the tests' own server lets more in."""
    roles = (ROOT / "deploy" / "roles.sql").read_text(encoding="utf-8")
    # Roles belong to the whole server: nobody else may start on it before this is taken back.
    with locked(test_server.folder), plant.connect("postgres") as superuser:
        for login in ("app", *OTHERS):
            superuser.execute(f"ALTER ROLE lotwright_{login} CONNECTION LIMIT -1")
        superuser.execute(roles)
        found = superuser.execute(
            """SELECT replace(rolname, 'lotwright_', ''), rolconnlimit, COALESCE(array_to_string(rolconfig, ' '), '')
                 FROM pg_roles WHERE rolname LIKE 'lotwright%' AND rolcanlogin"""
        ).fetchall()
        # A plant's own limit stays.
        superuser.execute("ALTER ROLE lotwright_app CONNECTION LIMIT 90")
        superuser.execute(roles)
        kept = superuser.execute("SELECT rolconnlimit FROM pg_roles WHERE rolname = 'lotwright_app'").fetchone()
        superuser.rollback()
    assert {login: limit for login, limit, _ in found} == {"app": 45, "migrator": 3, "sealer": 2, "auditor": 4}
    assert kept == (90,)
    for login, _, settings in found:
        assert "temp_file_limit=" in settings, login
        assert "idle_in_transaction_session_timeout=" in settings, login
        assert login == "migrator" or "statement_timeout=" in settings, login
