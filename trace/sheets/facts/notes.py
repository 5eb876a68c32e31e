"""Names and free words: they stand apart from the records, so that they can be erased."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db import connection
from django.utils.translation import gettext as _

from plant.kinds.table import NAMED
from trace.sheets.facts.revisions import Revisions


@dataclass(frozen=True, slots=True)
class Notes:
    """Texts by digest; None where the text was erased."""

    texts: Mapping[str, str | None]

    def text(self, digest: object) -> str:
        """The words behind a digest; says so where they were erased, "" where there are none."""
        if not digest:
            return ""
        return self.texts.get(str(digest)) or _("(words erased)")


def notes(digests: Iterable[object]) -> Notes:
    """The texts of these digests."""
    wanted = sorted({str(d) for d in digests if d})
    if not wanted:
        return Notes({})
    with connection.cursor() as cursor:
        cursor.execute("SELECT digest, text FROM note WHERE digest = ANY (%s)", [wanted])
        return Notes(dict(cursor.fetchall()))


def named(kind: str, key: str, known: Revisions, written: Notes) -> str:
    """A person's or consignee's name as last recorded by then, else the key."""
    digest = known.newest(kind, key).get("name")
    return written.text(digest) if digest else key


def named_digests(known: Revisions) -> set[str]:
    """The digests of all names among these revisions."""
    return {
        str(known.newest(kind, key)["name"])
        for kind, key in known.of
        if kind in NAMED and known.newest(kind, key).get("name")
    }
