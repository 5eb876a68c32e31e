"""Puts names and free words back where an answer or a record holds only their tokens."""

import re
from collections.abc import Iterable, Sequence

from django.db import connection
from django.utils.translation import gettext as _

from trace.genealogy.prepared import fetch_rows

# What trace/recording/floor/words.py leaves in a sentence: names can be erased, sentences are kept for ever.
TOKEN = re.compile("⟦(person|note):([^⟦⟧]{1,200})⟧")

NAMES = """
SELECT p.key, n.text FROM plant_person p LEFT JOIN note n ON n.digest = p.body->>'name'
 WHERE p.key = ANY (%(keys)s::text[])
"""


def speak(text: str) -> str:
    """`text` with every ⟦person:KEY⟧ and ⟦note:DIGEST⟧ replaced; see `spoken`."""
    return spoken([text])[0]


def spoken(texts: Sequence[str]) -> list[str]:
    """The texts with names for ⟦person:KEY⟧ and words for ⟦note:DIGEST⟧.

    At most one statement for all names and one for all notes. A person whose name was erased, or who is not
    known, is called by the key; a note that was erased, or is not there, reads “[erased]”.
    """
    wanted: dict[str, set[str]] = {"person": set(), "note": set()}
    for text in texts:
        for kind, key in TOKEN.findall(text):
            wanted[kind].add(key)
    said = {"person": names_of(wanted["person"]), "note": _notes(wanted["note"])}
    return [TOKEN.sub(lambda found: said[found[1]][found[2]], text) for text in texts]


def names_of(keys: Iterable[str]) -> dict[str, str]:
    """The name of each person by key; the key itself where no name is kept."""
    known = dict.fromkeys(keys, "")
    if known:
        known |= {key: text or "" for key, text in fetch_rows(NAMES, {"keys": sorted(known)})}
    return {key: name or key for key, name in known.items()}


def _notes(digests: set[str]) -> dict[str, str]:
    known = dict.fromkeys(digests, "")
    if known:
        with connection.cursor() as cursor:
            cursor.execute("SELECT digest, text FROM note WHERE digest = ANY (%s)", [sorted(digests)])
            known |= {digest: text or "" for digest, text in cursor.fetchall()}
    return {digest: text or _("[erased]") for digest, text in known.items()}
