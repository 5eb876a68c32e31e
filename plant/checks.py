"""What must hold before the app starts: our `trace`, a database that guards its records, a login that cannot
change them.

Each fault is one sentence with its remedy. `manage.py check --database default` lists them for the app's
login; plant/start.py goes by them. What is guarded, apps say themselves (`guarded` and `watched` of an AppConfig),
as nothing here knows of records.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib.machinery import ModuleSpec
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from django.apps import AppConfig, apps
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register
from django.core.checks import Warning as Caution
from django.db import DEFAULT_DB_ALIAS, DatabaseError, InterfaceError, OperationalError, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.utils.translation import gettext as _

NO_ANSWER = "plant.E002"
DURABLE = {
    "fsync": {"on"},
    "full_page_writes": {"on"},
    "synchronous_commit": {"on", "remote_apply"},
}


def start_faults() -> list[CheckMessage]:
    """Whatever is in the way of a start, warnings too; the session that was used for asking is closed again."""
    connection = connections[DEFAULT_DB_ALIAS]
    try:
        return [*trace_faults(find_spec("trace")), *database_faults(connection)]
    finally:
        connection.close()


@register()
def check_trace(app_configs: Sequence[AppConfig] | None, **_kwargs: Any) -> list[CheckMessage]:  # noqa: ARG001
    """plant.E001 by find_spec: an import would bind plant to trace."""
    return trace_faults(find_spec("trace"))


@register(Tags.security, deploy=True)
def check_hosts(app_configs: Sequence[AppConfig] | None, **_kwargs: Any) -> list[CheckMessage]:  # noqa: ARG001
    """plant.E009, of `check --deploy`: a plant names the hosts it answers to."""
    if not any(host.strip() in {"*", "."} for host in settings.ALLOWED_HOSTS):
        return []
    return [
        Error(
            _("ALLOWED_HOSTS lets every name through, so links and forms could lead to anybody's server."),
            hint=_("Set ALLOWED_HOSTS to the names under which the plant's browsers reach it."),
            id="plant.E009",
        )
    ]


@register(Tags.database)
def check_database(
    app_configs: Sequence[AppConfig] | None,  # noqa: ARG001 - Django gives it by name
    databases: Sequence[str] | None = None,
    **_kwargs: Any,
) -> list[CheckMessage]:
    """All faults of the database; only for the app's login, as a migration must run before most can hold."""
    if settings.ROLE != "app" or DEFAULT_DB_ALIAS not in (databases or ()):
        return []
    return database_faults(connections[DEFAULT_DB_ALIAS])


def trace_faults(found: ModuleSpec | None) -> list[CheckMessage]:
    """plant.E001 when `import trace` would find another package than the project's."""
    folder = Path(settings.BASE_DIR) / "trace"
    if found is not None and found.origin and Path(found.origin).resolve().parent == folder.resolve():
        return []
    return [
        Error(
            _("Python finds another trace than the project's: %s.") % (found.origin if found else None),
            hint=_("Start from the project's folder with PYTHONPATH=. and do not install the project."),
            id="plant.E001",
        )
    ]


def database_faults(connection: BaseDatabaseWrapper) -> list[CheckMessage]:
    """Faults of the database behind `connection`, one of Django's own, and of its login.

    A fault that explains others comes alone. A database that goes away while it is asked has not answered: that
    says nothing about its guards.
    """
    try:
        connection.ensure_connection()
        return _found_in(connection)
    except (OperationalError, InterfaceError) as error:
        said = str(error).strip().splitlines()
        return [
            Error(
                _("The database does not answer: %s.") % (said[0].rstrip(".") if said else error),
                hint=_("Start PostgreSQL, or set DATABASE_URL to where it is."),
                id=NO_ANSWER,
            )
        ]


def _found_in(connection: BaseDatabaseWrapper) -> list[CheckMessage]:
    login = login_faults(connection)
    if login:
        return login
    unapplied = migration_faults(connection)
    if unapplied:
        return unapplied
    server = server_faults(server_settings(connection))
    return [*rights_faults(connection), *guard_faults(connection), *server]


def login_faults(connection: BaseDatabaseWrapper) -> list[CheckMessage]:
    """plant.E003 and E004: the app must not work as a superuser, nor as the tables' owner or its members."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT session_user::text, rolsuper OR rolcreaterole OR rolbypassrls OR rolreplication,
                      EXISTS (SELECT FROM pg_class WHERE relkind IN ('r', 'p')
                              AND relnamespace = to_regnamespace('public')
                              AND pg_has_role(session_user, relowner, 'MEMBER'))
                      OR EXISTS (SELECT FROM pg_database WHERE datname = current_database()
                                 AND pg_has_role(session_user, datdba, 'MEMBER'))
               FROM pg_roles WHERE rolname = session_user"""
        )
        user, powerful, owner = cursor.fetchone()
    remedy = _("Set DATABASE_URL to the login lotwright_app that deploy/roles.sql makes.")
    if powerful:
        text = _("The app logs in as %s, which no right can hold back, so records could be changed.")
        return [Error(text % user, hint=remedy, id="plant.E003")]
    if owner:
        text = _("The app logs in as %s, which can work as the owner and take the guards off the records.")
        return [Error(text % user, hint=remedy, id="plant.E004")]
    return []


def rights_faults(connection: BaseDatabaseWrapper) -> list[CheckMessage]:
    """plant.E005: rights of the login to add to guarded tables, or to change them: rows come in by one function."""
    guarded = {table for config in apps.get_app_configs() for table in getattr(config, "guarded", {})}
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT relname, what FROM pg_class c, unnest(ARRAY['INSERT', 'UPDATE', 'DELETE', 'TRUNCATE']) AS what
               WHERE relname = ANY (%s) AND relnamespace = to_regnamespace('public') AND relkind IN ('r', 'p')
                 AND (has_table_privilege(c.oid, what)
                      OR what IN ('INSERT', 'UPDATE') AND has_any_column_privilege(c.oid, what))
               ORDER BY 1, 2""",
            [sorted(guarded)],
        )
        found = cursor.fetchall()
    return [
        Error(
            _("The app's login has the right to %(what)s on %(table)s, where records come in by one function only.")
            % {"what": what, "table": table},
            hint=_("As the owner, run: REVOKE %(what)s ON %(table)s FROM lotwright_app, PUBLIC;")
            % {"what": what, "table": table},
            id="plant.E005",
        )
        for table, what in found
    ]


def guard_faults(connection: BaseDatabaseWrapper) -> list[CheckMessage]:
    """plant.E006: a trigger that an app names is missing, or would not fire in every session."""
    with connection.cursor() as cursor:
        cursor.execute(
            """SELECT relname, tgname, tgenabled::text FROM pg_trigger JOIN pg_class c ON c.oid = tgrelid
               WHERE NOT tgisinternal AND relnamespace = to_regnamespace('public')"""
        )
        state = {(table, name): enabled for table, name, enabled in cursor.fetchall()}
    faults: list[CheckMessage] = []
    for config in apps.get_app_configs():
        for table, names in [*getattr(config, "guarded", {}).items(), *getattr(config, "watched", {}).items()]:
            for name in names:
                if state.get((table, name)) != "A":
                    faults.append(_guard_fault(table, name, there=(table, name) in state))
    return faults


def _guard_fault(table: str, name: str, *, there: bool) -> CheckMessage:
    """A guard that is there but switched off, or that is missing."""
    if there:
        text = _("The guard %(name)s of the table %(table)s is switched off.")
        hint = _("As the owner, run: ALTER TABLE %(table)s ENABLE ALWAYS TRIGGER %(name)s;")
    else:
        text = _("The guard %(name)s of the table %(table)s is missing.")
        hint = _("Find out who removed it and what was changed, then restore it from a backup.")
    values = {"name": name, "table": table}
    return Error(text % values, hint=hint % values, id="plant.E006")


def server_settings(connection: BaseDatabaseWrapper) -> dict[str, str]:
    """The server's settings as this session has them, by name."""
    with connection.cursor() as cursor:
        names = [*DURABLE, "data_checksums"]
        cursor.execute("SELECT name, setting FROM pg_settings WHERE name = ANY (%s)", [names])
        return dict(cursor.fetchall())


def server_faults(values: Mapping[str, str]) -> list[CheckMessage]:
    """plant.E007 when the server may lose or tear what it has answered for; plant.W001 without checksums.

    ALLOW_UNSAFE_SERVER lets the first through, for tests, which lose nothing.
    """
    faults: list[CheckMessage] = [
        Error(
            _("PostgreSQL runs with %(name)s = %(value)s, so a power cut could lose recorded scans.")
            % {"name": name, "value": values.get(name)},
            hint=_("Set %s = on in postgresql.conf and reload the server.") % name,
            id="plant.E007",
        )
        for name, right in DURABLE.items()
        if values.get(name) not in right and not getattr(settings, "ALLOW_UNSAFE_SERVER", False)
    ]
    if values.get("data_checksums") != "on":
        faults.append(
            Caution(
                _("PostgreSQL keeps no checksums of its pages, so a failing disk may go unnoticed."),
                hint=_("Stop the server and run pg_checksums --enable."),
                id="plant.W001",
            )
        )
    return faults


def migration_faults(connection: BaseDatabaseWrapper) -> list[CheckMessage]:
    """plant.E008 when the tables are not those of this version."""
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
        names = [f"{migration.app_label}.{migration.name}" for migration, _backwards in waiting]
    except (OperationalError, InterfaceError):
        raise
    except DatabaseError:
        # The migrations that would let the app read their list have not run yet.
        names = ["contenttypes.0001_initial"]
    if not names:
        return []
    return [
        Error(
            _("The database is not at this version: migrations wait, the first is %s.") % names[0],
            hint=_("Run LOTWRIGHT_ROLE=migrator manage.py migrate with MIGRATE_DATABASE_URL set."),
            id="plant.E008",
        )
    ]
