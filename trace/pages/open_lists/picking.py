"""Which things of a list are shown: those that say all the words looked for, of one kind, in the order asked for."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import connection
from django.http import HttpRequest
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy

# Words in the address, the words on the page, and the order they stand for.
ORDERS: dict[str, tuple[Promise, str]] = {
    "oldest": (gettext_lazy("oldest first"), "since, key"),
    "newest": (gettext_lazy("newest first"), "since DESC, key DESC"),
    "kind": (gettext_lazy("by kind"), "kind, since, key"),
    "name": (gettext_lazy("by name"), "words, since, key"),
}
MOST_WORDS = 8


@dataclass(frozen=True, slots=True)
class Wanted:
    """What of a list is asked for. `order` is one of ORDERS."""

    words: str = ""
    kind: str = ""
    order: str = "oldest"


@dataclass(frozen=True, slots=True)
class Picked:
    """The keys of one page, how many things fit, how many there are, and their kinds."""

    keys: tuple[str, ...]
    count: int
    all: int
    kinds: tuple[str, ...]


def coded(code: str) -> str:
    """SQL for a label's code as it is kept and as it is printed, so that it is found either way."""
    return f"(SELECT concat_ws(' ', c, left(c, 4) || '-' || substr(c, 5)) FROM (SELECT {code}::text) AS y(c))"


def wanted(request: HttpRequest, first: str = "oldest") -> Wanted:
    """What the address asks for; an order that there is not is the `first`."""
    get = request.GET
    order = get.get("order", "")
    return Wanted(
        " ".join(get.get("q", "").split())[:60], get.get("kind", "").strip()[:60], order if order in ORDERS else first
    )


def pick(picks: str, asked: Wanted, skipped: int, most: int) -> Picked:
    """One page of the list whose SQL is `picks` (columns key, since, kind, words), in one statement."""
    by_words = bool(asked.words) or asked.order == "name"
    columns = "key, since, kind, words" if by_words else "key, since, kind"
    says = """AND (SELECT bool_and(position(w IN lower(words)) > 0) FROM unnest(%(words)s::text[]) w)"""
    sql = f"""
WITH p AS MATERIALIZED (SELECT {columns} FROM ({picks}) x),
 f AS (SELECT * FROM p WHERE (%(kind)s = '' OR kind = %(kind)s) {says if asked.words else ""}),
 shown AS (SELECT key, row_number() OVER (ORDER BY {ORDERS[asked.order][1]}) AS n FROM f
   ORDER BY n OFFSET %(skipped)s LIMIT %(most)s)
SELECT json_build_object('keys', (SELECT json_agg(key ORDER BY n) FROM shown), 'count', (SELECT count(*) FROM f),
  'all', (SELECT count(*) FROM p), 'kinds', (SELECT json_agg(DISTINCT kind) FROM p WHERE kind <> ''))::text"""
    values: dict[str, Any] = {"kind": asked.kind, "words": _folded(asked.words), "skipped": skipped, "most": most}
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        found = json.loads(cursor.fetchone()[0])
    return Picked(tuple(found["keys"] or ()), found["count"], found["all"], tuple(sorted(found["kinds"] or ())))


def rows(sql: str, values: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Rows as names with values; times as the database wrote them."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT COALESCE(json_agg(x), '[]')::text FROM ({sql}) x", values)
        found: list[dict[str, Any]] = json.loads(cursor.fetchone()[0])
        return found


def uid_of(key: str) -> str:
    """The key as the text of a uid, "" where it is none."""
    try:
        return str(UUID(key))
    except ValueError:
        return ""


def keys_of(picks: str, skipped: int, most: int, order: str = "oldest") -> list[str]:
    """The first keys of a list in one of ORDERS."""
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT key FROM ({picks}) x ORDER BY {ORDERS[order][1]} OFFSET %(skipped)s LIMIT %(most)s",
            {"skipped": skipped, "most": most},
        )
        return [key for (key,) in cursor.fetchall()]


def in_order(keys: Sequence[str], found: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rows with a `key`, in the order of the keys; a key that is there no more is left out."""
    by_key = {str(one["key"]): one for one in found}
    return [by_key[key] for key in keys if key in by_key]


def _folded(words: str) -> list[str]:
    return [word.lower() for word in words.split()[:MOST_WORDS]]
