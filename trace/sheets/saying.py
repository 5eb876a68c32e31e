"""What happened, in one line: each kind of event says its own, with names and words as they were known."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from trace.recording.acts import commands_by_kind
from trace.sheets.facts.entries import Entry
from trace.sheets.facts.known import Known
from trace.sheets.facts.notes import named


@dataclass(frozen=True, slots=True)
class ReadBack:
    """An event with the names known then, as its command's `told` asks for them."""

    entry: Entry
    known: Known

    @property
    def says(self) -> Mapping[str, Any]:
        return self.entry.says

    @property
    def why(self) -> str:
        return self.known.notes.text(self.entry.body.get("why"))

    def part(self, name: str) -> list[Mapping[str, Any]]:
        return self.entry.part(name)

    def name_of(self, kind: str, key: str) -> str:
        if kind == "supplier":
            return supplier(key, self.known)
        return named(kind, key, self.known.plant, self.known.notes)

    def place_of(self, key: str) -> str:
        return self.known.place(key)


def what(entry: Entry, known: Known) -> str:
    """The line for one event; a kind that is no longer made is said by its own name."""
    command = commands_by_kind().get(entry.kind)
    return command.told(ReadBack(entry, known)) if command else entry.kind.replace("_", " ")


def supplier(key: object, known: Known) -> str:
    return str(known.plant.newest("supplier", key).get("name") or key or "")


def how_read(how: str) -> str:
    """Whether a weight was read from the scale, photographed or typed."""
    return {"read": _("read from the scale"), "photographed": _("photographed"), "typed": _("typed")}.get(how, how)
