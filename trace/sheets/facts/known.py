"""Plant data and words as known at a moment, for everything that a sheet speaks of."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from trace.recording.floor.scopes_on_hold import named as named_scope
from trace.sheets.facts.entries import Entry, Row
from trace.sheets.facts.holding import Laid
from trace.sheets.facts.notes import Notes, named, named_digests, notes
from trace.sheets.facts.revisions import Revisions, revisions
from trace.speech import TOKEN


@dataclass(frozen=True, slots=True)
class Known:
    """What the words are put in with: plant data as known, and the names behind digests."""

    plant: Revisions
    notes: Notes

    def person(self, key: str) -> str:
        return named("person", key, self.plant, self.notes) if key else ""

    def spoken(self, text: str) -> str:
        """An answer's text with names and words in the place of their tokens, as known then."""
        return TOKEN.sub(
            lambda found: self.person(found[2]) if found[1] == "person" else self.notes.text(found[2]), text
        )

    def place(self, key: str) -> str:
        """A place as people say it; "gone: KEY" is a consignee's door."""
        if key.startswith("gone: "):
            return named("consignee", key.removeprefix("gone: "), self.plant, self.notes)
        return str(self.plant.newest("place", key).get("name") or key)


def known_of(
    entries: Collection[Entry],
    abouts: Iterable[Mapping[str, Any]],
    holds: Collection[Laid] = (),
    answers: Iterable[Row] = (),
    places: Iterable[str | None] = (),
    as_known_on: datetime | None = None,
    people: Iterable[str] = (),
) -> Known:
    """What these events, units (their `about`), holds, answers, places and people name, in two queries."""
    tokens = [found for row in answers for found in TOKEN.findall(f"{row['what']} {row['why']}")]
    things: set[tuple[str, object]] = {(kind, key) for kind, key in tokens if kind == "person"}
    things |= {("person", key) for key in (*people, *(hold.person for hold in holds))}
    things |= {_place(key) for key in places if key}
    for about in abouts:
        for kind in ("product", "material", "supplier", "mould", "consignee"):
            things.add((kind, about.get(kind)))
    for entry in entries:
        things |= _things_of(entry)
    plant = revisions(things, as_known_on)
    digests: set[object] = {key for kind, key in tokens if kind == "note"} | {_why(hold) for hold in holds}
    for entry in entries:
        digests |= {entry.body.get("why"), entry.says.get("remark"), *entry.overrides.values()}
    return Known(plant, notes([*digests, *named_digests(plant)]))


def _why(hold: Laid) -> str | None:
    """The reason of a hold that one of its hulls carries because of a scope stands with the hold on the scope."""
    scope = named_scope(hold.rule)
    return scope.why if scope else hold.why


def _things_of(entry: Entry) -> set[tuple[str, object]]:
    """The people, things, instruments, places and goods that one event names."""
    things: set[tuple[str, object]] = {("person", entry.person), ("person", entry.helper)}
    things |= {(kind, key) for kind, _, key in (r["thing"].partition(":") for r in entry.part("resources"))}
    things |= {("instrument", row["instrument"]) for row in entry.part("readings")}
    things |= {_place(row["place"]) for row in entry.part("places")}
    things |= {("supplier", entry.says.get("supplier")), ("material", entry.says.get("material"))}
    return things


def _place(key: str) -> tuple[str, object]:
    gone = key.startswith("gone: ")
    return ("consignee" if gone else "place", key.removeprefix("gone: "))
