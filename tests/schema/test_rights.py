"""Who may do what: every table, sequence and function of the database is on this page, or the test fails."""

import psycopg
import pytest

from tests.conftest import Connect

LOGINS = ("app", "sealer", "auditor", "migrator")
EVERYTHING = "DELETE INSERT SELECT UPDATE"
# Each kind of table: what each login may do with it. The migrator, unless it works as the owner, may nothing.
TRUTH = {"app": "SELECT", "auditor": "SELECT"}
READ_MODEL = {"app": EVERYTHING, "auditor": "SELECT"}
KINDS: list[tuple[str, dict[str, str]]] = [
    # What was recorded, and the tree over it: nobody adds a row; functions that work as the owner do.
    ("event", TRUTH | {"sealer": "SELECT"}),
    ("scan scan_conflict carrier unit edge edge_void difference event_unit event_resource cycle cook", TRUTH),
    ("label serial hold hold_release resource revision blob", TRUTH),
    ("leaf head", TRUTH | {"sealer": "SELECT"}),
    ("seal_queue", {"sealer": "SELECT"}),
    # Names and free words.
    ("note", {"app": "SELECT"}),
    ("installation known_kind known_part", TRUTH),
    # Empty tables whose only use is their lock: a right on one would be a right to keep scans waiting.
    ("gate turn", {}),
    (
        "unit_state carrier_state carrier_log mould_state instrument_state serial_state label_state",
        READ_MODEL,
    ),
    ("unit_hold place_now reading discrepancy gap complaint case_file", READ_MODEL),
    ("plant_place plant_setting plant_mould plant_machine plant_instrument plant_material", READ_MODEL),
    ("plant_supplier plant_product plant_works_order plant_consignee plant_sales_order", READ_MODEL),
    ("plant_device plant_person", READ_MODEL),
    # Secrets and work in hand: nobody but the app.
    ("record_check paper", {"app": "INSERT SELECT UPDATE", "auditor": "SELECT"}),
    ("account wrong_pin django_session job begun screen_heard", {"app": EVERYTHING}),
    ("django_migrations django_content_type", {"app": "SELECT"}),
    # Django's own rights are not used: a person's roles are plant data.
    ("auth_group auth_group_permissions auth_permission", {}),
]
RIGHTS = {table: rights for tables, rights in KINDS for table in tables.split()}
# What a login may call; all else is called by these. Those that work with the owner's rights stand in DEFINERS.
CALLED = {
    "app": {
        "enter_event", "enter_refusal", "enter_conflict", "go_through_gate", "sign_in_turn", "one_at_a_time",
        "open_scan", "lock_rows", "write_rows", "exact_columns",
    },
    "sealer": {"seal"},
    "auditor": set(),
    "migrator": set(),
}  # fmt: skip
DEFINERS = {
    "enter_event", "enter_refusal", "enter_conflict", "go_through_gate", "sign_in_turn", "one_at_a_time", "open_scan",
    "seal", "event_to_queue",
}  # fmt: skip

TABLES = """SELECT relname FROM pg_class JOIN pg_namespace n ON n.oid = relnamespace
    WHERE relkind IN ('r', 'p', 'v', 'm', 'f') AND nspname !~ '^pg_' AND nspname <> 'information_schema'"""
TABLE_RIGHTS = """SELECT login, relname, string_agg(privilege, ' ' ORDER BY privilege)
    FROM pg_class, unnest(%s::text[]) AS login,
         unnest('{SELECT,INSERT,UPDATE,DELETE,TRUNCATE,REFERENCES,TRIGGER}'::text[]) AS privilege
    WHERE relnamespace = 'public'::regnamespace AND relkind NOT IN ('i', 'S')
      AND has_table_privilege('lotwright_' || login, pg_class.oid, privilege) GROUP BY 1, 2"""


@pytest.fixture
def superuser(connect: Connect) -> psycopg.Connection:
    return connect("postgres")


def unknown_tables(session: psycopg.Connection) -> set[str]:
    """Tables of the database that this page does not know."""
    return {name for (name,) in session.execute(TABLES)} - set(RIGHTS)


def test_every_table_is_known(superuser: psycopg.Connection) -> None:
    assert unknown_tables(superuser) == set()
    assert set(RIGHTS) == {name for (name,) in superuser.execute(TABLES)}


def test_a_table_of_a_later_migration_is_noticed(connect: Connect) -> None:
    owner = connect("owner")
    owner.execute("CREATE TABLE measurement (id bigint)")
    assert unknown_tables(owner) == {"measurement"}


def test_rights_on_tables(superuser: psycopg.Connection) -> None:
    found = {(table, login): rights for login, table, rights in superuser.execute(TABLE_RIGHTS, [list(LOGINS)])}
    assert found == {(table, login): rights for table in RIGHTS for login, rights in RIGHTS[table].items()}


def test_rights_on_single_columns(superuser: psycopg.Connection) -> None:
    rows = superuser.execute(
        """SELECT replace(grantee, 'lotwright_', ''), table_name, column_name
           FROM information_schema.column_privileges
           WHERE privilege_type IN ('INSERT', 'UPDATE') AND grantee <> 'lotwright_owner' AND table_schema = 'public'
             AND NOT has_table_privilege(grantee, quote_ident(table_name), privilege_type)"""
    )
    assert set(rows) == set()


def test_nothing_is_given_to_the_public_or_to_be_passed_on(superuser: psycopg.Connection) -> None:
    given = superuser.execute(
        """SELECT relname, acl.grantee, acl.privilege_type
           FROM pg_class CROSS JOIN LATERAL aclexplode(relacl) AS acl
           WHERE relnamespace = 'public'::regnamespace AND (acl.grantee = 0 OR acl.is_grantable)
             AND acl.grantee <> relowner
           UNION ALL
           SELECT proname, acl.grantee, acl.privilege_type FROM pg_proc
           CROSS JOIN LATERAL aclexplode(COALESCE(proacl, acldefault('f', proowner))) AS acl
           WHERE pronamespace = 'public'::regnamespace AND (acl.grantee = 0 OR acl.is_grantable)
             AND acl.grantee <> proowner"""
    ).fetchall()
    assert given == []


def test_all_belongs_to_the_owner_who_cannot_log_in(superuser: psycopg.Connection) -> None:
    owners = superuser.execute(
        """SELECT relowner::regrole::text FROM pg_class WHERE relnamespace = 'public'::regnamespace
           UNION SELECT proowner::regrole::text FROM pg_proc WHERE pronamespace = 'public'::regnamespace
           UNION SELECT nspowner::regrole::text FROM pg_namespace WHERE nspname = 'public'
           UNION SELECT datdba::regrole::text FROM pg_database WHERE datname = current_database()"""
    ).fetchall()
    assert owners == [("lotwright_owner",)]
    roles = superuser.execute(
        """SELECT rolname, rolcanlogin FROM pg_roles WHERE rolname LIKE 'lotwright%' AND NOT rolsuper
             AND NOT rolcreaterole AND NOT rolcreatedb AND NOT rolbypassrls AND NOT rolreplication"""
    ).fetchall()
    assert dict(roles) == {"lotwright_owner": False} | {f"lotwright_{login}": True for login in LOGINS}
    members = superuser.execute(
        """SELECT m.rolname FROM pg_roles m WHERE m.rolcanlogin AND NOT m.rolsuper
             AND pg_has_role(m.oid, 'lotwright_owner', 'MEMBER')"""
    ).fetchall()
    assert members == [("lotwright_migrator",)]


def test_rights_on_the_database_and_its_schema(superuser: psycopg.Connection) -> None:
    may = {}
    for login in LOGINS:
        row = superuser.execute(
            """SELECT has_database_privilege(r, current_database(), 'CONNECT'),
                      has_database_privilege(r, current_database(), 'TEMP'),
                      has_database_privilege(r, current_database(), 'CREATE'),
                      has_schema_privilege(r, 'public', 'CREATE')
               FROM (SELECT 'lotwright_' || %s AS r) AS x""",
            [login],
        ).fetchone()
        may[login] = row
    assert may == dict.fromkeys(LOGINS, (True, False, False, False))
    schemas = superuser.execute(
        "SELECT nspname FROM pg_namespace WHERE nspname !~ '^pg_' AND nspname <> 'information_schema'"
    ).fetchall()
    assert schemas == [("public",)]


def test_functions(superuser: psycopg.Connection) -> None:
    rows = superuser.execute(
        "SELECT proname, prosecdef, proconfig FROM pg_proc WHERE pronamespace = 'public'::regnamespace"
    ).fetchall()
    # None can be led astray by another schema.
    assert {tuple(config) for _, _, config in rows} == {("search_path=public, pg_temp",)}
    assert {name for name, definer, _ in rows if definer} == DEFINERS
    for login, called in CALLED.items():
        found = superuser.execute(
            """SELECT proname FROM pg_proc WHERE pronamespace = 'public'::regnamespace
                AND has_function_privilege('lotwright_' || %s, oid, 'EXECUTE')""",
            [login],
        )
        assert {name for (name,) in found} == called, login


def test_a_function_of_a_later_migration_is_closed_to_all(connect: Connect) -> None:
    owner = connect("owner")
    owner.execute("CREATE FUNCTION later() RETURNS int LANGUAGE sql AS 'SELECT 1'")
    row = owner.execute("SELECT has_function_privilege('lotwright_app', 'later()', 'EXECUTE')").fetchone()
    assert row == (False,)


def test_numbers_are_taken_but_never_set_back(superuser: psycopg.Connection) -> None:
    """Those of records are given inside the door; the app draws only what is printed or painted on, and its own."""
    rows = superuser.execute(
        """SELECT login, relname, has_sequence_privilege('lotwright_' || login, s.oid, 'USAGE'),
                  has_sequence_privilege('lotwright_' || login, s.oid, 'UPDATE')
           FROM pg_class s, unnest(%s::text[]) AS login
           WHERE relkind = 'S' AND relnamespace = 'public'::regnamespace""",
        [list(LOGINS)],
    ).fetchall()
    drawn = {
        "label_number", "cycle_number", "account_id_seq", "wrong_pin_id_seq", "record_check_id_seq", "paper_id_seq",
    }  # fmt: skip
    assert {(login, name) for login, name, draws, _ in rows if draws} == {("app", name) for name in drawn}
    assert not any(sets for *_, sets in rows)


@pytest.mark.parametrize("table", ["account", "wrong_pin", "django_session", "note", "job"])
@pytest.mark.parametrize("login", ["auditor", "sealer", "migrator"])
def test_secrets_and_names_are_read_by_the_app_alone(connect: Connect, login: str, table: str) -> None:
    session = connect(login)
    # To the migrator even the names are closed: it may not look into the schema.
    with pytest.raises((psycopg.errors.InsufficientPrivilege, psycopg.errors.UndefinedTable)):
        session.execute(f"SELECT * FROM {table}")


def test_nothing_hides_under_a_table(superuser: psycopg.Connection) -> None:
    """No inheritance and no partitions: a part would go round its parent's guards. No rules, no policies."""
    for catalog in ("pg_inherits", "pg_partitioned_table", "pg_policy"):
        assert superuser.execute(f"SELECT count(*) FROM {catalog}").fetchone() == (0,)
    rules = superuser.execute("SELECT count(*) FROM pg_rewrite WHERE oid >= 16384").fetchone()
    assert rules == (0,)
