"""Writes below the door of the records, for tests of what stands above them: rows by hand, as the tables' owner.

The app's login cannot; so a superuser makes a function that works with the owner's rights, the test's own transaction
calls it, and it is gone again before the test goes on.
"""

import json
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import psycopg
from django.db import connection

from tests.schema.facts import body, the_scan

NAME = "as_the_owner"
MAKE = f"""
CREATE OR REPLACE FUNCTION {NAME}(statement text) RETURNS void LANGUAGE plpgsql SECURITY DEFINER
  SET search_path = public, pg_temp AS $$ BEGIN EXECUTE statement; END $$;
ALTER FUNCTION {NAME} OWNER TO lotwright_owner;
GRANT EXECUTE ON FUNCTION {NAME} TO lotwright_app
"""


@contextmanager
def below_the_door() -> Iterator["Below"]:
    """`below.execute(sql, values)` in Django's transaction, with the rights of the tables' owner."""
    connection.ensure_connection()
    address, name = os.environ["TEST_SUPERUSER_URL"], connection.settings_dict["NAME"]
    with psycopg.connect(address, dbname=name, autocommit=True) as superuser:
        superuser.execute(MAKE)
        try:
            yield Below()
        finally:
            superuser.execute(f"DROP FUNCTION {NAME}(text)")


class Below:
    def execute(self, sql: str, values: Sequence[Any] = ()) -> None:
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT {NAME}(%s)", [cursor.mogrify(sql, values) if values else sql])


def erase(like: str) -> list[str]:
    """Erase the words that are LIKE this as the product lets it be done: by an event that says so. Their digests."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT digest FROM note WHERE text LIKE %s", [like])
        digests = [digest for (digest,) in cursor.fetchall()]
        said = body(kind="erased", rows={"erased": [{"note": digest} for digest in digests]})
        cursor.execute("SELECT enter_event(%s, '[]', %s)", [said, json.dumps(the_scan(said))])
    return digests
