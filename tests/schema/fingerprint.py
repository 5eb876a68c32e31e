"""What must not change, as one digest each: the rows of every table, and the catalog that guards them.

A row's place and transaction (ctid, xmin) belong to it, so an update that sets a value to itself shows too.
"""

from __future__ import annotations

import psycopg

PUBLIC = "(SELECT oid FROM pg_namespace WHERE nspname = 'public')"
CATALOG = {
    "tables": f"""SELECT relname, relkind, relowner::regrole, relacl, relrowsecurity, relforcerowsecurity,
        relhasrules, relpersistence, reloptions FROM pg_class WHERE relnamespace = {PUBLIC}""",
    "columns": f"""SELECT attrelid::regclass, attname, atttypid, attnotnull, attisdropped, attacl,
        attidentity, pg_get_expr(adbin, adrelid)
        FROM pg_attribute LEFT JOIN pg_attrdef ON adrelid = attrelid AND adnum = attnum
        WHERE attrelid IN (SELECT oid FROM pg_class WHERE relnamespace = {PUBLIC})""",
    "constraints": "SELECT conrelid::regclass, conname, pg_get_constraintdef(oid) FROM pg_constraint",
    "triggers": "SELECT tgrelid::regclass, tgname, tgenabled, tgfoid, pg_get_triggerdef(oid) FROM pg_trigger",
    "functions": """SELECT oid, proname, prosrc, proowner::regrole, proacl, prosecdef, proconfig FROM pg_proc
        WHERE oid >= 16384 OR proname IN ('sha256', 'convert_to')""",
    "rules": "SELECT ev_class::regclass, rulename, ev_enabled FROM pg_rewrite WHERE oid >= 16384",
    "schemas": """SELECT nspname, nspowner::regrole, nspacl FROM pg_namespace
        WHERE nspname !~ '^pg_(toast|temp)'""",
    "database": """SELECT datname, datdba::regrole, datacl, datallowconn,
        shobj_description(oid, 'pg_database') FROM pg_database WHERE datname = current_database()""",
    "roles": """SELECT rolname, rolsuper, rolcreaterole, rolcreatedb, rolcanlogin, rolinherit, rolreplication,
        rolbypassrls, rolconfig FROM pg_roles WHERE rolname LIKE 'lotwright%'""",
    "memberships": "SELECT roleid::regrole, member::regrole, admin_option FROM pg_auth_members",
    "settings": "SELECT setdatabase, setrole, setconfig FROM pg_db_role_setting",
    "inheritance": "SELECT inhrelid::regclass, inhparent::regclass FROM pg_inherits",
    "defaults": "SELECT defaclrole::regrole, defaclobjtype, defaclacl FROM pg_default_acl",
    "extensions": "SELECT extname FROM pg_extension",
    "event triggers": "SELECT evtname FROM pg_event_trigger",
    "publications": "SELECT pubname FROM pg_publication",
    "policies": "SELECT polname FROM pg_policy",
    "large objects": "SELECT oid FROM pg_largeobject_metadata",
}


def fingerprint(session: psycopg.Connection) -> dict[str, str]:
    """{table or part of the catalog: digest}; the session must be the owner's or a superuser's."""
    named = session.execute(
        f"SELECT relname FROM pg_class WHERE relnamespace = {PUBLIC} AND relkind IN ('r', 'p')"
    ).fetchall()
    parts = {name: f'SELECT x.*, x.ctid, x.xmin FROM ONLY "{name}" AS x' for (name,) in named}
    digests = " UNION ALL ".join(
        f"SELECT '{name}', md5(COALESCE(string_agg(p::text, '|' ORDER BY p::text), '')) FROM ({part}) AS p"
        for name, part in {**parts, **CATALOG}.items()
    )
    return dict(session.execute(digests).fetchall())


def changes(before: dict[str, str], after: dict[str, str]) -> list[str]:
    """The names whose digest differs, or that came or went."""
    return sorted(name for name in before.keys() | after.keys() if before.get(name) != after.get(name))
