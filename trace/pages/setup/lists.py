"""What the pages of plant data show: contracts of templates/pages/setup_kind.html and setup_thing.html."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from plant.access import role_words
from plant.kinds.faults import Fault
from plant.kinds.kind import Kind
from trace.pages.setup.boxes import Box
from trace.sheets.facts.days import day_said


@dataclass(frozen=True, slots=True)
class ThingLine:
    key: str
    name: str
    words: str
    version: int
    ended: bool
    url: str


@dataclass(frozen=True, slots=True)
class KindPage:
    """All things of a kind. `new_url`: where one is entered; "" for those who only read."""

    kind: str
    words: str
    about: str
    things: tuple[ThingLine, ...]
    new_url: str


@dataclass(frozen=True, slots=True)
class RevisionLine:
    version: int
    when: datetime
    who: str
    changed: str


@dataclass(frozen=True, slots=True)
class Beside:
    """One field of what stands and of what was entered under the same key; `differs` where they are not the same."""

    field: str
    stands: str
    entered: str
    differs: bool


@dataclass(frozen=True, slots=True)
class ThingPage:
    """One thing; an empty `key` is a new one. `scan_id` makes a send count once.

    boxes: the form, one box a field; without them `text` is the body, typed as JSON. faults: all that is wrong with
    what was sent. beside: a thing of this key stands already: both are shown, and `revise` must be chosen. may_change:
    whether this person may send the form.
    """

    kind: str
    kind_words: str
    one: str
    about: str
    named: bool = False
    may_change: bool = False
    key: str = ""
    name: str = ""
    boxes: tuple[Box, ...] = ()
    text: str = ""
    labels: str = ""
    revisions: tuple[RevisionLine, ...] = ()
    scan_id: str = ""
    faults: tuple[Fault, ...] = ()
    error: str = ""
    beside: tuple[Beside, ...] = ()
    version: int = 0  # of what stands, where `beside` is shown
    typed_key: str = ""
    history_url: str = ""


def summary(kind: Kind, body: Mapping[str, Any]) -> str:
    """A line about one thing: what a person looks for in the list."""
    found = [_said(one, body[one]) for one in kind.summary if body.get(one) not in (None, "", [])]
    return " · ".join(text for text in found if text)


def _said(field: str, value: Any) -> str:
    if field == "roles" and isinstance(value, list):
        return ", ".join(role_words(str(role)) for role in value)
    if isinstance(value, list):
        return ", ".join(_part(one) for one in value)
    return day_said(value)


def _part(value: Any) -> str:
    """A line of an order as "12 × T430 red"; any other part of a list as it is."""
    if isinstance(value, dict) and "quantity" in value:
        return f"{value['quantity']} × {value.get('product', '')} {value.get('colour', '')}".rstrip()
    return str(value)
