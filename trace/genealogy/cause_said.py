"""A cause in words, as people say it after “hulls that”."""

from collections.abc import Sequence
from datetime import date
from typing import Literal
from uuid import UUID

from django.db import connection
from django.utils.translation import gettext as _

from trace.codes import printed
from trace.genealogy.cause_words import WORDS, Charged, Figure, Took, Word
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
from trace.genealogy.live import held_name, label_now

SHOWN_AS = {"C": "°C"}
# The unit of what is no reading.
UNITS: dict[type[Word], str] = {Took: "min", Charged: "kg"}
NAMED = f"SELECT concat_ws(' ', {label_now('l.unit = u.id')}, {held_name('u')}) FROM unit u WHERE u.uid = %s"


def said_of(cause: Cause) -> str:
    """A cause as people say it, after "hulls that"."""
    match cause:
        case Not(part):
            if isinstance(part, All | Some | Not):
                return _("are none of those that %(part)s") % {"part": said_of(part)}
            return _simple_said(part, 1)
        case All(parts) | Some(parts):
            by = _(" and ") if isinstance(cause, All) else _(" or ")
            return by.join(_bracketed(part) for part in parts)
        case _:
            return _simple_said(cause, 0)


def hulls_said(words: Sequence[str]) -> str:
    """“hulls that …” for a question as it was recorded; its own words where it can no longer be read."""
    try:
        return _("hulls that %(said)s") % {"said": said_of(read_cause(words))}
    except CauseError:
        return " ".join(words)


def _bracketed(cause: Cause) -> str:
    return f"({said_of(cause)})" if isinstance(cause, All | Some) else said_of(cause)


def _simple_said(cause: Simple, way: Literal[0, 1]) -> str:
    """`way`: 0 as it is, 1 its opposite."""
    match cause:
        case Holds(code, part, least):
            words = _("%(verb)s %(code)s in their %(part)s") if part else "%(verb)s %(code)s"
            much = "" if least is None else _(", %(least)s or more of it") % {"least": f"{least:f}"}
            return words % {"verb": _verb("holds", way), "code": code_said(code), "part": part} + much
        case Supplied(supplier):
            return f"{_verb('supplier', way)} {supplier}"
        case With(word, key, before):
            return f"{_verb(word, way)} {key}" + (_(" (before %(when)s)") % {"when": before} if before else "")
        case Within():
            return _range_said(cause, way)
        case Made(first, last):
            return f"{_verb('made', way)} {_days_said(first, last)}"


def code_said(code: str) -> str:
    """What a cause names, as people call it: a label as it is printed, and for a record's number the name of what it
    stands for."""
    try:
        uid = UUID(code)
    except ValueError:
        return printed(code)
    with connection.cursor() as cursor:
        cursor.execute(NAMED, [uid])
        row = cursor.fetchone()
    return str(row[0]) if row else printed(code)


def _verb(word: str, way: Literal[0, 1]) -> str:
    return str(WORDS[word].does_not if way else WORDS[word].does)


def _days_said(first: date | None, last: date | None) -> str:
    if first == last:
        return _("on %(day)s") % {"day": first}
    if first is None:
        return _("up to %(day)s") % {"day": last}
    if last is None:
        return _("on %(day)s or later") % {"day": first}
    return _("from %(first)s to %(last)s") % {"first": first, "last": last}


def _range_said(cause: Within, way: Literal[0, 1]) -> str:
    word = WORDS[cause.word]
    uom = word.uom if isinstance(word, Figure) else UNITS.get(type(word), "")
    named = f"{_verb(cause.word, way)} {cause.of}" if cause.of else _verb(cause.word, way)
    return f"{named} {_between(cause)} {SHOWN_AS.get(uom, uom)}".rstrip()


def _between(cause: Within) -> str:
    said = {"low": cause.low, "high": cause.high}
    if cause.low == cause.high:
        return f"{cause.low}"
    if cause.low is None:
        return _("%(high)s or less") % said
    if cause.high is None:
        return _("%(low)s or more") % said
    return _("%(low)s to %(high)s") % said
