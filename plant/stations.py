"""The stations of the floor as trace/scan declares them: what home says of each, and who may open it.

A station is said once, in its own file under trace/scan/stations. Pages and rights may not import those files, so the
stations are declared here when they are loaded.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from plant.access import declare_station

Words = str | Promise

STORES = _("Stores")
MOULDING = _("Moulding")
FINISHING = _("Finishing and dispatch")
RECORDS = _("Holds and records")
# In the order material goes through the plant: home lists them so.
GROUPS = (STORES, MOULDING, FINISHING, RECORDS)


@dataclass(frozen=True, slots=True)
class StationEntry:
    """What a person who looks for a station is told: `line` is what one does there."""

    slug: str
    title: Words
    group: Words
    line: Words
    roles: tuple[str, ...]
    # Who may look at it besides, without sending its form.
    readers: tuple[str, ...] = ()


ENTRIES: dict[str, StationEntry] = {}


def title_of(slug: str) -> str:
    """What people call a station; the word itself where none has it any more."""
    return str(ENTRIES[slug].title) if slug in ENTRIES else slug


def declare(entries: Iterable[StationEntry]) -> None:
    """Make the stations known, in this order; called once, where they are loaded."""
    for entry in entries:
        ENTRIES[entry.slug] = entry
        declare_station(entry.slug, *entry.roles, readers=entry.readers)
