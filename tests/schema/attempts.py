"""Attempts to change what was recorded, tried by every login role and by the owner through SET ROLE.

`prove(database)` says what got through; it takes a database as the migrations leave it, so it can be run
after each of them. What counts is the effect: a GRANT to oneself is refused with a warning only.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

import psycopg

from plant.env import OWNER
from tests.databases import Database
from tests.schema.facts import one_of_each
from tests.schema.fingerprint import changes, fingerprint
from trace.migrations._door import GUARDS

LOGINS = ("app", "sealer", "auditor", "migrator")
SOMEONE_ELSES_UID = "replace(body, uid::text, gen_random_uuid()::text)"


@dataclass(frozen=True)
class Attempt:
    """owner: what becomes of it in the owner's hands (the migrator after SET ROLE).

    refused: nothing changes, as with every login. may: it works, which is the honest limit of these guards
    and why the owner cannot log in. idle: it is let through and changes nothing.
    loud: an error is asked for too. logins: who must be refused.
    """

    name: str
    sql: str
    owner: str = "refused"
    loud: bool = False
    logins: tuple[str, ...] = LOGINS


ATTEMPTS = (
    # Rows: refused to everyone, by rights to the logins and by triggers to the owner.
    Attempt("update of the bytes", "UPDATE event SET body = body || ' '"),
    Attempt("update to the same value", "UPDATE event SET kind = kind"),
    Attempt("update in a CTE", "WITH x AS (UPDATE edge SET amount = 1 RETURNING id) SELECT * FROM x"),
    Attempt("delete in a CTE", "WITH x AS (DELETE FROM scan RETURNING id) SELECT * FROM x"),
    Attempt("delete joined", "DELETE FROM edge_void USING event WHERE edge_void.event = event.id"),
    Attempt("truncate several", "TRUNCATE edge_void, edge RESTART IDENTITY"),
    Attempt("truncate cascade", "TRUNCATE event CASCADE"),
    Attempt(
        "upsert",
        "INSERT INTO label SELECT * FROM label ON CONFLICT (code) DO UPDATE SET carrier = NULL, unit = 1",
    ),
    Attempt(
        "merge, update",
        "MERGE INTO unit u USING event e ON u.event = e.id WHEN MATCHED THEN UPDATE SET amount = 1",
    ),
    Attempt("merge, delete", "MERGE INTO cook c USING event e ON c.event = e.id WHEN MATCHED THEN DELETE"),
    Attempt("update through a view", "CREATE TEMP VIEW v AS SELECT * FROM hold; UPDATE v SET rule = 'none'"),
    Attempt("update in a DO block", "DO $$ BEGIN EXECUTE 'UPDATE serial SET text = ''X'''; END $$"),
    Attempt("update prepared", "PREPARE p AS UPDATE revision SET body = '[]'; EXECUTE p"),
    Attempt("put by write_rows", """SELECT write_rows('{"put": {"hold": [{"id": 1, "rule": "none"}]}}')"""),
    Attempt("drop by write_rows", """SELECT write_rows('{"drop": {"hold_release": [{"id": 1}]}}')"""),
    Attempt("note rewritten", "UPDATE note SET text = 'no crack'"),
    Attempt("note with another digest", "UPDATE note SET digest = repeat('0', 64)"),
    Attempt("note deleted", "DELETE FROM note"),
    Attempt(
        "event with a forged leaf",
        f"INSERT INTO event (body, leaf) SELECT {SOMEONE_ELSES_UID}, '' FROM event",
    ),
    Attempt(
        "event with forged columns",
        f"INSERT INTO event (body, happened) SELECT {SOMEONE_ELSES_UID}, '2020-01-01' FROM event",
    ),
    Attempt(
        "event recorded 'now'",
        "INSERT INTO event (body) SELECT jsonb_set(jsonb_set(body::jsonb, '{recorded}', '\"now\"'),"
        " '{uid}', to_jsonb(gen_random_uuid()))::text FROM event",
    ),
    Attempt("same event again", "INSERT INTO event (body) SELECT body FROM event"),
    Attempt("queue filled by hand", "INSERT INTO seal_queue SELECT id FROM event ON CONFLICT DO NOTHING"),
    Attempt("queue emptied before sealing", "DELETE FROM seal_queue"),
    Attempt("mark changed", "UPDATE installation SET demo = false"),
    Attempt("marked again", 'INSERT INTO installation ("only", demo) VALUES (false, true)'),
    Attempt("triggers skipped", "SET session_replication_role = replica; DELETE FROM event"),
    Attempt("rows moved by COPY", "COPY event (body) FROM PROGRAM 'echo {}'"),
    Attempt("rows from a file", "COPY event (body) FROM '/etc/hostname'"),
    Attempt("program run", "COPY (SELECT 1) TO PROGRAM 'true'"),
    Attempt("catalog updated", "UPDATE pg_trigger SET tgenabled = 'D'"),
    # Locks: they change nothing, but the app must not hold up others' inserts.
    Attempt("event locked", "SELECT * FROM event FOR UPDATE", owner="idle"),
    Attempt("event locked for its key", "SELECT * FROM event FOR KEY SHARE", owner="idle"),
    Attempt("table locked", "BEGIN; LOCK TABLE event IN ACCESS EXCLUSIVE MODE; ROLLBACK", owner="idle"),
    # The catalog: refused to every login.
    Attempt("drop table", "DROP TABLE event CASCADE", owner="may"),
    Attempt("drop trigger", "DROP TRIGGER guard_row ON event", owner="may"),
    Attempt("drop function", "DROP FUNCTION truth_never_changes() CASCADE", owner="may"),
    Attempt("drop column", "ALTER TABLE event DROP COLUMN leaf", owner="may"),
    Attempt("add column", "ALTER TABLE event ADD COLUMN extra int", owner="may"),
    Attempt("drop constraint", "ALTER TABLE edge DROP CONSTRAINT edge_not_itself", owner="may"),
    Attempt("change of type", "ALTER TABLE unit ALTER COLUMN amount TYPE numeric", owner="may"),
    Attempt("disable triggers", "ALTER TABLE event DISABLE TRIGGER USER", owner="may"),
    Attempt("disable all triggers", "ALTER TABLE event DISABLE TRIGGER ALL"),
    Attempt("weaken a trigger", "ALTER TABLE scan ENABLE REPLICA TRIGGER guard_row", owner="may"),
    Attempt(
        "replace a function",
        "CREATE OR REPLACE FUNCTION truth_never_changes() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
        owner="may",
    ),
    Attempt("rename a function", "ALTER FUNCTION write_rows(jsonb) RENAME TO rows_written", owner="may"),
    Attempt("rename table", "ALTER TABLE event RENAME TO event_old", owner="may"),
    Attempt("another owner", "ALTER TABLE event OWNER TO CURRENT_USER", owner="idle"),
    Attempt("the app as owner", "ALTER TABLE event OWNER TO lotwright_app"),
    Attempt("table taken over", "REASSIGN OWNED BY lotwright_owner TO lotwright_app"),
    Attempt("everything dropped", "DROP OWNED BY lotwright_owner CASCADE", owner="may"),
    Attempt("grant to itself", "GRANT UPDATE, DELETE ON event TO CURRENT_USER", owner="idle"),
    Attempt("grant to the app", "GRANT UPDATE ON event TO lotwright_app", owner="may"),
    Attempt("grant to all", "GRANT ALL ON ALL TABLES IN SCHEMA public TO PUBLIC", owner="may"),
    Attempt("revoke from another", "REVOKE SELECT ON event FROM lotwright_auditor", owner="may"),
    Attempt("join the owner", "GRANT lotwright_owner TO lotwright_app"),
    Attempt(
        "work as the owner",
        "SET ROLE lotwright_owner; ALTER TABLE event DISABLE TRIGGER USER",
        owner="may",
        logins=("app", "sealer", "auditor"),
    ),
    Attempt("work as a superuser", "SET SESSION AUTHORIZATION postgres"),
    Attempt("become superuser", "ALTER ROLE CURRENT_USER SUPERUSER"),
    Attempt("become a maker of roles", "ALTER ROLE CURRENT_USER CREATEROLE BYPASSRLS REPLICATION"),
    Attempt("make a role", "CREATE ROLE lotwright_other LOGIN SUPERUSER"),
    Attempt("inherit", "CREATE TABLE event_more () INHERITS (event)", owner="may"),
    Attempt("attach", "ALTER TABLE scan_conflict INHERIT scan"),
    Attempt("detach", "ALTER TABLE event DETACH PARTITION scan"),
    Attempt("rule", "CREATE RULE r AS ON INSERT TO event DO INSTEAD NOTHING", owner="may"),
    Attempt(
        "trigger of one's own",
        "CREATE TRIGGER x BEFORE INSERT ON unit FOR EACH ROW EXECUTE FUNCTION event_to_queue()",
        owner="may",
    ),
    Attempt("rows hidden", "ALTER TABLE event ENABLE ROW LEVEL SECURITY", owner="may"),
    Attempt("policy", "CREATE POLICY p ON event USING (false)", owner="may"),
    Attempt("table of one's own", "CREATE TABLE public.mine (n int)", owner="may"),
    Attempt("table that shadows", "CREATE TEMP TABLE installation AS SELECT true AS demo", owner="idle"),
    Attempt(
        "function of one's own",
        "CREATE FUNCTION public.f() RETURNS int LANGUAGE sql AS 'SELECT 1'",
        owner="may",
    ),
    Attempt("schema of one's own", "CREATE SCHEMA mine", owner="may"),
    Attempt("file read into a large object", "SELECT lo_import('/etc/hostname')"),
    Attempt("file read", "SELECT pg_read_file('/etc/hostname')"),
    Attempt("extension", "CREATE EXTENSION file_fdw"),
    Attempt("server setting", "ALTER SYSTEM SET fsync = off"),
    Attempt(
        "database setting",
        "DO $$ BEGIN EXECUTE format('ALTER DATABASE %I SET timezone = ''UTC''', current_database()); END $$",
        owner="may",
    ),
    Attempt(
        "database renamed",
        "DO $$ BEGIN EXECUTE format('ALTER DATABASE %I RENAME TO other', current_database()); END $$",
    ),
    Attempt(
        "event trigger",
        "CREATE EVENT TRIGGER x ON ddl_command_start EXECUTE FUNCTION truth_never_changes()",
    ),
    Attempt("publication", "CREATE PUBLICATION everything FOR TABLE event", owner="may"),
    Attempt("queue function called", "SELECT event_to_queue()"),
    # Sealing: the sealer may, by one function; the owner by hand, but neither a hole nor a head that does not follow.
    Attempt(
        "leaf by another",
        "INSERT INTO leaf (epoch, n, event) SELECT 1, 1, max(id) FROM event",
        owner="may",
        logins=("app", "auditor", "migrator"),
    ),
    Attempt(
        "head by another",
        "INSERT INTO head (epoch, size, root, note) VALUES (1, 2, '', '')",
        logins=("app", "auditor", "migrator"),
    ),
)


def to_the_door(change: str) -> str:
    """An event like the last, with a new uid and `change` made to its text, taken to the door."""
    text = "replace(body, uid::text, gen_random_uuid()::text)"
    return f"""SELECT enter_event({change.replace("body", text)}, '[]', jsonb_build_object('device', 'D', 'client_id',
      gen_random_uuid(), 'mode', 'tells', 'install', NULL, 'seq', NULL, 'raw',
      '{{"kind":"weighed","overrides":[],"says":{{}}}}', 'fingerprint', '', 'taken', happened, 'skew_ms', 0, 'received',
      recorded, 'outcome', 'accepted', 'reason', NULL, 'answer', '{{}}')) FROM event ORDER BY id DESC LIMIT 1"""


# Additions and forgeries: rows beside the bytes of an old event, and bytes that no scan of the product makes.
OLD = "(SELECT min(id) FROM event)"
FORGED_ROWS = {
    "event": f"INSERT INTO event (body) SELECT {SOMEONE_ELSES_UID} FROM event LIMIT 1",
    "event with an id of its own": f"""INSERT INTO event (id, body) OVERRIDING SYSTEM VALUE
        SELECT -1, {SOMEONE_ELSES_UID} FROM event LIMIT 1""",
    "event with the largest id": f"""INSERT INTO event (id, body) OVERRIDING SYSTEM VALUE
        SELECT 9223372036854775807, {SOMEONE_ELSES_UID} FROM event LIMIT 1""",
    "event with two persons": f"""INSERT INTO event (body) SELECT replace({SOMEONE_ELSES_UID}, '"person"',
        '"person":"P-1","person"') FROM event LIMIT 1""",
    "edge": f"""INSERT INTO edge (child, parent, event, n, role)
        SELECT min(child), max(parent), {OLD}, 77, 'draw' FROM edge""",
    "edge_void": f"INSERT INTO edge_void (edge, event) SELECT max(id), {OLD} FROM edge",
    "unit": f"INSERT INTO unit (uid, kind, about, event) VALUES (gen_random_uuid(), 'lot', '{{}}', {OLD})",
    "carrier": f"INSERT INTO carrier (uid, kind, event) VALUES (gen_random_uuid(), 'tub', {OLD})",
    "difference": f"""INSERT INTO difference (event, unit, amount, uom, cause)
        SELECT {OLD}, min(id), 1, 'mg', '' FROM unit""",
    "event_unit": f"INSERT INTO event_unit (event, unit, role) SELECT {OLD}, min(id), 'x' FROM unit",
    "event_resource": f"INSERT INTO event_resource (event, resource, role) SELECT {OLD}, min(id), 'x' FROM resource",
    "resource": f"INSERT INTO resource (uid, kind, key, event) VALUES (gen_random_uuid(), 'mould', 'X', {OLD})",
    "revision": f"""INSERT INTO revision (thing, version, body, valid_from, event)
        SELECT min(id), 9, '{{}}', '2019-01-01Z', {OLD} FROM resource""",
    "cycle": f"INSERT INTO cycle (uid, number, event) VALUES (gen_random_uuid(), '9', {OLD})",
    "cook": f"INSERT INTO cook (cycle, unit, position, event) SELECT min(id), 1, 'S7', {OLD} FROM cycle",
    "label": f"INSERT INTO label (code, unit, event) SELECT '20000018', min(id), {OLD} FROM unit",
    "serial": f"""INSERT INTO serial (text, plate, format, product, event)
        SELECT 'X', min(id), 'plant', 'T', {OLD} FROM unit""",
    "hold": f"INSERT INTO hold (uid, event, unit, rule) SELECT gen_random_uuid(), {OLD}, min(id), 'x' FROM unit",
    "hold_release": f"INSERT INTO hold_release (hold, event) SELECT min(id), {OLD} FROM hold",
    "blob": "INSERT INTO blob (sha256, size, type) VALUES (repeat('0', 64), 1, 'image/png')",
    "note": "INSERT INTO note (digest, salt, text) VALUES (repeat('0', 64), repeat('5a', 16), 'forged')",
    "scan": """INSERT INTO scan (device, client_id, mode, raw, fingerprint, taken, skew_ms, received, outcome, answer)
        VALUES ('D', gen_random_uuid(), 'asks', '', '', now(), 0, now(), 'refused', '{}')""",
    "scan_conflict": """INSERT INTO scan_conflict (device, client_id, fingerprint, raw, received)
        VALUES ('D', gen_random_uuid(), '', '', now())""",
    "seal_queue": f"INSERT INTO seal_queue VALUES ({OLD})",
    "leaf with a hole": "INSERT INTO leaf (epoch, n, event) SELECT 1, 7, max(id) FROM event",
    "head of nothing": "INSERT INTO head (epoch, size, root, note) VALUES (1, 9, sha256(''), '')",
    "installation": 'INSERT INTO installation ("only", demo) VALUES (true, true)',
    "known kind": "INSERT INTO known_kind VALUES ('wished', 1)",
    "known shape": "UPDATE known_part SET shape = '.*'",
}
# By the owner's hand these go in: check_records names each, and the owner cannot log in.
BY_THE_OWNER = {
    "event", "event with an id of its own", "event with the largest id", "event with two persons", "edge", "edge_void",
    "unit", "carrier", "difference", "event_unit", "event_resource", "resource", "revision", "cycle", "cook", "label",
    "serial", "hold", "hold_release", "blob", "note", "scan", "scan_conflict", "known kind", "known shape",
}  # fmt: skip
FORGED_BYTES = {
    "a blank before": "' ' || body",
    "two persons": """replace(body, '"person"', '"person":"P-1","person"')""",
    "keys in another order": "'{\"a\":1,' || substr(body, 2)",
    "other spelling": """replace(body, '"P-014"', '"\\u0050-014"')""",
    "a number with a fraction": """replace(body, '"unsure_ms":500', '"unsure_ms":500.0')""",
    "no person": """replace(body, '"P-014"', 'null')""",
    "an unknown kind": """replace(body, '"weighed"', '"wished"')""",
    "an unknown version": """replace(body, '"ver":1', '"ver":99')""",
    "no rows": """regexp_replace(body, '"rows":.*,"rules"', '"rows":{},"rules"')""",
    "ahead of time": """replace(body, '"happened":"20', '"happened":"21')""",
    "an unknown part": """regexp_replace(body, '"rows":.*,"rules"', '"rows":{"wishes":[{"x":1}]},"rules"')""",
    "ids in rows": """regexp_replace(body, '"rows":.*,"rules"', '"rows":{"edge_void":[{"edge":1}]},"rules"')""",
    "an unknown unit": """regexp_replace(body, '"rows":.*,"rules"',
      '"rows":{"touches":[{"role":"x","unit":"01957000-0000-7000-8000-00000000000e"}]},"rules"')""",
    "an unknown edge withdrawn": """regexp_replace(body, '"rows":.*,"rules"',
      '"rows":{"voids":[{"event":"' || uid || '","n":99}]},"rules"')""",
    "an unknown hold ended": """regexp_replace(body, '"rows":.*,"rules"',
      '"rows":{"hold_releases":[{"hold":"01957000-0000-7000-8000-00000000000e","unit":null}]},"rules"')""",
    "a revision of long ago": """regexp_replace(body, '"rows":.*,"rules"', '"rows":{"things":[{"body":"{}","key":"X",'
      '"kind":"mould","uid":"01957000-0000-7000-8000-00000000000e","valid_from":"2019-01-01T00:00:00.000000Z",'
      '"version":1}]},"rules"')""",
    "words erased in passing": """regexp_replace(body, '"rows":.*,"rules"',
      '"rows":{"erased":[{"note":"' || (SELECT min(digest) FROM note) || '"}]},"rules"')""",
}
FORGERIES = (
    *(
        Attempt(f"added: {name}", sql, owner="may" if name in BY_THE_OWNER else "refused")
        for name, sql in FORGED_ROWS.items()
    ),
    *(Attempt(f"entered: {name}", to_the_door(change)) for name, change in FORGED_BYTES.items()),
    Attempt("entered: the same again", to_the_door("body").replace("gen_random_uuid()::text)", "uid::text)", 1)),
    Attempt(
        "entered: a refusal that says nothing",
        "SELECT enter_refusal('[]', '{\"device\": \"D\"}')",
    ),
    Attempt("entered: a note that nothing names", """SELECT enter_conflict(
        '[{"digest": "00", "salt": "5a", "text": "x"}]', 'D', gen_random_uuid(), '', '{}')"""),
    Attempt("entered: a conflict in other spelling", "SELECT enter_conflict('[]', 'D', gen_random_uuid(), '', '{ }')"),
    Attempt("numbers of records drawn", "SELECT nextval('event_id_seq')", owner="idle"),
    Attempt("numbers of records set", "SELECT setval('cook_id_seq', 1000)", owner="idle"),
    Attempt("sealed with a hole", "SELECT seal(1, ARRAY[-5]::bigint[], sha256(''), '')"),
    Attempt("sealed again", "SELECT seal(1, ARRAY[(SELECT min(event) FROM leaf)], sha256(''), '')"),
    Attempt("sealed with half a root", "SELECT seal(1, ARRAY[]::bigint[], '', '')"),
    Attempt("keys of the door: notes", "SELECT keep_notes('[]', '')", owner="idle"),
    Attempt(
        "keys of the door: refusing",
        "CREATE OR REPLACE FUNCTION read_event(bytes text) RETURNS jsonb LANGUAGE sql AS 'SELECT bytes::jsonb'",
        owner="may",
    ),
    Attempt("gate replaced", "DROP TABLE gate", owner="may"),
)  # fmt: skip


def row_attempts(table: str) -> list[Attempt]:
    """Update, delete and truncate of one guarded table that has rows; refused to everyone, with an error."""
    column = first_column(table)
    return [
        Attempt(f"update {table}", f'UPDATE {table} SET "{column}" = "{column}"', loud=True),
        Attempt(f"delete {table}", f"DELETE FROM {table}", loud=True),
        Attempt(f"truncate {table}", f"TRUNCATE {table}", loud=True),
        Attempt(f"truncate {table} cascade", f"TRUNCATE {table} CASCADE", loud=True),
    ]


def first_column(table: str) -> str:
    """A column that every row has."""
    named = {
        "event_unit": "unit", "event_resource": "role", "edge_void": "edge", "label": "code",
        "serial": "text", "blob": "sha256", "leaf": "n", "head": "size", "note": "digest",
        "seal_queue": "event",
    }  # fmt: skip
    return "demo" if table == "installation" else named.get(table, "id")


def everything() -> list[Attempt]:
    """All attempts: on the rows of each guarded table, then the others."""
    return [attempt for table in GUARDS for attempt in row_attempts(table)] + [*ATTEMPTS, *FORGERIES]


@contextmanager
def everyone(database: Database) -> Iterator[dict[str, psycopg.Connection]]:
    """A session of each login role, of the owner and of a superuser who looks on."""
    with ExitStack() as stack:
        sessions = {
            role: stack.enter_context(database.connect(role, autocommit=True))
            for role in (*LOGINS, "owner", "postgres")
        }
        for role, session in sessions.items():
            if role != "postgres":
                # psycopg must not count on statements prepared earlier: DISCARD ALL forgets them.
                session.prepare_threshold = None
        yield sessions


def prove(database: Database) -> list[str]:
    """Add a row to every guarded table, try everything as everyone; what got through, one line each."""
    one_of_each(database)
    with everyone(database) as sessions:
        return got_through(sessions, everything(), fingerprint(sessions["postgres"]))


def got_through(
    sessions: dict[str, psycopg.Connection], attempts: Iterable[Attempt], before: dict[str, str]
) -> list[str]:
    """Lines `role: attempt: what happened` for all that differs from what each attempt promises. before: the
    fingerprint that everything has, and should keep."""
    found: list[str] = []
    superuser = sessions["postgres"]
    for attempt in attempts:
        for role in (*attempt.logins, "owner"):
            if role == "owner" and attempt.owner == "may":
                if fingerprint_as_owner(sessions[role], attempt.sql) in (before, None):
                    found.append(f"owner: {attempt.name}: promised to work, but changed nothing")
                continue
            if not goes(sessions[role], role, attempt.sql):
                continue
            if attempt.loud:
                found.append(f"{role}: {attempt.name}: let through without an error")
            after = fingerprint(superuser)
            if after != before:
                found.append(f"{role}: {attempt.name}: changed {', '.join(changes(before, after))}")
                before = after
    after = fingerprint(superuser)
    if after != before:
        found.append(f"after errors: changed {', '.join(changes(before, after))}")
    return found


def goes(session: psycopg.Connection, role: str, sql: str) -> bool:
    """True when the statements end without an error; the session is afterwards as at its beginning."""
    session.execute("SET lock_timeout = '5s'")
    try:
        session.execute(sql)
    except psycopg.Error:
        return False
    else:
        return True
    finally:
        session.rollback()
        session.execute("DISCARD ALL")
        if role == "owner":
            session.execute(f"SET ROLE {OWNER}")
        user = session.execute("SELECT current_user").fetchone()
        assert user == (f"lotwright_{role}",), user


def fingerprint_as_owner(owner: psycopg.Connection, sql: str) -> dict[str, str] | None:
    """What all would look like once the owner had done this, None when refused; it is rolled back."""
    owner.execute("BEGIN")
    try:
        owner.execute(sql)
        return fingerprint(owner)
    except psycopg.Error:
        return None
    finally:
        owner.rollback()
