"""A cause as people write it turned into the one form in which it is asked, kept and digested: the case of letters, and
the name of a thing beside its key.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from django.utils.translation import gettext as _

from trace.codes import printable
from trace.codes.plain import storable
from trace.genealogy.cause_words import WORDS, Owned, Thing
from trace.genealogy.causes import (
    All,
    Cause,
    CauseError,
    Holds,
    Made,
    Not,
    Simple,
    Some,
    Supplied,
    With,
    Within,
    read_cause,
)
from trace.genealogy.find import UnknownCodeError, find_unit
from trace.genealogy.known_values import after_colon, parts, values
from trace.genealogy.prepared import fetch_rows

NUMBERED = """
SELECT DISTINCT u.lot_no FROM unit u
WHERE u.kind IN ('lot', 'moulding', 'part') AND upper(u.lot_no) = upper(%(text)s::text)
"""
PEOPLE = "SELECT p.key, n.text FROM plant_person p LEFT JOIN note n ON n.digest = p.body->>'name'"


def understood(words: Sequence[str], as_known_on: datetime | None = None) -> Cause:
    """The cause that these words ask for, in its one form. Raises CauseError; what nothing knows is left as it is
    written, to be refused when it is asked."""
    return as_typed(read_cause(words), as_known_on)


def as_typed(cause: Cause, as_known_on: datetime | None = None) -> Cause:
    match cause:
        case Not(part):
            return Not(as_typed(part, as_known_on))
        case All(inner):
            return All(tuple(as_typed(part, as_known_on) for part in inner))
        case Some(inner):
            return Some(tuple(as_typed(part, as_known_on) for part in inner))
        case _:
            return _simple(cause, as_known_on)


def _simple(cause: Simple, as_known_on: datetime | None) -> Simple:
    match cause:
        case Holds(code, part):
            named = _one_of(part, dict.fromkeys(parts(), "")) if part else ""
            return replace(cause, code=_code(code, as_known_on), part=named)
        case Supplied(supplier):
            return Supplied(_one_of(supplier, values("supplier") or {}))
        case With(word, key):
            return replace(cause, key=_key(word, key))
        case Within(word, of) if of:
            return replace(cause, of=_one_of(of, dict.fromkeys(after_colon(word), "")))
        case Within() | Made():
            return cause


def _key(word: str, key: str) -> str:
    asked = WORDS[word]
    if isinstance(asked, Thing) and asked.kind == "person":
        return _one_of(key, dict(fetch_rows(PEOPLE, {})))
    if isinstance(asked, Owned) and asked.of == "region":
        return key.upper()
    return _one_of(key, values(word) or {})


def _code(code: str, as_known_on: datetime | None) -> str:
    """The number as its supplier writes it, where only the case of letters was another."""
    try:
        find_unit(code, as_known_on)
    except UnknownCodeError:
        found = [number for (number,) in fetch_rows(NUMBERED, {"text": storable(code)})]
        return found[0] if len(found) == 1 else code
    except LookupError:
        return code
    return code


def _one_of(text: str, known: Mapping[str, str]) -> str:
    """The key that is written so, or whose name is; the text itself where none is."""
    if text in known:
        return text
    wanted = " ".join(text.split()).casefold()
    by_key = [key for key in known if key.casefold() == wanted]
    found = by_key or [key for key, name in known.items() if name and str(name).casefold() == wanted]
    if len(found) > 1:
        said = {"text": printable(text), "keys": ", ".join(sorted(found))}
        raise CauseError(_("“%(text)s” is the name of several: %(keys)s. Say which.") % said)
    return found[0] if found else text
